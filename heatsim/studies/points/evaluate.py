# SPDX-License-Identifier: GPL-3.0-or-later
"""Continuation paths evaluated on a pool: every point of every path exactly once, whatever happens to a worker.

A worker that dies or falls silent costs at most the point it was at. Which point that was cannot be known for sure,
because results may come in any order. So what is missing is tried again from fresh starts, the first missing point
alone and the others in ever smaller pieces, and only a point that was alone when it ended a worker is given up.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Generator, Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from heatsim.engine import simulators
from heatsim.engine.pool import GRACE
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points.point import ContinuationPath, PointResult, failed
from heatsim.studies.points.portable import Packing
from heatsim.tasks import Done, Failed, Pool, Task, Told

if TYPE_CHECKING:
    from heatsim.tasks import ClusterPool

FUNCTION = "heatsim.studies.points.worker:evaluate"

PATIENCE = 120.0
"""A worker is ended when it is silent for so long [s], and GRACE: one that is only slow tells at every step that it lives."""

POINTS_A_WEAR = 5
"""Points of a path that count as one of a worker's `heatsim.engine.pool.LIFE`: 2000 in all. Its memory grows by some 12 kB a point
(measured), and starting another costs as much as two dozen followed points."""

Answer = tuple[int, int, PointResult]
"""Number of the path in the order handed in, from 0; place of the point in the path; what became of it."""


def local_pool(workers: int | None = None) -> Pool:
    """Worker processes on this machine, by default one a core."""
    return simulators(workers)


def cluster_pool(address: str) -> ClusterPool:
    """The workers of the Dask scheduler at an address such as tcp://10.0.0.5:8786; see `heatsim.tasks.ClusterPool`."""
    from heatsim.tasks import ClusterPool

    return ClusterPool(address, "heatsim.engine:simulators")


def evaluate_paths(pool: Pool, scenario: Scenario, paths: Iterable[ContinuationPath | None]) -> Generator[Answer]:
    """Results of all points of all paths, in any order, each exactly once, as they come.

    paths: read by the thread that asks for answers, one path whenever there is room for it, so it may be a generator
    that decides from the answers so far. It may yield None for "none now": it is asked again after the next answer, and
    the evaluation ends if there is nothing left to wait for.
    A point that cannot be evaluated is an answer with its cause. Leaving the iteration early abandons what is running.
    Raises SetupError when nothing can be evaluated at all. One evaluation at a time.
    """
    evaluation = _Evaluation(pool, scenario, iter(paths))
    try:
        yield from evaluation.answers()
    finally:
        pool.cancel()


@dataclass
class _Piece:
    """A path, or what a lost worker left of it.

    number: of the path; places: of its points in the path as handed in; again: whether a worker was lost with it
    """

    number: int
    path: ContinuationPath
    places: tuple[int, ...]
    again: bool = False

    def __post_init__(self) -> None:
        self.missing = dict(enumerate(self.places))

    def part(self, among: list[int]) -> _Piece:
        """The points at these places of the piece, to be started afresh."""
        return _Piece(self.number, self.path.part(among), tuple(self.places[place] for place in among), True)

    def left(self) -> list[_Piece]:
        """Pieces for the points without a result: the first one alone, as the likeliest culprit, or else halves."""
        left = list(self.missing)
        cut = (len(left) + 1) // 2 if self.again else 1
        return [self.part(part) for part in (left[:cut], left[cut:]) if part]


class _Evaluation:
    """One evaluation: pieces waiting, and pieces in the pool by the number of their task."""

    def __init__(self, pool: Pool, scenario: Scenario, source: Iterator[ContinuationPath | None]) -> None:
        self.pool, self.source = pool, source
        self.packing = Packing(scenario, pool.remote)
        self.silence = PATIENCE + GRACE
        self.waiting: deque[_Piece] = deque()
        self.running: dict[int, _Piece] = {}
        self.taken = 0
        self.exhausted = False

    def answers(self) -> Generator[Answer]:
        """See `evaluate_paths`."""
        self._fill()
        for event in self.pool.as_completed():
            piece = self.running[event.number]
            if isinstance(event, Told):
                if event.message is not None and event.message[0] in piece.missing:
                    place, result = event.message
                    yield piece.number, piece.missing.pop(place), result
            else:
                del self.running[event.number]
                yield from self._ended(piece, event)
            self._fill()

    def _ended(self, piece: _Piece, event: Done | Failed) -> Generator[Answer]:
        """What is missing of a piece is tried again, but a single point that was alone is given up."""
        if len(piece.places) > 1:
            self.waiting.extend(piece.left())
        elif piece.missing:
            outcome = "stalled" if isinstance(event, Failed) and event.reason != "fault" else "unsolved"
            cause = event.cause if isinstance(event, Failed) else "a fault of heatsim's own: the point was left out"
            yield piece.number, piece.missing[0], failed(outcome, cause)

    def _fill(self) -> None:
        """As many pieces into the pool as it has room for."""
        while len(self.running) < self.pool.size and (piece := self._next()) is not None:
            arguments = self.packing(piece.path)
            task = Task(FUNCTION, arguments, silence=self.silence, wear=math.ceil(len(piece.places) / POINTS_A_WEAR))
            self.running[self.pool.submit(task)] = piece

    def _next(self) -> _Piece | None:
        if self.waiting:
            return self.waiting.popleft()
        while not self.exhausted:
            try:
                path = next(self.source)
            except StopIteration:
                self.exhausted = True
                return None
            if path is None:
                return None
            number, self.taken = self.taken, self.taken + 1
            if path.points:
                return _Piece(number, path, tuple(range(len(path.points))))
        return None
