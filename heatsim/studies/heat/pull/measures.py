# SPDX-License-Identifier: GPL-3.0-or-later
"""Extremes that a heater passes through while its workpiece leaves it or is put in, and the limits they are held against."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from heatsim.measures.gather import SIDES, MeasureContext, least_inductance, measure
from heatsim.measures.silicon import avalanche_energy
from heatsim.measures.starting import device_peak, limited_share, trips
from heatsim.measures.startup import envelope, settling_time
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_limits
from heatsim.verdict import Finding, Limit, judge
from heatsim.waves import Waveforms

PERIODS = 20
"""Whole periods at the end of a run over which the new steady state is measured."""

STEADY = ("tank.frequency_hz", "tank.peak_voltage_v", "supply.mean_current_a", *(f"drain.{side}.peak_voltage_v" for side in SIDES))
"""Measures of the steady states before and after."""

LOWEST = ("min_voltage_v", "min_current_a", "remaining_ratio", "limited_ratio")
"""Ends of the keys of measures whose smallest value is the worst."""

CAUSES = (
    "With the workpiece gone, almost nothing takes up the power that the choke currents still bring: the tank stores it and swings "
    "higher until they have fallen.",
    "The workpiece takes the tank's energy faster than the chokes' currents rise; then they rise beyond what it needs.",
)
"""Why limits are not kept when it leaves, and when it is put in."""

WORST_CASE = (
    "Simulated as a step of a tenth of a period, the worst case: a hand takes 0.1 s or more, and the tank settles in about a "
    "millisecond."
)


def extremes(heater: Heater, waves: Waveforms, at: float) -> dict[str, float | None]:
    """Measures of a run from the instant `at` [s] at which the workpiece begins to move."""
    later = waves.between(at, float(waves.time[-1]))
    found: dict[str, float | None] = {
        "tank.peak_voltage_v": _size(later, "tank.voltage"),
        "capacitor.peak_voltage_v": _size(later, "capacitor.voltage"),
        "coil.peak_current_a": _size(later, "coil.current"),
        "supply.max_current_a": float(later["supply.current"].max()),
        "supply.min_current_a": float(later["supply.current"].min()),
        "bus.max_voltage_v": float(later["bus.voltage"].max()),
        "bus.min_voltage_v": float(later["bus.voltage"].min()),
        "step.time_s": at,
        "step.coil_current_a": float(np.interp(at, waves.time, waves["coil.current"])),
    }
    for side in SIDES:
        found |= _side(heater, later, side)
    for choke in heater.chokes:
        part, current = f"choke.{choke.side}", later[f"choke.{choke.side}.current"]
        magnetising = later.signals.get(f"{part}.magnetising_current", current)
        left = least_inductance(choke.curve.inductance, magnetising) / choke.curve.inductance_zero
        found |= {f"{part}.peak_current_a": float(np.abs(current).max()), f"{part}.inductance_remaining_ratio": left}
    if heater.supply.limit is not None:
        off = trips(later)
        found |= {"supply.limited_ratio": limited_share(later), "supply.trips_count": None if off is None else float(off)}
    return found


def _size(waves: Waveforms, name: str) -> float:
    return float(np.abs(waves[name]).max())


def _side(heater: Heater, waves: Waveforms, side: str) -> dict[str, float | None]:
    gate, drive = waves[f"gate.{side}.voltage"], f"gate_drive.{side}"
    found: dict[str, float | None] = {
        f"drain.{side}.peak_voltage_v": float(waves[f"drain.{side}.voltage"].max()),
        f"switch.{side}.peak_current_a": device_peak(waves, side, heater.bank(side).count),
        f"switch.{side}.avalanche_energy_j": avalanche_energy(waves, side, heater.switch.voltage_rating),
        f"gate.{side}.max_voltage_v": float(gate.max()),
        f"gate.{side}.min_voltage_v": float(gate.min()),
    }
    if f"{drive}.diode_voltage" in waves:
        found[f"gate.{side}.diode_reverse_voltage_v"] = max(-float(waves[f"{drive}.diode_voltage"].min()), 0.0)
    if f"{drive}.driver_supply_voltage" in waves:
        found[f"gate.{side}.driver_supply_voltage_v"] = float(waves[f"{drive}.driver_supply_voltage"].max())
    return found


def steady(waves: Waveforms, over: float, quiet: float) -> dict[str, float | None]:
    """The steady state that a run ended in, and how long the tank took to it from the instant `over` [s] on, within 2 %.

    quiet: amplitude of the tank at or below which nothing oscillates [V]
    """
    later = waves.between(over, float(waves.time[-1]))
    told = measure(later, MeasureContext(periods=PERIODS, quiet=quiet, from_rest=False))
    found = {f"after.{key}": number(told.get(key)) for key in STEADY}
    if told["tank.frequency_hz"] is None:
        return found
    return found | {"settling.time_s": settling_time(envelope(later.time, later["tank.voltage"]), over, 2 * PERIODS)}


def number(value: Any) -> float | None:
    """A measure that is a number; None for any other."""
    return float(value) if isinstance(value, float) else None


def known(prefix: str, measures: Mapping[str, Any]) -> dict[str, float | None]:
    """A steady state of `check` under a prefix."""
    return {f"{prefix}.{key}": number(measures.get(key)) for key in STEADY}


def at_worst(found: Sequence[Mapping[str, float | None]]) -> dict[str, float | None]:
    """Each measure at its worst over several runs; None where one of them has none."""
    highest = max(range(len(found)), key=lambda k: drain_peak(found[k]))
    worst: dict[str, float | None] = {}
    for key in dict.fromkeys(key for each in found for key in each):
        values = [each.get(key) for each in found]
        least = key.endswith(LOWEST)
        numbers = [value for value in values if value is not None]
        worst[key] = (min if least else max)(numbers) if len(numbers) == len(values) else None
        if key.startswith(("step.", "after.")):
            worst[key] = found[highest].get(key)
    worst["step.least_drain_peak_voltage_v"] = min(map(drain_peak, found))
    return worst


def drain_peak(measures: Mapping[str, float | None]) -> float:
    """Higher of both drains' peaks [V]."""
    return max(measures[f"drain.{side}.peak_voltage_v"] or 0.0 for side in SIDES)


