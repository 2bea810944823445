# SPDX-License-Identifier: GPL-3.0-or-later
"""`sweep`: many operating points into a store, resumable at any instant.

Points that the store has already are not evaluated again. What is missing is claimed path by path under a lease,
evaluated, and stored point by point as results come, so that an end at any instant loses the points in flight only,
and several sweeps may fill one store together.
"""

from __future__ import annotations

import contextlib
import os
import re
import socket
import threading
import time
import uuid
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from contextlib import nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import heatsim
from heatsim.errors import HeatsimError, InputError
from heatsim.identity import made_with
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import ContinuationPath, Point, PointResult, evaluate_paths, local_pool
from heatsim.studies.store import FAILED, Stale, Store, stale_results
from heatsim.studies.sweep.order import LONGEST, chains, corners
from heatsim.studies.sweep.plan import SweepPlan
from heatsim.tasks import Pool

SCHEMA = "heatsim.sweep/1"

LEASE = 10.0
"""Seconds a claim lasts unless renewed, which happens three times in it. So long may the points that a killed sweep had
in flight stay out of reach.
"""

POLL = 0.5
"""Seconds between two looks whether other sweeps have finished what they claimed."""

WINDOW = 30.0
"""Seconds over which the rate is taken."""


@dataclass(frozen=True)
class Worst:
    """The least headroom [1] so far, the limit that decides and where; the latter unknown if it is from before."""

    headroom: float
    ends: str
    point: Point | None


@dataclass(frozen=True)
class SweepProgress:
    """How far a sweep is. done: of total points, `known` of them from before or from elsewhere; failed: without a
    result; rate: points a second over the last half minute, None before the first; left_s: time left at that rate [s].
    """

    total: int
    known: int
    done: int
    failed: int
    rate: float | None
    left_s: float | None
    worst: Worst | None
    note: str = ""


Watch = Callable[[SweepProgress], None]


@dataclass(frozen=True)
class SweepResult:
    """A sweep as it stands in its store. number: of the sweep in the store; evaluated: points this call evaluated;
    stale: points in the store of the same scenario file that do not count any more, because the file was edited or, so many
    as `outdated`, because they were computed by another version; grades: how many points have each.
    """

    scenario: Scenario
    plan: SweepPlan
    store: Path
    number: int
    evaluated: int
    stale: int
    outdated: int
    grades: Mapping[str, int]
    wall_s: float
    progress: SweepProgress

    @property
    def exit_code(self) -> int:
        """0 when every point holds, 1 when one does not or has no result, 3 when none has a result."""
        if self.progress.failed == self.progress.total:
            return 3
        return 0 if set(self.grades) <= {"holds"} else 1

    def frame(self) -> Any:
        """All points as a pandas DataFrame, see `Store.frame`: one row a point, by its place in the plan."""
        with Store.open(self.store, create=False) as store:
            return store.frame(self.number)

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        worst = self.progress.worst
        where = {"case": worst.point.case, "fields": dict(worst.point.fields)} if worst and worst.point else {}
        return {
            "schema": SCHEMA,
            "heatsim_version": heatsim.__version__,
            "store": str(self.store),
            "sweep": self.number,
            "plan": described(self.scenario, self.plan),
            "total": self.progress.total,
            "done": self.progress.done,
            "failed": self.progress.failed,
            "grades": dict(self.grades),
            "evaluated": self.evaluated,
            "stale": self.stale,
            "outdated": self.outdated,
            "worst": None if worst is None else {"headroom": worst.headroom, "ends": worst.ends, **where},
            "wall_s": self.wall_s,
        }


@dataclass(frozen=True)
class Keep:
    """Of which points the waveforms are kept: none, all, failing, every Nth, or at least the N worst."""

    rule: str = "worst"
    count: int = 5
    _worst: list[float] = field(default_factory=list)

    @classmethod
    def read(cls, text: str) -> Keep:
        """From `none`, `all`, `failing`, `every 10` or `worst 5`."""
        found = re.fullmatch(r"(none|all|failing)|(every|worst)\s+(\d{1,7})", text.strip())
        if not found or found[3] and int(found[3]) < 1:
            raise InputError.single("--keep", "is not a choice", text, "none, all, failing, every N, worst N")
        return cls(found[1] or found[2], int(found[3] or 0))

    def __call__(self, place: int, result: PointResult) -> bool:
        """Whether to keep this point's. The worst are known at the end only, so some more are kept on the way."""
        if self.rule == "worst":
            value = result.headroom if result.headroom is not None else -9.0
            among = len(self._worst) < self.count or value < self._worst[-1]
            if among:
                self._worst[self.count - 1 :] = [value]
                self._worst.sort()
            return among
        return (
            self.rule == "all"
            or self.rule == "failing"
            and result.grade == "fails"
            or (self.rule == "every" and place % self.count == 0)
        )


