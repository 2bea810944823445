# SPDX-License-Identifier: GPL-3.0-or-later
"""Processes that tests start, and whether they are gone."""

from __future__ import annotations

import signal
import time
from collections.abc import Callable
from pathlib import Path


def heed_interrupts() -> None:
    """To be called in a child process before its program starts: a job in the background has Ctrl-C ignored, and its
    children inherit that.
    """
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def ignore_interrupts() -> None:
    """The same for a child that is to be such a job."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def alive(pid: int) -> bool:
    """Whether a process still runs (a zombie does not)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


def wait_until(true: Callable[[], bool], seconds: float = 15.0) -> bool:
    """Whether something is true, or becomes so within some seconds."""
    until = time.monotonic() + seconds
    while not true() and time.monotonic() < until:
        time.sleep(0.02)
    return true()


def gone(pid: int) -> bool:
    """Whether a process is gone, or is so within a minute: on a busy machine a Dask worker takes long to notice and to end."""
    return wait_until(lambda: not alive(pid), 60.0)
