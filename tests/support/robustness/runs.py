# SPDX-License-Identifier: GPL-3.0-or-later
"""Many runs in one process: neither memory nor open files grow."""

from __future__ import annotations

import gc
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

from heatsim.engine.simulate import simulate
from heatsim.engine.worker import simulator
from tests.support.engine.circuits import ring_down

COUNT = 2000
EARLY = 200
"""Runs after which everything that is made once is there."""

GROWTH = 8 * 2**20
"""Bytes that 2,000 runs may add; one record kept by mistake would be 5,000 samples of two signals a run, 150 MB in all."""


@dataclass
class Begun:
    """What the process had after the early runs."""

    first: int | None = None
    bytes: int = 0
    files: int = 0


def prepare(folder: Path) -> Begun:
    """The simulator, in an empty folder."""
    os.chdir(tempfile.mkdtemp(dir=folder))
    simulator()
    return Begun()


def held() -> tuple[int, int]:
    """Resident bytes and open files of this process."""
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE"), len(os.listdir("/proc/self/fd"))


def attempt(number: int, seed: int, begun: Begun) -> str:
    """A run of a circuit of its own, then, once in a hundred, a look at what the process holds."""
    deck = ring_down(capacitance=(80 + (number * 7 + seed) % 40) * 1e-9, stop=5e-5)
    run = simulate(simulator(), deck, 60.0)
    assert run.outcome in ("settled", "drifting") and run.waveforms is not None and run.waveforms.time[-1] > 4.9e-5, run.detail
    begun.first = number if begun.first is None else begun.first
    done = number - begun.first + 1
    if done == EARLY:
        begun.bytes, begun.files = held()
    if done > EARLY and done % 100 == 0:
        size, files = held()
        assert files <= begun.files, f"{files - begun.files} more open files after {done} runs"
        assert size - begun.bytes < GROWTH, f"{(size - begun.bytes) / 2**20:.1f} MB more after {done} runs"
    return "accepted"
