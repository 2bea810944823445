# SPDX-License-Identifier: GPL-3.0-or-later
"""A pool's stock of workers, which may outlast it: started before there is one, and handed on from one to the next."""

from __future__ import annotations

import contextlib
import itertools
import os
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar

from heatsim.errors import SetupError
from heatsim.tasks.folder import Folder
from heatsim.tasks.process import Worker

Making = tuple[str, int, Mapping[str, str]]
"""What workers are made with: start function, life and variables, as in `LocalPool`."""


class Stock:
    """Workers of one making: those that are idle, and new ones. size: how many begin to start now"""

    def __init__(self, size: int, making: Making) -> None:
        self.making = making
        self._folder, self._lock, self._closed = Folder(), threading.Lock(), False
        self._numbers = itertools.count(1)
        self._idle: list[Worker] = []
        with contextlib.suppress(SetupError):  # the pool that wants one says so
            for _ in range(size):
                self._idle.append(self._new())

    def take(self) -> Worker:
        """The worker that has been idle, or starting, for longest; a new one when there is none. Raises SetupError."""
        with self._lock:
            while self._idle and not self._closed:
                worker = self._idle.pop(0)
                if worker.fit:
                    return worker
                worker.close()
        return self._new()

    def give(self, worker: Worker) -> None:
        """Take in a worker that is idle; one that is fit for nothing any more is ended."""
        with self._lock:
            if worker.fit and not self._closed:
                self._idle.append(worker)
                return
        worker.close()

    def _new(self) -> Worker:
        return Worker(self._folder.path / f"worker-{next(self._numbers)}", *self.making)

    def end(self) -> None:
        """Begin to end the workers: that takes a tenth of a second where they have much in memory. None is handed on any more."""
        with self._lock:
            self._closed = True
            for worker in self._idle:
                with contextlib.suppress(OSError):
                    worker.process.kill()

    def close(self) -> None:
        """End the workers."""
        self.end()
        for worker in self._idle:
            worker.close()
        self._idle.clear()
        self._folder.close()


_STOCK: ContextVar[Stock | None] = ContextVar("stock", default=None)


@contextmanager
def kept_workers(size: int, start: str = "", life: int = 400, variables: Mapping[str, str] | None = None) -> Iterator[Stock]:
    """Workers that begin to start now. Pools made in the block with the same start function, life and variables take them, and hand
    on those that are still fit when they close, which has to be in the block; at its end all are ended, or sooner by `Stock.end`.

    size: how many begin to start; the rest: see `LocalPool`
    """
    stock = Stock(size, (start, life, dict(os.environ if variables is None else variables)))
    token = _STOCK.set(stock)
    try:
        yield stock
    finally:
        _STOCK.reset(token)
        stock.close()


def stock_of(making: Making) -> Stock | None:
    """The workers that are kept here for pools of this making, if any are."""
    stock = _STOCK.get()
    return stock if stock is not None and stock.making == making else None
