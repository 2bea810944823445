# SPDX-License-Identifier: GPL-3.0-or-later
"""The bars from the drains to the tank and its capacitors for `nodal`: the bank in one piece, or each capacitor along two bars.

Along bars, capacitor k of n stands between place k of the left bar and of the right one: its capacitance, n times the bank's series
resistance, its own inductance. Half of a segment's loop inductance and resistance belongs to either bar. Coil and drains are
connected where they are, between two capacitors too.
"""

from __future__ import annotations

import math

import numpy as np

from heatsim.parts.heater import Heater
from heatsim.parts.rails import MeasuredSegment, Rails
from tests.support.independent.wiring import Whole

ENDS = {"same end": (0.0, 0.0), "far end": (1.0, 1.0), "opposite ends": (0.0, 1.0), "middle": (0.5, 0.5)}
"""Where along the left and the right bar."""


def by_device(heater: Heater) -> Rails | None:
    """Bars whose segments were measured, None where the bank is in one piece."""
    rails = heater.capacitors.rails
    return rails if rails is not None and isinstance(rails.segment, MeasuredSegment) else None


def add_bars_and_bank(made: Whole, heater: Heater) -> None:
    """From the drains to the capacitors."""
    circuit, bank, rails = made.circuit, heater.capacitors, by_device(heater)
    drains = {side: made.node(f"t_{side}") for side in ("left", "right")}
    if rails is None:
        behind = made.node("plate")
        made.show(
            "capacitor.current",
            {circuit.branch("bank", drains["left"], behind, bank.resistance + bank.rails_resistance, bank.inductance): 1.0},
        )
        circuit.capacitor(behind, drains["right"], bank.capacitance)
    else:
        drains = _along(made, heater, rails)
    for side, node in drains.items():
        circuit.stray(f"bar_{side}", made.node(f"d_{side}"), node, heater.bus_inductance, heater.stray_corner)


def _along(made: Whole, heater: Heater, rails: Rails) -> dict[str, int]:
    """The capacitors one by one; the nodes where the drains connect. The coil's are t_left and t_right."""
    circuit, bank, n = made.circuit, heater.capacitors, heater.capacitors.count
    assert isinstance(rails.segment, MeasuredSegment)
    nodes: dict[str, dict[float, int]] = {}
    drains = {}
    for bar, side in enumerate(("left", "right")):
        coil, drain = ((n - 1) * ENDS[way][bar] for way in (rails.coil, rails.drains or rails.coil))
        places = sorted({*map(float, range(n)), coil, drain})
        nodes[side] = {place: made.node(f"t_{side}" if place == coil else f"{side}_{place}") for place in places}
        for a, b in zip(places[:-1], places[1:], strict=True):
            share = (b - a) / 2
            ends = nodes[side][a], nodes[side][b]
            circuit.branch(f"{side}_bar_{a}", *ends, share * rails.segment.resistance, share * rails.segment.inductance)
        drains[side] = nodes[side][drain]
    whole: dict[int, float] = {}
    for k in range(n):
        behind = made.node(f"plate_{k}")
        one = circuit.branch(f"bank_{k}", nodes["left"][k], behind, n * bank.resistance, rails.own_inductance)
        circuit.capacitor(behind, nodes["right"][k], bank.unit)
        made.show(f"capacitor.{k + 1}.current", {one: 1.0})
        whole[one] = 1.0
    made.show("capacitor.current", whole)
    return drains


def terminal_inductance(n: int, unit: float, own: float, segment: tuple[float, float], way: str, frequency: float) -> float:
    """Inductance [H] of n capacitors [F] with their own inductance [H] along bars, where the coil connects, at a frequency [Hz].

    segment: loop inductance [H] and resistance [ohm] from one capacitor to the next. By node voltages in complex numbers.
    """
    w = 2 * math.pi * frequency
    ends = [(n - 1) * ENDS[way][bar] for bar in range(2)]
    names = [(bar, place) for bar in range(2) for place in sorted({*map(float, range(n)), ends[bar]})]
    matrix = np.zeros((len(names), len(names)), dtype=complex)

    def admit(a: tuple[int, float], b: tuple[int, float], ohms: complex) -> None:
        i, j = names.index(a), names.index(b)
        for row, column, sign in ((i, i, 1), (j, j, 1), (i, j, -1), (j, i, -1)):
            matrix[row, column] += sign / ohms

    for k in range(n):
        admit((0, float(k)), (1, float(k)), 1j * w * own + 1 / (1j * w * unit))
    for a, b in zip(names[:-1], names[1:], strict=True):
        if a[0] == b[0]:
            admit(a, b, (b[1] - a[1]) / 2 * (segment[1] + 1j * w * segment[0]))
    into, out = names.index((0, ends[0])), names.index((1, ends[1]))
    kept = [k for k in range(len(names)) if k != out]
    feed = np.array([float(k == into) for k in kept])
    volts = np.linalg.solve(matrix[np.ix_(kept, kept)], feed)
    return float(volts[kept.index(into)].imag / w + 1 / (w * w * n * unit))
