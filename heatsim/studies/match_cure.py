# SPDX-License-Identifier: GPL-3.0-or-later
"""The fitted heater with its cause put right: simulated before it is proposed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from heatsim.measures.gather import MeasureContext, measure
from heatsim.scenario.scenario import Scenario
from heatsim.studies.follow import laid_end_to_end
from heatsim.studies.match_advice import REMEDY
from heatsim.studies.match_crew import Failed, MatchCrew
from heatsim.studies.match_fit import Fit, Site
from heatsim.studies.match_kinds import NOTHING, PROBE
from heatsim.studies.match_result import Cure
from heatsim.studies.match_scenario import Field, fitted_fields
from heatsim.studies.match_search import RIPPLE, heater_of
from heatsim.studies.match_solver import Solution

SHOWN = (
    "tank.thd_ratio",
    "tank.even_harmonic_ratio",
    "tank.odd_harmonic_ratio",
    "tank.peak_voltage_v",
    "tank.frequency_hz",
    "supply.mean_current_a",
    "drain.left.peak_voltage_v",
    "drain.right.peak_voltage_v",
    "choke.left.peak_current_a",
    "choke.right.peak_current_a",
    "choke.centre.peak_current_a",
)
PERIODS = 4


def cure_of(
    crew: MatchCrew, scenario: Scenario, sites: Sequence[Site], best: Fit, fitted: Solution, steps: int
) -> Cure | None:
    """None where there is nothing to put right in the heater, or the cured heater cannot be simulated."""
    hypothesis = best.hypothesis
    if hypothesis.cause in (NOTHING, PROBE) or hypothesis.name == RIPPLE:
        return None
    sound = sites[0].atlas.sheets["nothing wrong"]
    right = replace(best, hypothesis=replace(hypothesis, sheets=(sound,) * len(hypothesis.sheets), replaces=()))
    heater = heater_of(sites, right, 0)
    answer = crew.one(("solve", (heater, sites[0].atlas.signals, steps, sites[0].atlas.start)))
    if isinstance(answer, Failed):
        return None
    before, after = _numbers(fitted), _numbers(answer)
    case = sites[0]
    words = REMEDY[hypothesis.cause]
    limit = scenario.tables.limits.thd
    name = next(
        (name for name in scenario.cases if scenario.heater(name).workpiece == case.atlas.heater.workpiece),
        scenario.cases[-1],
    )
    ill, well = fitted_fields(scenario, name, fitted.heater), fitted_fields(scenario, name, heater)
    fields: dict[str, Field] = {
        key: value for key, value in well.items() if ill.get(key) != value and isinstance(value, str)
    }
    return Cure(
        words,
        {key: value for key, value in fields.items() if isinstance(value, str)},
        before,
        after,
        after.get("tank.thd_ratio", 1.0) <= limit,
    )


def _numbers(solution: Solution) -> dict[str, float]:
    waves = laid_end_to_end(solution.waveforms, PERIODS)
    found = measure(waves, MeasureContext(from_rest=False, periods=PERIODS - 1))
    return {key: value for key in SHOWN if isinstance(value := found.get(key), float)}
