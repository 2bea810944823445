# SPDX-License-Identifier: GPL-3.0-or-later
"""Decks to runs on several worker processes: a crash or a hang costs one deck, never the batch."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from queue import Empty, SimpleQueue
from types import TracebackType
from typing import Any

import heatsim
from heatsim.engine.ladder import LADDER
from heatsim.engine.outcome import Attempt, Outcome, Run
from heatsim.engine.worker import receive, send
from heatsim.errors import SetupError
from heatsim.netlist.deck import Deck

Progress = Callable[[int, float, float], None]
"""Called from worker threads with deck index, simulated time so far and the time now aimed at [s]. The time so far
never falls, not even when a deck is tried again; a finished deck is told with both equal to its end."""

GRACE = 5.0
"""Seconds of silence beyond the time limit after which a worker is killed."""

START_LIMIT = 60.0
"""Seconds a worker may take to start."""

RUNS_PER_WORKER = 40
"""A worker is replaced after this many decks, so that memory cannot creep."""

MODULE = "heatsim.engine.worker"
"""What a worker runs unless told otherwise."""

FOREIGN = ("SPICE_SCRIPTS", "SPICE_LIB_DIR", "SPICE_EXEC_DIR", "NGSPICE_INPUT_DIR", "USERPROFILE")
"""Environment variables by which the simulator would find start-up files of the user's."""


def run_decks(
    decks: Sequence[Deck],
    workers: int | None = None,
    time_limit: float = 60.0,
    progress: Progress | None = None,
    grace: float = GRACE,
) -> list[Run]:
    """Run every deck, results in the order of the decks. Always one Run a deck, whatever happens to it.

    workers: processes, by default one a core but no more than decks; time_limit: wall clock [s] for each deck, at which
    it stops by itself; grace: seconds of silence beyond, after which a worker is killed. Raises SetupError when the
    simulator is not installed; KeyboardInterrupt ends the workers at once.
    """
    with Pool(max(1, min(workers or os.cpu_count() or 1, len(decks)))) as pool:
        return pool.run(decks, time_limit, progress, grace)


def run_deck(deck: Deck, time_limit: float = 60.0, progress: Progress | None = None) -> Run:
    """Run one deck in a worker of its own."""
    return run_decks([deck], 1, time_limit, progress)[0]


class Pool:
    """Worker processes kept from batch to batch, for studies that run many small ones.

    They start to start when the pool is made and end with it: use it in a `with` statement. module: what the workers
    run, see `heatsim.engine.worker.main`; life: runs after which one is replaced.
    """

    def __init__(self, workers: int | None = None, module: str = MODULE, life: int | None = None) -> None:
        self._module, self._life = module, life or RUNS_PER_WORKER
        self._folder = tempfile.TemporaryDirectory(prefix="heatsim-", ignore_cleanup_errors=True)
        self._lock = threading.Lock()
        self._workers: list[Worker] = []
        self._made = 0
        self._closed = False
        self.size = max(1, workers or os.cpu_count() or 1)
        self._idle = [self._fresh() for _ in range(self.size)]

    def run(
        self, decks: Sequence[Deck], time_limit: float = 60.0, progress: Progress | None = None, grace: float = GRACE
    ) -> list[Run]:
        """As `run_decks`, on the workers of this pool. One batch at a time."""
        batch = _Batch(self, decks, (time_limit, grace), progress or (lambda index, reached, target: None))
        threads = [threading.Thread(target=batch.serve, daemon=True) for _ in range(min(self.size, len(decks)))]
        for thread in threads:
            thread.start()
        try:
            while any(thread.is_alive() for thread in threads):
                for thread in threads:
                    thread.join(0.05)
        except BaseException:
            self.close()
            raise
        if batch.failure is not None:
            raise batch.failure
        return [run for run in batch.runs if run is not None]

    def take(self) -> Worker:
        """A worker that is ready."""
        with self._lock:
            worker = self._idle.pop() if self._idle else self._fresh()
        worker.start()
        return worker

    def give(self, worker: Worker) -> None:
        """Return a worker; a worn or ended one is discarded."""
        if worker.fit:
            with self._lock:
                self._idle.append(worker)
        else:
            self.discard(worker)

    def discard(self, worker: Worker) -> None:
        """End a worker."""
        worker.close()
        with self._lock:
            if worker in self._workers:
                self._workers.remove(worker)

    def _fresh(self) -> Worker:
        if self._closed:
            raise RuntimeError("the pool is closed")
        self._made += 1
        worker = Worker(Path(self._folder.name) / f"worker-{self._made}", self._module, self._life)
        self._workers.append(worker)
        return worker

    def close(self) -> None:
        """End every worker now."""
        with self._lock:
            self._closed = True
            left = list(self._workers)
            self._idle.clear()
        for worker in left:
            self.discard(worker)
        self._folder.cleanup()

    def __enter__(self) -> Pool:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()


