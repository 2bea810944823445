# SPDX-License-Identifier: GPL-3.0-or-later
"""Evaluate a strip of operating points in this process: build, simulate, measure, judge, point after point."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck, judge_run
from heatsim.studies.operating import Point, PointResult, Strip, failed, summarise

if TYPE_CHECKING:
    from heatsim.engine.session import Session

Emit = Callable[[int, PointResult], None]
"""Called with a point's place in the strip and its result, once for every point, in any order; final when called."""


def evaluate_strip(session: Session, scenario: Scenario, strip: Strip, emit: Emit) -> None:
    """Evaluate every point of a strip. A point that cannot be built or simulated is a result with its cause."""
    for index, point in enumerate(strip.points):
        emit(index, _cold(session, scenario, point))


def _cold(session: Session, scenario: Scenario, point: Point) -> PointResult:
    """One point from a cold start."""
    from heatsim.engine.simulate import simulate

    begun = time.perf_counter()
    try:
        changed = scenario.change(dict(point.fields))
        heater = changed.heater(point.case)
        deck = case_deck(changed, point.case, heater)
    except InputError as error:
        return failed("unbuildable", "; ".join(str(problem) for problem in error.problems), time.perf_counter() - begun)
    run = simulate(session, deck, changed.tables.simulate.time_limit)
    return summarise(judge_run(changed, point.case, heater, run), "cold start", time.perf_counter() - begun)
