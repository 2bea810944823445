# SPDX-License-Identifier: GPL-3.0-or-later
"""The points of a map: made, looked up in a store, evaluated with a neighbour to start from, and kept."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from heatsim.identity import made_with, origin_hash
from heatsim.scenario.scenario import Scenario
from heatsim.studies.map.axis import MapAxis
from heatsim.studies.map.column import Column, Profile, next_probe
from heatsim.studies.map.refine import Accuracy
from heatsim.studies.map.surface import JUDGED, Evidence, Sample
from heatsim.studies.points import ContinuationPath, Point, PointResult, evaluate_paths
from heatsim.tasks import Pool

if TYPE_CHECKING:
    from heatsim.studies.store import Store

Place = tuple[float, float]
"""u and v of a point."""

SCHEMA = "heatsim.map/1"

NOT_REACHED = ("dead", "latched")
"""Outcomes that a start from rest shows and following on from a neighbour may not."""

START_UP = ("supply.rise_time", "gate.supply_delay", "gate.supply_rise")
"""Fields that only starts from rest can tell about."""

WARY = 0.05
"""Distance [share of the vertical axis] from where one of them is expected to begin within which every point starts from rest."""

NEIGHBOURS = 4
"""Nearest points that must all have been reached before one is followed without a cold start of its own."""


class Points:
    """Everything evaluated so far. known: how many were in the store already; evaluated: how many were not; told: called when a new
    one has come.
    """

    def __init__(
        self, scenario: Scenario, case: str, axes: tuple[MapAxis, MapAxis], accuracy: Accuracy, pool: Pool, store: Store | None
    ) -> None:
        self.scenario, self.case, self.axes, self.accuracy = scenario, case, axes, accuracy
        self.pool, self.store = pool, store
        self._origin = scenario.identity | {"wanted_headroom": scenario.tables.heater.wanted_headroom}
        self.hash = origin_hash(str(self._origin["sha256"]))
        self.states: dict[Place, Any] = {}
        self.samples: dict[Place, Sample] = {}
        self.known = self.evaluated = 0
        self.told: Callable[[], None] = lambda: None

    @property
    def evidence(self) -> Evidence:
        """All samples."""
        return Evidence(tuple(self.samples.values()))

    def __len__(self) -> int:
        return len(self.samples)

    def coordinates(self, place: Place) -> tuple[float, float]:
        """x and y [SI] of a place."""
        return self.axes[0].at(place[0]), self.axes[1].at(place[1])

    def from_rest(self, u: float) -> bool:
        """Whether every point of a column is started from rest: where the headline is given, and if the axes bear on the start."""
        x = self.axes[0].at(u)
        return x == self.axes[0].snapped(self.axes[0].reference) or any(axis.field.path in START_UP for axis in self.axes)

    def point(self, place: Place) -> Point:
        """The operating point there."""
        fields = [
            (axis.field.in_case(self.case), axis.field.written(number))
            for axis, number in zip(self.axes, self.coordinates(place), strict=True)
        ]
        return Point(tuple(fields), self.case)

    def stored(self, place: Place) -> bool:
        """Take a point from memory or from the store, if it is there."""
        if place in self.samples:
            return True
        found = self.store.result(self.point(place).key(self.hash)) if self.store is not None else None
        if found is None or self.from_rest(place[0]) and found.method == "periodic":
            return False  # a sweep may have followed it; here it has to be started from rest
        self.known += 1
        self._remember(place, found)
        return True

    def take(self, place: Place, result: PointResult) -> None:
        """Keep a new result, in the store first."""
        if self.store is not None:
            point = self.point(place)
            key = point.key(self.hash)
            self.store.begin(self.described(), [(key, point)])
            self.store.put(key, result)
        self.evaluated += 1
        self._remember(place, result)
        self.told()

    def _remember(self, place: Place, result: PointResult) -> None:
        self.samples[place] = Sample.of((*self.coordinates(place), *place), result)
        if result.state is not None and result.outcome in JUDGED:
            self.states[place] = result.state

    def described(self) -> dict[str, Any]:
        """What a store remembers of the map: as of a sweep whose points are not fixed beforehand."""
        groups = [
            [{"field": axis.field.path, "kind": axis.field.kind, "unit": axis.field.unit, "values": [], "numbers": []}]
            for axis in self.axes
        ]
        return {
            "scenario": self._origin,
            "made_with": made_with(),
            "cases": [self.case],
            "groups": groups,
            "samples": None,
            "map": {"schema": SCHEMA, "axes": [axis.as_dict() for axis in self.axes]},
        }


class Search:
    """Several columns searched at once, each as far as it goes. What is expected, and where a point may start from, comes
    from what was known before and from the point's own column, so that the order of answers does not matter.

    profiles: of each column [u], what is expected of it in one or more ways; it is finished when none contradicts it.
    """

    def __init__(self, points: Points, columns: Sequence[Column], profiles: Mapping[float, Sequence[Profile]]) -> None:
        self.points, self.profiles = points, profiles
        self.columns = {column.u: column for column in columns}
        self.before = points.evidence
        self.states = dict(points.states)
        self.waiting: deque[float] = deque(self.columns)
        self.flying = 0
        self.others = {u: tuple(one for one in self.before.samples if one.u != u) for u in self.columns}

    def run(self) -> Iterator[Column]:
        """Columns as they are finished; answers are taken in between."""
        handed: list[Place] = []
        done: list[Column] = []
        for number, _, result in evaluate_paths(self.points.pool, self.points.scenario, self._paths(handed, done)):
            place = handed[number]
            self.flying -= 1
            self.points.take(place, result)
            self._add(place)
            self.waiting.append(place[0])
            yield from done
            done.clear()
        yield from done

    def _paths(self, handed: list[Place], done: list[Column]) -> Iterator[ContinuationPath | None]:
        """A path of one point for each column that waits for one, None while all wait for answers. Others are done."""
        while self.waiting or self.flying:
            if not self.waiting:
                yield None
                continue
            u = self.waiting.popleft()
            place = self._next(u)
            if place is None:
                done.append(self.columns[u])
                continue
            handed.append(place)
            self.flying += 1
            yield self._path(place)

    def _next(self, u: float) -> Place | None:
        """The column's next point that is in no store."""
        accuracy = self.points.accuracy
        while True:
            column = self.columns[u]
            evidence = Evidence((*self.others[u], *column.samples))
            probes = (next_probe(column, profile, evidence, accuracy.v, accuracy.snap_v) for profile in self.profiles[u])
            v = next((probe for probe in probes if probe is not None), None)
            if v is None or not self.points.stored((u, v)):
                return None if v is None else (u, v)
            self._add((u, v))

    def _add(self, place: Place) -> None:
        self.columns[place[0]] = self.columns[place[0]].with_sample(self.points.samples[place])
        if place in self.points.states:
            self.states[place] = self.points.states[place]

    def _path(self, place: Place) -> ContinuationPath:
        """The point with the state of its nearest neighbour, unless it must show by itself whether it is reached."""
        u, v = place
        seen = [*self.others[u], *self.columns[u].samples]
        near = sorted(seen, key=lambda one: (one.u - u) ** 2 + (one.v - v) ** 2)[:NEIGHBOURS]
        states = [self.states.get((one.u, one.v)) for one in near]
        start = None if self._doubtful(place, near) else next((state for state in states if state is not None), None)
        return ContinuationPath((self.points.point(place),), start, confirm=start is None)

    def _doubtful(self, place: Place, near: Sequence[Sample]) -> bool:
        """Whether a start from rest may end otherwise here: a neighbour did, or the edge of where it does is expected nearby."""
        u, v = place
        own = self.columns[u].sorted
        beside = [one for one in own if one.v < v][-1:] + [one for one in own if one.v > v][:1]
        if self.points.from_rest(u) or len(near) < NEIGHBOURS or any(one.outcome not in JUDGED for one in (*near, *beside)):
            return True
        return any(
            stretch.cause in NOT_REACHED and min(abs(stretch.low - v), abs(stretch.high - v)) < WARY
            for profile in self.profiles[u]
            for stretch in profile.stretches
        )


def scan(points: Points, places: Sequence[Sequence[Place]]) -> None:
    """Evaluate the first points, a path each column; one by one where they are to start from rest."""
    paths = []
    for column in places:
        missing = [place for place in column if not points.stored(place)]
        paths += [[place] for place in missing] if missing and points.from_rest(missing[0][0]) else [missing] if missing else []
    work = [ContinuationPath(tuple(points.point(place) for place in path)) for path in paths]
    for number, index, result in evaluate_paths(points.pool, points.scenario, work):
        points.take(paths[number][index], result)
