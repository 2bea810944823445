# SPDX-License-Identifier: GPL-3.0-or-later
"""A worker process of a local pool: tasks in on standard input, what they tell and return out on standard output.

Started as `python -m heatsim.tasks.worker START`, never by hand. It imports nothing of the caller's, so scripts and
notebooks need no main guard. It ends with its parent, and by itself when it has had nothing to do for a while.

Messages out: ("ready", text) or ("setup", text) once; then for each task ("told", message) as often as it likes, and
("done", value, worn) or ("fault", text) last.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import pickle
import select
import signal
import sys
import threading
import time
import traceback
from typing import Any, BinaryIO

from heatsim.errors import SetupError
from heatsim.tasks.stream import receive, send
from heatsim.tasks.task import Context, Task, named

LOOK = 1.0
"""Seconds between two looks whether the parent is still there."""

IDLE = 120.0
"""Seconds without a task after which a worker ends."""


class _Watch:
    """Ends this process as soon as the parent has ended, even in the middle of a task, and when it has long been idle.

    The kernel's own signal for the former (PR_SET_PDEATHSIG) would come when the parent's thread ends that started us.
    A thread of ours waits for the hang-up of the pipe from the parent instead; a simulator leaves it room to run. The
    parent hangs up only when it ends or has no more use for us.
    """

    def __init__(self, inward: int) -> None:
        self.idle_since: float | None = time.monotonic()
        self._parent = os.getppid()
        self._poll = select.poll() if hasattr(select, "poll") else None
        if self._poll:
            self._poll.register(inward, 0)  # only errors and the hang-up are reported
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self) -> None:
        while not self._orphaned():
            idle = self.idle_since
            if idle is not None and time.monotonic() - idle > IDLE:
                break
        os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))

    def _orphaned(self) -> bool:
        """Whether the parent is gone, after waiting for that for a while."""
        if self._poll is None:
            time.sleep(LOOK)
            return False
        return bool(self._poll.poll(1000 * LOOK)) or os.getppid() != self._parent


def _private_streams() -> tuple[BinaryIO, BinaryIO]:
    """The message streams, moved away from standard input and output, which libraries may write to."""
    inward, outward = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    nothing = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1):
        os.dup2(nothing, descriptor)
    return inward, outward


def _give_memory_back() -> None:
    """glibc: hand what the last task freed back to the system."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).malloc_trim(0)


def fault(error: Exception) -> str:
    """An exception in one line, with the place where it was raised."""
    last = traceback.extract_tb(error.__traceback__)[-1]
    told = str(error).strip().splitlines() or [""]
    return f"{type(error).__name__}: {told[-1][:300]} ({os.path.basename(last.filename)}:{last.lineno})"


def _serve(pickled: bytes, outward: BinaryIO) -> None:
    context = Context(lambda message: send(outward, ("told", message)))
    try:
        task: Task = pickle.loads(pickled)
        value = named(task.function)(context, *task.arguments)
        send(outward, ("done", value, context.worn))
    except Exception as error:
        send(outward, ("fault", fault(error)))


def main(start: str = "") -> int:
    """Serve until the parent closes the stream.

    start: import path of a function called first; what it returns, in words, is told to the parent
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; the parent decides
    inward, outward = _private_streams()
    watch = _Watch(inward.fileno())
    try:
        about: Any = named(start)() if start else ""
    except SetupError as error:
        send(outward, ("setup", str(error)))
        return 3
    send(outward, ("ready", about))
    with contextlib.suppress(EOFError):
        while True:
            pickled = receive(inward)
            watch.idle_since = None
            _serve(pickled, outward)
            _give_memory_back()
            watch.idle_since = time.monotonic()
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
