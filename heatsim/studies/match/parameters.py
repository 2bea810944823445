# SPDX-License-Identifier: GPL-3.0-or-later
"""Model parameters: everything by which a heater on the bench may differ from its scenario, as small changes to its parts.

A model parameter at zero leaves the part as the scenario has it. Those named `log_...` are natural logarithms of a factor, the
others are added in SI units. Changes of several causes add up, so that nuisance parameters and a fault can stand beside each other.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from heatsim.parts.choke import Choke, Core, ShortedTurn
from heatsim.parts.curves import Curve, GappedCurve, LinearCurve, TableCurve, steeper_curve
from heatsim.parts.damage import SIDES, Damage, steel_at
from heatsim.parts.heater import Heater
from heatsim.parts.tank import SECONDARY, WorkCoil, Workpiece

ModelParameters = Mapping[str, float]
"""Name of a model parameter -> its change."""

SCALED = {
    "log_supply": ("supply", "voltage"),
    "log_capacitance": ("capacitors", "unit"),
    "log_gate_supply": ("gate", "supply_voltage"),
    "log_pull_up": ("gate", "pull_up"),
    "log_gate_inductance": ("gate", "inductance"),
    "log_diode_recovery": ("gate", "diode_recovery"),
    "log_input_capacitance": ("switch", "input_capacitance"),
    "log_output_capacitance": ("switch", "output_capacitance"),
    "log_gate_drain_charge": ("switch", "gate_drain_charge"),
    "log_miller_voltage": ("switch", "miller_voltage"),
    "log_on_resistance": ("switch", "on_resistance"),
    "log_transconductance": ("switch", "transconductance"),
    "log_drain_inductance": ("switch", "drain_inductance"),
    "log_capacitor_inductance": ("capacitors", "inductance"),
    "log_bus_inductance": ("", "bus_inductance"),
    "log_lead_inductance": ("coil", "lead_inductance"),
}
ADDED = {
    "capacitor_resistance": ("capacitors", "resistance"),
    "lead_resistance": ("coil", "lead_resistance"),
    "threshold": ("switch", "threshold"),
    "threshold_split": ("switch", "threshold_spread"),
    "contact_drop": ("damage", "contact_drop"),
    "voltage_coefficient": ("damage", "voltage_coefficient"),
    "coil_capacitance": ("damage", "coil_capacitance"),
    "choke_coupling": ("damage", "choke_coupling"),
}
"""Model parameters that change a single field of a part of the heater (or its own, no part): by a factor, by what is added."""


MOST_MUTUAL = 0.7
"""Largest mutual inductance of the chokes over what no two exceed at the peaks of the ideal stage: real peaks are higher."""


def at_supply(heater: Heater, voltage: float) -> Heater:
    """The heater on a steady supply of a voltage [V], without ripple."""
    return replace(heater, supply=replace(heater.supply, voltage=voltage, ripple=0.0))


def add_changes(total: dict[str, float], more: ModelParameters, size: float = 1.0) -> None:
    """Add `size` times further changes to those in `total`."""
    for name, share in more.items():
        total[name] = total.get(name, 0.0) + size * share


def with_changes(heater: Heater, changes: ModelParameters) -> Heater:
    """The heater with its model parameters changed. Raises KeyError for an unknown one, ValueError where a part cannot be so."""
    left = dict(changes)
    for name, (part, field) in (SCALED | ADDED).items():
        by, old = left.pop(name, 0.0), getattr(heater, part) if part else heater
        value: float = getattr(old, field)
        changed: Any = replace(old, **{field: value * math.exp(by) if name in SCALED else value + by})
        heater = replace(heater, **{part: changed}) if part else changed
    heater = _tank(heater, left)
    heater = replace(heater, chokes=tuple(_choke(choke, left) for choke in heater.chokes))
    heater = replace(heater, damage=_sides(heater.damage, left))
    total = (heater.gate.resistor + heater.switch.gate_resistance) * math.exp(left.pop("log_gate_resistor", 0.0))
    inner = min(heater.switch.gate_resistance, 0.8 * total)
    gate, switch = replace(heater.gate, resistor=total - inner), replace(heater.switch, gate_resistance=inner)
    if left:
        raise KeyError(f"no such model parameter: {', '.join(left)}")
    if heater.damage.choke_coupling and abs(heater.mutual_inductance) > MOST_MUTUAL * heater.largest_mutual:
        raise ValueError("chokes that saturate so far cannot couple so closely")
    return replace(heater, gate=gate, switch=switch)


def _tank(heater: Heater, left: dict[str, float]) -> Heater:
    """Coil and workpiece; what the coil gains, the coil with its workpiece gains."""
    coil, work = heater.coil, heater.workpiece
    names = "log_load", "log_load_inductance", "log_branch", "log_coil", "log_coil_resistance"
    share, pushed, steeper, wider, hotter = (math.exp(left.pop(name, 0.0)) for name in names)
    fatter = coil.resistance * (hotter - 1)
    if work is not None:
        inductance = coil.inductance + share * pushed * (work.inductance - coil.inductance)
        resistance = coil.resistance + share * (work.resistance - coil.resistance)
        work = replace(
            work, inductance=inductance * wider, resistance=resistance + fatter, branch_factor=work.branch_factor * steeper
        )
    coil = replace(coil, inductance=coil.inductance * wider, resistance=coil.resistance + fatter)
    if turns := left.pop("log_turns", 0.0):
        coil, work = _turned(coil, work, math.exp(turns), 2 * math.pi * heater.frequency)
    depth, reactance = left.pop("steel_depth", 0.0), math.exp(left.pop("log_steel_reactance", 0.0))
    heater = _steel(replace(heater, coil=coil, workpiece=work), depth, reactance)
    turn, ratio = left.pop("coil_turn_share", 0.0), left.pop("coil_turn_ratio", 1.0)
    return replace(heater, workpiece=shorted_coil(heater, turn, ratio)) if turn else heater


def _sides(damage: Damage, left: dict[str, float]) -> Damage:
    """What is open or leaks on either side, and whether the clamps are there."""

    def pair(name: str, old: tuple[float, float]) -> tuple[float, float]:
        first, second = (value + left.pop(f"{name}_{side}", 0.0) for side, value in zip(SIDES, old, strict=True))
        return first, second

    gone = pair("open_devices", damage.open_devices)
    return replace(
        damage,
        open_devices=(round(gone[0]), round(gone[1])),
        drain_leakage=pair("drain_leakage", damage.drain_leakage),
        clamp_leakage=pair("clamp_leakage", damage.clamp_leakage),
        clamps=damage.clamps and not left.pop("no_clamps", 0.0),
    )


def _turned(coil: WorkCoil, work: Workpiece | None, n: float, omega: float) -> tuple[WorkCoil, Workpiece | None]:
    """Coil and workpiece with n times the turns: n^2 the impedance, at a frequency that is 1/n as high.

    Resistances go with the square root of frequency, and so does the reactance within a thick conductor, which equals its
    resistance (skin effect, any textbook): the workpiece's inductance falls with it. omega: as the scenario has it [rad/s]
    """
    square, deeper = n**2, math.sqrt(n)
    turned = replace(coil, inductance=square * coil.inductance, resistance=square * coil.resistance / deeper)
    if work is None:
        return turned, None
    within = (work.resistance - coil.resistance) / omega
    inductance = square * (work.inductance + within * (deeper - 1))
    return turned, replace(work, inductance=inductance, resistance=square * work.resistance / deeper)


STEEL_SHARE = 0.8
"""Share of what a saturating workpiece adds to the coil's resistance that the steel whose flux gives way accounts for; an
estimate."""


def _steel(heater: Heater, depth: float, reactance: float) -> Heater:
    """The heater with a workpiece that saturates to a depth at the coil's current in the ideal stage, amplitude pi V/(w L), where
    its reactance is so many times its eddy resistance (see `steel_at`). With as much of either, as a thick conductor has, the
    coil's impedance is what it was."""
    work, coil = heater.workpiece, heater.coil
    if not depth or work is None:
        return heater
    w = 2 * math.pi * heater.frequency
    seen = STEEL_SHARE * (work.resistance - coil.resistance)
    steel = steel_at(2 * seen, math.pi * heater.supply.voltage / (w * heater.loaded_inductance), depth, w, reactance)
    rest = replace(work, inductance=work.inductance - seen / w, resistance=work.resistance - seen)
    own = replace(coil, inductance=coil.inductance - seen / w)
    return replace(heater, coil=own, workpiece=rest, damage=replace(heater.damage, steel=steel))


