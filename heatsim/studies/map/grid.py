# SPDX-License-Identifier: GPL-3.0-or-later
"""A map as arrays on an even grid, for pictures: headroom, usable or not, and which limit ends it there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from heatsim.studies.map.column import GRID, Profile
from heatsim.studies.map.model import MapModel
from heatsim.studies.map.surface import Surface, relaxed
from heatsim.waves import Array

ACROSS, STEP = 161, 10
"""Columns of the grid, and every how many-th place of a profile is a row."""

BOUND = 1.5
"""Headrooms beyond this are cut; interpolated ones can be anything far away from points."""


@dataclass(frozen=True)
class MapGrid:
    """Rows from bottom to top, columns from left to right.

    u, v: places; least: headroom, NaN where there is none; spare: headroom beyond what is wanted of each limit; margin:
    not negative where it is usable; ends: index into `labels` of what ends it on the way there from the usable stretch next to
    it, -1 where it is usable; blocked: where there is no headroom because the circuit is dead or latched, or was not judged.
    """

    u: Array
    v: Array
    least: Array
    spare: Array
    margin: Array
    blocked: Array
    ends: Array
    labels: tuple[str, ...]


def map_grid(result: MapModel) -> MapGrid:
    """The grid of a map."""
    surface, us, v = result.surface, np.linspace(0.0, 1.0, ACROSS), GRID[::STEP]
    wanted = np.array([result.wanted_of(key) for key in surface.keys])[:, None]
    labels: dict[str, int] = {}
    columns = []
    for u in us:
        profile = result.predicted(float(u))
        margins = _margins(result.sides, u, v, profile.least[::STEP] >= 0)
        columns.append((*_column(profile, margins, wanted), _ends(profile, v, labels)))
    least, spare, margin, blocked, ends = (np.array(part).T for part in zip(*columns, strict=True))
    return MapGrid(us, v, least, spare, margin, blocked, ends, tuple(labels))


def _margins(sides: tuple[Surface, Surface], u: float, v: Array, usable: Any) -> Array:
    """Headroom of each limit along a column."""
    first, second = (relaxed(side.at(np.full(len(v), u), v)) if side.known else np.full((1, len(v)), np.nan) for side in sides)
    return first if sides[0] is sides[1] else np.where(usable, first, second)


def _column(profile: Profile, margins: Array, wanted: Array) -> tuple[Array, Array, Array, Array]:
    """Headroom, headroom beyond the wanted, margin and blocked along one column; their signs are those predicted."""
    margin = profile.least[::STEP]
    usable = margin >= 0
    blocked = (profile.clear[::STEP] < 0) & bool(len(profile.margins)) | np.isnan(margins.min(axis=0))
    least = np.clip(margins.min(axis=0), np.where(usable, 0.0, -BOUND), np.where(usable, BOUND, -1e-9))
    spare = np.where(usable, (margins - (wanted if len(wanted) else 0.0)).min(axis=0), -BOUND)
    return np.where(blocked, np.nan, least), np.where(blocked, -BOUND, spare), margin, blocked


def _ends(profile: Profile, v: Array, labels: dict[str, int]) -> Array:
    """Which label holds at each row of a column."""
    ends = np.full(len(v), -1)
    course = profile.course()
    if not course.edges and not course.usable:
        ends[:] = labels.setdefault(profile.limiting(int(np.argmax(profile.least))), len(labels))
    for place, edge in enumerate(course.edges):
        label = labels.setdefault(edge.limit, len(labels))
        if edge.upward:
            stop = course.edges[place + 1].at if place + 1 < len(course.edges) else 2.0
            stop = 0.5 * (edge.at + stop) if stop <= 1.0 else stop
            ends[(v > edge.at) & (v <= stop)] = label
        else:
            start = course.edges[place - 1].at if place else -1.0
            start = 0.5 * (edge.at + start) if start >= 0.0 else start
            ends[(v < edge.at) & (v > start)] = label
    return ends
