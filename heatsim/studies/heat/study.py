# SPDX-License-Identifier: GPL-3.0-or-later
"""`heat`: a workpiece from cold to its final temperature, with the heater that feeds it."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

import heatsim
from heatsim.engine import MEASURABLE
from heatsim.errors import NotRunningError
from heatsim.identity import simulator_version
from heatsim.parts.tank import Workpiece
from heatsim.scenario.heat import HeatPlan, heat_plan
from heatsim.scenario.scenario import Scenario
from heatsim.studies.heat.band import Band, band_of
from heatsim.studies.heat.course import Course, Moment
from heatsim.studies.heat.limits import watched
from heatsim.studies.heat.responses import Responses, SimulatedPoint, shares_of
from heatsim.studies.heat.result import Confirmed, HeatResult
from heatsim.studies.heat.states import States
from heatsim.studies.heat.story import answers, end_words, events, hottest_slice, series, snapshots, trust
from heatsim.studies.heat.warmth import PartsWarmth
from heatsim.studies.heat.way import work_done
from heatsim.studies.points import PointResult
from heatsim.studies.store import Store

COMPARED = ("tank.frequency_hz", "tank.peak_voltage_v", "coil.rms_current_a", "supply.mean_current_a", "workpiece.power_w")
"""Measures by which a cold start is held against the heat."""


PAST_CURIE, AS_WANTED, AT_END = "past the Curie point", "as wanted", "at its end"
"""Names of the moments whose loads are started from rest."""


@dataclass(frozen=True)
class Progress:
    """How far a heat is: time into it [s], warmest and coldest temperature [°C], the wanted one [°C], states simulated, what is
    being done, in a few words, and the share of that which is done [1]; a heat goes on to its rest when all of it is.
    """

    time: float
    hottest: float
    coldest: float
    wanted: float
    states: int
    doing: str
    share: float = 0.0


Watch = Callable[[Progress], None]


def heat(
    scenario: Scenario,
    store: str | Path | None = None,
    progress: Watch | None = None,
    confirm: bool = True,
    jobs: int | None = None,
) -> HeatResult:
    """Heat the workpiece of a scenario until it comes to rest, leaves what is known of its material, or the time is up.

    store: database file in which simulated states are kept; a heat that was interrupted finds them there. progress: told after
    every step. confirm: whether cold, Curie and hot states are started from rest as well and compared. jobs: processes, two by
    default, and never more. Raises InputError for a scenario without a piece to be heated, NotRunningError for a heater that does
    not run with the cold one, SetupError without a simulator.
    """
    plan = heat_plan(scenario)
    with ExitStack() as open_:
        kept = open_.enter_context(Store.open(store)) if store is not None else None
        states = open_.enter_context(States(plan.scenario, plan.case, kept, jobs))
        return _Heat(plan, states, progress or (lambda _: None), confirm).run()


@dataclass
class _Heat:
    """One heat under way."""

    plan: HeatPlan
    states: States
    tell: Watch
    confirming: bool
    failure: PointResult | None = None
    awaited: list[tuple[str, Moment, Future[PointResult]]] = field(default_factory=list)

    def run(self) -> HeatResult:
        """Everything, in order."""
        begun = time.perf_counter()
        plan = self.plan
        self.responses = Responses(plan.heater)
        course = Course(plan.piece, plan.losses, self.responses, self._simulated, plan.start, plan.longest)
        self._told(None, "simulating the cold piece")
        done = work_done(plan)
        for moment in course.run():
            self._told(moment, "heating", done(moment.celsius))
            self._asked(course, moment)
        if self.failure is not None and not course.moments:
            raise self._cannot()
        last = course.moments[-1]
        confirmed = tuple(self._confirmed(course.moments))
        again = "going through it again with the least and the most that the piece may take up"
        band = band_of(plan, self.responses, lambda share: self._told(last, again, share))
        self._told(last, "judging", 1.0)
        return self._result(course, confirmed, band, time.perf_counter() - begun)

    def _simulated(self, load: Workpiece, at: float) -> SimulatedPoint | None:
        """A load simulated; None where the heater does not run with it."""
        result = self.states.follow(load)
        if result.outcome not in MEASURABLE:
            self.failure = result
            return None
        shares = shares_of(self.plan.heater, load, result.measures)
        if shares is None:
            self.failure = replace(result, outcome_detail="neither power nor frequency could be measured")
            return None
        predicted = self.responses.shares(load) if self.responses.points else None
        return SimulatedPoint(at, load, result, shares, predicted)

    def _asked(self, course: Course, moment: Moment) -> None:
        """Have the load of a moment started from rest beside the heat: the first past the Curie point, and the first as wanted."""
        asked = {name for name, *_ in self.awaited}
        coolest = float(np.max(np.min(moment.celsius, axis=1)))
        passed = {PAST_CURIE: course.piece.curie_c, AS_WANTED: self.plan.wanted}
        for name, celsius in passed.items():
            if self.confirming and name not in asked and celsius is not None and self.plan.start < celsius <= coolest:
                self.awaited.append((name, moment, self.states.confirm(moment.load)))

    def _confirmed(self, moments: Sequence[Moment]) -> list[Confirmed]:
        """Cold starts held against what the heat goes by at the same loads; the cold piece's own is where it begins."""
        first, last = self.responses.points[0], moments[-1]
        if self.confirming:
            self.awaited.append((AT_END, last, self.states.confirm(last.load)))
        starts = [("cold", 0.0, first.load, first.result)]
        for number, (name, moment, each) in enumerate(self.awaited):
            self._told(last, "starting the heater from rest at some of its states", number / len(self.awaited))
            starts.append((name, moment.time, moment.load, each.result()))
        return [Confirmed(name, at, cold.outcome, self._apart(load, cold)) for name, at, load, cold in starts]

    def _apart(self, load: Workpiece, cold: PointResult) -> dict[str, float]:
        """Cold start over heat, less one [1], by measure."""
        ours = self.responses.measures(load)
        pairs = ((key, ours.get(key), cold.measures.get(key)) for key in COMPARED)
        return {key: b / a - 1 for key, a, b in pairs if isinstance(a, float) and isinstance(b, float) and a}

    def _result(self, course: Course, confirmed: tuple[Confirmed, ...], band: Band | None, spent: float) -> HeatResult:
        plan, moments = self.plan, course.moments
        warmth = PartsWarmth(plan.heater, self.responses)
        parts = warmth.along(np.array([each.time for each in moments]), [each.load for each in moments])
        hottest = hottest_slice(plan, moments)
        told = series(self.responses, warmth, moments, parts, hottest)
        limits = watched(plan.scenario.case(plan.case), self.responses, warmth, moments, parts)
        wanted = answers(plan, moments, told, hottest)
        return HeatResult(
            plan.scenario,
            plan.case,
            plan.words,
            np.asarray(plan.piece.middles),
            np.asarray((plan.piece.cuts[:-1] + plan.piece.cuts[1:]) / 2),
            plan.piece.shape.outer,
            told,
            hottest,
            snapshots(plan, moments, wanted),
            wanted,
            course.ends,
            end_words(plan, course, self.failure),
            events(plan, course, wanted, limits, hottest),
            limits,
            confirmed,
            tuple(self.responses.points),
            trust(self.responses, moments, told, self.states),
            band,
            plan.cautions,
            heatsim.__version__,
            simulator_version(),
            spent,
        )

    def _told(self, moment: Moment | None, doing: str, share: float = 0.0) -> None:
        cold = (self.plan.start, self.plan.start)
        ends = cold if moment is None else (float(moment.celsius.max()), float(moment.celsius.min()))
        count = self.states.simulated + self.states.found
        self.tell(Progress(0.0 if moment is None else moment.time, *ends, self.plan.wanted, count, doing, share))

    def _cannot(self) -> NotRunningError:
        assert self.failure is not None
        told = f"{self.plan.scenario.label}: the heater does not run with the cold piece: {self.failure.outcome}"
        simulated = self.failure.outcome not in ("stalled", "unsolved")
        return NotRunningError(f"{told}, {self.failure.outcome_detail}. heatsim check says more", simulated)
