# SPDX-License-Identifier: GPL-3.0-or-later
"""A pool of worker processes on this machine, kept from task to task."""

from __future__ import annotations

import contextlib
import itertools
import os
import pickle
import threading
from collections.abc import Iterator, Mapping
from queue import Empty, SimpleQueue

from heatsim.errors import SetupError
from heatsim.tasks.kept import Stock, stock_of
from heatsim.tasks.process import Worker
from heatsim.tasks.task import Event, Pool, Task, Told

LOOK = 0.05
"""Seconds between two looks whether a worker hangs."""


class LocalPool(Pool):
    """See `heatsim.tasks.Pool`. The workers begin to start when it is made, but for those that `kept_workers` has for it.

    size: processes, by default one a core; start: import path of a function that each calls first, which returns a text
    about the process; life: wear after which a process is replaced, so that memory cannot creep [1];
    variables: of the environment the processes get, by default this process's
    """

    remote = False

    def __init__(
        self, size: int | None = None, start: str = "", life: int = 400, variables: Mapping[str, str] | None = None
    ) -> None:
        self._size = max(1, size or os.cpu_count() or 1)
        making = start, life, dict(os.environ if variables is None else variables)
        self._kept = stock_of(making)
        self._stock = self._kept or Stock(0, making)
        self._lock = threading.Lock()
        self._numbers = itertools.count()
        self._open: set[int] = set()
        self._waiting: SimpleQueue[tuple[int, Task, bytes] | None] = SimpleQueue()
        self._events: SimpleQueue[Event] = SimpleQueue()
        self._failure: BaseException | None = None
        self._about = ""
        self._started = threading.Event()
        self.closed = False
        self._slots = [_Slot(self) for _ in range(self._size)]

    @property
    def size(self) -> int:
        """How many tasks run at once."""
        return self._size

    @property
    def about(self) -> str:
        """What the start function returned in the first worker; waits for it. SetupError when none can start."""
        while not self._started.wait(LOOK):
            self._check()
        self._check()
        return self._about

    def submit(self, task: Task) -> int:
        """See `Pool`."""
        if self.closed:
            raise RuntimeError("the pool is closed")
        number = next(self._numbers)
        pickled = pickle.dumps(task, pickle.HIGHEST_PROTOCOL)
        self._open.add(number)
        self._waiting.put((number, task, pickled))
        return number

    def as_completed(self) -> Iterator[Event]:
        """See `Pool`."""
        while self._open:
            self._check()
            with contextlib.suppress(Empty):
                event = self._events.get(timeout=LOOK)
                if event.number in self._open:
                    if not isinstance(event, Told):
                        self._open.discard(event.number)
                    yield event

    def cancel(self) -> None:
        """See `Pool`."""
        with self._lock:
            self._open.clear()
            busy = [slot.worker for slot in self._slots if slot.busy and slot.worker is not None]
        for worker in busy:
            worker.kill()

    def close(self) -> None:
        """End every worker now, but for the idle ones that `kept_workers` takes back."""
        with self._lock:
            self.closed = True
            self._open.clear()
            left = [slot.worker for slot in self._slots if slot.worker is not None and (slot.busy or self._kept is None)]
        for worker in left:
            worker.kill()
        for _ in self._slots:
            self._waiting.put(None)
        for slot in self._slots:
            slot.thread.join(5.0)
        if self._kept is None:
            self._stock.close()

    def _check(self) -> None:
        """Raise what keeps workers from starting; end those that hang."""
        if self._failure is not None:
            raise self._failure
        for slot in self._slots:
            if slot.worker is not None:
                slot.worker.check()


class _Slot:
    """A thread that has one worker after the other do one task after the other."""

    def __init__(self, pool: LocalPool) -> None:
        self.pool = pool
        self.worker: Worker | None = None
        self.busy = False
        self.thread = threading.Thread(target=self._work, daemon=True)
        self.thread.start()

    def _work(self) -> None:
        try:
            self._renew()
            while (item := self.pool._waiting.get()) is not None:
                self._serve(*item)
        except BaseException as error:  # raised where somebody listens
            self.pool._failure = error
        finally:
            self.pool._started.set()
            if self.worker is not None:
                self.pool._stock.give(self.worker)

    def _renew(self) -> Worker:
        """A new worker in place of the one before."""
        pool = self.pool
        if self.worker is not None:
            self.worker.close()
        with pool._lock:
            if pool.closed:
                raise SetupError("the pool was closed")
            self.worker = worker = pool._stock.take()
        pool._about = worker.ready()
        pool._started.set()
        return worker

    def _serve(self, number: int, task: Task, pickled: bytes) -> None:
        worker = self.worker if self.worker is not None and self.worker.fit else self._renew()
        with self.pool._lock:
            if number not in self.pool._open:  # cancelled
                return
            self.busy = True
        try:
            self.pool._events.put(worker.run(number, task, pickled, self.pool._events.put))
        finally:
            self.busy = False