def described(scenario: Scenario, plan: SweepPlan) -> dict[str, Any]:
    """The plan with the scenario it is of, as plain data: what a store remembers of a sweep."""
    origin = scenario.identity | {"wanted_headroom": scenario.tables.heater.wanted_headroom}
    return {"scenario": origin, "made_with": made_with(), **plan.as_dict()}


def sweep(
    scenario: Scenario,
    plan: SweepPlan,
    store_path: str | Path,
    pool: Pool | None = None,
    jobs: int | None = None,
    keep: Keep | str = "worst 5",
    progress: Watch | None = None,
) -> SweepResult:
    """Evaluate every point of a plan that the store does not have yet.

    pool: where points are evaluated, by default `jobs` processes, one a core; keep: see `Keep.read`; progress: told
    after every point. Raises InputError, and SetupError without a simulator. KeyboardInterrupt ends it cleanly and is
    passed on; call it again to continue.
    """
    kept = Keep.read(keep) if isinstance(keep, str) else keep
    path = Path(store_path)
    with Store.open(path) as store:
        run = _Run(scenario, plan, store, path, kept, progress or (lambda told: None))
        if run.pending:
            with local_pool(jobs) if pool is None else nullcontext(pool) as evaluating:
                run.go(evaluating)
        return run.result()


@dataclass(eq=False)
class _Chain:
    """Paths of which one begins beside the end of the one before. end: state there, None where it is not known; last: the place
    whose result it waits for, None if it does not.
    """

    left: deque[list[int]]
    end: Any = None
    last: int | None = None


class _Handed:
    """What is handed out. chains: with paths left; places: of each path that was handed out."""

    def __init__(self, chains: list[list[list[int]]]) -> None:
        self.chains = deque(_Chain(deque(each)) for each in chains)
        self.places: list[list[int]] = []
        self._of: list[_Chain] = []

    def next(self) -> _Chain | None:
        """A chain that can go on, or None while all of them wait."""
        self.chains = deque(chain for chain in self.chains if chain.left)
        return next((chain for chain in self.chains if chain.last is None), None)

    def hand(self, chain: _Chain, claimed: list[int], places: list[int]) -> Any:
        """Note what was claimed of a chain's path; returns the state that it starts from, None where that is not beside it."""
        start, chain.end = chain.end if claimed[:1] == places[:1] else None, None
        if claimed:
            chain.last = places[-1]
            self.places.append(claimed)
            self._of.append(chain)
        return start

    def answered(self, number: int, at: int, result: PointResult) -> None:
        """Let a chain go on when the end of its path is known."""
        chain, place = self._of[number], self.places[number][at]
        if at == len(self.places[number]) - 1:
            chain.end, chain.last = result.state if place == chain.last else None, None


