# SPDX-License-Identifier: GPL-3.0-or-later
"""A laid out circuit as SVG, each symbol a group of its own, and as PNG."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Literal

from heatsim.report.base.style import INK, LIMIT, PAPER
from heatsim.report.circuit.sheet import SIZE, Sheet
from heatsim.report.circuit.strokes import Anchor, Place, Stroke, Text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDTH = 22.0
"""Of the picture [units]."""

UNIT = 36.0
"""Pixels of a unit."""

DPI = 96
"""Pixels an inch of the PNG, in which a pixel of the SVG is a point."""

FAILS, MARGINAL = LIMIT, "#8f6a00"
"""Colours of the marks."""

Style = Literal["value", "simulated", "fails", "marginal"]

COLOURS: dict[Style, str] = {"value": INK, "simulated": INK, "fails": FAILS, "marginal": MARGINAL}


@dataclass(frozen=True)
class Line:
    """A line of words; kind: what it tells; at: beginning, middle or end of its baseline, as `anchor` says."""

    text: str
    kind: Style
    at: Place
    anchor: Anchor = "start"


@dataclass(frozen=True)
class Drawing:
    """A sheet with its words. frames: round what fails or only just holds, with the sign at their corner; elements: of the netlist,
    by symbol.
    """

    sheet: Sheet
    lines: tuple[Line, ...]
    frames: tuple[tuple[Stroke, str], ...]
    heading: str
    elements: Mapping[str, tuple[str, ...]]

    @property
    def top(self) -> float:
        """Height of the upper edge [units]."""
        return max(text.at[1] for text, _ in self.texts) + 0.6

    @property
    def bottom(self) -> float:
        """Height of the lower edge [units]."""
        return min(text.at[1] for text, _ in self.texts) - 0.5

    @property
    def strokes(self) -> list[Stroke]:
        """Every line of it, those of the frames last."""
        return [
            *self.sheet.wires,
            *(stroke for symbol in self.sheet.symbols for stroke in symbol.strokes),
            *(frame for frame, _ in self.frames),
        ]

    @property
    def texts(self) -> list[tuple[Text, bool]]:
        """Every text, and whether it is slanted."""
        found = [(word, False) for word in self.sheet.texts]
        for line in self.lines:
            bold = line.kind in ("fails", "marginal")
            found.append((Text(line.at, line.text, SIZE, COLOURS[line.kind], line.anchor, bold), line.kind == "simulated"))
        signs = (
            Text((frame.points[2][0], frame.points[2][1] + 0.1), sign, SIZE, frame.color, "end", True)
            for frame, sign in self.frames
        )
        return [*found, *((sign, False) for sign in signs)]


def as_svg(drawing: Drawing) -> str:
    """The picture as SVG; a symbol's title names the elements of the netlist that it stands for."""
    width, height, top = WIDTH * UNIT, (drawing.top - drawing.bottom) * UNIT, -drawing.top * UNIT
    told = escape(". ".join(line.text for line in drawing.lines))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" viewBox="0 {top:g} {width:g} {height:g}" '
        f'font-family="DejaVu Sans, Verdana, sans-serif" font-size="{SIZE:g}" role="img">',
        f"<title>{escape(drawing.heading)}</title><desc>{told}</desc>",
        f'<rect y="{top:g}" width="{width:g}" height="{height:g}" style="fill:{PAPER}"/>',
        *map(_path, drawing.sheet.wires),
    ]
    for symbol in drawing.sheet.symbols:
        names = ", ".join(drawing.elements.get(symbol.name, ()))
        title = f"<title>in the netlist: {escape(names)}</title>" if names else ""
        parts.append(f'<g data-part="{escape(symbol.name)}">{title}{"".join(map(_path, symbol.strokes))}</g>')
    parts += [_path(frame) for frame, _ in drawing.frames] + [_text(*each) for each in drawing.texts]
    return "\n".join([*parts, "</svg>", ""])


def _pixel(place: Place) -> tuple[float, float]:
    return place[0] * UNIT, -place[1] * UNIT


def _path(stroke: Stroke) -> str:
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(_pixel, stroke.points))
    dash = f";stroke-dasharray:{','.join(f'{length:g}' for length in stroke.dash)}" if stroke.dash else ""
    look = f"fill:{stroke.fill or 'none'};stroke:{stroke.color};stroke-width:{stroke.width:g};stroke-linejoin:round{dash}"
    return f'<polyline points="{points}" style="{look}"/>'


def _text(text: Text, slanted: bool) -> str:
    """A line of text with a rim of paper, so that a wire behind it does not strike it out."""
    (x, y), look = _pixel(text.at), f"fill:{text.color};stroke:{PAPER};stroke-width:3;paint-order:stroke;text-anchor:{text.anchor}"
    look += (";font-style:italic" if slanted else "") + (";font-weight:bold" if text.bold else "")
    return f'<text x="{x:.1f}" y="{y:.1f}" style="{look}">{escape(text.text)}</text>'


def as_png(drawing: Drawing) -> bytes:
    """The same as PNG: all lines at once, for a call a line costs more than the drawing."""
    from heatsim.report.base import pictures

    with pictures.new_figure(WIDTH * UNIT / 72, (drawing.top - drawing.bottom) * UNIT / 72) as figure:
        ax = figure.add_axes((0, 0, 1, 1))
        ax.set_axis_off()
        ax.set(xlim=(0, WIDTH), ylim=(drawing.bottom, drawing.top))
        _add_strokes(ax, drawing.strokes)
        for text, slanted in drawing.texts:
            side = {"start": "left", "middle": "center", "end": "right"}[text.anchor]
            style, weight = "italic" if slanted else "normal", "bold" if text.bold else "normal"
            ax.text(*text.at, text.text, color=text.color, ha=side, fontsize=text.size, fontstyle=style, fontweight=weight)
    return pictures.as_png(figure, DPI)


def _add_strokes(ax: Axes, strokes: list[Stroke]) -> None:
    from matplotlib.collections import LineCollection, PolyCollection

    filled = [stroke for stroke in strokes if stroke.fill]
    dashes = [(0, stroke.dash) if stroke.dash else "solid" for stroke in strokes]
    colors, widths = [stroke.color for stroke in strokes], [stroke.width for stroke in strokes]
    lines = LineCollection([list(stroke.points) for stroke in strokes], linestyles=dashes, colors=colors, linewidths=widths)
    fills, edges = [stroke.fill for stroke in filled], [stroke.color for stroke in filled]
    ax.add_collection(lines, autolim=False)
    ax.add_collection(PolyCollection([list(stroke.points) for stroke in filled], facecolors=fills, edgecolors=edges), autolim=False)
