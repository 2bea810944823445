# SPDX-License-Identifier: GPL-3.0-or-later
"""A pool on the workers of a Dask scheduler. Dask's own library is imported inside functions.

A task goes to whichever worker Dask chooses among those that are fit: that have this version of heatsim and can start
a pool of their own (`heatsim.tasks.cluster_worker`). Dask gives it to another one when its worker is lost.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import itertools
import logging
import pickle
import threading
import time
import uuid
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from queue import Empty, SimpleQueue
from typing import Any

import heatsim
from heatsim.errors import InputError, SetupError
from heatsim.tasks import cluster_worker
from heatsim.tasks.task import Event, Failed, Pool, Task

CONNECT = 10.0
"""Seconds the scheduler has to answer at first."""

STARTS = 3
"""Attempts to start Dask's event loop."""

PATIENCE = 10.0
"""Seconds to wait for a first worker."""

LOOK = 1.0
"""Seconds between two looks at which workers there are."""

BEREFT = 60.0
"""Seconds to wait for new workers when all are lost."""


@dataclass(frozen=True)
class _Sent:
    """A task handed over. workers: addresses of those that may have it; future: Dask's."""

    pickled: bytes
    workers: frozenset[str]
    future: Any


class ClusterPool(Pool):
    """See `heatsim.tasks.Pool`. Workers that come later are used too; what a task tells arrives when it ends.

    address: of the scheduler as Dask writes it, `tcp://10.0.0.5:8786` or `tls://...`; keys and certificates for the
    latter are read from Dask's own configuration
    local: import path of a function that makes a pool of one process, called where tasks run
    patience: time to wait for a first worker [s]
    Raises InputError when no scheduler answers or a worker is not fit, SetupError when there is no worker or this
    machine lacks the extra `cluster`. Warns (UserWarning) when what workers tell of themselves differs.
    """

    remote = True

    def __init__(self, address: str, local: str, patience: float = PATIENCE) -> None:
        self.address, self._local = address, local
        self.workers: dict[str, str] = {}
        self._threads: dict[str, int] = {}
        self._refused: set[str] = set()
        self._looked, self._served = 0.0, time.monotonic()
        self._numbers = itertools.count()
        self._open: dict[int, _Sent] = {}
        self._events: SimpleQueue[tuple[int, Any, list[Event] | SetupError | None]] = SimpleQueue()
        with ThreadPoolExecutor(1) as beside:
            mine = beside.submit(cluster_worker.probe, local)
            self._client = _connect(address)
            self._known = {mine.result()[1]} - {""}
        try:
            self._first(patience)
        except BaseException:
            self.close()
            raise

    @property
    def size(self) -> int:
        """How many tasks run at once."""
        return max(1, sum(self._threads.values()))

    def submit(self, task: Task) -> int:
        """See `Pool`."""
        number = next(self._numbers)
        self._send(number, pickle.dumps(task, pickle.HIGHEST_PROTOCOL))
        return number

    def as_completed(self) -> Iterator[Event]:
        """See `Pool`. Raises SetupError when the scheduler, or every worker for a minute, is lost."""
        while self._open:
            self._look()
            with contextlib.suppress(Empty):
                number, future, ended = self._events.get(timeout=LOOK)
                if number not in self._open or self._open[number].future is not future:
                    continue
                if isinstance(ended, SetupError):
                    raise ended
                if ended is None:
                    self._check()
                    self._send(number, self._open[number].pickled)
                else:
                    del self._open[number]
                    yield from ended

    def cancel(self) -> None:
        """See `Pool`."""
        sent, self._open = self._open, {}
        if sent and self._client.status == "running":
            with contextlib.suppress(Exception):
                self._client.cancel([each.future for each in sent.values()], force=True)

    def close(self) -> None:
        """Leave the scheduler; it and its workers go on."""
        self.cancel()
        with contextlib.suppress(Exception), _quiet():
            self._client.close(timeout=5)

    def _send(self, number: int, pickled: bytes) -> None:
        """Hand a task over; a thread of its own waits for it, as the wait is long when a result is lost on its way."""
        workers, key = frozenset(self._threads), f"heatsim-{uuid.uuid4().hex}"
        future = self._client.submit(_there("serve"), self._local, pickled, key=key, pure=False, workers=sorted(workers))
        self._open[number] = _Sent(pickled, workers, future)
        threading.Thread(target=self._follow, args=(number, future), daemon=True).start()

    def _follow(self, number: int, future: Any) -> None:
        ended: list[Event] | SetupError | None
        try:
            ended = [replace(event, number=number) for event in pickle.loads(future.result())]
        except SetupError as error:
            ended = error
        except Exception as error:
            told = str(error).strip()[:200]
            ended = None if future.cancelled() else [Failed(number, "lost", f"{type(error).__name__}: {told}")]
        self._events.put((number, future, ended))

    def _first(self, patience: float) -> None:
        """Look for workers until there are some, all of which must be fit."""
        until = time.monotonic() + patience
        while not self._threads:
            self._look(first=True)
            if not self._threads and time.monotonic() > until:
                raise SetupError(f"the Dask scheduler at {self.address} has no workers; start one: dask worker {self.address}")
            time.sleep(0.05)

    def _look(self, first: bool = False) -> None:
        """See which workers there are, at most once a second. SetupError when there is nothing to go on with."""
        now = time.monotonic()
        if now - self._looked < LOOK and not first:
            return
        self._looked = now
        self._check()
        there = self._client.scheduler_info(n_workers=-1)["workers"]
        if new := sorted(there.keys() - self.workers.keys() - self._refused):
            answers = self._client.run(_there("probe", True), self._local, workers=new, on_error="return")
            for address in new:
                self._admit(address, answers.get(address), first)
        self._threads = {address: there[address]["nthreads"] for address in self.workers if address in there}
        self._again()

    def _check(self) -> None:
        """SetupError when the scheduler is gone."""
        if self._client.status != "running":
            raise SetupError(
                f"the Dask scheduler at {self.address} does not answer any more. What was found until then is kept, and "
                "the same command goes on from there."
            )

    def _again(self) -> None:
        """Tasks whose workers are all gone go to others. No worker for long is an error."""
        if self._threads:
            self._served = time.monotonic()
            for number, sent in list(self._open.items()):
                if not sent.workers & self._threads.keys():
                    sent.future.cancel(force=True)
                    self._send(number, sent.pickled)
        elif time.monotonic() - self._served > BEREFT:
            raise SetupError(
                f"the Dask scheduler at {self.address} has no workers left; start one: dask worker {self.address}. "
                "What was found until then is kept, and the same command goes on."
            )

    def _admit(self, address: str, answer: Any, first: bool) -> None:
        """Use a worker if it is fit. If not: InputError for one of the first, for a later one a warning."""
        if isinstance(answer, ImportError):
            fault, about = f"has no heatsim, or one too old ({answer})", ""
        elif not isinstance(answer, tuple):
            fault, about = f"cannot be asked ({type(answer).__name__}: {str(answer).strip()[:200]})", ""
        elif answer[0] != heatsim.__version__:
            fault, about = f"has heatsim {answer[0]}, not {heatsim.__version__}", ""
        else:
            fault, about = f"cannot work: {answer[2]}" if answer[2] else "", answer[1]
        if not fault:
            self.workers[address] = about
            if self._known and about not in self._known:
                others = ", ".join(sorted(self._known))
                warnings.warn(f"Dask worker {address} has {about}, others {others}: numbers may differ a little", stacklevel=2)
            self._known.add(about)
            return
        self._refused.add(address)
        if first:
            allowed = f"heatsim {heatsim.__version__} with its extra `cluster`, and libngspice, on every worker"
            raise InputError.single("--cluster", f"worker {address} {fault}", "", allowed)
        warnings.warn(f"Dask worker {address} is not used: it {fault}", stacklevel=2)


def _there(name: str, beside: bool = False) -> Callable[..., Any]:
    """A function of `cluster_worker`, found where it is called: a scheduler that passes it on needs no heatsim.

    beside: as a coroutine that leaves the worker's event loop free
    """

    def call(*arguments: Any) -> Any:
        import importlib

        return getattr(importlib.import_module("heatsim.tasks.cluster_worker"), name)(*arguments)

    async def call_beside(*arguments: Any) -> Any:
        import asyncio

        return await asyncio.to_thread(call, *arguments)

    return call_beside if beside else call


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Without what Dask logs about lost connections: it is told in our own words."""
    loggers = [logging.getLogger(name) for name in ("distributed", "distributed.client")]
    levels = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        for logger, level in zip(loggers, levels, strict=True):
            logger.setLevel(level)


@contextlib.contextmanager
def _garbage_left() -> Iterator[None]:
    """Without collecting garbage inside the block; what there is is collected before it.

    Dask starts its event loop under a lock that a client which is collected there wants to take again, and waits for ever (seen).
    """
    gc.collect()
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


def _connect(address: str) -> Any:
    """A client of the scheduler."""
    try:
        distributed = importlib.import_module("distributed")
    except ImportError:
        raise SetupError("clusters need an extra: pip install 'heatsim[cluster]', here and on every worker") from None
    for _ in range(STARTS):
        try:
            with _quiet(), _garbage_left():
                return distributed.Client(address, timeout=CONNECT, set_as_default=False, name="heatsim")
        except AssertionError:
            continue  # Dask gives its event loop ten seconds to start; a busy machine needs longer
        except (OSError, ValueError, TypeError, RuntimeError, ImportError) as error:
            told = str(error).strip().splitlines() or [f"nothing came back within {CONNECT:g} s"]
            raise InputError.single(
                "--cluster",
                f"no Dask scheduler answers there ({told[0][:200]})",
                address,
                "the address `dask scheduler` prints, like tcp://10.0.0.5:8786",
            ) from None
    raise SetupError(f"Dask's event loop did not start in {STARTS} attempts of 10 s: this machine is too busy")
