# SPDX-License-Identifier: GPL-3.0-or-later
"""Worker processes that simulate for `match`: tasks out, answers in, in any order. A crash or a hang costs one task."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from queue import Empty, SimpleQueue
from types import TracebackType
from typing import Any

from heatsim.engine.pool import GRACE, Pool, Worker, exit_words
from heatsim.errors import SetupError

MODULE = "heatsim.studies.match_worker"

TASKS_PER_WORKER = 200
"""A worker is replaced after this many tasks, so that memory cannot creep."""

SILENCE = 120.0
"""Seconds of silence after which a worker is ended."""

Task = tuple[str, tuple[Any, ...]]
"""Name in `match_worker.TASKS`, arguments."""


class Failed:
    """A task without an answer; `why` in words."""

    def __init__(self, why: str) -> None:
        self.why = why


class MatchCrew:
    """Use it in a `with` statement. workers: processes, by default one a core; simulations: how many were made so far."""

    def __init__(self, workers: int | None = None) -> None:
        self._pool = Pool(workers, MODULE, TASKS_PER_WORKER)
        self.version = ""
        self.simulations = 0

    def each(self, tasks: Sequence[Task]) -> Iterator[tuple[int, Any]]:
        """(number of the task, its answer or Failed), as they come. Raises SetupError when the simulator cannot be started."""
        waiting: SimpleQueue[int] = SimpleQueue()
        for number in range(len(tasks)):
            waiting.put(number)
        told: SimpleQueue[tuple[int, Any]] = SimpleQueue()
        threads = [
            threading.Thread(target=self._serve, args=(tasks, waiting, told), daemon=True)
            for _ in range(min(self._pool.size, len(tasks)))
        ]
        for thread in threads:
            thread.start()
        for _ in tasks:
            number, answer = told.get()
            if isinstance(answer, BaseException):
                raise answer
            yield number, answer

    def one(self, task: Task) -> Any:
        """The answer to one task."""
        return next(self.each([task]))[1]

    def _serve(self, tasks: Sequence[Task], waiting: SimpleQueue[int], told: SimpleQueue[tuple[int, Any]]) -> None:
        while not waiting.empty():
            try:
                number = waiting.get_nowait()
            except Empty:
                return
            try:
                worker = self._pool.take()
                self.version = worker.version
                try:
                    answer, simulations = _ask(worker, tasks[number])
                    self.simulations += simulations
                    told.put((number, answer))
                finally:
                    self._pool.give(worker)
            except SetupError as error:
                told.put((number, error))
            except BaseException as error:
                told.put((number, Failed(str(error))))

    def close(self) -> None:
        """End every worker now."""
        self._pool.close()

    def __enter__(self) -> MatchCrew:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _ask(worker: Worker, task: Task) -> tuple[Any, int]:
    """One task on one worker: its answer or Failed, and how many simulations it took."""
    worker.served += 1
    with worker.fuse(0.0, SILENCE + GRACE):
        try:
            worker.send(task)
            kind, answer, *rest = worker.receive()
        except (EOFError, OSError):
            status = worker.close()
            worker.worn = True
            died = f"the simulator process died ({exit_words(status)})"
            return Failed("the simulator hung and was ended" if worker.killed else died), 0
    if kind == "done":
        simulations, worker.worn = rest
        return answer, simulations
    worker.worn = kind == "fault"
    return Failed(answer if kind == "none" else f"a fault of heatsim's own: {answer.strip().splitlines()[-1]}"), 0
