# SPDX-License-Identifier: GPL-3.0-or-later
"""Strips of operating points on other machines: an executor on an existing Dask scheduler and its workers.

This side alone writes to a store; the workers only answer. Each strip is given to one worker and asked for its results
by one short task after another (`heatsim.studies.points.cluster_worker`), so what a lost worker can take with it is what it
found in the last quarter of a second and the point it was at. What is missing of its strips then goes to other workers.
"""

from __future__ import annotations

import contextlib
import itertools
import pickle
import time
import uuid
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from queue import Empty, SimpleQueue
from types import TracebackType
from typing import Any

from heatsim.errors import SetupError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points.cluster_link import LOOK, Link
from heatsim.studies.points.cluster_worker import Answers, Packing
from heatsim.studies.points.crew import Answer
from heatsim.studies.points.point import Strip, failed

PATIENCE = 10.0
"""Seconds to wait for a first worker."""

BEREFT = 60.0
"""Seconds to wait for new workers when all are lost."""

LOSSES = 3
"""A piece of a strip that has lost so many workers without a result is halved; a single point is given up."""


class ClusterExecutor:
    """Evaluates strips on the workers of a Dask scheduler, as many at once as those have threads. Workers that come
    later are used too. Use it in a `with` statement.

    address: of the scheduler, as Dask writes it: `tcp://10.0.0.5:8786`, `tls://...`; keys and certificates for the
    latter are read from Dask's own configuration; patience: seconds to wait for a first worker. Raises InputError when
    no scheduler answers there or a worker has another version of heatsim, SetupError when there is no worker that can
    work, or this machine lacks the extra `cluster`. Warns (UserWarning) when simulators are of different versions.
    """

    def __init__(self, address: str, patience: float = PATIENCE) -> None:
        self._link = Link(address, patience)

    @property
    def slots(self) -> int:
        """How many strips it works on at once."""
        return max(1, sum(self._link.threads.values()))

    @property
    def workers(self) -> dict[str, str]:
        """Address of each worker in use and its version of the simulator."""
        return {address: self._link.simulators[address] for address in self._link.threads}

    def evaluate(self, scenario: Scenario, strips: Iterable[Strip | None]) -> Iterator[Answer]:
        """See `heatsim.studies.points.crew.Executor`. Raises SetupError when the scheduler, or every worker for a minute, is
        lost on the way; answers given until then hold.
        """
        running = _Evaluation(self._link, scenario, iter(strips))
        try:
            yield from running.answers()
        finally:
            running.stop()

    def close(self) -> None:
        """Leave the scheduler; it and its workers go on."""
        self._link.close()

    def __enter__(self) -> ClusterExecutor:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()


@dataclass(eq=False)
class _Piece:
    """A strip, or what lost workers left of it. places: of its points in the strip as handed in; losses: workers it
    has lost since its last result; have: places in `work` already answered; worker, future: who has it and the task
    that asks for results; serial: name of this try.
    """

    number: int
    work: Strip
    places: tuple[int, ...]
    losses: int = 0
    have: set[int] = field(default_factory=set)
    worker: str = ""
    future: Any = None
    serial: int = 0
    order: bytes = b""

    @property
    def left(self) -> list[int]:
        """Places in `work` not answered yet."""
        return [place for place in range(len(self.places)) if place not in self.have]

    def part(self, among: list[int], losses: int) -> _Piece:
        """The points at these places, to be started afresh."""
        return _Piece(self.number, self.work.part(among), tuple(self.places[place] for place in among), losses)


