# SPDX-License-Identifier: GPL-3.0-or-later
"""The start: its class, what holds it down, and the drains' voltage at switch-on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from heatsim.engine import MEASURABLE
from heatsim.measures.gather import SIDES
from heatsim.measures.starting import begins, device_peak, drain_peaks, limited_share, trips
from heatsim.netlist.deck import SettleRule
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.studies.check.limits.oscillator import BROKEN_DOWN
from heatsim.verdict import Finding, Limit
from heatsim.waves import Waveforms

STARTS, LATE, LATCHES, NEVER = "starts", "starts late", "latches", "does not start"
STALLS, HICCUPS, OVER_VOLTS = "stalls", "hiccups", "over-volts at switch-on"
"""Classes of a start."""


def peak_key(side: str) -> str:
    """Measure of the highest voltage of a bank's drains from switch-on."""
    return f"startup.{side}_drain_peak_voltage_v"


def device_peak_key(side: str) -> str:
    """Measure of the largest current of a bank's devices from switch-on, as if they shared evenly."""
    return f"startup.{side}_device_peak_current_a"


START_KEYS = ("startup.class", *map(peak_key, SIDES), *map(device_peak_key, SIDES), "supply.limited_ratio")
"""Measures of the start that findings rest on."""

SWITCH_ON = "drain voltage at switch-on"
"""Name of the limit."""

HELD = 0.95
"""Share of the voltage wanted below which a current limit holds a supply down [1]; its own softness is some 1 %."""

LATE_PERIODS = 10
"""Periods of the tank after the main supply is up from which an oscillation begins late; a sound one begins while it rises."""


def start_measures(
    heater: Heater, outcome: str, waves: Waveforms, rule: SettleRule, broken: bool, known: Mapping[str, Any]
) -> dict[str, Any]:
    """Measures of a run from rest: the class of its start and what it rests on.

    outcome: of the run; broken: whether its drains stand at the switches' rating at the end and it does not oscillate; known: what
    else was measured
    """
    begun, peaks, share = begins(waves, rule.quiet), drain_peaks(waves), limited_share(waves)
    found: dict[str, Any] = {
        "startup.class": None,
        "startup.begin_s": begun,
        **{peak_key(side): peak for side, peak in peaks.items()},
        **{device_peak_key(side): device_peak(waves, side, heater.bank(side).count) for side in SIDES},
    }
    if heater.supply.limit is not None:
        off = trips(waves)
        found |= {"supply.limited_ratio": share, "supply.trips_count": None if off is None else float(off)}
    at_start = outcome in MEASURABLE and too_high(heater, {**known, **found})
    found["startup.class"] = _class(heater, outcome, found, broken or at_start)
    return found


def _class(heater: Heater, outcome: str, found: Mapping[str, Any], broken: bool) -> str | None:
    if outcome in ("stalled", "unsolved"):
        return None
    supply, share = heater.supply, found.get("supply.limited_ratio")
    held = share is not None and share < HELD
    if found.get("supply.trips_count") or held and supply.limit and supply.limit.form == "hiccup":
        return HICCUPS
    if held:
        return STALLS
    if broken:
        return OVER_VOLTS
    if outcome in ("latched", "dead"):
        return LATCHES if outcome == "latched" else NEVER
    begun = found["startup.begin_s"]
    up = max(supply.on_time, heater.gate.supply_rise) + LATE_PERIODS / heater.frequency
    return LATE if begun is not None and begun > up else STARTS


def held_down(finding: Finding, heater: Heater, measures: Mapping[str, Any]) -> Finding:
    """The finding of the oscillator where the supply's current limit keeps the heater down; any other as it is."""
    kind, limit = measures.get("startup.class"), heater.supply.limit
    if kind not in (STALLS, HICCUPS) or limit is None:
        return finding
    most = format_quantity(limit.current, "A")
    swings = measures.get("tank.frequency_hz") is not None
    state = "it oscillates, but below full power" if swings else "both banks conduct and the tank does not swing"
    if kind == HICCUPS:
        told = format_quantity(limit.trip_delay, "s"), format_quantity(limit.retry_time, "s")
        cause = f"The supply hiccups: after {told[0]} at its limit of {most} it switches off, and tries again {told[1]} later."
        cause += " Every attempt starts like the first." if limit.retry_time > 0.01 else ""
    else:
        volts = format_quantity((measures.get("supply.limited_ratio") or 0.0) * heater.supply.voltage, "V")
        folds = (
            f", which folds back to {format_quantity(limit.short_circuit, 'A')} into a short circuit,"
            if limit.form == "foldback"
            else ""
        )
        cause = f"The supply's current limit of {most}{folds} holds it down: it gives {volts} of "
        cause += f"{format_quantity(heater.supply.voltage, 'V')}; {state}."
    needed = format_quantity(heater.supply_current, "A")
    remedy = (
        f"Use a supply with a higher current limit (the ideal stage draws some {needed} here, estimate), or lighten the load; "
        "charge the reservoir and bring the gates up before the limit counts."
    )
    return replace(finding, grade="fails", cause=cause, remedy=remedy)


def too_high(heater: Heater, measures: Mapping[str, Any]) -> bool:
    """Whether drains that stay below the switches' rating in the steady state stand at it during the start."""
    most = BROKEN_DOWN * heater.switch.voltage_rating
    steady, start = (
        max((measures.get(key) or 0.0 for key in keys), default=0.0)
        for keys in ([f"drain.{side}.peak_voltage_v" for side in SIDES], [peak_key(side) for side in SIDES])
    )
    return steady < most <= start


def switch_on_voltage(case: JudgedCase, side: str) -> Limit | None:
    """Highest drain voltage from switch-on against the rating, of a run from rest."""
    key = peak_key(side)
    if case.measures.get(key) is None:
        return None
    return Limit(
        f"switch.{side}",
        SWITCH_ON,
        key,
        case.heater.switch.voltage_rating * case.limits.drain_voltage_use,
        "V",
        "rating",
        cause="Before the tank settles, the reservoir overshoots and the chokes store more energy than later on, which the drains "
        "have to take.",
        remedy="Use MOSFETs with a higher voltage rating. A slower supply rise or a damped reservoir may help, or make "
        "it worse: simulate it first.",
    )
