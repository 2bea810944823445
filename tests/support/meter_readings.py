# SPDX-License-Identifier: GPL-3.0-or-later
"""Meter readings of invented heaters, from the independent integration: parts drawn away from the scenario, every reading off by an
error of its meter, drawn, and rounded to three digits."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from heatsim.parts.curves import half_current
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from tests.support.captures.causes import tolerances, with_chokes
from tests.support.captures.circuit import Faulty
from tests.support.captures.make import known
from tests.support.captures.orbit import Flow, Settled, settle, waveforms
from tests.support.independent.solve import NotPeriodic

HALF_INTERVALS = {
    "supply.mean_current": ("A", 0.015),
    "tank.frequency": ("Hz", 0.001),
    "tank.peak_voltage": ("V", 0.04),
    "coil.rms_current": ("A", 0.04),
    "choke.left.mean_current": ("A", 0.025),
    "choke.left.ripple_current": ("A", 0.04),
    "choke.right.ripple_current": ("A", 0.04),
}
"""Unit of what is read, and half of the 95 % interval of its meter as a share; common practice, no source."""


@dataclass(frozen=True)
class Bench:
    """texts: readings as a user writes them; truth: values of the heater they were taken of [SI], by the keys of fitted ones."""

    texts: tuple[str, ...]
    truth: dict[str, float]


def clean(heater: Heater, near: Settled) -> dict[str, float]:
    """What perfect meters would read of the settled heater [SI]; near: state of one like it, to begin from."""
    flow = Flow(Faulty(heater))
    try:
        settled = settle(flow, near)
    except NotPeriodic:  # too far from it
        settled = settle(flow)
    period = {name: values[:-1] for name, values in waveforms(flow, settled).items()}
    found = {
        "supply.mean_current": float(period["supply.current"].mean()),
        "tank.frequency": 1 / settled.period,
        "tank.peak_voltage": float(np.abs(period["tank.voltage"]).max()),
        "coil.rms_current": math.sqrt(float(np.mean(period["coil.current"] ** 2))),
    }
    for side in ("left", "right"):
        current = period[f"choke.{side}.current"]
        found[f"choke.{side}.mean_current"] = float(current.mean())
        found[f"choke.{side}.ripple_current"] = float(np.ptp(current))
    return found


def invented(
    scenario: Scenario,
    seed: int,
    wanted: Sequence[tuple[str, str, float | None]],
    ring: tuple[float, float] = (1.0, 1.0),
    change: Callable[[Heater], Heater] = lambda heater: heater,
) -> Bench:
    """A heater and its readings.

    seed: of the parts' spread and of the meters' errors
    wanted: case, key, and supply voltage [V] where it was not the scenario's
    ring: factors on the chokes' inductance and on the current at which they give way
    """
    generator = np.random.default_rng(seed)
    within = tolerances(generator)

    def built(case: str, voltage: float | None) -> Heater:
        factors = {"strength": ring[0], "reach": ring[1]}
        heater = with_chokes(change(within(scenario.heater(case))), left=factors, right=factors)
        if voltage is None:
            return heater
        share = heater.supply.voltage / scenario.heater(case).supply.voltage
        return replace(heater, supply=replace(heater.supply, voltage=voltage * share))

    conditions = dict.fromkeys((case, voltage) for case, _, voltage in wanted)
    read = {key: clean(built(*key), known(scenario, key[0])) for key in conditions}
    texts = []
    for case, key, voltage in wanted:
        unit, share = HALF_INTERVALS[key]
        value = read[case, voltage][key] * (1 + share / 1.96 * generator.normal())
        digits = 5 if key == "tank.frequency" else 3
        at = "" if voltage is None else f" at {voltage:g} V"
        texts.append(f"{case} {key}{at} = {float(f'{value:.{digits}g}'):g} {unit}")
    return Bench(tuple(texts), truth_of({case: built(case, None) for case, _ in conditions}))


def truth_of(heaters: dict[str, Heater]) -> dict[str, float]:
    """Values by the keys of fitted ones; heaters: by case."""
    first = next(iter(heaters.values()))
    found = {"capacitors.capacitance_f": first.capacitors.capacitance, "supply.voltage_v": first.supply.voltage}
    for case, heater in heaters.items():
        head = f"case.{case}." if len(heaters) > 1 else ""
        found[f"{head}coil.inductance_h"] = heater.loaded_inductance
        found[f"{head}coil.resistance_ohm"] = heater.loaded_resistance
    for choke in first.chokes:
        part = f"choke.{choke.side}"
        found[f"{part}.inductance_h"] = choke.curve.inductance_zero
        found[f"{part}.half_current_a"] = half_current(choke.curve) or math.nan
        found[f"{part}.resistance_ohm"] = choke.resistance
    return found
