# SPDX-License-Identifier: GPL-3.0-or-later
"""One worker process, seen from its pool."""

from __future__ import annotations

import contextlib
import math
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import heatsim
from heatsim.errors import SetupError
from heatsim.tasks.stream import receive, send
from heatsim.tasks.task import Done, Event, Failed, Task, Told
from heatsim.tasks.worker import IDLE

START_LIMIT = 60.0
"""Seconds a worker may take to start."""


class Worker:
    """A worker process and its streams.

    Its home and working folder is new and empty. What it writes to standard error goes to a file beside.

    folder: to be made; start: see `heatsim.tasks.worker.main`; life: wear after which it takes no more tasks [1];
    variables: of the environment it gets
    Raises SetupError when it cannot be started.
    """

    def __init__(self, folder: Path, start: str, life: int, variables: Mapping[str, str]) -> None:
        self._errors = folder.with_suffix(".log")
        command = [sys.executable, "-m", "heatsim.tasks.worker", *([start] if start else [])]
        try:
            folder.mkdir()
            with self._errors.open("wb") as errors:
                self.process = subprocess.Popen(
                    command,
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    stderr=errors,
                    cwd=folder,
                    env=environment(folder, variables),
                )
        except OSError as error:
            raise SetupError(f"a worker process cannot be started ({error})") from None
        self._life, self._about = life, ""
        self._worn = self._killed = False
        self._heard = time.monotonic()
        self._due, self._silence = self._heard + START_LIMIT, 0.0

    def ready(self) -> str:
        """Wait until it is ready; returns what its start function told. SetupError when it cannot be."""
        if self._due == math.inf:
            return self._about
        try:
            kind, text = self._receive()
        except (EOFError, OSError):
            raise SetupError(f"a worker process ended at once ({self._end()})") from None
        self._worn = kind != "ready"
        if self._worn:
            raise SetupError(text)
        self._due, self._about = math.inf, str(text)
        return self._about

    @property
    def fit(self) -> bool:
        """Whether it can take another task; not when it is about to end for want of one."""
        rested = time.monotonic() - self._heard > 0.8 * IDLE
        return not (self._worn or rested) and self._life > 0 and self.process.poll() is None

    def run(self, number: int, task: Task, pickled: bytes, tell: Callable[[Event], None]) -> Event:
        """Have it do a task, passing on what that tells; returns how it ended."""
        begun = self._heard = time.monotonic()
        self._life -= task.wear
        self._silence, self._due = task.silence, begun + task.time_limit + task.silence
        try:
            send(self.process.stdin, pickled)  # type: ignore[arg-type]
            while True:
                kind, *rest = self._receive()
                if kind == "told":
                    tell(Told(number, rest[0]))
                elif kind == "done":
                    self._worn = rest[1]
                    return Done(number, rest[0])
                else:
                    self._worn = True
                    return Failed(number, "fault", f"a fault of heatsim's own: {rest[0]}", time.monotonic() - begun)
        except (EOFError, OSError):
            return self._lost(number, time.monotonic() - begun)
        except Exception as error:  # what it returned cannot be unpickled
            self._worn = True
            return Failed(number, "fault", f"a fault of heatsim's own: {type(error).__name__}: {error}", time.monotonic() - begun)
        finally:
            self._due = math.inf

    def _lost(self, number: int, wall: float) -> Failed:
        """How a task ended whose process is gone."""
        self._worn = True
        ended = self._end()
        if self._killed:
            return Failed(number, "hung", f"the process hung and was ended after {wall:.3g} s", wall)
        return Failed(number, "died", f"the process died ({ended})", wall)

    def check(self) -> None:
        """Kill it if it is overdue and silent."""
        if time.monotonic() > max(self._due, self._heard + self._silence):
            self._killed = True
            self.kill()

    def kill(self) -> None:
        """End it at once."""
        with contextlib.suppress(OSError):
            self.process.kill()
        self.process.wait()

    def close(self) -> None:
        """End it and close its streams."""
        self.kill()
        for stream in (self.process.stdin, self.process.stdout):
            with contextlib.suppress(OSError):
                if stream is not None:
                    stream.close()

    def _receive(self) -> Any:
        return receive(self.process.stdout, self._hear)  # type: ignore[arg-type]

    def _hear(self) -> None:
        self._heard = time.monotonic()

    def _end(self) -> str:
        """How it ended, in words; it is killed if it has not."""
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(0.5)
        self.close()
        code, last = self.process.returncode, ""
        with contextlib.suppress(OSError):
            last = (self._errors.read_text(errors="replace").strip().splitlines() or [""])[-1][:200]
        try:
            status = f"signal {signal.Signals(-code).name}" if code < 0 else f"status {code}"
        except ValueError:
            status = f"status {code}"
        return f"{status}: {last}" if last else status


def environment(folder: Path, variables: Mapping[str, str]) -> dict[str, str]:
    """Variables for a program that is to work alone: this package's place, one thread, and a folder as its home.

    Relative entries of PYTHONPATH are made absolute, because the program works elsewhere.
    """
    root = str(Path(heatsim.__file__).resolve().parents[1])
    own = [os.path.abspath(entry) for entry in variables.get("PYTHONPATH", "").split(os.pathsep) if entry]
    return dict(variables) | {
        "PYTHONPATH": os.pathsep.join([root, *own]),
        "HOME": str(folder),
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }
