# SPDX-License-Identifier: GPL-3.0-or-later
"""On paper: how long a million points take and what holds them up, from what was measured."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from heatsim.engine.pool import LIFE
from heatsim.studies.points.evaluate import POINTS_A_WEAR
from tests.benchmarks.methods import Ends
from tests.benchmarks.results import Results
from tests.benchmarks.scaling import MILLION, ColdStarts, Swept

WORKERS = (1, 2, 8, 32, 128)


def starts(points: int, workers: int = 1) -> int:
    """Worker processes that a sweep takes, one in the place of the other."""
    return max(workers, math.ceil(points / (LIFE * POINTS_A_WEAR)))


@dataclass(frozen=True)
class Costs:
    """Processor time [s], unless said otherwise.

    followed: of a point followed from its neighbour, in one process; first, end: of a point without a neighbour, and of one that
    is followed and then started cold besides, likewise
    around: what every point of a whole sweep costs beyond that, in all processes: messages, store, bookkeeping
    start: of a sweep with a worker, once; again for each worker that takes the place of one that has done its share
    planned: cold starts that the sweep's own plan makes of a million points; more: cold starts a path beyond the plan
    store: of the one process that keeps the store, a point, on the clock, waiting for the disk included; keep: its other work a
    point; register: once for each point, before the first; row: bytes in the store.
    """

    followed: float
    first: float
    end: float
    around: float
    start: float
    planned: ColdStarts
    more: float
    store: float
    keep: float
    register: float
    row: float

    @property
    def besides(self) -> float:
        """Points of a million that are started cold besides being followed."""
        return self.planned.besides + self.more * self.planned.paths

    def sweep(self, points: int, first: float, besides: float, workers: int = 1) -> float:
        """A whole sweep of so many points, of which so many are started cold."""
        follow = (points - first) * self.followed + points * self.around
        return follow + first * self.first + besides * (self.end - self.followed) + starts(points, workers) * self.start

    @property
    def million(self) -> float:
        """A million points by one worker."""
        return self.sweep(MILLION, self.planned.first, self.besides)

    @property
    def keeper(self) -> float:
        """Clock of the process that keeps the store, a point."""
        return self.store + self.keep


def costs(results: Results) -> Costs:
    """From followed points, the ends of paths, and whole sweeps by one worker."""
    followed, swept = results.followed.median, results.swept
    around, start = _around(results.close, followed, results.ends)
    largest, whole_ones = max(swept, key=lambda each: each.points), (*results.beside, *results.close)
    return Costs(
        followed=followed,
        first=results.ends.first.median,
        end=results.ends.last.median,
        around=around,
        start=start,
        planned=results.million,
        more=sum(each.unplanned for each in whole_ones) / sum(each.planned.paths for each in whole_ones),
        store=median(each.put.wall for each in swept),
        keep=max(largest.parent / largest.points - largest.put.cpu, 0.0),
        register=results.register,
        row=largest.size / largest.points,
    )


def _around(close: Sequence[Swept], followed: float, ends: Ends) -> tuple[float, float]:
    """What a point costs in a sweep by one worker beyond being followed or started cold, and what the sweep costs once [s]: from a
    short and a long sweep of points that lie as close as a million do.
    """
    left = {each.points: each.took.cpu - _known(each, followed, ends) for each in close}
    short, long = min(left), max(left)
    around = (left[long] - left[short]) / (long - short)
    return around, left[long] - around * long


def _known(each: Swept, followed: float, ends: Ends) -> float:
    """Processor time [s] of a sweep's points as they cost in one process."""
    first, besides = each.planned.first, each.planned.besides + each.unplanned
    return (each.points - first) * followed + first * ends.first.median + besides * (ends.last.median - followed)


@dataclass(frozen=True)
class Estimate:
    """For so many workers, each with a core of its own: hours for a million points, and what holds them up."""

    workers: int
    hours: float
    held_up_by: str


def estimates(each: Costs) -> list[Estimate]:
    """One for each number of workers, over which all the processor time is divided evenly."""
    shares = {
        "followed points": (MILLION - each.planned.first) * each.followed,
        "cold starts": each.planned.first * each.first + each.besides * (each.end - each.followed),
        "messages, store, bookkeeping": MILLION * each.around,
        "starts of workers": starts(MILLION) * each.start,
    }
    largest = max(shares, key=lambda name: shares[name])
    found = []
    for workers in WORKERS:
        by_workers, by_keeper = each.million / workers, MILLION * each.keeper
        reason = "the store's process" if by_keeper > by_workers else largest
        found.append(Estimate(workers, (max(by_workers, by_keeper) + MILLION * each.register) / 3600, reason))
    return found


__all__ = ["Costs", "Estimate", "costs", "estimates", "starts"]
