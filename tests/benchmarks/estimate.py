# SPDX-License-Identifier: GPL-3.0-or-later
"""On paper: how long a million points take and what holds them up, from the parts that were measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from heatsim.studies.sweep.order import LONGEST
from tests.benchmarks.clock import Spread, Took
from tests.benchmarks.profile import Part, evaluation, grouped
from tests.benchmarks.scaling import Swept

MILLION = 1_000_000

COLD = 2
"""Points of a path that are started cold besides being followed."""

WORKERS = (1, 2, 8, 32, 128)


@dataclass(frozen=True)
class Costs:
    """Seconds. followed, end: processor time of one followed point and of one that is started cold besides.

    Seconds a point of long paths: simulate, judge, build, send, ends: of a worker's core, the last one the cold starts
    at the ends of paths, spread over their points; store: of the one process that keeps the store, on the clock,
    waiting for the disk included; keep: its other work, processor time; register: once for each point, before the
    first. row: bytes in the store.
    """

    followed: float
    end: float

    simulate: float
    judge: float
    build: float
    send: float
    ends: float
    store: float
    keep: float
    register: float
    row: float

    @property
    def worker(self) -> float:
        """Of a worker, in all."""
        return self.simulate + self.judge + self.build + self.send + self.ends

    @property
    def keeper(self) -> float:
        """Of the process that keeps the store, in all."""
        return self.store + self.keep


def costs(parts: Sequence[Part], ends: Sequence[Took], swept: Sequence[Swept], register: float) -> Costs:
    """From the profile of followed points, the ends of paths, and sweeps.

    All points of a path are followed; of each path the last one and the worst are started cold besides.
    """
    followed = 1.0
    groups: dict[str, Any] = grouped(parts)
    simulate, judge = groups["simulate"].cpu, groups["measure and judge"].cpu
    largest = max(swept, key=lambda each: each.points)
    store = Spread.of([each.put.wall for each in swept]).median
    end = Spread.of([took.cpu for took in ends]).median
    return Costs(
        followed=evaluation(parts).cpu,
        end=end,
        simulate=followed * simulate,
        judge=followed * judge,
        build=followed * (evaluation(parts).cpu - simulate - judge),
        send=groups["message"].cpu / 2,
        ends=COLD / LONGEST * max(end - evaluation(parts).cpu, 0.0),
        store=store,
        keep=max(largest.parent / largest.points - largest.put.cpu, 0.0),
        register=register,
        row=largest.size / largest.points,
    )


@dataclass(frozen=True)
class Estimate:
    """For so many workers, each with a core of its own: hours for a million points, and what holds them up."""

    workers: int
    hours: float
    held_up_by: str


def estimates(each: Costs) -> list[Estimate]:
    """One for each number of workers."""
    shares = {
        "simulating followed points": each.simulate,
        "cold starts at the ends of paths": each.ends,
        "measuring and judging": each.judge,
        "building scenario, parts and netlist": each.build,
        "messages": each.send,
    }
    largest = max(shares, key=lambda name: shares[name])
    found = []
    for workers in WORKERS:
        by_workers = each.worker / workers
        by_keeper = {"storing rows": each.store, "the sweep's own bookkeeping": each.keep}
        slow = each.keeper > by_workers
        reason = max(by_keeper, key=lambda name: by_keeper[name]) if slow else largest
        found.append(Estimate(workers, (max(by_workers, each.keeper) + each.register) * MILLION / 3600, reason))
    return found


__all__ = ["MILLION", "Costs", "Estimate", "costs", "estimates"]