class _Evaluation:
    """One evaluation: pieces waiting, pieces on workers, and a queue of the tasks that have ended."""

    def __init__(self, link: Link, scenario: Scenario, source: Iterator[Strip | None]) -> None:
        self.link, self.source = link, source
        self.name = uuid.uuid4().hex
        self.packing = Packing(scenario)
        self.waiting: deque[_Piece] = deque()
        self.running: set[_Piece] = set()
        self.told: SimpleQueue[tuple[_Piece, Any]] = SimpleQueue()
        self.ready: deque[Answer] = deque()
        self.serials = itertools.count()
        self.taken = 0
        self.exhausted = False
        self.served = time.monotonic()

    def answers(self) -> Iterator[Answer]:
        """See `Executor.evaluate`."""
        self._start()
        while self.running or self.waiting:
            self._hear(self._ended())
            self._missed()
            while self.ready:
                yield self.ready.popleft()
                self._start()
            self._start()

    def stop(self) -> None:
        """Abandon what is running. Workers that cannot be told so give up by themselves."""
        running, self.running = self.running, set()
        if not running or self.link.client.status != "running":
            return
        with contextlib.suppress(Exception):
            self.link.client.cancel([piece.future for piece in running], force=True)
        with contextlib.suppress(Exception):
            self.link.tell({piece.worker for piece in running}, "abandon", self.name)

    def _start(self) -> None:
        """Pieces to workers with a free thread, the one with most of them first."""
        free = dict(self.link.threads)
        for busy in self.running:
            if busy.worker in free:
                free[busy.worker] -= 1
        while free and max(free.values()) > 0 and (piece := self._next()) is not None:
            piece.worker = max(free, key=lambda worker: free[worker])
            free[piece.worker] -= 1
            piece.serial = next(self.serials)
            piece.order = piece.order or self.packing(piece.work)
            self.running.add(piece)
            self._ask(piece)

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

    def _ask(self, piece: _Piece) -> None:
        """Ask a piece's worker for its next results, whether it has begun with it or not."""
        future = self.link.task("serve", piece.worker, (self.name, piece.serial), piece.order, tuple(sorted(piece.have)))
        piece.future = future
        future.add_done_callback(lambda future: self.told.put((piece, future)))

    def _ended(self) -> list[tuple[_Piece, Any]]:
        """Tasks that have ended, after waiting for one for a while; those of pieces given up are left out."""
        ended = []
        with contextlib.suppress(Empty):
            ended.append(self.told.get(timeout=LOOK))
            while True:
                ended.append(self.told.get_nowait())
        return [(piece, future) for piece, future in ended if piece in self.running and piece.future is future]

    def _hear(self, ended: list[tuple[_Piece, Any]]) -> None:
        """Take in the results of tasks that have ended."""
        results = self.link.fetch([(future, piece.worker) for piece, future in ended])
        for (piece, future), result in zip(ended, results, strict=True):
            if isinstance(result, bytes):
                self._answered(piece, pickle.loads(result))
            else:
                self.link.check()
                self._lost(piece, "unsolved" if future.status == "error" else "stalled", result)

    def _answered(self, piece: _Piece, answers: Answers) -> None:
        """Pass on what is new of a piece; ask for more, unless it is over."""
        new = [(place, result) for place, result in answers.found if place not in piece.have]
        self.ready.extend((piece.number, piece.places[place], result) for place, result in new)
        piece.have |= {place for place, _ in new}
        piece.losses = 0 if new else piece.losses
        if answers.setup:
            self.link.refuse(piece.worker, answers.fault)
        if not piece.left:
            self.running.discard(piece)
        elif answers.setup:
            self._again([piece.part(piece.left, piece.losses)], piece)
        elif answers.over:
            self._lost(piece, "unsolved", f"a fault of heatsim's own: {answers.fault or 'the point was left out'}")
        else:
            self._ask(piece)

    def _lost(self, piece: _Piece, outcome: str, cause: str) -> None:
        """What is left of a piece that its worker did not finish goes to others; when that has happened often, in
        halves, and a single point is given up.
        """
        left, losses = piece.left, piece.losses + 1
        if losses < LOSSES:
            self._again([piece.part(left, losses)], piece)
        elif len(left) == 1:
            self._again([], piece)
            self.ready.append((piece.number, piece.places[left[0]], failed(outcome, f"{cause} ({losses} times)")))
        else:
            cut = (len(left) + 1) // 2
            self._again([piece.part(left[:cut], LOSSES - 1), piece.part(left[cut:], LOSSES - 1)], piece)

    def _again(self, parts: list[_Piece], piece: _Piece) -> None:
        """Pieces to be done instead of one that is running."""
        self.running.discard(piece)
        self.waiting.extend(parts)
        if piece.future is not None:
            with contextlib.suppress(Exception):
                piece.future.cancel(force=True)

    def _missed(self) -> None:
        """Look who is there: pieces of workers that are not are lost; no worker for long is an error."""
        self.link.look()
        for piece in [piece for piece in self.running if piece.worker not in self.link.threads]:
            self._lost(piece, "stalled", "the machine it ran on was lost")
        if self.link.threads:
            self.served = time.monotonic()
        elif time.monotonic() - self.served > BEREFT:
            raise SetupError(
                f"the Dask scheduler at {self.link.address} has no workers left; start one: dask worker "
                f"{self.link.address}. What was found until then is kept, and the same command goes on."
            )


__all__ = ["ClusterExecutor"]
