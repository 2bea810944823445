# SPDX-License-Identifier: GPL-3.0-or-later
"""What a map says in short: how far the vertical axis can be used at a column, what ends it, what would end it next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from itertools import groupby
from typing import Any

import numpy as np

from heatsim.studies.map.axis import MapAxis
from heatsim.studies.map.column import GRID, Column, Edge, Profile
from heatsim.studies.map.model import MapModel
from heatsim.studies.map.prediction import from_surfaces
from heatsim.studies.map.surface import family, relaxed, twin


@dataclass(frozen=True)
class Bound:
    """An end of a usable stretch.

    at: where [SI], the last usable point where no limit's headroom tells
    low, high: the evaluated points that enclose it [SI]
    ends: the limiting constraint, as `part: limit`, or the outcome beyond it
    both: whether the other side's headroom is the same within 0.02 there
    """

    at: float
    low: float
    high: float
    ends: str
    both: bool = False


@dataclass(frozen=True)
class Following:
    """What would end a stretch next.

    ends: as of a bound
    at: where, predicted [SI]
    both: whether both sides do, within a hundredth of the axis
    """

    ends: str
    at: float
    both: bool = False


@dataclass(frozen=True)
class Reach:
    """What is usable at one place of the horizontal axis.

    x: the place [SI]; start, stop: of the usable stretch [SI], interpolated, None when nothing is usable; lower, upper: what
    ends it there, None when it goes on to the end of the axis; others: further usable stretches [SI], from and to evaluated
    points; second: the limit that ends it next and where [SI], None when there is none on the map; comfortable: up to where
    every limit has the headroom wanted of it [SI], interpolated, None when nowhere; kept: the highest evaluated place of the
    stretch where every limit has it [SI], None without one; fails: what is short where it is least so, when nothing is
    usable.
    """

    x: float
    start: float | None
    stop: float | None
    lower: Bound | None
    upper: Bound | None
    others: tuple[tuple[float, float], ...] = ()
    second: Following | None = None
    comfortable: float | None = None
    kept: float | None = None
    fails: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI."""
        return asdict(self)


@dataclass(frozen=True)
class Answer:
    """What a map says in short.

    reference: at the place where the headline is given
    weakest: where the upper end is lowest
    reaches: of all columns
    nowhere: parts of the horizontal axis [SI] where nothing is usable, predicted between columns
    """

    reference: Reach
    weakest: Reach
    reaches: tuple[Reach, ...]
    nowhere: tuple[tuple[float, float], ...]


ALIKE = 0.02
"""Headrooms of the two sides that differ by less count as one, as in the tables of a check."""

LOOKS = 201
"""Places across the map at which is looked whether anything is usable."""


def answer(result: MapModel) -> Answer:
    """What a map says in short."""
    reaches = tuple(_reach(result, column) for column in result.columns)
    x = result.horizontal.reference
    reference = min(reaches, key=lambda reach: abs(reach.x - x))
    weakest = min(reaches, key=lambda reach: (reach.stop is not None, reach.stop or 0.0))
    return Answer(reference, weakest, reaches, tuple(_nowhere(result)) if weakest.stop is None else ())


def _nowhere(result: MapModel) -> Iterator[tuple[float, float]]:
    """Parts of the horizontal axis without anything usable."""
    places = sorted({*np.linspace(0.0, 1.0, LOOKS).tolist(), *(column.u for column in result.columns)})
    usable = [bool((result.predicted(u).least >= 0).any()) for u in places]
    for found, group in groupby(zip(places, usable, strict=True), key=lambda one: one[1]):
        run = [u for u, _ in group]
        if not found:
            yield result.horizontal.number(run[0]), result.horizontal.number(run[-1])


