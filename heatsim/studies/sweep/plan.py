# SPDX-License-Identifier: GPL-3.0-or-later
"""What a sweep is made of: cases, varied fields and tolerance samples, and the numbered points they span.

A plan does not hold its points: it makes any of them from its number, so a million cost nothing. Points are numbered
in the user's order: cases first, then the axes as they were given, the last one fastest, then the samples.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from heatsim.errors import InputError
from heatsim.identity import origin_hash
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import (
    Axis,
    Band,
    Field,
    Law,
    Point,
    bearing_cases,
    drawn_offsets,
    nominal_value,
    read_axis,
    read_band,
    try_value,
    value_in,
)
from heatsim.waves import Array

MOST_POINTS = 10_000_000
"""More points than this are a slip of the pen."""


@dataclass(frozen=True, eq=False)
class Samples:
    """Quasi-random tolerance samples. offsets: of each sample (rows) in each band (columns), in units of the band's
    width; nominals: SI value of each banded field, by case.
    """

    bands: tuple[Band, ...]
    offsets: Array
    nominals: Mapping[str, tuple[float, ...]]
    seed: int
    spread: Law

    def number(self, case: str, sample: int, column: int) -> float:
        """SI value of a field in a sample, to seven digits."""
        return value_in(self.bands[column], self.nominals[case][column], self.offsets[sample, column])


@dataclass(frozen=True, eq=False)
class SweepPlan:
    """cases: names; groups: of axes, each group a dimension whose axes go in step; samples: or None."""

    cases: tuple[str, ...]
    groups: tuple[tuple[Axis, ...], ...]
    samples: Samples | None = None

    @classmethod
    def read(
        cls,
        scenario: Scenario,
        vary: Sequence[str] = (),
        tolerance: Sequence[str] = (),
        cases: Sequence[str] | None = None,
        in_step: bool = False,
        samples: int = 64,
        seed: int = 1,
        spread: Law = "uniform",
    ) -> SweepPlan:
        """A plan from texts, every value validated against the scenario; InputError before anything runs.

        vary: `FIELD = VALUES`, see `heatsim.studies.points.vary`; tolerance: `FIELD = 5 %`; cases: all unless named (those
        a varied field belongs to, if it belongs to a case); in_step: the axes go side by side, not as a grid; samples,
        seed, spread: of the tolerances.
        """
        axes = tuple(read_axis(scenario, text) for text in vary)
        bands = tuple(read_band(scenario, text) for text in tolerance)
        fields = [axis.field for axis in axes] + [band.field for band in bands]
        if not fields:
            raise InputError.single("sweep", "has nothing to vary", allowed='"supply.voltage = 24 V to 60 V in 20"')
        for field in fields:
            if fields.count(field) > 1:
                raise InputError.single(f"axis {field.path}", "is varied twice", allowed="each field once")
        chosen = bearing_cases(scenario, cases, fields)
        drawn = _draw(scenario, bands, chosen, samples, seed, spread) if bands else None
        plan = cls(chosen, _grouped(axes, in_step), drawn)
        plan._validate(scenario)
        return plan

    @property
    def axes(self) -> tuple[Axis, ...]:
        """All varied fields with their values."""
        return tuple(axis for group in self.groups for axis in group)

    @property
    def shape(self) -> tuple[int, ...]:
        """Cases, length of each group, samples (1 without tolerances)."""
        sampled = 1 if self.samples is None else len(self.samples.offsets)
        return (len(self.cases), *(len(group[0].values) for group in self.groups), sampled)

    def __len__(self) -> int:
        return math.prod(self.shape)

    def point(self, place: int) -> Point:
        """The point of this number, from 0; InputError for a number beyond the plan, as a damaged store may have."""
        if not 0 <= place < len(self):
            raise InputError.single("sweep", "has no such point", place, f"0 to {len(self) - 1}")
        case, *at, sample = (int(index) for index in np.unravel_index(place, self.shape))
        name = self.cases[case]
        fields = [
            (axis.field.in_case(name), axis.values[index]) for group, index in zip(self.groups, at, strict=True) for axis in group
        ]
        if self.samples is not None:
            fields += [
                (band.field.in_case(name), band.field.written(self.samples.number(name, sample, column)))
                for column, band in enumerate(self.samples.bands)
            ]
        return Point(tuple(fields), name)

    def points(self) -> Iterator[Point]:
        """All points in order."""
        return (self.point(place) for place in range(len(self)))

    def keyed(self, scenario: Scenario) -> Iterator[tuple[str, Point]]:
        """All points in order with their keys: equal for equal points of equal scenarios, computed by the same code."""
        origin = origin_hash(scenario.hash)
        return ((point.key(origin), point) for point in self.points())

    def as_dict(self) -> dict[str, Any]:
        """Plain data: what is varied, and over what."""
        sampled = (
            None
            if self.samples is None
            else {
                "fields": [
                    {
                        "field": band.field.path,
                        "kind": band.field.kind,
                        "unit": band.field.unit,
                        "width": band.width,
                        "relative": band.relative,
                        "nominal": {case: values[column] for case, values in self.samples.nominals.items()},
                    }
                    for column, band in enumerate(self.samples.bands)
                ],
                "count": len(self.samples.offsets),
                "seed": self.samples.seed,
                "spread": self.samples.spread,
            }
        )
        return {
            "cases": list(self.cases),
            "groups": [[axis.as_dict() for axis in group] for group in self.groups],
            "samples": sampled,
        }

    def _validate(self, scenario: Scenario) -> None:
        """Every value against the scenario: words each, numbers by their ends, because what is allowed is a range."""
        if len(self) > MOST_POINTS:
            raise InputError.single("sweep", f"has {len(self):,} points", allowed=f"at most {MOST_POINTS:,}")
        for case in self.cases:
            for axis in self.axes:
                for value in _ends(axis):
                    _try(scenario, case, axis.field, value)
            if self.samples is not None:
                for column, band in enumerate(self.samples.bands):
                    numbers = [self.samples.number(case, k, column) for k in range(len(self.samples.offsets))]
                    for number in (min(numbers), max(numbers)):
                        _try(scenario, case, band.field, band.field.written(number))


def _ends(axis: Axis) -> tuple[Any, ...]:
    """The values that decide whether all are allowed."""
    if axis.numbers is None:
        return axis.values
    order = np.argsort(axis.numbers)
    return axis.values[order[0]], axis.values[order[-1]]


def _try(scenario: Scenario, case: str, field: Field, value: Any) -> None:
    """Set one value; InputError in terms of the axis."""
    path = field.in_case(case)
    changed = try_value(scenario, field, case, value)
    try:
        changed.heater(case)
    except InputError as error:
        blamed = [problem for problem in error.problems if _sideless(problem.where.rsplit(": ", 1)[-1]) == _sideless(path)]
        if blamed:  # else parts contradict one another, which other axes may mend and else is a row of its own
            raise InputError.single(f"axis {field.path}", blamed[0].what, value, blamed[0].allowed) from None


def _sideless(path: str) -> str:
    """A choke's field without the side."""
    head, _, rest = path.partition(".")
    side, _, field = rest.partition(".")
    return f"choke.{field}" if head == "choke" and side in ("left", "right", "centre") else path


def _grouped(axes: tuple[Axis, ...], in_step: bool) -> tuple[tuple[Axis, ...], ...]:
    """A dimension for each axis, or one for all of them side by side."""
    if not in_step:
        return tuple((axis,) for axis in axes)
    lengths = {axis.field.path: len(axis.values) for axis in axes}
    if len(set(lengths.values())) > 1:
        names = ", ".join(f"{path} {length}" for path, length in lengths.items())
        raise InputError.single("axes in step", "have different numbers of values", names, "as many values on each")
    return (axes,) if axes else ()


def _draw(scenario: Scenario, bands: tuple[Band, ...], cases: tuple[str, ...], count: int, seed: int, spread: Law) -> Samples:
    """Samples in the bands."""
    if not 1 <= count <= MOST_POINTS:
        raise InputError.single("samples", "is out of range", count, f"1 to {MOST_POINTS}")
    offsets = drawn_offsets(len(bands), count, seed, spread)
    nominals = {case: tuple(nominal_value(scenario, case, band.field) for band in bands) for case in cases}
    return Samples(bands, offsets, nominals, seed, spread)
