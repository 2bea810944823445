# SPDX-License-Identifier: GPL-3.0-or-later
"""The connection to a Dask scheduler: which of its workers are fit to evaluate points, and tasks for one of them.

A worker is fit when it has this version of heatsim and a simulator. Dask's own library is imported inside functions.
"""

from __future__ import annotations

import asyncio
import contextlib
import importlib
import logging
import threading
import time
import uuid
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Any

from heatsim.errors import InputError, SetupError
from heatsim.studies.points import cluster_worker

CONNECT = 10.0
"""Seconds the scheduler has to answer at first."""

LOOK = 1.0
"""Seconds between two looks at which workers there are."""

EXAMINE = 90.0
"""Seconds the first workers may take to tell their versions."""

FETCH = (2.0, 6.0, 20.0)
"""Seconds results that are ready may take to arrive, in tries; then they count as lost."""

TELL = 3.0
"""Seconds to wait for workers to be told something that does not matter much."""

_WHERE = "--cluster"


def _remote(name: str) -> Callable[..., Any]:
    """A function of `cluster_worker`, found where it is called: a scheduler that only passes it on needs no heatsim."""

    def call(*arguments: Any) -> Any:
        import importlib

        return getattr(importlib.import_module("heatsim.studies.points.cluster_worker"), name)(*arguments)

    return call


class Link:
    """The connection, and the workers that were found fit."""

    def __init__(self, address: str, patience: float) -> None:
        self.address = address
        self.threads: dict[str, int] = {}
        self.simulators: dict[str, str] = {}
        self._examined: dict[str, Any] = {}
        self._refused: dict[str, str] = {}
        self._looked = 0.0
        with ThreadPoolExecutor(1) as beside:
            mine = beside.submit(cluster_worker.probe)
            self.client = _connect(address)
            try:
                self.version, self._simulator, _ = mine.result()
                self._gather_workers(patience)
            except BaseException:
                self.close()
                raise

    def look(self, now: bool = False) -> None:
        """Which workers there are; new ones are asked for their versions. SetupError when the scheduler is gone."""
        if time.monotonic() - self._looked < LOOK and not now:
            return
        self.check()
        told = self.client.scheduler_info(n_workers=-1)["workers"]
        self._looked = time.monotonic()
        self.threads = {address: told[address]["nthreads"] for address in self.threads if address in told}
        for address in told.keys() - self._examined.keys():
            self._examined[address] = self.task("probe", address)
        for address in told.keys() - self.threads.keys() - self._refused.keys():
            if self._examined[address].done():
                self._admit(address, told[address]["nthreads"])

    def check(self) -> None:
        """SetupError when the scheduler is gone."""
        if self.client.status != "running":
            raise SetupError(
                f"the Dask scheduler at {self.address} does not answer any more; what was found until then "
                "is kept, and the same command goes on from there"
            )

    def task(self, name: str, worker: str, *arguments: Any) -> Any:
        """Have a worker do something; the future."""
        key = f"heatsim-{name}-{uuid.uuid4().hex}"
        return self.client.submit(_remote(name), *arguments, key=key, pure=False, workers=[worker], allow_other_workers=False)

    def fetch(self, ended: list[tuple[Any, str]]) -> list[bytes | str]:
        """What tasks that have ended, each with its worker, returned; of one that failed or whose result does not
        arrive, why. A result is with its worker until it is fetched and may be lost with it, so who is there is looked
        at between tries.
        """
        wanted = {str(place): pair for place, pair in enumerate(ended) if pair[0].status == "finished"}
        got: dict[str, bytes | None] = {}
        for patience in FETCH:
            if not wanted:
                break
            try:
                got = self._gather({place: future for place, (future, _) in wanted.items()}, patience)
                break
            except TimeoutError:
                self.look(now=True)
                wanted = {place: pair for place, pair in wanted.items() if pair[1] in self.threads}
        return [got.get(str(place)) or _cause(future) for place, (future, _) in enumerate(ended)]

    def _gather(self, futures: dict[str, Any], patience: float) -> dict[str, bytes | None]:
        """Results of futures, None where one has failed since; TimeoutError after `patience` seconds."""

        def gather() -> Any:
            return self.client.gather(futures, errors="skip", asynchronous=True)

        try:
            return self.client.sync(gather, callback_timeout=patience)  # type: ignore[no-any-return]
        except TimeoutError:
            raise
        except Exception:
            return {}

    def tell(self, workers: set[str], name: str, *arguments: Any) -> None:
        """Have workers do something beside their tasks, as far as they can be reached in time; nothing comes back."""
        call = _remote(name)

        async def later(*arguments: Any) -> None:
            call(*arguments)

        there = [worker for worker in workers if worker in self.threads]
        run = partial(self.client.run, later, *arguments, workers=there, wait=False, on_error="ignore")
        beside = threading.Thread(target=run, daemon=True)
        beside.start()
        beside.join(TELL)

    def refuse(self, address: str, why: str) -> None:
        """Use a worker no more."""
        self.threads.pop(address, None)
        self._refused[address] = why
        warnings.warn(f"Dask worker {address} is not used: {why}", stacklevel=2)

    def close(self) -> None:
        """Leave."""
        with contextlib.suppress(Exception), _quiet():
            self.client.close(timeout=5)

    def _gather_workers(self, patience: float) -> None:
        """The first workers, all of which must be fit."""
        begun = time.monotonic()
        while True:
            self.look(now=True)
            waiting = [future for future in self._examined.values() if not future.done()]
            waited = time.monotonic() - begun
            if self._examined and not waiting or waited > (EXAMINE if waiting else patience):
                break
            time.sleep(0.05)
        if not self._examined:
            raise SetupError(f"the Dask scheduler at {self.address} has no workers; start one: dask worker {self.address}")
        if not self.threads:
            raise SetupError(
                f"no Dask worker at {self.address} could tell its versions within {waited:.0f} s; are they busy with other work?"
            )

    def _admit(self, address: str, threads: int) -> None:
        """Use a worker if it is fit; InputError if not, or a warning when others are in use already."""
        fault, simulator = self._fault(address)
        if fault and self.simulators:
            self.refuse(address, fault)
            return
        if fault:
            self._refused[address] = fault
            raise InputError.single(
                _WHERE,
                f"worker {address} {fault}",
                "",
                f"heatsim {self.version} with its extra `cluster`, and libngspice, on every worker",
            )
        known = {self._simulator, *self.simulators.values()} - {""}
        self.threads[address], self.simulators[address] = threads, simulator
        if known and simulator not in known:
            warnings.warn(
                f"Dask worker {address} has {simulator}, others {', '.join(sorted(known))}: numbers may differ "
                "a little between points",
                stacklevel=2,
            )

    def _fault(self, address: str) -> tuple[str, str]:
        """What is wrong with a worker, in words, if anything; its simulator's version."""
        future = self._examined[address]
        try:
            version, simulator, lacking = future.result(timeout=FETCH[-1])
        except ImportError as error:
            return f"has no heatsim, or one too old ({error})", ""
        except Exception as error:
            self.check()
            return f"cannot be asked ({type(error).__name__}: {str(error).strip()[:200]})", ""
        if version != self.version:
            return f"has heatsim {version}, not {self.version}", ""
        return (f"has no simulator: {lacking}" if lacking else ""), simulator


