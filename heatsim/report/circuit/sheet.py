# SPDX-License-Identifier: GPL-3.0-or-later
"""The sheet that a circuit is laid out on: symbols with their names, wires, and where the words of each part go."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

from heatsim.report.base.style import INK
from heatsim.report.circuit.strokes import MIRRORED, Anchor, Place, Stroke, Text, symbol_strokes

AXIS = 11.0
"""Between the left and the right half [units]."""

SIZE = 12.0
"""Of the letters, in pixels of the picture."""


@dataclass(frozen=True)
class Words:
    """Where the lines of a part go: baseline of the first, or of the last when they grow upwards; width: room [units]."""

    at: Place
    width: float
    anchor: Anchor = "start"
    upwards: bool = False


@dataclass(frozen=True)
class Symbol:
    """A part as drawn; name: as in `table`."""

    name: str
    strokes: tuple[Stroke, ...]

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least x and y, greatest x and y of its lines."""
        x, y = zip(*(point for stroke in self.strokes for point in stroke.points), strict=True)
        return min(x), min(y), max(x), max(y)


LOWER = -19.6
"""Height below which everything is moved down where the words above need room."""


@dataclass
class Sheet:
    """What is on it so far. words: by name of a symbol, or of several alike without their sides; drop: how far everything below
    `LOWER` is moved down [units]. Inside `half("left")` everything is put down as its image across `AXIS`.
    """

    drop: float = 0.0
    symbols: list[Symbol] = field(default_factory=list)
    words: dict[str, Words] = field(default_factory=dict)
    wires: list[Stroke] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    left: bool = False

    @contextmanager
    def half(self, side: str) -> Iterator[None]:
        """Put down for this side what is laid out for the right one."""
        self.left = side == "left"
        yield
        self.left = False

    def part(
        self, name: str, kind: str, start: Place, end: Place, words: Words | None = None, color: str = INK, **options: Any
    ) -> None:
        """A symbol of schemdraw between two places, and where its words go; options: of the symbol."""
        self.lines(name, *symbol_strokes(kind, start, end, color, **options), words=words)

    def lines(self, name: str, *strokes: Stroke, words: Words | None = None) -> None:
        """A symbol made of lines of our own."""
        if words is not None:
            self.say(name, words)
        self.symbols.append(Symbol(name, tuple(map(self._put, strokes))))

    def say(self, name: str, words: Words) -> None:
        """Where the words of a symbol go."""
        self.words[name] = replace(words, at=self._at(words.at), anchor=MIRRORED[words.anchor] if self.left else words.anchor)

    def wire(self, *points: Place, width: float = 1.6) -> None:
        """A wire through these places."""
        self.wires.append(self._put(Stroke(points, width=width)))

    def dot(self, *places: Place) -> None:
        """Where wires are joined."""
        for x, y in places:
            corners = tuple((x + a, y + b) for a, b in ((0.09, 0), (0.06, 0.06), (0, 0.09), (-0.06, 0.06), (-0.09, 0)))
            below = tuple((px, 2 * y - py) for px, py in reversed(corners))
            self.wires.append(self._put(Stroke((*corners, *below), fill=INK, width=0.8)))

    def ground(self, *places: Place) -> None:
        """The common ground at each place."""
        for x, y in places:
            for half, down in ((0.3, 0.0), (0.2, 0.12), (0.1, 0.24)):
                self.wire((x - half, y - down), (x + half, y - down))

    def word(self, at: Place, text: str, anchor: Anchor = "start", color: str = INK) -> None:
        """A word that stands by itself, such as the name of a net."""
        self.texts.append(Text(self._at(at), text, SIZE, color, MIRRORED[anchor] if self.left else anchor))

    def _put(self, stroke: Stroke) -> Stroke:
        return replace(stroke, points=tuple(map(self._at, stroke.points)))

    def _at(self, place: Place) -> Place:
        x, y = place
        return 2 * AXIS - x if self.left else x, y - self.drop if y < LOWER else y
