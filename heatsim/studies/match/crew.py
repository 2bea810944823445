# SPDX-License-Identifier: GPL-3.0-or-later
"""Worker processes that simulate for `match`: tasks out, answers in, in any order. A crash or a hang costs one task; answers that
were kept from earlier runs cost none."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from pathlib import Path
from queue import Empty, SimpleQueue
from types import TracebackType
from typing import Any

from heatsim.engine.pool import GRACE, Pool, Worker, exit_words
from heatsim.errors import SetupError
from heatsim.studies.match.cache import Kept

MODULE = "heatsim.studies.match.worker"

TASKS_PER_WORKER = 200
"""A worker is replaced after this many tasks, so that memory cannot creep."""

KEPT = ("start", "slopes", "sheet")
"""Tasks whose answers serve other captures of the same heater."""

SILENCE = 120.0
"""Seconds of silence after which a worker is ended."""

Task = tuple[str, tuple[Any, ...]]
"""Name in `match_worker.TASKS`, arguments."""


class Failed:
    """A task without an answer; `why` in words."""

    def __init__(self, why: str) -> None:
        self.why = why


class MatchCrew:
    """Use it in a `with` statement. workers: processes, by default one a core; folder: where answers are kept from run to run, None
    for nowhere; simulations: how many were made so far; spared: how many were not, because their answers were kept."""

    def __init__(self, workers: int | None = None, folder: Path | None = None) -> None:
        self._pool = Pool(workers, MODULE, TASKS_PER_WORKER)
        self._folder = folder
        self._kept: Kept | None = None
        self.version = ""
        self.simulations = self.spared = 0

    def each(self, tasks: Sequence[Task]) -> Iterator[tuple[int, Any]]:
        """(number of the task, its answer or Failed), as they come. Raises SetupError when the simulator cannot be started."""
        waiting: SimpleQueue[int] = SimpleQueue()
        told: SimpleQueue[tuple[int, Any]] = SimpleQueue()
        for number, task in enumerate(tasks):
            known = self._known(task)
            if known is None:
                waiting.put(number)
            else:
                self.spared += known[1]
                told.put((number, known[0]))
        threads = [
            threading.Thread(target=self._serve, args=(tasks, waiting, told), daemon=True)
            for _ in range(min(self._pool.size, waiting.qsize()))
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

    def _known(self, task: Task) -> tuple[Any, int] | None:
        """A kept answer and how many simulations it took."""
        asked = _asked(task)
        if self._folder is None or asked is None:
            return None
        if self._kept is None:
            worker = self._pool.take()
            self.version = worker.version
            self._pool.give(worker)
            self._kept = Kept(self._folder, self.version)
        found: tuple[Any, int] | None = self._kept.get(asked)
        return found

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
                    asked = _asked(tasks[number])
                    if self._kept is not None and asked is not None and not isinstance(answer, Failed):
                        self._kept.put(asked, (answer, simulations))
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

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()


def _asked(task: Task) -> tuple[Any, ...] | None:
    """What the answer to a task depends on, where it is worth keeping: the heater, the signals, the steps, and the kind's name. The
    sound heater's solution among the arguments follows from these."""
    name, arguments = task
    if name not in KEPT:
        return None
    return name, arguments[0], *(each for each in arguments[1:] if isinstance(each, str))


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
