# SPDX-License-Identifier: GPL-3.0-or-later
"""Jobs of a report done by two processes.

Not by `heatsim.tasks`: its workers begin with nothing, and would take as long to load what draws, and to be sent the waveforms, as
drawing itself takes.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection
from typing import Any, TypeVar

Made = TypeVar("Made")


def side_by_side(jobs: Sequence[Callable[[], Made]]) -> list[Made]:
    """What jobs return, in their order, every other one done by a process that is split off; all here where that cannot be.

    A process that is split off has in memory whatever this one has: nothing need be loaded or sent. What jobs return must be fit
    for pickling. Should that process fail, its jobs are done here.
    """
    if sys.platform != "linux" or (os.cpu_count() or 1) < 2 or len(jobs) < 2:
        return [job() for job in jobs]
    context = multiprocessing.get_context("fork")
    inward, outward = context.Pipe(duplex=False)
    other = context.Process(target=_do, args=(jobs[1::2], outward), daemon=True)
    other.start()
    outward.close()
    made: list[Any] = [None] * len(jobs)
    made[::2] = [job() for job in jobs[::2]]
    try:
        made[1::2] = inward.recv()
    except EOFError:
        made[1::2] = [job() for job in jobs[1::2]]
    other.join()
    return made


def _do(jobs: Sequence[Callable[[], Any]], outward: Connection) -> None:
    """Do jobs in the process split off; one that fails is done, and told of, by the other process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; the process that waits decides
    with contextlib.suppress(Exception):
        outward.send([job() for job in jobs])
