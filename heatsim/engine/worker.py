# SPDX-License-Identifier: GPL-3.0-or-later
"""A worker process: decks in on standard input, runs out on standard output, both as length-prefixed pickles.

Started by `heatsim.engine.pool` with `python -m heatsim.engine.worker`; never by hand. It imports nothing of the
caller's, so scripts and notebooks need no main guard. It dies with its parent.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import pickle
import signal
import struct
import sys
import time
from typing import Any, BinaryIO

REPORT_EVERY = 0.1
"""Seconds between two progress messages."""


def send(stream: BinaryIO, message: Any) -> None:
    """Write one message."""
    data = pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)
    stream.write(struct.pack("<Q", len(data)))
    stream.write(data)
    stream.flush()


def receive(stream: BinaryIO) -> Any:
    """Read one message; EOFError when the other side is gone."""
    head = stream.read(8)
    if len(head) < 8:
        raise EOFError
    (length,) = struct.unpack("<Q", head)
    data = stream.read(length)
    if len(data) < length:
        raise EOFError
    return pickle.loads(data)


def _die_with_parent() -> None:
    """Linux: have the kernel kill this process when the parent goes (PR_SET_PDEATHSIG)."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(1, signal.SIGKILL, 0, 0, 0)


def _private_streams() -> tuple[BinaryIO, BinaryIO]:
    """The message streams, moved away from standard input and output, which libraries may write to."""
    inward, outward = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    nothing = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1, 2):
        os.dup2(nothing, descriptor)
    return inward, outward


def main() -> int:
    """Serve until the parent closes the stream."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _die_with_parent()
    inward, outward = _private_streams()
    from heatsim.engine.session import Session, isolate
    from heatsim.engine.simulate import simulate
    from heatsim.errors import SetupError

    isolate()
    try:
        session = Session()
    except SetupError as error:
        send(outward, ("setup", str(error)))
        return 3
    send(outward, ("ready", session.version))
    latest = 0.0

    def report(reached: float, target: float) -> None:
        nonlocal latest
        if time.monotonic() - latest > REPORT_EVERY:
            latest = time.monotonic()
            send(outward, ("at", reached, target))

    while not session.poisoned:
        try:
            deck, time_limit = receive(inward)
        except EOFError:
            break
        send(outward, ("run", simulate(session, deck, time_limit, report)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
