# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits of the gates: highest and lowest voltage, and whether the drive is strong enough."""

from __future__ import annotations

from heatsim.studies.check.limits.base import JudgedCase
from heatsim.studies.check.limits.drive import TOO_HIGH, TOO_LOW, WEAK_PULL_UP, WEAK_SUPPLY
from heatsim.verdict import Limit


def highest_voltage(case: JudgedCase, side: str) -> Limit:
    """Highest gate voltage against the gate's rating."""
    clamp = case.heater.gate.clamp_voltage
    return Limit(
        f"gate.{side}",
        "highest gate voltage",
        f"gate.{side}.max_voltage_v",
        case.heater.switch.gate_rating,
        "V",
        "rating",
        cause=f"The gate reaches beyond its rating; the clamp conducts at {clamp:g} V and the gate loop overshoots it.",
        remedy=TOO_HIGH,
    )


def lowest_voltage(case: JudgedCase, side: str) -> Limit:
    """Lowest gate voltage against the gate's rating the other way round."""
    return Limit(
        f"gate.{side}",
        "lowest gate voltage",
        f"gate.{side}.min_voltage_v",
        -case.heater.switch.gate_rating,
        "V",
        "rating",
        lower=True,
        cause="The gate rings far below its source.",
        remedy=TOO_LOW,
    )


def drive_reached(case: JudgedCase, side: str) -> Limit:
    """Highest gate voltage against the one at which the on-resistance is specified."""
    return Limit(
        f"gate.{side}",
        "gate drive reached",
        f"gate.{side}.max_voltage_v",
        case.heater.switch.on_gate_voltage,
        "V",
        "rating",
        lower=True,
        cause="The gate does not reach the voltage at which the on-resistance is specified, so the switches run hot."
        f"{case.lag(side)}",
        remedy=WEAK_PULL_UP
        if case.heater.gate.supply_voltage > case.heater.switch.on_gate_voltage and case.late(side)
        else WEAK_SUPPLY,
    )