def _reach(result: MapModel, column: Column) -> Reach:
    """One column's."""
    axis, course = result.vertical, column.course(result.evidence)
    x = result.horizontal.at(column.u)
    stretches = course.stretches()
    if not stretches:
        best = max(column.samples, key=lambda one: -9.0 if (margin := result.evidence.least(one)[0]) is None else margin)
        return Reach(x, None, None, None, None, fails=result.evidence.limiting(best))
    own = axis.share(axis.own) if axis.own is not None else None
    main = max(stretches, key=lambda one: (own is not None and one[0] <= own <= one[2], one[2] - one[0]))
    low, lower, high, upper = main
    others = tuple(_evaluated(axis, one) for one in stretches if one is not main)
    kept = _kept(result, column, _evaluated(axis, main))
    inside, outside = (
        column.corrected(from_surfaces(column.u, side, [column], result.evidence), result.evidence, result.accuracy)
        for side in result.sides
    )
    second = _second(outside, upper, axis) if upper is not None else None
    low, high = (end if edge is None else _position(result, edge) for end, edge in ((low, lower), (high, upper)))
    bounds = (_bound(result, column, lower), _bound(result, column, upper))
    return Reach(x, axis.number(low), axis.number(high), *bounds, others, second, _comfortable(result, inside, low, high), kept)


def _evaluated(axis: MapAxis, stretch: tuple[float, Edge | None, float, Edge | None]) -> tuple[float, float]:
    """From and to which evaluated points [SI] a stretch is usable; to an end of the axis where it goes on that far."""
    low, lower, high, upper = stretch
    ends = low if lower is None else lower.high, high if upper is None else upper.low
    return axis.at(ends[0]), axis.at(ends[1])


def _kept(result: MapModel, column: Column, stretch: tuple[float, float]) -> float | None:
    """The highest evaluated place [SI] of a usable stretch with the wanted headroom."""
    samples = [one for one in column.samples if stretch[0] <= one.y <= stretch[1]]
    spare = result.evidence.beyond(result.wanted_of)
    return max((one.y for one in samples if not spare.limiting(one.beyond(result.wanted_of))), default=None)


def _comfortable(result: MapModel, profile: Profile, low: float, high: float) -> float | None:
    """The highest place [SI] of a usable stretch with the wanted headroom."""
    if not len(profile.margins):
        return None
    wanted = np.array([result.wanted_of(key) for key in profile.keys])[:, None]
    inside = np.flatnonzero((low <= GRID) & (high >= GRID) & ((relaxed(profile.margins) - wanted).min(axis=0) >= 0))
    return result.vertical.number(float(GRID[inside[-1]])) if inside.size else None


def _bound(result: MapModel, column: Column, edge: Edge | None) -> Bound | None:
    if edge is None:
        return None
    margins = next(sample.margins for sample in column.samples if sample.v == (edge.low if edge.upward else edge.high))
    both = twin(edge.limit) in margins and abs(margins[twin(edge.limit)] - margins[edge.limit]) < ALIKE
    at = result.vertical.number(_position(result, edge))
    low, high = (result.vertical.at(v) for v in (edge.low, edge.high))
    return Bound(at, low, high, edge.limit, both)


def _position(result: MapModel, edge: Edge) -> float:
    """Where an end is said to be [v]: interpolated, but where there is nothing to interpolate, the point that is usable."""
    return edge.at if edge.limit in result.evidence.keys else edge.low if edge.upward else edge.high


def _second(profile: Profile, upper: Edge, axis: MapAxis) -> Following | None:
    """The next limit, of another kind, that is met above an upper end."""
    above = upper.low <= GRID
    met: dict[str, float] = {}
    for key, margins in zip(profile.keys, profile.margins, strict=True):
        short = np.flatnonzero(above & (margins < 0))
        if short.size and family(key) != family(upper.limit):
            met[key] = float(GRID[short[0]])
    blocked = np.flatnonzero(above & (profile.clear < 0))
    if blocked.size and profile.limiting(int(blocked[0])) != upper.limit:
        met[profile.limiting(int(blocked[0]))] = float(GRID[blocked[0]])
    if not met:
        return None
    key = min(met, key=lambda name: (met[name], name))
    return Following(key, axis.number(met[key]), abs(met.get(twin(key), 9.0) - met[key]) < ALIKE / 2)
