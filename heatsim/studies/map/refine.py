# SPDX-License-Identifier: GPL-3.0-or-later
"""Where a map needs another column: where one that was predicted came out otherwise, at corners, and at the weakest place.

Two neighbouring columns are verified when a column between them was predicted, then evaluated, and every change was within
the wanted accuracy of where it had been predicted; or when they are no further apart than the accuracy. Distances are
taken square to the boundary, so that a steep one is not refined beyond need.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from heatsim.studies.map.axis import MapAxis
from heatsim.studies.map.column import Column, Course, Edge, Profile
from heatsim.studies.map.prediction import from_edges, from_surfaces, predicted
from heatsim.studies.map.surface import Evidence, Surface, family

CORNERS = 24
"""Columns spent on corners, at most: two limits that run along one another have no corner to be found."""

SAFE, UNEVEN = 0.5, 2.0
"""A predicted column verifies its gaps when it is off by no more than SAFE of the accuracy, for its halves may be off by more. A
gap whose halving no longer helps, because the headrooms themselves are uneven, is accepted up to UNEVEN times the accuracy.
"""

LOOKS = 81
"""Places across the map at which the expected ceiling is looked up."""


@dataclass(frozen=True)
class Accuracy:
    """Wanted widths along both axes [1], and the nearest places where columns and points can stand."""

    u: float
    v: float
    snap_u: Callable[[float], float]
    snap_v: Callable[[float], float]


def accuracy_of(horizontal: MapAxis, vertical: MapAxis, accuracy: float) -> Accuracy:
    """The same from axes and the accuracy wanted as a share of each."""

    def snap(axis: MapAxis) -> Callable[[float], float]:
        return lambda share: axis.share(axis.at(share))

    return Accuracy(
        horizontal.tolerance(accuracy) / horizontal.span,
        vertical.tolerance(accuracy) / vertical.span,
        snap(horizontal),
        snap(vertical),
    )


class Assessment(NamedTuple):
    """How well a column [u] between two others was predicted: errors as in `Refinement`, used_error that of the prediction used."""

    u: float
    gap: tuple[float, float]
    errors: tuple[float, float]
    used_error: float


@dataclass
class Refinement:
    """The columns of a map and which neighbours are verified.

    missed: largest accepted distance between predicted and found [1]
    errors: how far off each column [u] was predicted from the surfaces and from the edges [1]
    used_errors: the same for the prediction that was used [1]
    spent: columns put at corners
    """

    accuracy: Accuracy
    columns: dict[float, Column] = field(default_factory=dict)
    verified: set[tuple[float, float]] = field(default_factory=set)
    errors: dict[float, tuple[float, float]] = field(default_factory=dict)
    missed: float = 0.0
    used_errors: dict[float, float] = field(default_factory=dict)
    spent: int = 0

    def finished(self) -> list[Column]:
        """Columns from left to right."""
        return [self.columns[u] for u in sorted(self.columns)]

    def predict(self, u: float, surface: Surface, evidence: Evidence) -> Profile:
        """What is expected at u, in the way that has served better next to it."""
        return predicted(u, surface, list(self.columns.values()), evidence, self.errors)

    def _beside(self, u: float) -> list[Column]:
        """The nearest columns on either side, or the column at u itself."""
        if u in self.columns:
            return [self.columns[u]]
        left = [each for each in self.columns if each < u]
        right = [each for each in self.columns if each > u]
        return [self.columns[each] for each in ([max(left)] if left else []) + ([min(right)] if right else [])]

    def gaps(self) -> list[tuple[Column, Column]]:
        """Neighbouring columns that are not verified and further apart than the accuracy."""
        return [
            (one, two)
            for one, two in self._pairs()
            if (one.u, two.u) not in self.verified and two.u - one.u > self.accuracy.u * (1 + 1e-9)
        ]

    def _pairs(self) -> list[tuple[Column, Column]]:
        columns = self.finished()
        return list(zip(columns, columns[1:], strict=False))

    def proposals(self, surface: Surface, evidence: Evidence) -> list[float]:
        """Columns to evaluate next: one in each gap; then at corners; then at the weakest place. Empty when done."""
        for stage in (self._in_gaps, self._at_corners, self._at_weakest):
            found = [u for u in map(self.accuracy.snap_u, stage(surface, evidence)) if u not in self.columns]
            if found:
                return sorted(set(found))
        return []

    def _in_gaps(self, surface: Surface, evidence: Evidence) -> list[float]:
        found = []
        for one, two in self.gaps():
            corner = self._corner(one, two, surface, evidence)
            edge = max(0.1 * (two.u - one.u), self.accuracy.u)
            good = corner is not None and one.u + edge < corner < two.u - edge
            found.append(corner if good and corner is not None else 0.5 * (one.u + two.u))
        return found

    def _at_corners(self, surface: Surface, evidence: Evidence) -> list[float]:
        if self.spent >= CORNERS:
            return []
        found = []
        for one, two in self._pairs():
            corner = self._corner(one, two, surface, evidence)
            if corner is not None and one.u + self.accuracy.u < corner < two.u - self.accuracy.u:
                found.append(corner)
        self.spent += len(found)
        return found

    def _corner(self, one: Column, two: Column, surface: Surface, evidence: Evidence) -> float | None:
        """Where between two columns another limit begins to end it, or a change leaves the map, if so; by halving."""
        first, last = one.course(evidence), two.course(evidence)
        if _marks(first) == _marks(last) or _level(first, last, one, two, self.accuracy.v):
            return None
        low, high = one.u, two.u
        for _ in range(math.ceil(math.log2(max((high - low) / self.accuracy.u, 2.0))) + 2):
            middle = 0.5 * (low + high)
            same = _marks(self.predict(middle, surface, evidence).course()) == _marks(first)
            low, high = (middle, high) if same else (low, middle)
        return 0.5 * (low + high)

    def _at_weakest(self, surface: Surface, evidence: Evidence) -> list[float]:
        """Where the ceiling is expected to be lower than at any column, away from the columns there are."""
        known = min((column.course(evidence).ceiling for column in self.columns.values()), default=1.0)
        places = np.linspace(0.0, 1.0, LOOKS)
        heights = [self.predict(float(u), surface, evidence).course().ceiling for u in places]
        u = float(places[int(np.argmin(heights))])
        far = min(abs(u - each) for each in self.columns) > 4 * self.accuracy.u
        return [u] if far and min(heights) < known - self.accuracy.v / 2 else []

    def settle(self, found: Sequence[Column], surface: Surface, before: Evidence, evidence: Evidence) -> None:
        """Take in finished columns; those that came out as predicted verify their gaps to both sides. Columns of the first look
        do not, for their own points had helped to predict them.

        surface, before: what was known when they were begun.
        """
        assessed = [
            self._assessed(column, surface, before, evidence)
            for column in found
            if not column.scanned and len(self._beside(column.u)) == 2
        ]
        for column in sorted(found, key=lambda one: one.u):
            self.columns[column.u] = column
        self.errors |= {one.u: one.errors for one in assessed}
        for one in assessed:
            accepted = self._accepted(one.gap, one.used_error)
            self.missed = max(self.missed, one.used_error if accepted else 0.0)
            if accepted or one.gap in self.verified:
                self.verified |= {(one.gap[0], one.u), (one.u, one.gap[1])}
        self.used_errors |= {one.u: one.used_error for one in assessed}

    def _accepted(self, gap: tuple[float, float], off: float) -> bool:
        """Whether a column that came out this far off verifies its gap."""
        wanted = self.accuracy.v
        before = min((self.used_errors[u] for u in gap if u in self.used_errors), default=math.inf)
        return off <= SAFE * wanted or off <= UNEVEN * wanted and before <= 2 * UNEVEN * wanted and off > 0.6 * before

    def _assessed(self, column: Column, surface: Surface, before: Evidence, evidence: Evidence) -> Assessment:
        """A finished column against its predictions."""
        left, right = self._beside(column.u)
        columns, found = list(self.columns.values()), column.course(evidence)
        slopes = self._slopes(left, right, evidence)

        def error(profile: Profile) -> float:
            return distance(profile.course(), found, slopes, self.accuracy.v)

        errors = error(from_surfaces(column.u, surface, columns, before)), error(from_edges(column.u, columns, before))
        return Assessment(column.u, (left.u, right.u), errors, error(self.predict(column.u, surface, before)))

    def _slopes(self, one: Column, two: Column, evidence: Evidence) -> list[float]:
        """dv/du of each change between two columns; empty when their changes do not pair."""
        first, last = (column.course(evidence).inner(self.accuracy.v) for column in (one, two))
        if not first.alike(last):
            return []
        return [(b.at - a.at) / (two.u - one.u) for a, b in zip(first.edges, last.edges, strict=True)]


def distance(predicted: Course, found: Course, slopes: Sequence[float], width: float) -> float:
    """Largest distance between changes predicted and found, square to the boundary [1]; infinite when they do not pair.

    slopes: dv/du of each change, where known; width: changes this near to the ends of the axis are left out.
    """
    first, second = predicted.inner(width), found.inner(width)
    if not first.alike(second):
        return math.inf
    known = list(slopes) if len(slopes) == len(second.edges) else [0.0] * len(second.edges)
    return max(
        (abs(a.at - b.at) / math.hypot(1.0, slope) for a, b, slope in zip(first.edges, second.edges, known, strict=True)),
        default=0.0,
    )


def _marks(course: Course) -> tuple[bool, tuple[str, ...]]:
    """What makes two courses the same but for places."""
    return course.usable, tuple(family(edge.limit) for edge in course.edges)


def _level(first: Course, last: Course, left: Column, right: Column, width: float) -> bool:
    """Whether the limits of all edges that differ are so close to one another in both columns that there is no corner."""

    def apart(column: Column, edge: Edge, other: Edge) -> bool:
        margins = min(column.samples, key=lambda sample: abs(sample.v - edge.at)).margins
        return other.limit in margins and edge.limit in margins and abs(margins[other.limit] - margins[edge.limit]) < width

    differing = [(a, b) for a, b in zip(first.edges, last.edges, strict=False) if family(a.limit) != family(b.limit)]
    return first.alike(last) and all(apart(left, a, b) and apart(right, b, a) for a, b in differing)
