# SPDX-License-Identifier: GPL-3.0-or-later
"""The fitted heater with its cause put right: simulated before it is proposed, and judged by every limit in every case."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from heatsim.errors import InputError
from heatsim.measures.gather import MeasureContext, measure
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.written import with_fields
from heatsim.studies.check import CheckResult, check
from heatsim.studies.match.advice import ADVICE
from heatsim.studies.match.faults import NOTHING, PROBE
from heatsim.studies.match.fit import RIPPLE, HypothesisFit
from heatsim.studies.match.fitted_scenario import fitted_fields
from heatsim.studies.match.parameters import with_changes
from heatsim.studies.match.pool import MatchPool
from heatsim.studies.match.response_library import ResponseLibrary
from heatsim.studies.match.result import Cure
from heatsim.studies.match.search import nuisance_changes
from heatsim.studies.match.solver import Solution
from heatsim.tasks import Failed

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
    pool: MatchPool,
    scenario: Scenario,
    case: str,
    library: ResponseLibrary,
    best: HypothesisFit,
    fitted: Solution,
    steps: int,
    workers: int | None = None,
) -> Cure | None:
    """None where there is nothing to put right in the heater, or the cured heater cannot be simulated.

    case: the library's
    fitted: the best fit's solution
    """
    hypothesis = best.hypothesis
    if hypothesis.cause in (NOTHING, PROBE) or hypothesis.name == RIPPLE:
        return None
    heater = with_changes(library.heater, nuisance_changes(library, best))
    answer = pool.one(("solve", (heater, library.signals, steps, library.start)))
    if isinstance(answer, Failed):
        return None
    before, after = _numbers(fitted), _numbers(answer)
    ill, well = (fitted_fields(scenario, case, each) for each in (fitted.heater, heater))
    fields = {key: value for key, value in well.items() if isinstance(value, str) and ill.get(key) != value}
    clean = after.get("tank.thd_ratio", 1.0) <= scenario.tables.limits.thd
    return Cure(ADVICE[hypothesis.cause][1], fields, before, after, clean, cured_check(scenario, well, workers))


def cured_check(scenario: Scenario, fields: Mapping[str, Any], workers: int | None = None) -> CheckResult | None:
    """A check of the cured heater in every case, at the scenario's own supply voltage; None where it cannot be built.

    fields: of the scenario, that make the captured case the cured one
    """
    cured = {name: value for name, value in fields.items() if name != "supply.voltage"}
    try:
        text = with_fields(scenario, cured, "put right")
        return check(Scenario.from_text(text, scenario.label, scenario.folder), None, workers)
    except InputError:
        return None


def _numbers(solution: Solution) -> dict[str, float]:
    waves = solution.waveforms.repeated(PERIODS)
    found = measure(waves, MeasureContext(from_rest=False, periods=PERIODS - 1))
    return {key: value for key in SHOWN if isinstance(value := found.get(key), float)}