class _Run:
    """One call of `sweep`."""

    def __init__(self, scenario: Scenario, plan: SweepPlan, store: Store, path: Path, keep: Keep, watch: Watch) -> None:
        self.scenario, self.plan, self.store, self.path, self.keep, self.watch = scenario, plan, store, path, keep, watch
        self.owner = f"{socket.gethostname()}:{os.getpid()}:{uuid.uuid4().hex[:12]}"
        self.begun = time.monotonic()
        self.number = store.begin(described(scenario, plan), plan.keyed(scenario))
        self.pending: dict[int, str] = dict(store.pending(self.number))
        self.known = len(plan) - len(self.pending)
        self.flying: set[str] = set()
        self.evaluated = self.failed = 0
        self.stale = Stale()
        self.worst: Worst | None = None
        self.times: deque[float] = deque()
        self._recall()

    def go(self, pool: Pool) -> None:
        """Evaluate until nothing is pending, waiting for what other sweeps have claimed."""
        self._tell()
        with _renewed(self.path, self.number, self.owner, self.flying):
            try:
                while self.pending:
                    before = self.evaluated
                    self._round(pool)
                    self.pending = dict(self.store.pending(self.number))
                    self.known = len(self.plan) - len(self.pending) - self.evaluated
                    if self.pending and self.evaluated == before:
                        self._tell("the rest is claimed by another sweep: waiting for it")
                        time.sleep(POLL)
            finally:
                with contextlib.suppress(HeatsimError):  # then its claims run out by themselves
                    self.store.release(self.owner)

    def result(self) -> SweepResult:
        """The sweep as it stands."""
        grades = self._recall()
        return SweepResult(
            self.scenario,
            self.plan,
            self.path,
            self.number,
            self.evaluated,
            self.stale.edited + self.stale.outdated,
            self.stale.outdated,
            grades,
            time.monotonic() - self.begun,
            self._progress(""),
        )

    def _round(self, pool: Pool) -> None:
        """One pass over what is pending."""
        handed = _Handed(chains(self.plan, list(self.pending), LONGEST, pool.size))
        with contextlib.closing(evaluate_paths(pool, self.scenario, self._paths(handed))) as answers:
            for number, at, result in answers:
                self._take(handed.places[number][at], result)
                handed.answered(number, at, result)

    def _paths(self, handed: _Handed) -> Iterator[ContinuationPath | None]:
        """Paths of points claimed just before they are handed out, None while all chains wait for the end of one."""
        sampled = corners(self.plan, list(self.pending))
        while handed.chains:
            chain = handed.next()
            if chain is None:
                yield None
                continue
            places = chain.left.popleft()
            keys = [self.pending[place] for place in places]
            got = set(self.store.claim(self.number, keys, self.owner, LEASE))
            mine = [place for place, key in zip(places, keys, strict=True) if key in got]
            start = handed.hand(chain, mine, places)
            if mine:
                self.flying |= got
                samples = tuple(number for number, place in enumerate(mine) if place in sampled)
                yield ContinuationPath(tuple(self.plan.point(place) for place in mine), start, True, samples)

    def _take(self, place: int, result: PointResult) -> None:
        """Store a result and tell of it."""
        key = self.pending[place]
        self.store.put(key, result, self.keep(place, result))
        self.flying.discard(key)
        self.evaluated += 1
        self.failed += result.outcome in FAILED
        if result.headroom is not None and (self.worst is None or result.headroom < self.worst.headroom):
            self.worst = Worst(result.headroom, result.ends, self.plan.point(place))
        self.times.append(time.monotonic())
        self._tell()

    def _recall(self) -> Mapping[str, int]:
        """What the store knows, from before and from elsewhere: of this sweep, and of other versions of the file.
        Returns how many points have each grade.
        """
        sweeps = {told.number: told for told in self.store.sweeps()}
        own = sweeps.pop(self.number)
        self.failed, least = own.failed, own.least_headroom
        if least is not None and (self.worst is None or least < self.worst.headroom):
            self.worst = Worst(least, "", None)
        self.stale = stale_results(sweeps.values(), own.plan)
        return own.grades

    def _tell(self, note: str = "") -> None:
        self.watch(self._progress(note))

    def _progress(self, note: str) -> SweepProgress:
        """How far it is now."""
        total, now = len(self.plan), time.monotonic()
        while self.times and now - self.times[0] > WINDOW:
            self.times.popleft()
        done = self.known + self.evaluated
        span = min(WINDOW, now - self.begun)
        rate = len(self.times) / span if self.times and span > 0 else None
        left = (total - done) / rate if rate else None
        return SweepProgress(total, self.known, done, self.failed, rate, left, self.worst, note)


@contextlib.contextmanager
def _renewed(path: Path, sweep: int, owner: str, flying: set[str]) -> Iterator[None]:
    """Renews the claims of points in flight from a thread of its own, with a store connection of its own."""
    over = threading.Event()

    def renew() -> None:
        while not over.wait(LEASE / 3):
            with contextlib.suppress(HeatsimError), Store.open(path, create=False) as store:
                store.claim(sweep, list(flying), owner, LEASE)

    thread = threading.Thread(target=renew, daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def default_store(scenario_file: str | Path) -> Path:
    """Where a sweep of a scenario file is kept unless said otherwise."""
    return Path("results") / f"{Path(scenario_file).stem}-sweep" / "points.db"
