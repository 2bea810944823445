# SPDX-License-Identifier: GPL-3.0-or-later
"""Maps on pages that can be zoomed and read with the pointer: cells by colour with their scale, lines, marks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from heatsim.report.base.maps import ON_MAP, UNDER
from heatsim.report.base.models import Model, Pairs, Plot, column, data_source, value
from heatsim.report.base.scheme import SCHEME
from heatsim.report.base.style import FAINT, INK
from heatsim.report.base.zoom import DASHES, FONT, Axis, Reading, embedded, frame, hover, plain_text, tick_text
from heatsim.waves import Array

HEIGHT = 420
"""Of a map [px]."""


@dataclass(frozen=True)
class Cells:
    """Values of cells. x, y: their middles, growing, shape (n,) and (m,); values: shape (m, n), NaN where there is none; name and
    unit: of the values; palette: colours from `low` to `high`, in even steps.
    """

    x: Array
    y: Array
    values: Array
    name: str
    unit: str
    palette: Sequence[str]
    low: float
    high: float


@dataclass(frozen=True)
class Boundary:
    """A line on a map, such as round a region. name: read at the pointer; x, y: its points, shape (n,); NaN interrupts it."""

    name: str
    x: Array
    y: Array
    color: str = ON_MAP
    dash: str = "solid"
    width: float = 2.0


@dataclass(frozen=True)
class Mark:
    """A place on a map. name: read at the pointer; sign: as Bokeh names it, such as "x", "circle", "diamond"."""

    name: str
    x: float
    y: float
    sign: str = "circle"
    color: str = ON_MAP


@dataclass(frozen=True)
class Note:
    """Words on a map, such as what ends a region. x, y: their middle; of: the place they are about, where it is another."""

    text: str
    x: float
    y: float
    of: tuple[float, float] | None = None


def zoomable_map(
    cells: Cells,
    about: str,
    along: Axis,
    upward: Axis,
    more: Mapping[tuple[str, str | None], Any] | None = None,
    boundaries: Sequence[Boundary] = (),
    marks: Sequence[Mark] = (),
    ticks: tuple[Mapping[float, str] | None, Mapping[float, str] | None] = (None, None),
    ends: tuple[tuple[float, float], tuple[float, float]] | None = None,
    notes: Sequence[Note] = (),
) -> str:
    """A map, to be put into a page whose head has `zoom.script()`.

    about: what is shown, for those who cannot see it; more: (name, unit) -> what else is read of each cell, shape (m, n), numbers
    or, with None for a unit, texts; ticks: place -> text along and upward, numbers by default; ends: of what is shown along and
    upward, by default the outer edges of the cells; notes: words on it.
    """
    (left, right), (bottom, top) = ends or (_edges(each)[[0, -1]] for each in (cells.x, cells.y))
    across, up = (Model("Range1d", start=low, end=high, bounds=(low, high)) for low, high in ((left, right), (bottom, top)))
    plot = frame(cells.name, upward, along, across, up, HEIGHT)
    for side, texts in zip(("below", "left"), ticks, strict=True):
        if texts is not None:
            names = Pairs({place: plain_text(text) for place, text in texts.items()})
            plot.properties[side][0].update(ticker=Model("FixedTicker", ticks=sorted(texts)), major_label_overrides=names)
    _cells(plot, cells, (along, upward), more or {})
    for boundary in boundaries:
        _boundary(plot, boundary)
    _marks(plot, marks)
    _notes(plot, notes)
    return embedded([plot], about)


def _edges(middles: Array) -> Array:
    """Edges of cells round their middles."""
    if middles.size == 1:
        return np.array([middles[0] - 0.5, middles[0] + 0.5])
    between = (middles[1:] + middles[:-1]) / 2
    return np.concatenate([[2 * middles[0] - between[0]], between, [2 * middles[-1] - between[-1]]])


def _cells(plot: Plot, cells: Cells, axes: tuple[Axis, Axis], more: Mapping[tuple[str, str | None], Any]) -> None:
    """The cells, what is read of them, and the scale of their colours."""
    across, up = _edges(cells.x), _edges(cells.y)
    rows, columns = (each.ravel() for each in np.indices(cells.values.shape))
    data: dict[str, Any] = {"left": across[columns], "right": across[columns + 1], "bottom": up[rows], "top": up[rows + 1]}
    data |= {"x": cells.x[columns], "y": cells.y[rows], "value": np.ravel(cells.values)}
    data = {name: np.asarray(column, dtype=np.float32) for name, column in data.items()}
    readings = [Reading("x", axes[0].label, axes[0].unit), Reading("y", axes[1].label, axes[1].unit)]
    readings.append(Reading("value", cells.name, cells.unit))
    for number, ((name, unit), values) in enumerate(more.items()):
        flat = np.ravel(np.asarray(values, dtype=object if unit is None else np.float32))
        data[f"more{number}"] = [str(each) for each in flat] if unit is None else flat
        readings.append(Reading(f"more{number}", name, unit))
    palette = [_kept(color) for color in cells.palette]
    mapper = Model("LinearColorMapper", palette=palette, low=cells.low, high=cells.high, nan_color="rgba(0, 0, 0, 0)")
    color, sides = column("value", transform=mapper), {side: column(side) for side in ("left", "right", "bottom", "top")}
    glyph = Model("Quad", **sides, fill_color=color, line_color=color, line_width=value(1.2))
    plot.add_tools(hover(readings, [plot.add_glyph(data_source(data), glyph)]))
    bar = Model("ColorBar", color_mapper=mapper, width=14, padding=4, label_standoff=6, background_fill_color=None)
    bar.update(formatter=tick_text(cells.unit))
    bar.update(major_label_text_color=INK, major_label_text_font=FONT, major_label_text_font_size="12px", bar_line_color=FAINT)
    bar.update(major_tick_line_color=FAINT)
    plot.add_layout(bar, "right")


def _kept(color: str) -> str:
    """A colour as it is, on dark paper too: one of the scheme's own would change there, so it is moved by what no eye sees."""
    if color.lower() not in SCHEME:
        return color
    blue = int(color[5:7], 16)
    return f"{color[:5]}{blue - 1 if blue else 1:02x}"


def _boundary(plot: Plot, boundary: Boundary) -> None:
    """A line with a pale rim, read at the pointer."""
    source = data_source({"x": np.asarray(boundary.x, dtype=np.float32), "y": np.asarray(boundary.y, dtype=np.float32)})
    place = {"x": column("x"), "y": column("y")}
    plot.add_glyph(source, Model("Line", **place, line_color="#fffffe", line_width=boundary.width + 2, line_alpha=0.8))
    look = {"line_color": boundary.color, "line_dash": DASHES[boundary.dash], "line_width": boundary.width}
    drawn = plot.add_glyph(source, Model("Line", **place, **look))
    plot.add_tools(_named(boundary.name, drawn))


def _marks(plot: Plot, marks: Sequence[Mark]) -> None:
    for mark in marks:
        source = data_source({"x": [mark.x], "y": [mark.y]})
        look = {"marker": mark.sign, "size": 11, "fill_color": mark.color, "line_color": "#fffffe", "line_width": 1.5}
        glyph = Model("Scatter", x=column("x"), y=column("y"), **{name: value(each) for name, each in look.items()})
        plot.add_tools(_named(mark.name, plot.add_glyph(source, glyph)))


def _notes(plot: Plot, notes: Sequence[Note]) -> None:
    """Words with pale ground, and a line to what they are about."""
    look: dict[str, Any] = {"text_color": ON_MAP, "text_font": FONT, "text_font_size": "13px", "text_line_height": 1.15}
    look |= {"text_align": "center", "text_baseline": "middle", "background_fill_color": UNDER, "background_fill_alpha": 0.85}
    for note in notes:
        if note.of is not None:
            source = data_source({"x": [note.x], "y": [note.y], "of_x": [note.of[0]], "of_y": [note.of[1]]})
            line = {"x0": column("x"), "y0": column("y"), "x1": column("of_x"), "y1": column("of_y")}
            plot.add_glyph(source, Model("Segment", **line, line_color=value(ON_MAP), line_width=value(1)))
            dot = {"x": column("of_x"), "y": column("of_y"), "size": value(5)}
            plot.add_glyph(source, Model("Scatter", **dot, fill_color=value(ON_MAP), line_color=value(ON_MAP)))
        text = "\n".join(map(plain_text, note.text.split("\n")))
        plot.add_layout(Model("Label", x=note.x, y=note.y, text=text, padding=3, **look))


def _named(name: str, drawn: Any) -> Any:
    """Reading of a name alone; its button is not shown."""
    made = hover([Reading("", name, None)], [drawn], beside="vertical")
    made.update(visible=False)
    return made
