# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits of the gates: highest and lowest voltage, whether the drive is strong enough, and how often an edge switches."""

from __future__ import annotations

from heatsim.parts.gate import IntegratedDriver
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.studies.check.limits.drive import LATE_DRIVER, TOO_HIGH, TOO_LOW, WEAK_PULL_UP, WEAK_SUPPLY
from heatsim.studies.check.limits.drive import remedy as said
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
        cause=f"The gate goes beyond its rating; the clamp conducts at {clamp:g} V and the gate loop overshoots it.",
        remedy=said(TOO_HIGH, case.heater.gate),
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
    reachable = case.heater.gate_supply_voltage > case.heater.switch.on_gate_voltage
    return Limit(
        f"gate.{side}",
        "gate drive reached",
        f"gate.{side}.max_voltage_v",
        case.heater.switch.on_gate_voltage,
        "V",
        "rating",
        lower=True,
        cause="The gate does not reach the voltage that the on-resistance is specified at, so the switches run hot."
        f"{case.lag(side)}",
        remedy=said(WEAK_PULL_UP if reachable and case.late(side) else WEAK_SUPPLY, case.heater.gate),
    )


def crossings(case: JudgedCase, side: str) -> Limit | None:
    """How often an edge of the gate passes the threshold, only where one does more than once; once is what a clean edge does."""
    edges = [(case.number(f"gate.{side}.{edge}_crossings"), edge) for edge in ("rise", "fall")]
    most, edge = max((each for each in edges if each[0] > 1), default=(0.0, ""))
    if not edge:
        return None
    integrated = isinstance(case.heater.gate.driver, IntegratedDriver)
    return Limit(
        f"gate.{side}",
        "crossings of the threshold per edge",
        f"gate.{side}.{edge}_crossings",
        1.0,
        "",
        "estimate",
        wanted=0.0,
        cause=f"As it {edge}s, the gate crosses its threshold {most:g} times, and the switch switches as often, with the "
        "losses and interference of each.",
        remedy=f"{TOO_LOW} {LATE_DRIVER}" if integrated else TOO_LOW,
    )