def shorted_coil(heater: Heater, share: float, ratio: float) -> Workpiece:
    """What the coil's terminals see with a turn of the coil shorted: a further winding that can cancel `share` of the coil's
    inductance, its reactance `ratio` times its resistance at the tank's frequency.

    Z = jw L1 + w^2 m^T (Z2)^-1 m, m: mutual inductances of workpiece and turn to the coil, Z2: impedances of these two among
    each other; the turn meets the workpiece through the coil's flux, so its coupling to it is the product of both to the coil.
    Exact at the tank's frequency; as one branch it is off by a few per cent of the change at the harmonics.
    """
    w, branch = 2 * math.pi * heater.frequency, heater.branch
    primary = branch.primary or heater.coil.inductance if branch else heater.coil.inductance
    size = SECONDARY
    coupling, load = (branch.coupling, branch.resistance) if branch else (0.0, 1.0)
    mutual = size * np.array([coupling * math.sqrt(primary / size), math.sqrt(share * primary / size)])
    between = coupling * math.sqrt(share) * size
    table = np.array([[load + 1j * w * size, 1j * w * between], [1j * w * between, w * size / ratio + 1j * w * size]])
    seen = 1j * w * primary + w**2 * (mutual @ np.linalg.solve(table, mutual))
    basis = heater.workpiece.basis if heater.workpiece else "shorted turn"
    return Workpiece(float(seen.imag / w), heater.coil.resistance + float(seen.real), basis)


