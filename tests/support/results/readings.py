# SPDX-License-Identifier: GPL-3.0-or-later
"""Matches of meter readings made by hand for the report: every number invented for the test, no simulator."""

from dataclasses import replace

from heatsim.scenario.scenario import Scenario
from heatsim.studies.match import CorrelatedPair, FittedQuantity
from heatsim.studies.match.readings import Compared, Departure, Proposal, ReadingsResult, parse_readings
from tests.support.results.matches import SCENARIO

TEXTS = ("idle supply.mean_current = 3.6 A", "loaded choke.left.temperature after 20 min = 47 °C ± 2 °C")


def result(chance: float = 0.4, free: bool = True, **changes: object) -> ReadingsResult:
    """A result of two readings; chance: below 0.01 no heater gives them; free: the rings are not known."""
    scenario = Scenario.from_file(SCENARIO)
    current, warm = parse_readings(scenario, TEXTS)
    found = ReadingsResult(
        scenario,
        (Compared(current, 3.54, 3.59, 0.05, 0.3), Compared(warm, 44.3, 44.9, 3.1, -3.7)),
        (
            Departure("ring", 0.5, 0.97 if free else 0.1, free),
            Departure("reach", 0.1, 0.12, free),
            Departure("load", -2.6, 0.8, False),
        ),
        (
            FittedQuantity(
                "choke.left.inductance_h", "left choke, inductance at zero current", 19e-6, 18e-6, 20e-6, "H", 13e-6, 0.97
            ),
            FittedQuantity("gate.pull_up_ohm", "gate pull-up", 67.3, 63.2, 71.5, "ohm", 68.0, 0.02),
        ),
        (CorrelatedPair(("choke.left.inductance_h", "gate.pull_up_ohm"), -0.93),),
        4.2,
        chance,
        True,
        (Proposal(current.condition, "choke.left.ripple_current", "A", "AC current probe", None, 7.85, 0.3, 0.23),),
        "# Fitted to meter readings\n",
        None,
        "ngspice-39",
        66,
        2,
        12.5,
    )
    return replace(found, **changes)
