# SPDX-License-Identifier: GPL-3.0-or-later
"""Who evaluates strips of operating points: an executor, and the one that keeps worker processes on this machine.

A crew's worker that dies or falls silent costs at most the point it was at. Which point that was cannot be known for
sure, because results may come in any order; so what is missing is tried again in fresh workers, in ever smaller
pieces, and only a point that was alone when it ended a worker is told as stalled.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from queue import SimpleQueue
from types import TracebackType
from typing import Protocol

from heatsim.engine.pool import GRACE, Pool, Worker, exit_words
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points.point import PointResult, Strip, failed

MODULE = "heatsim.studies.points.worker"

POINTS_PER_WORKER = 400
"""A worker is replaced after this many points, so that memory cannot creep."""

PATIENCE = 2.0
"""A worker is ended when it is silent for this many time limits of a run (a follower may end in a cold start)."""

Answer = tuple[int, int, PointResult]
"""Number of the strip in the order handed in, from 0; place of the point in the strip; what became of it."""


class Executor(Protocol):
    """Evaluates strips, on this machine or on others."""

    @property
    def slots(self) -> int:
        """How many strips it works on at once."""

    def evaluate(self, scenario: Scenario, strips: Iterable[Strip | None]) -> Iterator[Answer]:
        """Results of all points of all strips, in any order, each exactly once, as they come.

        `strips` is read by the thread that asks for answers, one strip whenever there is room for it, so it may be a
        generator that decides from the answers so far. It may yield None for "none now": it is asked again after the
        next answer, and the evaluation ends if there is nothing left to wait for. A point that cannot be evaluated is
        an answer with its cause. Leaving the iteration early abandons what is running. Raises SetupError when nothing
        can be evaluated at all. One evaluation at a time.
        """

    def close(self) -> None:
        """End it and what it started; it cannot be used any more."""


class Crew:
    """Worker processes on this machine, one strip each at a time. Use it in a `with` statement.

    workers: processes, by default one a core.
    """

    def __init__(self, workers: int | None = None) -> None:
        self._pool = Pool(workers, MODULE, POINTS_PER_WORKER)

    @property
    def slots(self) -> int:
        """How many strips it works on at once."""
        return self._pool.size

    def evaluate(self, scenario: Scenario, strips: Iterable[Strip | None]) -> Iterator[Answer]:
        """See `Executor.evaluate`."""
        running = _Evaluation(self._pool, replace(scenario, folder=scenario.folder.resolve()), iter(strips))
        try:
            yield from running.answers()
        finally:
            running.stop()

    def close(self) -> None:
        """End every worker now."""
        self._pool.close()

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()


@dataclass(frozen=True)
class _Piece:
    """A strip, or what a lost worker left of it. places: of its points in the strip as handed in."""

    number: int
    work: Strip
    places: tuple[int, ...]
    again: bool = False

    def part(self, among: list[int]) -> _Piece:
        """The points at these places of the piece, to be started afresh."""
        return _Piece(self.number, self.work.part(among), tuple(self.places[place] for place in among), True)


@dataclass(frozen=True)
class _Ended:
    """A piece is over. left: pieces still to be done."""

    left: tuple[_Piece, ...] = ()


class _Evaluation:
    """One evaluation: pieces waiting, a thread for each piece that runs, and one queue for what they have to tell."""

    def __init__(self, pool: Pool, scenario: Scenario, source: Iterator[Strip | None]) -> None:
        self.pool, self.scenario, self.source = pool, scenario, source
        self.silence = PATIENCE * scenario.tables.simulate.time_limit + GRACE
        self.told: SimpleQueue[Answer | _Ended | BaseException] = SimpleQueue()
        self.waiting: deque[_Piece] = deque()
        self.busy: dict[threading.Thread, Worker | None] = {}
        self.running = self.taken = 0
        self.exhausted = self.stopped = False

    def answers(self) -> Iterator[Answer]:
        """See `Executor.evaluate`."""
        self._start()
        while self.running:
            told = self.told.get()
            if isinstance(told, BaseException):
                raise told
            if isinstance(told, _Ended):
                self.running -= 1
                self.waiting.extend(told.left)
            else:
                yield told
            self._start()

    def stop(self) -> None:
        """Abandon what is running."""
        self.stopped = True
        for worker in list(self.busy.values()):
            if worker is not None:
                worker.kill()
        for thread in list(self.busy):
            thread.join()

    def _start(self) -> None:
        """As many pieces as there is room for."""
        while self.running < self.pool.size and (piece := self._next()) is not None:
            self.running += 1
            thread = threading.Thread(target=self._serve, args=(piece,), daemon=True)
            self.busy[thread] = None
            thread.start()

    def _next(self) -> _Piece | None:
        if self.waiting:
            return self.waiting.popleft()
        while not self.exhausted:
            try:
                strip = next(self.source)
            except StopIteration:
                self.exhausted = True
                return None
            if strip is None:
                return None
            number, self.taken = self.taken, self.taken + 1
            if strip.points:
                return _Piece(number, strip, tuple(range(len(strip.points))))
        return None

    def _serve(self, piece: _Piece) -> None:
        """One piece on one worker; in a thread of its own."""
        told: _Ended | BaseException = _Ended()
        try:
            worker = self.pool.take()
            self.busy[threading.current_thread()] = worker
            try:
                if not self.stopped:
                    told = _Ended(self._on(worker, piece))
            finally:
                self.pool.give(worker)
        except BaseException as error:
            told = error
        self.busy.pop(threading.current_thread(), None)
        self.told.put(told)

    def _on(self, worker: Worker, piece: _Piece) -> tuple[_Piece, ...]:
        """Hand a piece to a worker and pass on its results; returns what is left if the worker does not finish."""
        missing = dict(enumerate(piece.places))
        worker.served += len(missing)
        with worker.fuse(0.0, self.silence):
            try:
                worker.send((self.scenario, piece.work))
                outcome, cause = self._listen(worker, piece.number, missing)
            except (EOFError, OSError):
                outcome, cause = "stalled", self._lost(worker)
        return self._left(piece, missing, outcome, cause)

    def _listen(self, worker: Worker, number: int, missing: dict[int, int]) -> tuple[str, str]:
        """Pass on results until the worker is through; returns outcome and cause for points it has not told of."""
        while True:
            kind, *rest = worker.receive()
            if kind == "result":
                place, result = rest
                if place in missing:
                    self.told.put((number, missing.pop(place), result))
            elif kind == "end":
                worker.worn = rest[0]
                return "unsolved", "a fault of heatsim's own: the point was left out"
            else:
                worker.worn = True
                return "unsolved", f"a fault of heatsim's own: {rest[0].strip().splitlines()[-1]}"

    def _lost(self, worker: Worker) -> str:
        """What became of a worker that is gone."""
        status = worker.close()
        worker.worn = True
        if worker.killed:
            return f"the simulator hung and was ended after {self.silence:.3g} s of silence"
        told = f"the simulator process died ({exit_words(status)})"
        return f"{told}: {worker.last_words}" if worker.last_words else told

    def _left(self, piece: _Piece, missing: dict[int, int], outcome: str, cause: str) -> tuple[_Piece, ...]:
        """Pieces for the points without a result. A single one is given up; the first one missing is the likeliest
        culprit and tried alone, and if that does not help what is left is halved.
        """
        left = list(missing)
        if len(left) == 1 and len(piece.places) == 1:
            self.told.put((piece.number, missing[left[0]], failed(outcome, cause)))
            return ()
        cut = (len(left) + 1) // 2 if piece.again else 1
        return tuple(piece.part(part) for part in (left[:cut], left[cut:]) if part)


__all__ = ["Answer", "Crew", "Executor"]
