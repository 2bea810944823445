# SPDX-License-Identifier: GPL-3.0-or-later
"""The limits of a run itself: its energy balance, and whether its MOSFETs are those of the datasheet."""

from __future__ import annotations

from heatsim.parts.mosfet_curves import curve_points
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.studies.check.limits.device import CURVE_DIFFERENCE, CURVE_LIMIT, DIFFERENCE, MODEL_LIMIT, judged_points, missed
from heatsim.verdict import Limit

RUN = "run"
"""Part of findings about a simulation rather than the heater; their headroom is none of the heater's."""

ENERGY_LIMIT = 0.01
"""Largest energy imbalance [1] of a run that can be trusted."""


def energy_balance(_: JudgedCase) -> Limit:
    """Energy not accounted for, as a share of what the supplies gave."""
    return Limit(
        RUN,
        "energy balance",
        "energy.imbalance_ratio",
        ENERGY_LIMIT,
        "ratio",
        "estimate",
        wanted=0.0,
        cause="The simulated powers do not add up; its numbers cannot be trusted.",
        remedy="Raise steps_per_period in [simulate].",
    )


def datasheet(case: JudgedCase) -> Limit | None:
    """How far the MOSFET model is from the datasheet; none for a user's own model."""
    points = judged_points(case.scenario, case.heater)
    if not points:
        return None
    return Limit(
        RUN,
        "MOSFET model against its datasheet",
        DIFFERENCE,
        MODEL_LIMIT,
        "ratio",
        "estimate",
        wanted=0.0,
        cause=f"The model does not describe the device, as its figures cannot be met together: {missed(points)}.",
        remedy="Check the figures of [switch] and their test conditions (capacitance_voltage, gate_drain_charge_voltage, "
        "transconductance_current), or give a model of your own (switch.model_file).",
    )


def datasheet_curves(case: JudgedCase) -> Limit | None:
    """How far the MOSFET model is from points of the datasheet's curves; none without such points."""
    points = curve_points(case.heater.switch)
    if not points:
        return None
    return Limit(
        RUN,
        "MOSFET model against the datasheet's curves",
        CURVE_DIFFERENCE,
        CURVE_LIMIT,
        "ratio",
        "estimate",
        wanted=0.0,
        cause=f"The model, built from the figures of [switch], leaves the datasheet's curves: {missed(points)}.",
        remedy="Check the points and the figures of [switch]; where the device falls more steeply than the model can, give a "
        "model of your own (switch.model_file).",
    )