def _cause(future: Any) -> str:
    """Why a task has no result."""
    if future.status != "error":
        return "the results did not arrive from the machine it ran on"
    error = future.exception()
    return f"{type(error).__name__}: {str(error).strip()[:200]}"


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


def _connect(address: str) -> Any:
    """A client of the scheduler."""
    try:
        distributed = importlib.import_module("distributed")
    except ImportError:
        raise SetupError("clusters need an extra: pip install 'heatsim[cluster]', here and on every worker") from None
    try:
        with _quiet(), ThreadPoolExecutor(1) as beside:  # a thread, because a notebook has a running loop in this one
            kind = beside.submit(asyncio.run, _identity(address)).result()
            if kind != "Scheduler":
                raise ValueError(f"but a Dask {kind.lower()}")
            return distributed.Client(address, timeout=CONNECT, set_as_default=False, name="heatsim")
    except (OSError, ValueError, TypeError, RuntimeError, ImportError) as error:
        told = str(error).strip().splitlines() or [f"nothing came back within {CONNECT:g} s"]
        raise InputError.single(
            _WHERE,
            f"no Dask scheduler answers there ({told[0][:200]})",
            address,
            "the address `dask scheduler` prints, like tcp://10.0.0.5:8786",
        ) from None


async def _identity(address: str) -> str:
    """What answers at an address, in Dask's terms."""
    from distributed.core import rpc
    from distributed.security import Security

    keys = Security().get_connection_args("client")  # type: ignore[no-untyped-call]
    async with rpc(address, timeout=CONNECT, connection_args=keys) as peer:  # type: ignore[no-untyped-call]
        return str((await asyncio.wait_for(peer.identity(), CONNECT))["type"])


__all__ = ["Link"]