class Worker:
    """A worker process and its streams. Its home and working folder is `folder`, new and empty; what it writes to
    standard error goes to a file beside.
    """

    def __init__(self, folder: Path, module: str, life: int) -> None:
        folder.mkdir()
        self._errors = folder.with_suffix(".log")
        with self._errors.open("wb") as errors:
            self.process = subprocess.Popen(
                [sys.executable, "-m", module],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=errors,
                cwd=folder,
                env=environment(folder),
            )
        self.served, self.life = 0, life
        self._heard = 0.0
        self.worn = self.killed = False
        self.version = ""

    def start(self) -> None:
        """Wait until it is ready; SetupError when it cannot be."""
        if self.version:
            return
        with self.fuse(START_LIMIT):
            try:
                kind, text = self.receive()
            except EOFError:
                status = self.close()
                raise SetupError(f"a simulator process ended at once (status {status}): {self.last_words}") from None
        if kind != "ready":
            raise SetupError(text)
        self.version = text

    @property
    def fit(self) -> bool:
        """Whether it can take another deck."""
        return not (self.worn or self.killed) and self.served < self.life and self.process.poll() is None

    @property
    def last_words(self) -> str:
        """Last line it wrote to standard error, if any."""
        with contextlib.suppress(OSError):
            return (self._errors.read_text(errors="replace").strip().splitlines() or [""])[-1][:200]
        return ""

    @contextlib.contextmanager
    def fuse(self, seconds: float, grace: float = 0.0) -> Iterator[None]:
        """Kill the process if the body takes longer than `seconds` and nothing is heard of it for `grace` seconds."""
        over = threading.Event()
        due = time.monotonic() + seconds + grace

        def watch() -> None:
            while not over.wait(max(0.0, self._due(due, grace) - time.monotonic())):
                if time.monotonic() >= self._due(due, grace):
                    self.kill()
                    return

        threading.Thread(target=watch, daemon=True).start()
        try:
            yield
        finally:
            over.set()

    def _due(self, due: float, grace: float) -> float:
        return max(due, self._heard + grace)

    def _hear(self) -> None:
        self._heard = time.monotonic()

    def kill(self) -> None:
        """End it at once."""
        self.killed = True
        with contextlib.suppress(OSError):
            self.process.kill()

    def receive(self) -> Any:
        """Next message; EOFError when the worker is gone."""
        return receive(self.process.stdout, self._hear)  # type: ignore[arg-type]

    def send(self, message: Any) -> None:
        """Hand over a deck."""
        send(self.process.stdin, message)  # type: ignore[arg-type]

    def close(self) -> int:
        """Kill and reap; returns the exit status it had."""
        with contextlib.suppress(OSError):
            self.process.kill()
        status = self.process.wait()
        for stream in (self.process.stdin, self.process.stdout):
            with contextlib.suppress(OSError):
                if stream is not None:
                    stream.close()
        return status


def environment(folder: Path) -> dict[str, str]:
    """What a worker may know: this package's place, one thread, an empty home; nothing that leads to start-up files.

    Relative paths are made absolute, because the worker works elsewhere.
    """
    root = str(Path(heatsim.__file__).resolve().parents[1])
    own = [os.path.abspath(entry) for entry in os.environ.get("PYTHONPATH", "").split(os.pathsep) if entry]
    kept = {name: value for name, value in os.environ.items() if name not in FOREIGN}
    library = kept.get("NGSPICE_LIBRARY_PATH", "")
    if os.path.dirname(library):
        kept["NGSPICE_LIBRARY_PATH"] = os.path.abspath(library)
    return kept | {
        "PYTHONPATH": os.pathsep.join([root, *own]),
        "HOME": str(folder),
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }


