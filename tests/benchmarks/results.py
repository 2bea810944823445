# SPDX-License-Identifier: GPL-3.0-or-later
"""One run of all benchmarks, and what came out of it."""

from __future__ import annotations

import contextlib
import os
import platform
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import heatsim
from heatsim.engine.session import Session
from tests.benchmarks.circuits import circuits
from tests.benchmarks.clock import Spread
from tests.benchmarks.methods import Ends, Timing, path_ends, prepare, timings
from tests.benchmarks.profile import Part, floor, profile
from tests.benchmarks.scaling import (
    Beside,
    ColdStarts,
    Sized,
    Swept,
    beside_plain,
    close_sweeps,
    followed_close,
    million,
    registration,
    sizes,
    sweeps,
)
from tests.benchmarks.truth import Truth, find_truth


@dataclass(frozen=True)
class Extent:
    """How much is done. circuits: how many of the five; turns: repetitions; workers, points, fixed: see `sweeps`;
    banks: see `by_size`; registered: points of the plan that is registered for the paper estimate; close: points of the two sweeps
    that it rests on.
    """

    name: str
    circuits: int
    turns: int
    workers: tuple[int, ...]
    points: tuple[int, ...]
    fixed: int
    banks: tuple[int, ...]
    registered: int
    close: tuple[int, int]


CORES = os.cpu_count() or 1

FULL = Extent(
    "full", 5, 5, tuple(sorted({1, 2, CORES, 2 * CORES})), (25, 50, 100, 200, 400), 100, (2, 4, 8, 16), 20_000, (100, 400)
)
QUICK = Extent("quick", 2, 2, (1, 2), (25, 50), 25, (4, 16), 2_000, (25, 100))


@dataclass(frozen=True)
class Machine:
    """Where and when. load: average number of processes that wanted a core in the minute before the start and before
    the end of the run; more than a quarter of a core beside our own work makes wall clocks doubtful.
    """

    processor: str
    cores: int
    system: str
    python: str
    simulator: str
    heatsim: str
    when: str
    load: tuple[float, float]


@dataclass(frozen=True)
class Results:
    """Everything the page tells. floors: circuit -> least processor time of a point [s]; million: cold starts that a sweep's own
    plan makes of a million points.
    """

    extent: Extent
    machine: Machine
    truths: list[Truth]
    timings: list[Timing]
    parts: list[Part]
    ends: Ends
    swept: list[Swept]
    sized: list[Sized]
    register: float
    minutes: float
    beside: list[Beside]
    floors: dict[str, float]
    million: ColdStarts
    close: list[Swept]
    followed: Spread


def benchmark(extent: Extent, tell: Callable[[str], None]) -> Results:
    """All of it, about seven minutes on two free cores in full."""
    begun, load = time.monotonic(), os.getloadavg()[0]
    truths = find_truth(circuits()[: extent.circuits], None, tell)
    session = Session()
    tell("states to start from")
    benches = [prepare(session, truth) for truth in truths]
    timed = list(timings(benches, extent.turns, tell))
    tell("where the time goes")
    parts = profile(benches[:1], extent.turns)
    ends = path_ends(benches[0], extent.turns)
    sized = sizes(session, extent.banks, max(1, extent.turns // 2), tell)
    swept = sweeps(extent.workers, extent.points, extent.fixed, tell)
    beside = [beside_plain(session, count, max(extent.points), 2 * extent.turns, tell) for count in sorted({1, CORES})]
    close = close_sweeps(extent.close, tell)
    followed = followed_close(session, min(extent.close), extent.turns, tell)
    floors = {bench.circuit.name: floor(bench) for bench in benches if bench.over_supply[0] is not None}
    register = registration(extent.registered)
    machine = Machine(
        _processor(),
        CORES,
        platform.platform(aliased=True, terse=True),
        platform.python_version(),
        session.version,
        heatsim.__version__,
        datetime.now(UTC).strftime("%Y-%m-%d"),
        (load, os.getloadavg()[0]),
    )
    return Results(
        extent,
        machine,
        truths,
        timed,
        parts,
        ends,
        swept,
        sized,
        register,
        (time.monotonic() - begun) / 60,
        beside,
        floors,
        million(),
        close,
        followed,
    )


def _processor() -> str:
    """Its name, as far as the system tells it."""
    with contextlib.suppress(OSError):
        for line in Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()


__all__ = ["FULL", "QUICK", "Extent", "Machine", "Results", "benchmark"]