def along_bars(measures: dict[str, float | None], before: Mapping[str, Any]) -> dict[str, float | None]:
    """Peak of the capacitor that bears most [V], where a bank's bars are given: in proportion to the steady state's."""
    most, peak, now = before.get("capacitor.worst_peak_voltage_v"), before.get("capacitor.peak_voltage_v"), None
    if isinstance(most, float) and isinstance(peak, float) and (now := measures["capacitor.peak_voltage_v"]) is not None:
        return {**measures, "capacitor.worst_peak_voltage_v": now * most / peak}
    return measures


def findings(scenario: Scenario, heater: Heater, leaves: bool, measures: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Extremes against the limits that `check` has for the steady state, under names and with causes of their own.

    scenario: of the case, its changes applied
    """
    limits = (
        _moved(limit, heater, leaves, measures) for limit in case_limits(scenario, heater, measures) if _judged(limit, measures)
    )
    wanted = scenario.tables.heater.wanted_headroom
    return judge(measures, (*limits, *_supply(heater, leaves, measures)), wanted)


def _judged(limit: Limit, measures: Mapping[str, Any]) -> bool:
    """Whether a limit is one of an extreme. How far the gates are driven is not: an instant does not tell it."""
    return limit.key in measures and limit.name != "gate drive reached" and not limit.key.startswith("supply.")


def when(leaves: bool) -> str:
    """Names what a finding is about."""
    return "when the workpiece leaves" if leaves else "when the workpiece is put in"


def _moved(limit: Limit, heater: Heater, leaves: bool, measures: Mapping[str, Any]) -> Limit:
    """A limit of the steady state as one of the movement; a device's current is held against its pulse rating, where it has one."""
    pulse, allowed, cause = heater.switch.pulse_current, limit.allowed, CAUSES[not leaves]
    if limit.key.startswith("switch.") and limit.key.endswith(".peak_current_a") and pulse is not None:
        allowed = pulse
    if limit.key.startswith("drain.") and measures[limit.key] >= heater.switch.voltage_rating:
        cause += " The drains reach the rating, where the devices break down and hold them."
    remedy = f"{limit.remedy} Or turn the supply down before the workpiece is moved."
    return replace(limit, name=f"{limit.name} {when(leaves)}", allowed=allowed, cause=cause, remedy=remedy)


def _supply(heater: Heater, leaves: bool, measures: Mapping[str, Any]) -> Iterator[Limit]:
    """Highest supply current against its rating; beyond, it cannot be judged, since a rating is for ever."""
    rating, most = heater.supply.current_rating, measures["supply.max_current_a"]
    unknown, settle = "", "Give the supply's current rating (supply.current_rating)."
    if rating is not None and most > rating:
        given, most = format_quantity(rating, "A"), format_quantity(most, "A")
        unknown = (
            f"the current rises to {most} for a while, and what a supply rated {given} for ever stands for so long is not given"
        )
        settle = "Ask the supply's maker, or take one of a higher rating or with a larger reservoir behind it."
    name, allowed = f"highest current {when(leaves)}", None if unknown else rating
    yield Limit(
        "supply", name, "supply.max_current_a", allowed, "A", "rating", cause=CAUSES[not leaves], unknown=unknown, settle=settle
    )
