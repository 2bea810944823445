# SPDX-License-Identifier: GPL-3.0-or-later
"""A worker process: decks in on standard input, runs out on standard output, both as length-prefixed pickles.

Started by `heatsim.engine.pool` with `python -m heatsim.engine.worker`; never by hand. It imports nothing of the
caller's, so scripts and notebooks need no main guard. It dies with its parent. Other work than decks is served by a
module of its own that calls `main` with what it does for one message.

Messages out: ("ready", version) or ("setup", text) once; then for each deck ("at", reached, target) now and then,
("attempt", Attempt) for each rung that ended, and ("run", Run, retire) or ("fault", text) last.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import pickle
import select
import signal
import struct
import sys
import threading
import time
import traceback
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, BinaryIO

if TYPE_CHECKING:
    from heatsim.engine.session import Session

REPORT_EVERY = 0.1
"""Seconds between two progress messages."""

PIECE = 1 << 20
"""Bytes of a message read at a time."""

PARENT_EVERY = 1000
"""Milliseconds between two looks whether the parent is still the same."""


def send(stream: BinaryIO, message: Any) -> None:
    """Write one message."""
    data = pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)
    stream.write(struct.pack("<Q", len(data)))
    stream.write(data)
    stream.flush()


def receive(stream: BinaryIO, heard: Callable[[], None] = lambda: None) -> Any:
    """Read one message; EOFError when the other side is gone. heard: called for every piece that arrives."""
    (length,) = struct.unpack("<Q", _exactly(stream, 8, heard))
    return pickle.loads(_exactly(stream, length, heard))


def _exactly(stream: BinaryIO, length: int, heard: Callable[[], None]) -> bytearray:
    """So many bytes."""
    data = bytearray(length)
    view, got = memoryview(data), 0
    while got < length:
        count = stream.readinto(view[got : got + PIECE])  # type: ignore[attr-defined]
        if not count:
            raise EOFError
        got += count
        heard()
    return data


def _die_with_parent(inward: int) -> None:
    """End this process as soon as the parent has, even in the middle of a run.

    The kernel's own signal for it (PR_SET_PDEATHSIG) would come when the parent's *thread* ends that started us, so a
    thread of ours waits for the hang-up of the pipe from the parent instead; the simulator leaves it room to run. The
    parent hangs up only when it ends or has no more use for us.
    """
    if not hasattr(select, "poll"):
        return
    parent = os.getppid()
    poll = select.poll()
    poll.register(inward, 0)  # only errors and the hang-up are reported

    def watch() -> None:
        while not poll.poll(PARENT_EVERY) and os.getppid() == parent:
            pass
        os.kill(os.getpid(), signal.SIGKILL)

    threading.Thread(target=watch, daemon=True).start()


def _private_streams() -> tuple[BinaryIO, BinaryIO]:
    """The message streams, moved away from standard input and output, which libraries may write to."""
    inward, outward = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    nothing = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1):
        os.dup2(nothing, descriptor)
    return inward, outward


def _give_memory_back() -> None:
    """glibc: hand what the last run freed back to the system."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).malloc_trim(0)


def _run(session: Session, task: Any, outward: BinaryIO) -> None:
    """Run one deck and report on it."""
    from heatsim.engine.simulate import simulate

    (deck, time_limit), latest = task, 0.0

    def report(reached: float, target: float) -> None:
        nonlocal latest
        if time.monotonic() - latest > REPORT_EVERY:
            latest = time.monotonic()
            send(outward, ("at", reached, target))

    run = simulate(session, deck, time_limit, report, lambda attempt: send(outward, ("attempt", attempt)))
    send(outward, ("run", run, session.poisoned or run.outcome == "unsolved"))


def main(serve: Callable[[Session, Any, BinaryIO], None] = _run) -> int:
    """Serve until the parent closes the stream; serve: called for each message in, with the stream for answers."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    inward, outward = _private_streams()
    _die_with_parent(inward.fileno())
    from heatsim.engine.session import Session
    from heatsim.errors import SetupError

    try:
        session = Session()
    except SetupError as error:
        send(outward, ("setup", str(error)))
        return 3
    send(outward, ("ready", session.version))
    while True:
        try:
            task = receive(inward)
        except EOFError:
            return 0
        try:
            serve(session, task, outward)
        except Exception:
            send(outward, ("fault", traceback.format_exc(limit=-3)))
        _give_memory_back()


if __name__ == "__main__":
    sys.exit(main())
