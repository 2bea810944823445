# SPDX-License-Identifier: GPL-3.0-or-later
"""Heaters of a tolerance study as operating points: from a store that has them, or simulated."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from heatsim.engine import MEASURABLE
from heatsim.errors import InputError
from heatsim.identity import made_with, origin_hash
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import (
    Band,
    ContinuationPath,
    Point,
    PointResult,
    bearing_cases,
    evaluate_paths,
    nominal_value,
    try_value,
    value_in,
)
from heatsim.studies.store import Store
from heatsim.studies.tolerance.result import Sample
from heatsim.tasks import Pool
from heatsim.waves import Array

MEASURES = (
    "tank.frequency_hz",
    "tank.thd_ratio",
    "coil.rms_current_a",
    "supply.mean_current_a",
    "workpiece.power_w",
    "choke.left.peak_current_a",
    "drain.left.peak_voltage_v",
)
"""Measures whose spread is told."""


@dataclass(frozen=True)
class Toleranced:
    """The fields of a study.

    nominals: SI values of the bands' fields by case
    """

    scenario: Scenario
    bands: tuple[Band, ...]
    cases: tuple[str, ...]
    nominals: Mapping[str, tuple[float, ...]]

    @classmethod
    def of(cls, scenario: Scenario, bands: tuple[Band, ...], cases: Sequence[str] | None) -> Toleranced:
        """Raises InputError for a field twice, one without a nominal value, or ends that the scenario does not allow."""
        paths = [band.field.path for band in bands]
        if not bands:
            allowed = 'at least one "FIELD = BAND", such as "capacitors.capacitance = 5 %"'
            raise InputError.single("tolerance", "has nothing to vary", allowed=allowed)
        if twice := next((path for path in paths if paths.count(path) > 1), None):
            raise InputError.single(f"tolerance of {twice}", "is given twice", allowed="each field once")
        chosen = bearing_cases(scenario, cases, [band.field for band in bands])
        nominals = {case: tuple(nominal_value(scenario, case, band.field) for band in bands) for case in chosen}
        found = cls(scenario, bands, chosen, nominals)
        for case in chosen:
            for k, band in enumerate(bands):
                for end in (-1.0, 1.0):
                    try_value(scenario, band.field, case, band.field.written(found.number(case, k, end)))
        return found

    def number(self, case: str, column: int, offset: float) -> float:
        """SI value of a field at an offset."""
        return value_in(self.bands[column], self.nominals[case][column], offset)

    def described(self) -> dict[str, Any]:
        """What a store remembers of the study: as of a sweep whose points are not fixed beforehand."""
        fields = [band.field for band in self.bands]
        return {
            "scenario": self.scenario.identity,
            "made_with": made_with(),
            "cases": list(self.cases),
            "groups": [[{"field": one.path, "kind": one.kind, "unit": one.unit, "values": [], "numbers": []}] for one in fields],
            "samples": None,
            "tolerance": {band.field.path: [band.width, band.relative] for band in self.bands},
        }

    def point(self, case: str, offsets: Sequence[float] | Array) -> Point:
        """The operating point of a heater in a case."""
        return Point(
            tuple(
                (band.field.in_case(case), band.field.written(self.number(case, k, offset)))
                for k, (band, offset) in enumerate(zip(self.bands, offsets, strict=True))
            ),
            case,
        )


class Simulated:
    """Simulates heaters of a study, and keeps them in a store. known: points that the store had already."""

    def __init__(self, toleranced: Toleranced, pool: Pool, store: Store | None) -> None:
        self.toleranced, self.pool, self.store = toleranced, pool, store
        self.known = 0
        self._origin = origin_hash(toleranced.scenario.hash)
        self._plan = toleranced.described()
        self._states: dict[str, list[tuple[Array, Any]]] = {case: [] for case in toleranced.cases}

    def __call__(self, places: Array, cold: bool) -> Iterator[tuple[int, Sample]]:
        """Heaters at places, shape (n, fields), each with its number, as soon as all of its cases are there.

        cold: from rest, each by itself; otherwise followed from the nearest heater that is known, where there is one
        """
        cases = self.toleranced.cases
        found: dict[int, dict[str, PointResult]] = {number: {} for number in range(len(places))}
        for number, case, result in self._results(places, cold):
            found[number][case] = result
            if len(found[number]) == len(cases):
                yield number, sample_of(tuple(map(float, places[number])), found[number])

    def _results(self, places: Array, cold: bool) -> Iterator[tuple[int, str, PointResult]]:
        missing: list[tuple[int, str]] = []
        for number, offsets in enumerate(places):
            for case in self.toleranced.cases:
                known = None if self.store is None else self.store.result(self._key(case, offsets))
                if known is None:
                    missing.append((number, case))
                else:
                    self.known += 1
                    yield number, case, known
        paths = [
            path for case in self.toleranced.cases for path in self._paths(case, [n for n, c in missing if c == case], places, cold)
        ]
        walked = [path for path, _ in paths]
        for number, at, result in evaluate_paths(self.pool, self.toleranced.scenario, walked):
            place, case = paths[number][1][at], walked[number].points[at].case
            self._keep(case, places[place], result)
            yield place, case, result

    def _paths(
        self, case: str, numbers: Sequence[int], places: Array, cold: bool
    ) -> Iterator[tuple[ContinuationPath, Sequence[int]]]:
        """Paths through the missing heaters of a case, with the numbers of these."""
        if not numbers:
            return
        if cold:
            yield from ((ContinuationPath((self.toleranced.point(case, places[number]),)), (number,)) for number in numbers)
            return
        pieces = np.array_split(np.array(numbers), min(self.pool.size, len(numbers)))
        for piece in pieces:
            near = self._nearest(case, places[piece[0]])
            order = chained(places[piece], places[piece[0]] if near is None else near[0])
            walk = [int(piece[k]) for k in order]
            points = tuple(self.toleranced.point(case, places[number]) for number in walk)
            state = self._nearest(case, places[walk[0]])
            yield ContinuationPath(points, None if state is None else state[1], confirm=state is None), walk

    def _nearest(self, case: str, offsets: Array) -> tuple[Array, Any] | None:
        return min(self._states[case], key=lambda one: float(np.linalg.norm(one[0] - offsets)), default=None)

    def _key(self, case: str, offsets: Array) -> str:
        return self.toleranced.point(case, offsets).key(self._origin)

    def _keep(self, case: str, offsets: Array, result: PointResult) -> None:
        if result.state is not None:
            self._states[case].append((offsets, result.state))
        if self.store is not None and result.outcome not in ("stalled", "unsolved"):
            key = self._key(case, offsets)
            self.store.begin(self._plan, [(key, self.toleranced.point(case, offsets))])
            self.store.put(key, result)


def chained(places: Array, start: Array) -> list[int]:
    """Order of places in which each is the nearest to the one before, from a start on."""
    left, order, at = list(range(len(places))), list[int](), start
    while left:
        nearest = min(left, key=lambda k: float(np.linalg.norm(places[k] - at)))
        left.remove(nearest)
        order.append(nearest)
        at = places[nearest]
    return order


def sample_of(offsets: tuple[float, ...], results: Mapping[str, PointResult]) -> Sample:
    """A heater from what became of it in each case."""
    rooms, measures, trouble = dict[str, float](), dict[str, float](), dict[str, str]()
    for case, result in results.items():
        without = [one for one in result.findings if one.headroom is None and one.grade == "fails"]
        if result.outcome not in MEASURABLE or without:
            trouble[case] = result.outcome_detail or (without[0].cause if without else result.outcome)
            continue
        rooms |= {f"{case}: {one.part}: {one.limit}": one.headroom for one in result.findings if one.headroom is not None}
        measures |= {
            f"{case}: {key}": value
            for key in MEASURES
            if isinstance(value := result.measures.get(key), float) and np.isfinite(value)
        }
    return Sample(offsets, rooms, measures, trouble, all(one.method.startswith("cold start") for one in results.values()))
