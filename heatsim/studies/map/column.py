# SPDX-License-Identifier: GPL-3.0-or-later
"""One column of a map: where along the vertical axis it turns from usable to not, found with as few points as can be.

What the points so far let one expect along a column is a profile: each limit's headroom, and how far away the next
stretch is in which there is none because the circuit is dead, latched or could not be judged. A column's own points
correct the profile; where it changes sign the next point is put, close to one side of the change and then to the other,
so that two points enclose a change that was predicted. What was not predicted (a jump) is halved. Everything follows
from the points alone, so that a search that was cut short goes on as it would have.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from heatsim.studies.map.surface import Evidence, Sample, stretched
from heatsim.waves import Array

NODES = 2001
"""Places along a column at which a profile is known."""

GRID = np.linspace(0.0, 1.0, NODES)

BESIDE, ACROSS, CLOSE = 0.45, 0.95, 0.7
"""In units of the wanted width: how far beside an expected change a point is put; how far from an end that lies within
CLOSE of it the change is jumped; working values."""

MOST_PROBES = 40
"""Points of one column, at most; a change alone needs some 8 at the worst."""


@dataclass(frozen=True)
class Edge:
    """A change between usable and not.

    low, high: v of the two points that enclose it
    at: v where it is expected between them
    limit: the limiting constraint, or the outcome on the side that is not usable
    upward: whether it is usable below
    """

    low: float
    high: float
    at: float
    limit: str
    upward: bool


@dataclass(frozen=True)
class Course:
    """A column from bottom to top. usable: whether it is so at the bottom; edges: changes, upwards."""

    usable: bool
    edges: tuple[Edge, ...]

    def inner(self, width: float) -> Course:
        """Without changes at the very ends of the axis, where one side may not have been looked at."""
        below = sum(edge.at <= width for edge in self.edges)
        kept = tuple(edge for edge in self.edges if width < edge.at < 1 - width)
        return Course(self.usable != bool(below % 2), kept)

    def alike(self, other: Course) -> bool:
        """Whether two courses have the same changes, in other places."""
        return self.usable == other.usable and len(self.edges) == len(other.edges)

    def stretches(self) -> list[tuple[float, Edge | None, float, Edge | None]]:
        """Usable stretches: lower end and upper end [v], each with its change, None at the end of the axis."""
        marks: list[tuple[float, Edge | None]] = [(edge.at, edge) for edge in self.edges]
        marks = ([(0.0, None)] if self.usable else []) + marks
        marks += [(1.0, None)] if len(marks) % 2 else []
        return [(*low, *high) for low, high in zip(marks[::2], marks[1::2], strict=True)]

    @property
    def ceiling(self) -> float:
        """v up to which the highest stretch is usable; 0 when none is."""
        stretches = self.stretches()
        return stretches[-1][2] if stretches else 0.0


@dataclass(frozen=True)
class Stretch:
    """A part of a column that is not usable. low, high: from where to where [v], -1 and 2 beyond the axis; cause: why."""

    low: float
    high: float
    cause: str

    def distance(self, v: Any) -> Array:
        """From places to the stretch [1], negative inside."""
        return np.maximum(self.low - np.asarray(v), np.asarray(v) - self.high)


def clearance(stretches: Sequence[Stretch]) -> Array:
    """Distance [1] at GRID from the next stretch, negative inside; 1 when there is none."""
    clear = np.ones(NODES)
    for stretch in stretches:
        clear = np.minimum(clear, stretch.distance(GRID))
    return clear


@dataclass(frozen=True)
class Profile:
    """What is expected along a column at GRID. margins: stretched headroom of each limit, a row each, no rows when nothing
    is known; clear: distance from the next stretch without headroom, negative inside; stretches: about where they are, for
    their causes; guessed: whether the ends of such stretches are only halfway between points of the column itself.
    """

    keys: tuple[str, ...]
    margins: Array
    clear: Array
    stretches: tuple[Stretch, ...] = ()
    guessed: bool = False

    @property
    def least(self) -> Array:
        """Least of all headrooms and of the distance; its sign tells usable from not."""
        return np.minimum(self.margins.min(axis=0), self.clear) if len(self.margins) else self.clear

    def limiting(self, node: int) -> str:
        """What is expected to make this place unusable, or to do so first."""
        if not len(self.margins) or self.clear[node] < 0:
            return min(self.stretches, key=lambda one: float(one.distance(GRID[node]))).cause if self.stretches else ""
        return self.keys[int(np.argmin(self.margins[:, node]))]

    def course(self) -> Course:
        """What is expected from bottom to top."""
        return Course(bool(self.least[0] >= 0), tuple(self.changes()))

    def changes(self) -> list[Edge]:
        """Expected changes from bottom to top."""
        least = self.least
        usable = least >= 0
        found = []
        for node in np.flatnonzero(usable[1:] != usable[:-1]):
            first, second = float(least[node]), float(least[node + 1])
            part = first / (first - second) if first != second else 0.5
            at = float(GRID[node] + part * (GRID[node + 1] - GRID[node]))
            worse = int(node) if not usable[node] else int(node) + 1
            found.append(Edge(at, at, at, self.limiting(worse), bool(usable[node])))
        return found


@dataclass(frozen=True)
class Column:
    """A column under search. u: its place; samples: evaluated so far, in order; scanned: how many of them are scan."""

    u: float
    samples: tuple[Sample, ...] = ()
    scanned: int = 0

    @property
    def sorted(self) -> list[Sample]:
        """From bottom to top."""
        return sorted(self.samples, key=lambda sample: sample.v)

    def with_sample(self, sample: Sample) -> Column:
        """The column with one more point."""
        return Column(self.u, (*self.samples, sample), self.scanned)

    def blocked(self, evidence: Evidence) -> list[Stretch]:
        """Stretches whose points have no headroom, out to halfway to the next one that has."""
        runs: list[Stretch] = []
        points = self.sorted
        for k, state in enumerate(evidence.blocked(sample) for sample in points):
            if not state:
                continue
            low = -1.0 if k == 0 else 0.5 * (points[k - 1].v + points[k].v)
            high = 2.0 if k == len(points) - 1 else 0.5 * (points[k].v + points[k + 1].v)
            if runs and runs[-1].high >= low:
                low, state = runs[-1].low, runs.pop().cause
            runs.append(Stretch(low, high, state))
        return runs

    def unusable(self, evidence: Evidence) -> list[Stretch]:
        """Stretches that are not usable, for whatever reason."""
        course = self.course(evidence)
        marks = [(edge.at, edge.limit) for edge in course.edges]
        marks = ([] if course.usable else [(-1.0, "")]) + marks
        marks += [(2.0, "")] if len(marks) % 2 else []
        return [Stretch(low, high, one or two) for (low, one), (high, two) in zip(marks[::2], marks[1::2], strict=True)]

    def course(self, evidence: Evidence) -> Course:
        """What was found from bottom to top."""
        points = self.sorted
        limits = [evidence.limiting(sample) for sample in points]
        edges = (
            _edge(points[k], points[k + 1], limits[k], limits[k + 1], evidence)
            for k in range(len(points) - 1)
            if bool(limits[k]) != bool(limits[k + 1])
        )
        return Course(not limits[0], tuple(edges))

    def corrected(self, profile: Profile, evidence: Evidence, width: float) -> Profile:
        """The profile made to agree with the column's own points.

        What each headroom misses at a point is spread linearly between points. A stretch without headroom, or in a profile
        without headrooms one that is not usable, is moved only when a point contradicts it, and then by twice as much as it
        must and by a part of the wanted width.
        """
        points = self.sorted
        if not points:
            return profile
        states = [evidence.blocked(sample) if len(profile.margins) else evidence.limiting(sample) for sample in points]
        judged = [sample for sample, state in zip(points, states, strict=True) if not state]
        margins = profile.margins
        if judged and len(margins):
            seen = np.array([[float(stretched(sample.margins[key])) for sample in judged] for key in profile.keys])
            margins = margins + _spread(judged, seen - _at(margins, judged))
        predicted = _at(profile.clear[None, :], points)[0]
        off = [
            0.0 if bool(state) == (clear < 0) else (-1 if state else 1) * (abs(clear) + BESIDE * width) - clear
            for state, clear in zip(states, predicted, strict=True)
        ]
        clear = profile.clear + _spread(points, np.array([off]))[0]
        own = self.blocked(evidence) if len(profile.margins) else self.unusable(evidence)
        return Profile(profile.keys, margins, clear, tuple(own) or profile.stretches, profile.guessed)


def _at(rows: Array, points: Sequence[Sample]) -> Array:
    """Values of rows over GRID at the points of a column."""
    return np.array([np.interp([sample.v for sample in points], GRID, row) for row in rows])


def _spread(points: Sequence[Sample], rows: Array) -> Array:
    """Rows over GRID of values at the points of a column: linear between them, constant beyond."""
    return np.array([np.interp(GRID, [sample.v for sample in points], row) for row in rows])


def _edge(low: Sample, high: Sample, below: str, above: str, evidence: Evidence) -> Edge:
    """The change between two points; of several limits that end there, the one that does so nearest to the usable one."""
    good, bad = (low, high) if above else (high, low)
    crossing = {
        key: good.margins[key] / (good.margins[key] - bad.margins[key])
        for key in good.margins
        if not evidence.blocked(bad) and bad.margins[key] < 0
    }
    if not crossing:
        return Edge(low.v, high.v, 0.5 * (low.v + high.v), below or above, bool(above))
    key = min(crossing, key=lambda name: (crossing[name], name))
    return Edge(low.v, high.v, good.v + crossing[key] * (bad.v - good.v), key, bool(above))


def next_probe(column: Column, profile: Profile, evidence: Evidence, width: float, snap: Callable[[float], float]) -> float | None:
    """Where to look next [v]; None when every change is enclosed within `width` or nothing more can be expected.

    snap: the nearest place a point can be at.
    """
    if len(column.samples) - column.scanned >= MOST_PROBES:
        return None
    own = column.corrected(profile, evidence, width)
    if not column.samples:
        return snap(_first(own, width))
    points = column.sorted
    good = [not evidence.limiting(sample) for sample in points]
    for k in range(len(points) + 1):
        low = points[k - 1].v if k else None
        high = points[k].v if k < len(points) else None
        if low is None or high is None:
            found = _outside(column, (profile, own), low, high, good[0] if low is None else good[-1], width)
        elif good[k - 1] != good[k]:
            halve = own.guessed and any(evidence.blocked(sample) for sample in points[k - 1 : k + 1])
            found = _enclosing(column, own, low, high, good[k - 1], width, halve)
        else:
            found = _island(own, low, high, good[k], width)
        placed = None if found is None else _placed(snap(found), snap, low, high, [sample.v for sample in points])
        if placed is not None:
            return placed
    return None


def _first(profile: Profile, width: float) -> float:
    """Beside the first expected change, else where the profile comes nearest to one."""
    changes = profile.changes()
    if changes:
        return float(np.clip(changes[0].at + (-BESIDE if changes[0].upward else BESIDE) * width, 0.0, 1.0))
    return float(GRID[int(np.argmin(np.abs(profile.least)))])


def _enclosing(column: Column, profile: Profile, low: float, high: float, upward: bool, width: float, halve: bool) -> float | None:
    """The next place between two points of which one is usable; halve: without looking at the profile."""
    if high - low <= width * (1 + 1e-9):
        return None
    middle = 0.5 * (low + high)
    if halve or _one_sided(column, low, high) and high - low > 2.5 * width:
        return middle
    inside = [edge.at for edge in profile.changes() if low <= edge.at <= high and edge.upward == upward]
    if not inside:
        return middle
    at = inside[0] if upward else inside[-1]
    if at - low <= CLOSE * width:
        return min(low + ACROSS * width, middle)
    if high - at <= CLOSE * width:
        return max(high - ACROSS * width, middle)
    return at - BESIDE * width if at - low > high - at else at + BESIDE * width


def _one_sided(column: Column, low: float, high: float) -> bool:
    """Whether the last two points of the search fell on one side of this change, which then was not predicted well."""
    last = sorted(sample.v for sample in column.samples[column.scanned :][-2:])
    if len(last) < 2 or last[1] - last[0] > 0.5 * (high - low):
        return False
    return last[1] == low or last[0] == high


def _island(profile: Profile, low: float, high: float, good: bool, width: float) -> float | None:
    """Where between two like points the profile says otherwise over more than `width`."""
    other = (low < GRID) & (high > GRID) & ((profile.least >= 0) != good)
    if high - low <= 2 * width or np.count_nonzero(other) <= width * NODES:
        return None
    return float(GRID[int(np.argmax(np.where(other, np.abs(profile.least), -1.0)))])


def _outside(
    column: Column, profiles: tuple[Profile, Profile], low: float | None, high: float | None, good: bool, width: float
) -> float | None:
    """Where beyond the outermost point a change is expected; the end of the axis when one had been and was not found.

    profiles: as predicted, and corrected.
    """
    predicted, own = profiles
    up = high is None
    last, end = (low or 0.0, 1.0) if up else (high or 0.0, 0.0)
    beyond = last <= GRID if up else last >= GRID
    if abs(end - last) <= width:
        return None
    if np.count_nonzero(beyond & ((own.least >= 0) != good)) <= width * NODES:
        return end if bool(predicted.least[-1 if up else 0] >= 0) != good else None
    edges = [edge.at for edge in own.changes() if (edge.at > last if up else edge.at < last)]
    at = (edges[0] if up else edges[-1]) if edges else end
    step = max(abs(at - last) + BESIDE * width, 2 * _stride(column, last))
    return min(last + step, 1.0) if up else max(last - step, 0.0)


def _stride(column: Column, last: float) -> float:
    """How far the search went with its last step, if that was outwards to `last` and found no change."""
    steps = [sample.v for sample in column.samples[column.scanned :][-2:]]
    return abs(steps[1] - steps[0]) if len(steps) == 2 and steps[1] == last else 0.0


def _placed(at: float, snap: Callable[[float], float], low: float | None, high: float | None, taken: list[float]) -> float | None:
    """A place that is not taken yet; between two points whose grain leaves none, None."""
    if at not in taken:
        return at
    if low is None or high is None:
        return None
    middle = snap(0.5 * (low + high))
    return None if middle in taken else middle
