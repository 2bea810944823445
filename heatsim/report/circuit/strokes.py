# SPDX-License-Identifier: GPL-3.0-or-later
"""Symbols as lines: what a symbol of schemdraw consists of, placed, as polylines that SVG and PNG are written from."""

from __future__ import annotations

import importlib
import math
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from types import ModuleType
from typing import Any, Literal

from heatsim.report.base.style import INK, PAPER

Place = tuple[float, float]
Anchor = Literal["start", "middle", "end"]

ARC_STEP = 15.0
"""Largest angle of a chord by which an arc is drawn [degrees]."""

MIRRORED: dict[Anchor, Anchor] = {"start": "end", "middle": "middle", "end": "start"}


@dataclass(frozen=True)
class Stroke:
    """A line through places [units of the drawing, y upwards]; fill: of the area inside, none when empty."""

    points: tuple[Place, ...]
    color: str = INK
    width: float = 1.6
    fill: str = ""
    dash: tuple[float, ...] = ()

    def scaled(self, centre: Place, factor: float) -> Stroke:
        """The same, larger by a factor round a centre."""
        a, b = centre
        return replace(self, points=tuple((a + factor * (x - a), b + factor * (y - b)) for x, y in self.points))


@dataclass(frozen=True)
class Text:
    """One line of text whose baseline begins, is centred or ends at a place."""

    at: Place
    text: str
    size: float
    color: str = INK
    anchor: Anchor = "start"
    bold: bool = False


def symbol_strokes(kind: str, start: Place, end: Place | None = None, color: str = INK, **options: Any) -> tuple[Stroke, ...]:
    """The lines of a symbol.

    kind: its name in `schemdraw.elements`; start, end: of its leads, the whole symbol; a MOSFET has its drain at the start;
    options: of the symbol
    """
    across = None if end is None else (round(end[0] - start[0], 9), round(end[1] - start[1], 9))
    x, y = start
    return tuple(
        replace(
            each, points=tuple((x + a, y + b) for a, b in each.points), color=color, fill=color if each.fill == INK else each.fill
        )
        for each in _shape(kind, across, tuple(sorted(options.items())))
    )


@lru_cache(maxsize=256)
def _shape(kind: str, across: Place | None, options: tuple[tuple[str, Any], ...]) -> tuple[Stroke, ...]:
    """A symbol that begins at the origin, in ink: the two halves of a circuit and all its cases share them."""
    schemdraw, elements = _library()
    element: Any = getattr(elements, kind)(**dict(options))
    element = element.at((0, 0)).to(across) if across is not None else element.at((0, 0)).anchor("drain")
    drawing = schemdraw.Drawing(show=False)
    drawing.add(element)
    return tuple(stroke for segment in drawing.get_segments() for stroke in _strokes(segment, INK))


@lru_cache
def _library() -> tuple[ModuleType, ModuleType]:
    """schemdraw and its elements. It is told that it has no matplotlib: of that it would load what looks for a screen to draw on,
    which takes twenty times as long as all the rest.
    """
    canvas = "schemdraw.backends.mpl"
    alone = canvas not in sys.modules
    if alone:
        sys.modules[canvas] = None  # type: ignore[assignment]
    try:
        return importlib.import_module("schemdraw"), importlib.import_module("schemdraw.elements")
    finally:
        if alone:
            del sys.modules[canvas]


def ring(x: float, y: float) -> Stroke:
    """A small ring round a node."""
    return Stroke(_arc((x, y), 0.32, 0.32, 0.0, 360.0), width=1.0)


def _strokes(segment: Any, color: str) -> list[Stroke]:
    """One segment of an element: a path with gaps, a polygon, a circle or an arc."""
    from schemdraw.segments import Segment, SegmentArc, SegmentCircle, SegmentPoly

    if isinstance(segment, SegmentCircle):
        outline = _arc(segment.center, 2 * segment.radius, 2 * segment.radius, 0.0, 360.0)
        return [Stroke(outline, color, fill=PAPER if segment.fill == "bg" else "")]
    if isinstance(segment, SegmentArc):
        turned = _turned(_arc((0.0, 0.0), segment.width, segment.height, segment.theta1, segment.theta2), segment.angle)
        return [Stroke(tuple((x + segment.center[0], y + segment.center[1]) for x, y in turned), color)]
    if isinstance(segment, SegmentPoly):
        places = _places(segment.verts)
        return [Stroke((*places, places[0]) if segment.closed else places, color)]
    if not isinstance(segment, Segment):
        raise TypeError(f"a circuit has no {type(segment).__name__}")
    found = [Stroke(piece, color) for piece in _pieces(segment.path)]
    ends = {"->": (-1, -2), "<-": (0, 1)}.get(segment.arrow or "")
    return [*found, _head(segment.path[ends[0]], segment.path[ends[1]], color)] if ends else found


def _places(points: Iterable[Sequence[float]]) -> tuple[Place, ...]:
    return tuple((float(x), float(y)) for x, y in points)


def _pieces(path: Iterable[Sequence[float]]) -> list[tuple[Place, ...]]:
    """A path cut where it has gaps, which are written as NaN."""
    pieces: list[list[Place]] = [[]]
    for place in _places(path):
        if math.isnan(place[0]):
            pieces.append([])
        else:
            pieces[-1].append(place)
    return [tuple(piece) for piece in pieces if len(piece) > 1]


def _arc(center: Sequence[float], width: float, height: float, begin: float, end: float) -> tuple[Place, ...]:
    """Places along an ellipse from one angle to another [degrees]."""
    while end <= begin:
        end += 360.0
    steps = max(2, math.ceil((end - begin) / ARC_STEP))
    angles = [math.radians(begin + (end - begin) * k / steps) for k in range(steps + 1)]
    return tuple((center[0] + width / 2 * math.cos(a), center[1] + height / 2 * math.sin(a)) for a in angles)


def _turned(points: Iterable[Place], degrees: float) -> tuple[Place, ...]:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return tuple((c * x - s * y, s * x + c * y) for x, y in points)


def _head(tip: Sequence[float], tail: Sequence[float], color: str) -> Stroke:
    """An arrow's head."""
    angle = math.degrees(math.atan2(tip[1] - tail[1], tip[0] - tail[0]))
    corners = _turned(((0.0, 0.0), (-0.2, 0.09), (-0.2, -0.09), (0.0, 0.0)), angle)
    return Stroke(tuple((x + float(tip[0]), y + float(tip[1])) for x, y in corners), color, 1.0, color)