class _Batch:
    """The decks still to run, shared by the threads that each look after one worker."""

    def __init__(self, pool: Pool, decks: Sequence[Deck], limits: tuple[float, float], progress: Progress) -> None:
        self.pool, self.decks, self.limits, self.progress = pool, decks, limits, progress
        self.runs: list[Run | None] = [None] * len(decks)
        self.failure: BaseException | None = None
        self._waiting: SimpleQueue[int] = SimpleQueue()
        for index in range(len(decks)):
            self._waiting.put(index)

    def serve(self) -> None:
        """Take decks until none is left or something is wrong with us, not with a deck."""
        with contextlib.suppress(Empty):
            while self.failure is None:
                index = self._waiting.get_nowait()
                try:
                    self._serve(index)
                except BaseException as error:
                    self.failure = self.failure or error

    def _serve(self, index: int) -> None:
        """One deck on one worker."""
        furthest = 0.0

        def report(reached: float, target: float) -> None:
            nonlocal furthest
            furthest = max(furthest, reached)
            self.progress(index, furthest, max(furthest, target))

        worker = self.pool.take()
        try:
            self.runs[index] = run = _run(worker, self.decks[index], self.limits, report)
            report(run.deck.transient.stop, 0.0)
        except BaseException:
            self.pool.discard(worker)
            raise
        self.pool.give(worker)


def _run(worker: Worker, deck: Deck, limits: tuple[float, float], report: Callable[[float, float], None]) -> Run:
    """One deck on one worker, which is killed when it does not come back in time. limits: time limit and grace [s]."""
    story = _Story(worker, deck)
    worker.served += 1
    with worker.fuse(*limits):
        try:
            worker.send((deck, limits[0]))
        except OSError:
            return story.died()
        while True:
            try:
                kind, *rest = worker.receive()
            except (EOFError, OSError):
                return story.died()
            if kind == "run":
                run, worker.worn = rest
                return run  # type: ignore[no-any-return]
            if kind == "fault":
                worker.worn = True
                return story.failed("unsolved", f"a fault of heatsim's own: {rest[0]}")
            if kind == "attempt":
                story.attempts.append(rest[0])
            else:
                story.reached = rest[0]
                report(*rest)


class _Story:
    """What a worker has told of the deck it is at."""

    def __init__(self, worker: Worker, deck: Deck) -> None:
        self.worker, self.deck = worker, deck
        self.begun = time.perf_counter()
        self.attempts: list[Attempt] = []
        self.reached = 0.0

    @property
    def wall(self) -> float:
        """Wall time so far [s]."""
        return time.perf_counter() - self.begun

    def died(self) -> Run:
        """The run of a worker that is gone."""
        status = self.worker.close()
        self.worker.worn = True
        ended = f"with {self.reached * 1e3:.3g} ms simulated"
        if self.worker.killed:
            return self.failed("stalled", f"the simulator hung and was ended after {self.wall:.3g} s {ended}")
        told = f"the simulator process died ({exit_words(status)}) {ended}"
        return self.failed("stalled", f"{told}: {self.worker.last_words}" if self.worker.last_words else told)

    def failed(self, outcome: Outcome, detail: str) -> Run:
        """The run of a worker that could not tell it: the attempts it had told of and the one it was at."""
        rung = LADDER[min(len(self.attempts), len(LADDER) - 1)]
        wall = self.wall
        last = Attempt(rung, outcome, detail, wall - sum(attempt.wall_s for attempt in self.attempts), self.reached)
        return Run(outcome, detail, None, self.deck.lasting(self.reached), (*self.attempts, last), wall, self.worker.version)


def exit_words(code: int) -> str:
    """Exit status in words."""
    try:
        return f"signal {signal.Signals(-code).name}" if code < 0 else f"status {code}"
    except ValueError:
        return f"status {code}"
