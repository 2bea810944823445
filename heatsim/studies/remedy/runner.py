# SPDX-License-Identifier: GPL-3.0-or-later
"""Searches side by side on one pool: each proposes joint changes, has them simulated, and decides on from there.

A trial's cases run hardest first and the first that does not hold ends it, so that what fails costs little.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import dataclass, field, replace

from heatsim.engine.pool import GRACE, WEAR
from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult
from heatsim.studies.remedy.changes import Change, fields_of
from heatsim.studies.remedy.result import Tried, without_superfluous
from heatsim.tasks import Done, LocalPool, Task, Told

FUNCTION = "heatsim.studies.remedy.worker:simulate"

SPENT = "the limit of simulations was reached"

Search = Generator["Proposal", Tried, None]
"""Yields what to simulate and is sent what came out; ends when it has found a remedy or gives up."""


class OutOfTime(Exception):
    """Raised in a search that estimates beyond the deadline."""


@dataclass(frozen=True)
class Proposal:
    """Joint changes to simulate; whole: every case, whatever the first one says."""

    changes: tuple[Change, ...]
    whole: bool = False


@dataclass(frozen=True)
class Bounds:
    """most: cases simulated; enough: remedies at which a search ends; deadline: by time.monotonic() [s], None for none."""

    most: int
    enough: int
    deadline: float | None


@dataclass
class _Trial:
    """A proposal at work. running: how many of its cases are in the pool."""

    search: Search
    proposal: Proposal
    scenario: Scenario
    waiting: deque[str]
    running: int = 0
    ended: bool = False
    found: dict[str, CaseResult] = field(default_factory=dict)


class Runner:
    """Runs searches on a pool.

    scenario: that is changed; cases: that a remedy must hold in, hardest first; tell: told how many cases were simulated
    """

    def __init__(
        self, pool: LocalPool, scenario: Scenario, cases: Sequence[str], bounds: Bounds, tell: Callable[[int], None]
    ) -> None:
        self._pool, self._cases, self._bounds, self._tell = pool, tuple(cases), bounds, tell
        self._scenario = replace(scenario, folder=scenario.folder.resolve())
        self._known: dict[str, Tried] = {}
        self._trials: list[_Trial] = []
        self._running: dict[int, tuple[_Trial, str]] = {}
        self.simulations = 0
        self.ended = ""

    @property
    def tried(self) -> tuple[Tried, ...]:
        """All that was simulated."""
        return tuple(self._known.values())

    @property
    def found(self) -> tuple[Tried, ...]:
        """What of it holds, without a change that could be left out."""
        return tuple(without_superfluous(each for each in self.tried if each.holds))

    def run(self, searches: Iterator[Search]) -> None:
        """Run the searches, the earlier ones first; a later one begins when a process would be idle."""
        self._fill(searches)
        for event in self._pool.as_completed():
            if self._over():
                self._stop("time ran out")
                return
            if isinstance(event, Told) or event.number not in self._running:
                continue
            trial, case = self._running.pop(event.number)
            trial.running -= 1
            if not trial.ended:
                self._heard(trial, case, event.value if isinstance(event, Done) else None)
            if len(self.found) >= self._bounds.enough:
                self._stop("enough was found")
                return
            self._fill(searches)
        self._running.clear()
        self.ended = "time ran out" if self._over() else SPENT if self._spent() else "there was nothing left to try"

    def _over(self) -> bool:
        return self._bounds.deadline is not None and time.monotonic() > self._bounds.deadline

    def _spent(self) -> bool:
        return self.simulations >= self._bounds.most

    def _stop(self, why: str) -> None:
        self._pool.cancel()
        self._running.clear()
        self.ended = why

    def _heard(self, trial: _Trial, case: str, result: CaseResult | None) -> None:
        """Take in a case of a trial; go on with its search when the trial is over."""
        if result is not None:
            trial.found[case] = result
        short = result is None or result.grade != "holds"
        if short and not trial.proposal.whole:
            trial.waiting.clear()
        if (short and not trial.proposal.whole) or not (trial.waiting or trial.running):
            self._conclude(trial)

    def _conclude(self, trial: _Trial) -> None:
        trial.ended = True
        self._trials.remove(trial)
        done = Tried(trial.proposal.changes, trial.scenario, trial.found, self._cases)
        self._known[_key(trial.proposal)] = done
        self._next(trial.search, done)

    def _next(self, search: Search, done: Tried | None) -> None:
        """Have a search propose until it names something new that can be built; a thing known is answered at once."""
        while True:
            try:
                proposal = next(search) if done is None else search.send(done)
            except (StopIteration, OutOfTime):
                return
            done = self._known.get(_key(proposal))
            if done is not None:
                continue
            own = {each.words for each in proposal.changes}
            if any({each.words for each in remedy.changes} < own for remedy in self.found):
                return
            try:
                changed = self._scenario.change(fields_of(proposal.changes))
                for case in self._cases:
                    changed.heater(case)
            except InputError:
                done = Tried(proposal.changes, self._scenario, {}, self._cases)
                continue
            self._trials.append(_Trial(search, proposal, changed, deque(self._cases)))
            return

    def _fill(self, searches: Iterator[Search]) -> None:
        """Keep every process busy: trials that stand still first, then a new search, then further cases of a trial."""
        while len(self._running) < self._pool.size and not self._spent() and not self._over():
            idle = [trial for trial in self._trials if trial.waiting and not trial.running]
            search = None if idle else next(searches, None)
            if search is not None:
                self._next(search, None)
                continue
            chosen = idle or [trial for trial in self._trials if trial.waiting]
            if not chosen:
                return
            self._submit(chosen[0])

    def _submit(self, trial: _Trial) -> None:
        case = trial.waiting.popleft()
        limit = trial.scenario.tables.simulate.time_limit
        number = self._pool.submit(Task(FUNCTION, (trial.scenario, case), limit, GRACE, WEAR))
        self._running[number] = trial, case
        trial.running += 1
        self.simulations += 1
        self._tell(self.simulations)


def _key(proposal: Proposal) -> str:
    """Equal for equal changes."""
    return repr(sorted(fields_of(proposal.changes).items(), key=lambda item: item[0]))
