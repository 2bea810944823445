# SPDX-License-Identifier: GPL-3.0-or-later
"""In which order the points of a plan are evaluated: in paths whose neighbours differ by one small step.

The order is a boustrophedon: along the axis that changes the circuit most smoothly, back along it one step further on
the next axis, and so on. Tolerance samples have no order of their own; they are chained from one to the nearest.
Paths are cut where a case or a word changes, and where points are missing because they are done already.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from heatsim.studies.points import Axis
from heatsim.studies.sweep.plan import SweepPlan
from heatsim.waves import Array

Numbers = NDArray[np.int64]

LONGEST = 100
"""Points in a path, unless asked otherwise: from one cold start at its end to the next."""

CHAIN = 1000
"""Points in a chain of paths, unless that leaves slots without one."""

MOST_AXES = 3
"""Axes beyond which a grid has too many corners to start them all cold."""

REACH = 3
"""Steps between two points of a path, at most: more than one where points in between are done already."""

BLOCK = 1024
"""Samples chained at a time; the work of it grows with its square."""


def chains(plan: SweepPlan, places: Sequence[int], longest: int = LONGEST, slots: int = 1) -> list[list[list[int]]]:
    """The places in chains of nearly equal length, as many as keep `slots` busy to the end, each in paths of at most `longest`
    of which one begins beside the end of the one before.
    """
    found = paths(plan, places, max(longest, CHAIN), slots)
    return [[list(map(int, part)) for part in np.array_split(each, math.ceil(len(each) / longest))] for each in found]


def corners(plan: SweepPlan, places: Sequence[int]) -> set[int]:
    """Those of the places where every varied number is at an end of its range; none with samples or more than three axes."""
    axes = _dimensions(plan)[1:-1]
    numbered = [k for k, (kind, _, rank) in enumerate(axes, start=1) if kind > 0 and len(rank) > 1]
    if plan.samples is not None or not 0 < len(numbered) <= MOST_AXES or not len(places):
        return set()
    spots = np.array(np.unravel_index(np.asarray(places), plan.shape)).T
    ends = [np.isin(axes[k - 1][2][spots[:, k]], (0, plan.shape[k] - 1)) for k in numbered]
    return {int(places[int(k)]) for k in np.flatnonzero(np.logical_and.reduce(ends))}


def paths(plan: SweepPlan, places: Sequence[int], longest: int = LONGEST, slots: int = 1) -> list[list[int]]:
    """The places in paths of at most `longest`, of nearly equal length, as many as keep `slots` busy to the end."""
    if not len(places):
        return []
    axes = _dimensions(plan)
    spots = np.array(np.unravel_index(np.asarray(places), plan.shape)).T
    for number, (_, _, rank) in enumerate(axes):
        spots[:, number] = rank[spots[:, number]]
    outer_first = sorted(range(len(axes)), key=lambda k: (axes[k][0], -axes[k][1]))
    order = np.argsort(_snake(spots[:, outer_first], [plan.shape[k] for k in outer_first]), kind="stable")
    cuts = _cuts(spots[order], [axes[k][0] for k in range(len(axes))])
    return [[int(places[k]) for k in run] for run in _lengths(order, cuts, longest, slots)]


def _dimensions(plan: SweepPlan) -> list[tuple[int, float, Numbers]]:
    """For each dimension of the plan: how rough it is (0 words, 1 whole numbers, 2 smooth), its mean relative step, and
    the rank of each of its indices along it.
    """
    found = [(0, 1.0, np.arange(len(plan.cases)))]
    found += [_of_group(group) for group in plan.groups]
    if plan.samples is None:
        return [*found, (2, 0.0, np.arange(1))]
    chain = _chain(plan.samples.offsets)
    rank = np.empty(len(chain), dtype=int)
    rank[chain] = np.arange(len(chain))
    widths = np.array(
        [
            band.width if band.relative else band.width / max(abs(nominal), 1e-30)
            for band, nominal in zip(plan.samples.bands, plan.samples.nominals[plan.cases[0]], strict=True)
        ]
    )
    moves = np.linalg.norm(np.diff(plan.samples.offsets[chain], axis=0) * widths, axis=1)
    return [*found, (2, float(moves.mean()) if len(moves) else 0.0, rank)]


def _of_group(group: tuple[Axis, ...]) -> tuple[int, float, Numbers]:
    """Roughness, mean relative step and ranks of axes that go in step; ordered by the first one with numbers."""
    rough = min(0 if axis.numbers is None else 1 if axis.field.kind == "count" else 2 for axis in group)
    length = len(group[0].values)
    numbered = [np.array(axis.numbers) for axis in group if axis.numbers is not None]
    order = np.argsort(numbered[0], kind="stable") if numbered else np.arange(length)
    steps = [np.abs(np.diff(numbers[order])).mean() / max(np.abs(numbers).max(), 1e-30) for numbers in numbered if length > 1]
    rank = np.empty(length, dtype=int)
    rank[order] = np.arange(length)
    return rough, float(max(steps, default=0.0)), rank


def _chain(offsets: Array) -> Numbers:
    """Sample numbers from one to its nearest neighbour not yet visited, block by block along the first band."""
    by_first = np.argsort(offsets[:, 0], kind="stable")
    chain: list[int] = []
    for start in range(0, len(by_first), BLOCK):
        left = list(by_first[start : start + BLOCK])
        here = offsets[chain[-1]] if chain else offsets[left[0]]
        while left:
            nearest = int(np.argmin(((offsets[left] - here) ** 2).sum(axis=1)))
            chain.append(left.pop(nearest))
            here = offsets[chain[-1]]
    return np.array(chain)


def _snake(spots: Numbers, sizes: Sequence[int]) -> Numbers:
    """Number of each spot along the boustrophedon; columns from the outermost axis to the innermost."""
    along = np.zeros(len(spots), dtype=np.int64)
    for column, size in enumerate(sizes):
        forward = spots[:, column]
        along = along * size + np.where(along % 2 == 0, forward, size - 1 - forward)
    return along


def _cuts(spots: Numbers, roughness: Sequence[int]) -> NDArray[np.bool_]:
    """Whether a path has to end before each spot but the first."""
    moved = np.abs(np.diff(spots, axis=0))
    rough = np.array([kind == 0 for kind in roughness])
    return np.asarray(moved[:, rough].any(axis=1) | (moved.sum(axis=1) > REACH))


def _lengths(order: Numbers, cuts: NDArray[np.bool_], longest: int, slots: int) -> list[Numbers]:
    """The order in pieces: so many that slots come out even, never over the longest, never across a cut."""
    wanted = max(math.ceil(len(order) / longest), min(slots, len(order)))
    even = math.ceil(wanted / slots) * slots
    length = math.ceil(len(order) / even)
    found = []
    for run in np.split(order, np.flatnonzero(cuts) + 1):
        found += [piece for piece in np.array_split(run, math.ceil(len(run) / length)) if len(piece)]
    return found
