# SPDX-License-Identifier: GPL-3.0-or-later
"""Decks to runs on several worker processes: a crash or a hang costs one deck, never the batch."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

import heatsim
from heatsim.engine.outcome import Attempt, Run
from heatsim.engine.ladder import LADDER
from heatsim.engine.worker import receive, send
from heatsim.errors import SetupError
from heatsim.netlist.deck import Deck

Progress = Callable[[int, float, float], None]
"""Called from worker threads with deck index, simulated time so far and the time now aimed at [s]; a finished deck is told
with both equal to its end."""

GRACE = 5.0
"""Seconds beyond the time limit after which a worker that does not answer is killed."""

RUNS_PER_WORKER = 40
"""A worker is replaced after this many decks, so that memory cannot creep."""


def run_decks(decks: Sequence[Deck], workers: int | None = None, time_limit: float = 60.0,
              progress: Progress | None = None) -> list[Run]:
    """Run every deck, results in the order of the decks. Always one Run a deck, whatever happens to it.

    workers: processes, by default one a core but no more than decks; time_limit: wall clock [s] for each deck.
    Raises SetupError when the simulator is not installed; KeyboardInterrupt ends the workers at once.
    """
    count = max(1, min(workers or os.cpu_count() or 1, len(decks)))
    batch = _Batch(decks, time_limit, progress or (lambda *_: None))
    threads = [threading.Thread(target=batch.serve, daemon=True) for _ in range(count)]
    for thread in threads:
        thread.start()
    try:
        while any(thread.is_alive() for thread in threads):
            time.sleep(0.005)
    except BaseException:
        batch.abandon()
        raise
    if batch.failure is not None:
        raise batch.failure
    return [run for run in batch.runs if run is not None]


def run_deck(deck: Deck, time_limit: float = 60.0, progress: Progress | None = None) -> Run:
    """Run one deck in a worker of its own."""
    return run_decks([deck], 1, time_limit, progress)[0]


class _Worker:
    """A worker process and its streams."""

    def __init__(self) -> None:
        root = str(Path(heatsim.__file__).resolve().parents[1])
        path = os.pathsep.join(filter(None, [root, os.environ.get("PYTHONPATH", "")]))
        self.process = subprocess.Popen([sys.executable, "-m", "heatsim.engine.worker"], stdin=subprocess.PIPE,
                                        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                                        env={**os.environ, "PYTHONPATH": path})
        self.served = 0
        self.version = ""

    def start(self) -> None:
        """Wait until it is ready."""
        kind, text = self.receive()
        if kind != "ready":
            raise SetupError(text)
        self.version = text

    def receive(self) -> Any:
        """Next message; EOFError when the worker is gone."""
        assert self.process.stdout is not None
        return receive(self.process.stdout)  # type: ignore[arg-type]

    def send(self, message: Any) -> None:
        """Hand over a deck."""
        assert self.process.stdin is not None
        send(self.process.stdin, message)  # type: ignore[arg-type]

    def close(self) -> int:
        """Kill and reap; returns the exit status it had."""
        with contextlib.suppress(OSError):
            self.process.kill()
        for stream in (self.process.stdin, self.process.stdout):
            with contextlib.suppress(OSError):
                if stream is not None:
                    stream.close()
        return self.process.wait()


class _Batch:
    """The decks still to run, shared by the threads that each look after one worker."""

    def __init__(self, decks: Sequence[Deck], time_limit: float, progress: Progress) -> None:
        self.decks, self.time_limit, self.progress = decks, time_limit, progress
        self.runs: list[Run | None] = [None] * len(decks)
        self.failure: BaseException | None = None
        self._waiting: SimpleQueue[int] = SimpleQueue()
        for index in range(len(decks)):
            self._waiting.put(index)
        self._workers: set[_Worker] = set()
        self._over = False

    def abandon(self) -> None:
        """End every worker now."""
        self._over = True
        for worker in list(self._workers):
            worker.close()

    def serve(self) -> None:
        """Take decks until none is left."""
        worker: _Worker | None = None
        try:
            while not self._over:
                index = self._waiting.get_nowait()
                if worker is None or worker.served >= RUNS_PER_WORKER or worker.process.poll() is not None:
                    worker = self._renewed(worker)
                self.runs[index] = self._run(worker, index)
                worker.served += 1
        except Empty:
            pass
        except BaseException as error:
            self.failure = self.failure or error
            self._over = True
        finally:
            self._discard(worker)

    def _renewed(self, worker: _Worker | None) -> _Worker:
        self._discard(worker)
        fresh = _Worker()
        self._workers.add(fresh)
        try:
            fresh.start()
        except EOFError:
            raise SetupError(f"a simulator process ended at once (status {fresh.close()}); is libngspice intact?") from None
        return fresh

    def _discard(self, worker: _Worker | None) -> None:
        if worker is not None:
            worker.close()
            self._workers.discard(worker)

    def _run(self, worker: _Worker, index: int) -> Run:
        """One deck on one worker, with a timer that kills a worker which does not come back."""
        deck, begun, late = self.decks[index], time.perf_counter(), threading.Event()

        def give_up() -> None:
            late.set()
            worker.process.kill()

        timer = threading.Timer(self.time_limit + GRACE, give_up)
        timer.daemon = True
        timer.start()
        reached = 0.0
        try:
            worker.send((deck, self.time_limit))
            while True:
                kind, *rest = worker.receive()
                if kind == "run":
                    run: Run = rest[0]
                    self.progress(index, run.deck.transient.stop, run.deck.transient.stop)
                    return run
                reached = rest[0]
                self.progress(index, reached, rest[1])
        except (EOFError, OSError):
            status = worker.process.wait()
            wall = time.perf_counter() - begun
            detail = (f"the simulator hung and was ended after {wall:.0f} s, {reached * 1e3:.3g} ms simulated" if late.is_set()
                      else f"the simulator process died (status {status}) with {reached * 1e3:.3g} ms simulated")
            attempt = Attempt(LADDER[0], "stalled", detail, wall, reached)
            return Run("stalled", detail, None, deck.lasting(reached), (attempt,), wall, worker.version)
        finally:
            timer.cancel()
