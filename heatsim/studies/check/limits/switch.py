# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits of the switches: drain voltage, current of a device, and the drain voltage at turn-on."""

from __future__ import annotations

import math

from heatsim.quantity import format_quantity
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.studies.check.limits.drive import EARLY_GATE, LATE_FALL, LATE_GATE
from heatsim.studies.check.limits.drive import remedy as said
from heatsim.studies.check.limits.start import device_peak_key
from heatsim.verdict import UNMEASURED, Limit

START_CURRENT = "current of a device at switch-on"
"""Name of the limit."""

ZVS_SHARE = 0.1
"""A switch turning on at more than this share of the drain peak is no longer switching at zero; common practice, no
source."""


def drain_voltage(case: JudgedCase, side: str) -> Limit:
    """Peak drain voltage against the share of the rating the scenario allows."""
    key = f"drain.{side}.peak_voltage_v"
    allowed = case.heater.switch.voltage_rating * case.limits.drain_voltage_use
    ideal = format_quantity(math.pi * case.heater.supply.voltage, "V")
    cause = f"The drain's half sine reaches pi times the supply, {ideal}, and stray inductance adds to it at the switching edges."
    remedy = "Lower the supply voltage, or use MOSFETs with a higher voltage rating."
    return Limit(f"switch.{side}", "drain voltage", key, allowed, "V", "rating", cause=cause, remedy=remedy)


def peak_current(case: JudgedCase, side: str) -> Limit:
    """Peak current of the device that carries most against its rating."""
    key, switch = f"switch.{side}.peak_current_a", case.heater.switch
    cause = "Both chokes' currents and their ripple pass through the bank that conducts."
    remedy = "Put more devices in parallel on each side, or lower the supply voltage."
    if not switch.current_rating:
        remedy = "Give the device's current rating (switch.current_rating)."
    elif case.slow_to_fall(side):
        cause = f"The gate falls late, so both banks conduct at once.{case.lag(side)}"
        remedy = said(LATE_FALL, case.heater.gate)
    part, name = f"switch.{side}", "peak current of a device"
    cause += uneven(case, side)
    share = 1 / case.heater.heaviest_share(side)
    return Limit(part, name, key, switch.current_rating, "A", "rating", share, cause=cause, remedy=remedy)


def start_current(case: JudgedCase, side: str) -> Limit | None:
    """Peak current of the device that carries most, from switch-on, against its rating for a single pulse; of a run from rest."""
    key, rating = device_peak_key(side), case.heater.switch.pulse_current
    if rating is None or case.measures.get(key) is None:
        return None
    cause = f"While the tank comes up, the reservoir and chokes charge through switches that are on.{uneven(case, side)}"
    remedy = "Ramp the supply up more slowly, bring the gates up before it, or put more devices in parallel."
    share = 1 / case.heater.heaviest_share(side)
    return Limit(f"switch.{side}", START_CURRENT, key, rating, "A", "rating", share, cause=cause, remedy=remedy)


def uneven(case: JudgedCase, side: str) -> str:
    """By how much the device of a bank that carries most is above the mean, in words; empty of a single one."""
    more, spread = case.heater.heaviest_share(side), case.heater.resistance_spread
    if case.heater.bank(side).count < 2 or more == 1.0:
        return ""
    return f" One device carries {more:.3g} times the mean where their on-resistances lie {100 * spread:g} % apart either way."


def turn_on_voltage(case: JudgedCase, side: str) -> Limit:
    """Drain voltage left when the gate comes on, against a share of the drain peak."""
    peak = case.number(f"drain.{side}.peak_voltage_v")
    return Limit(
        f"switch.{side}",
        "drain voltage at turn-on",
        f"switch.{side}.turn_on_voltage_v",
        ZVS_SHARE * peak if peak > 0 else None,
        "V",
        "common practice",
        cause=f"The gate turns on while its drain is still up, which costs switching losses.{case.lag(side)}",
        unknown="" if peak > 0 else "the drain's peak could not be measured",
        settle=UNMEASURED,
        remedy=said(LATE_GATE if case.late(side) else EARLY_GATE, case.heater.gate),
    )