def _choke(choke: Choke, left: dict[str, float]) -> Choke:
    side = choke.side
    strength, reach = (math.exp(left.pop(f"log_{name}_{side}", 0.0)) for name in ("strength", "reach"))
    choke = replace(
        choke, resistance=choke.resistance * math.exp(left.pop(f"log_copper_{side}", 0.0)) + left.pop(f"feed_{side}", 0.0)
    )
    if steeper := left.pop(f"log_steepness_{side}", 0.0):
        choke = replace(choke, curve=steeper_curve(choke.curve, math.exp(steeper)))
    if strength != 1.0 or reach != 1.0:
        choke = replace(choke, curve=scaled_curve(choke.curve, strength, reach), core=scaled_core(choke.core, strength, reach))
    resistance, inductance = (left.pop(f"short_{name}_{side}", 0.0) for name in ("resistance", "inductance"))
    return replace(choke, short=ShortedTurn(resistance, inductance)) if resistance else choke


def scaled_curve(curve: Curve, strength: float, reach: float) -> Curve:
    """A choke of `strength` times the inductance that gives way at `reach` times the current: L(i) -> s L(i/r), flux s r flux(i/r).

    Raises ValueError for a hysteretic curve.
    """
    flux = strength * reach
    if isinstance(curve, GappedCurve):
        return replace(
            curve,
            inductance_zero=curve.inductance_zero * strength,
            inductance_air=curve.inductance_air * strength,
            saturation_flux=curve.saturation_flux * flux,
            knee=curve.knee * flux,
        )
    if isinstance(curve, TableCurve):
        knots = tuple((i * reach, y * flux) for i, y in curve.knots)
        return TableCurve(
            curve.inductance_zero * strength, curve.inductance_air * strength, knots, curve.known_to * reach, curve.kind
        )
    if isinstance(curve, LinearCurve):
        return replace(curve, inductance_zero=curve.inductance_zero * strength, inductance_air=curve.inductance_air * strength)
    raise ValueError(f"a {type(curve).__name__} cannot be scaled")


def scaled_core(core: Core | None, strength: float, reach: float) -> Core | None:
    """The ring of such a choke under the same winding: L ~ area/path and i ~ path, so `reach` times the path and both times the
    area. Its core loss follows; that of fewer turns on the same ring (strength n^2, reach 1/n) is the same."""
    if core is None:
        return None
    ring = core.ring
    return replace(core, ring=replace(ring, path_length=ring.path_length * reach, area=ring.area * strength * reach))
