# SPDX-License-Identifier: GPL-3.0-or-later
"""What runs inside a Dask worker: one task at a time on a local pool of one process, kept from task to task.

So a task that crashes its process costs that task and never the Dask worker, and a cancelled one ends at once.
"""

from __future__ import annotations

import atexit
import contextlib
import importlib
import pickle
import threading
from collections.abc import Iterator

import heatsim
from heatsim.errors import SetupError
from heatsim.tasks.local import LocalPool
from heatsim.tasks.task import named

LOOK = 0.5
"""Seconds between two looks whether a task is still wanted."""

_idle: list[tuple[str, LocalPool]] = []
"""Pools without work, whose processes end by themselves after a while."""


@atexit.register
def _end() -> None:
    """End what is idle."""
    for _, pool in _idle:
        pool.close()


def probe(local: str) -> tuple[str, str, str]:
    """Version of heatsim, what a worker of the local pool tells of itself, and why there can be none, in words."""
    try:
        pool = _take(local)
        about = pool.about
    except SetupError as error:
        return heatsim.__version__, "", str(error)
    _idle.append((local, pool))
    return heatsim.__version__, about, ""


def serve(local: str, pickled: bytes) -> bytes:
    """Everything that a task has to tell, pickled.

    local: import path of a function that makes a pool of one process; pickled: the task
    """
    pool = _take(local)
    try:
        with _closed_when_unwanted(pool):
            pool.submit(pickle.loads(pickled))
            events = list(pool.as_completed())
    except BaseException:
        pool.close()
        raise
    _idle.append((local, pool))
    return pickle.dumps(events, pickle.HIGHEST_PROTOCOL)


def _take(local: str) -> LocalPool:
    """An idle pool, or a new one."""
    with contextlib.suppress(IndexError):
        while True:
            made, pool = _idle.pop()
            if made == local and not pool.closed:
                return pool
    new: LocalPool = named(local)(1)
    return new


@contextlib.contextmanager
def _closed_when_unwanted(pool: LocalPool) -> Iterator[None]:
    """Close the pool as soon as Dask has cancelled the task this thread is at, as it does when its client is gone."""
    worker = importlib.import_module("distributed").get_worker()
    key, over = worker.get_current_task(), threading.Event()

    def watch() -> None:
        while not over.wait(LOOK):
            task = worker.state.tasks.get(key)
            if task is None or task.state == "cancelled":
                pool.close()
                return

    threading.Thread(target=watch, daemon=True).start()
    try:
        yield
    finally:
        over.set()
