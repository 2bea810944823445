# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether two results show one periodic state, and how far a path of results leaves a straight line."""

from __future__ import annotations

import re

from heatsim.studies.points.point import Point, PointResult

SAME = {"tank.frequency_hz": 0.005, "tank.peak_voltage_v": 0.01, "supply.mean_current_a": 0.03}
"""Largest difference between a followed state and a cold start that came to the same one. A cold start that counts as
settled may still move by a few parts in a thousand, most of all its supply current."""

SAME_CHOKE = 0.05
"""The same for the peak currents of the chokes."""


def same_state(one: PointResult, other: PointResult) -> bool:
    """Whether two results of one point show the same periodic state."""
    for key, most in _tolerances(one).items():
        a, b = one.measures.get(key), other.measures.get(key)
        if not isinstance(a, float) or not isinstance(b, float) or abs(a - b) > most * max(abs(a), abs(b)):
            return False
    return True


def departure(one: PointResult, two: PointResult, three: PointResult, step: float) -> float:
    """By how much a third point leaves the line through two others, `step` times their distance on: the largest, over what
    counts as the same state [1].
    """
    sizes = [0.0]
    for key, most in _tolerances(three).items():
        a, b, c = (each.measures.get(key) for each in (one, two, three))
        if isinstance(a, float) and isinstance(b, float) and isinstance(c, float) and c:
            sizes.append(abs(c - b - step * (b - a)) / (most * abs(c)))
    return max(sizes)


def _tolerances(result: PointResult) -> dict[str, float]:
    """Measures by which states are told from one another -> largest relative difference."""
    chokes = (key for key in result.measures if key.startswith("choke.") and key.endswith(".peak_current_a"))
    return SAME | dict.fromkeys(chokes, SAME_CHOKE)


def relative_step(a: Point, b: Point, c: Point) -> float | None:
    """(c - b)/(b - a) along the one field in which three points differ; None when it is not one, or no number."""
    differ = [k for k, (x, y, z) in enumerate(zip(a.fields, b.fields, c.fields, strict=True)) if not x == y == z]
    if len(differ) != 1:
        return None
    texts = [str(point.fields[differ[0]][1]) for point in (a, b, c)]
    parts = [re.fullmatch(r"([-+0-9.eE]+) ?(\D*)", text) for text in texts]
    if not all(parts) or len({part.group(2) for part in parts if part}) != 1:
        return None
    x, y, z = (float(part.group(1)) for part in parts if part)
    return (z - y) / (y - x) if y != x and abs(z - y) <= 2 * abs(y - x) else None


def same_step(before: Point, beside: Point, latest: Point, point: Point) -> bool:
    """Whether four points are the corners of a rectangle of the grid, walked round: from `latest` to `point` it is as from `beside`
    back to `before`.
    """
    corners = (
        (a[1], b[1], c[1], d[1]) for a, b, c, d in zip(before.fields, beside.fields, latest.fields, point.fields, strict=True)
    )
    return all(d == c and a == b or d == a and c == b for a, b, c, d in corners)
