# SPDX-License-Identifier: GPL-3.0-or-later
"""Messages between a pool and its worker processes: pickles with their length in front."""

from __future__ import annotations

import pickle
import struct
from collections.abc import Callable
from typing import Any, BinaryIO

PIECE = 1 << 20
"""Bytes of a message read at a time."""


def send(stream: BinaryIO, message: Any) -> None:
    """Write one message."""
    data = pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)
    stream.write(struct.pack("<Q", len(data)))
    stream.write(data)
    stream.flush()


def receive(stream: BinaryIO, heard: Callable[[], None] = lambda: None) -> Any:
    """Read one message; EOFError when the other side is gone.

    heard: called for every piece that arrives
    """
    (length,) = struct.unpack("<Q", _exactly(stream, 8, heard))
    return pickle.loads(_exactly(stream, length, heard))


def _exactly(stream: BinaryIO, length: int, heard: Callable[[], None]) -> bytearray:
    data = bytearray(length)
    view, got = memoryview(data), 0
    while got < length:
        count = stream.readinto(view[got : got + PIECE])  # type: ignore[attr-defined]
        if not count:
            raise EOFError
        got += count
        heard()
    return data
