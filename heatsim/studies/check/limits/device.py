# SPDX-License-Identifier: GPL-3.0-or-later
"""How well the MOSFET model of the netlist meets the datasheet's figures that the scenario gives."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.parts.heater import Heater
from heatsim.parts.mosfet_model import DatasheetPoint, datasheet_points, no_swing
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario

DIFFERENCE = "switch.model_difference_ratio"
"""Key of the largest relative difference."""

MODEL_LIMIT = 0.05
"""Largest relative difference [1] at which the model still describes the device; working value, a fraction of the spread between
two devices of a type."""

TOLD = 0.005
"""Differences below this [1] are not spoken of."""


def judged_points(scenario: Scenario, heater: Heater) -> tuple[DatasheetPoint, ...]:
    """The figures that the model is to meet; a miller_voltage of the scenario's own stands in place of the reverse capacitance."""
    own = scenario.tables.switch.miller_voltage is not None
    return tuple(each for each in datasheet_points(heater.switch) if not (own and each.name == "reverse capacitance"))


def model_difference(scenario: Scenario, heater: Heater) -> float | None:
    """The largest relative difference [1], without sign; None for a user's own model."""
    return max((abs(each.difference) for each in judged_points(scenario, heater)), default=None)


def missed(points: tuple[DatasheetPoint, ...]) -> str:
    """The figures that are missed, in words: "reverse capacitance 60 pF, in the model 90 pF (+50 %)"."""
    told = (
        f"{each.name} {format_quantity(each.given, each.unit)}, in the model {format_quantity(each.model, each.unit)} "
        f"({100 * each.difference:+.2g} %)"
        for each in points
        if abs(each.difference) > TOLD
    )
    return "; ".join(told)


def device_cautions(scenario: Scenario, heater: Heater) -> Iterator[str]:
    """What the model of the switches is not, in plain sentences."""
    switch = heater.switch
    if switch.user_model:
        yield (
            f"The switches are the model {switch.user_name} as its file has it: nothing of it is fitted to the datasheet figures "
            "of [switch], and whether it meets them is not checked."
        )
    judged = judged_points(scenario, heater)
    if told := missed(judged):
        yield f"The MOSFET model misses its datasheet: {told}."
    if not switch.user_model and no_swing(switch):
        yield (
            "The gate-drain charge cannot have been measured at transconductance_current: more than half of "
            "gate_drain_charge_voltage would drop in the on-resistance."
        )
    if told := missed(tuple(each for each in datasheet_points(switch) if each not in judged)):
        yield f"switch.miller_voltage stands in place of the reverse capacitance: {told}."
