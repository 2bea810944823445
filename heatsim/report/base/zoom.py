# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures on pages that can be zoomed and read with the pointer, drawn by Bokeh, whose script is written into the page.

A page has `script()` once in its head, and what `zoomable_traces` or `zoom_map.zoomable_map` return where the picture belongs,
both marked as safe.
Without script, and on paper, the picture that stands still (class `still` in `base.css`) is shown instead.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from heatsim.report.base.models import Model, Plot, bokeh_script, column, data_source, value
from heatsim.report.base.style import FAINT, INK, LIMIT, PAPER
from heatsim.report.base.thin import thinned
from heatsim.report.base.zoom_frame import FONT, Axis, Reading, embedded, frame, hover, plain_text, tick_text
from heatsim.waves import Array

__all__ = [
    "FONT",
    "HOW",
    "MOST",
    "Axis",
    "Level",
    "Line",
    "Panel",
    "Reading",
    "embedded",
    "frame",
    "hover",
    "plain_text",
    "script",
    "tick_text",
    "zoomable_traces",
]

HOW = (
    "Drag a box to zoom in; with Ctrl the wheel zooms at the pointer; a double click goes back. Where lines "
    "are named above, a click on a name takes its line away or brings it back."
)
"""What can be done with such a picture, to be said once on a page."""

MOST = 4000
"""Samples of a line that are kept on a page; of more, the least and greatest of each slice of time."""

TIME = Axis("time")

REACH = 1.9
"""A level is drawn where it lies no further from zero than so many times the lines."""

DOTTED = [2, 4]
"""Dashes of the line at the pointer [px]."""

DASHES: Mapping[str, list[int]] = {"solid": [], "dashed": [6], "dotted": DOTTED, "dotdash": [2, 4, 6, 4], "dashdot": [6, 4, 2, 4]}
"""Those of lines, by name."""

LEGEND = 22
"""Height of a line of a legend [px]."""

ROOM = 0.07
"""Share of the height left free above and below."""


@dataclass(frozen=True)
class Line:
    """name: in legend and reading; x, y: samples, shape (n,), x growing; dash: as Bokeh names it; shown: False takes a click on
    its name to appear; fill: name of a line of the panel up to which the area is filled.
    """

    name: str
    x: Array
    y: Array
    color: str = INK
    dash: str = "solid"
    width: float = 1.6
    shown: bool = True
    fill: str = ""


@dataclass(frozen=True)
class Level:
    """A value marked across the panel, such as a rating; where it lies far off it is said in the title."""

    value: float
    name: str
    color: str = LIMIT


@dataclass(frozen=True)
class Panel:
    """Lines over one another. unit: of their values; height: of the lines alone [px]."""

    title: str
    unit: str
    lines: Sequence[Line]
    levels: Sequence[Level] = field(default=())
    height: int = 150


def script() -> str:
    """What a page with zoomable pictures needs in its head, once: Bokeh without tables, widgets or WebGL, and `zoom.js`."""
    own = Path(__file__).with_name("zoom.js").read_text(encoding="utf-8")
    return f"<script>{bokeh_script()}</script>\n<script>{own}</script>"


def zoomable_traces(
    panels: Sequence[Panel],
    about: str,
    along: Axis = TIME,
    view: tuple[float, float] | None = None,
    marks: Mapping[str, float] | None = None,
    most: int = MOST,
) -> str:
    """Panels below one another with one axis along, to be put into a page.

    about: what is shown, for those who cannot see it; view: start and end that are shown at first, all by default; marks: name ->
    place along the axis, drawn upright through all panels; most: samples of a line that are kept. Panels without lines are left
    out; empty without any.
    """
    drawn = [panel for panel in panels if panel.lines]
    if not drawn:
        return ""
    ends = (min(float(line.x[0]) for panel in drawn for line in panel.lines), _last(drawn))
    start, end = view or ends
    shared = Model("Range1d", start=start, end=end, bounds=ends)
    pointer = Model("Span", dimension="height", line_color=FAINT, line_dash=DOTTED)
    plots = [_traces(panel, shared, pointer, along, panel is drawn[-1], most) for panel in drawn]
    for plot in plots:
        _marks(plot, marks or {}, 0.5 * (start + end), plot is plots[0])
    return embedded(plots, about)


def _last(panels: Sequence[Panel]) -> float:
    return max(float(line.x[-1]) for panel in panels for line in panel.lines)


def _traces(panel: Panel, shared: Model, pointer: Model, along: Axis, lowest: bool, most: int) -> Plot:
    """One panel."""
    low, high, beyond = _reach(panel)
    x, columns = thinned([(line.x, line.y) for line in panel.lines], most)
    data = {f"y{number}": column.astype(np.float32) for number, column in enumerate(columns)}
    source = data_source({"x": _short(x), "edge": _short(_between(x)), "cursor": np.zeros(x.size, dtype=np.int8)} | data)
    title = "; ".join([panel.title, *(f"{each.name}: {_where(each)} this picture" for each in beyond)])
    upward = Model("Range1d", start=low, end=high, bounds=_wider(low, high))
    height = panel.height + LEGEND * _rows(panel.lines)[1]
    plot = frame(title, Axis("", panel.unit), along, shared, upward, height, lowest)
    _levels(plot, [level for level in panel.levels if level not in beyond])
    _legend(plot, panel, [_line(plot, source, panel, number) for number in range(len(panel.lines))])
    plot.add_tools(_hover(plot, source, panel, along), Model("CrosshairTool", overlay=pointer))
    return plot


def _between(x: Array) -> Array:
    """Places half way to the sample before each; the ends stay."""
    return np.concatenate([x[:1], 0.5 * (x[:-2] + x[1:-1]), x[-1:]]) if x.size > 1 else x


def _short(x: Array) -> Any:
    """Places in half the room where that is fine enough to keep neighbours apart."""
    short = x.astype(np.float32)
    return short if x.size < 2 or float(np.max(np.abs(short - x))) < 0.02 * float(np.median(np.diff(x))) else x


def _reach(panel: Panel) -> tuple[float, float, list[Level]]:
    """Bottom and top of a panel, and the levels that lie beyond."""
    told = np.concatenate([line.y[np.isfinite(line.y)] for line in panel.lines])
    low, high = (float(told.min()), float(told.max())) if told.size else (0.0, 1.0)
    beyond = [each for each in panel.levels if not min(low, 0.0) * REACH <= each.value <= max(high, 0.0) * REACH]
    drawn = [each.value for each in panel.levels if each not in beyond]
    low, high = min([low, *drawn]), max([high, *drawn])
    room = ROOM * ((high - low) or abs(high) or 1.0)
    return low - room, high + room, beyond


def _where(level: Level) -> str:
    return "above" if level.value > 0 else "below"


def _wider(low: float, high: float) -> tuple[float, float]:
    """How far one may move from there."""
    return 2 * low - high, 2 * high - low


def _line(plot: Plot, source: Model, panel: Panel, number: int) -> list[Model]:
    """A line, with the area up to another one where it has one."""
    line, found = panel.lines[number], []
    names = [each.name for each in panel.lines]
    if line.fill:
        ends = {"x": column("x"), "y1": column(f"y{number}"), "y2": column(f"y{names.index(line.fill)}")}
        area = Model("VArea", **ends, fill_color=line.color, fill_alpha=0.25)
        found.append(plot.add_glyph(source, area, visible=line.shown))
    look = {"line_color": line.color, "line_dash": DASHES[line.dash], "line_width": line.width, "line_join": "round"}
    glyph = Model("Line", x=column("x"), y=column(f"y{number}"), **look)
    found.append(plot.add_glyph(source, glyph, visible=line.shown))
    return found


_NOTE: dict[str, Any] = {"text_font": FONT, "text_font_size": "12px", "background_fill_color": PAPER, "background_fill_alpha": 0.75}
"""Look of a text on a picture."""


def _levels(plot: Plot, levels: Sequence[Level]) -> None:
    """Values across the panel, each with its name, and zero."""
    for level in levels:
        look: dict[str, Any] = {"text_color": level.color, "text_baseline": "top" if level.value > 0 else "bottom"} | _NOTE
        plot.add_layout(Model("Span", location=level.value, dimension="width", line_color=level.color, line_dash=[3, 3]))
        plot.add_layout(Model("Label", x=4, x_units="screen", y=level.value, text=plain_text(level.name), **look))
    plot.add_layout(Model("Span", location=0, dimension="width", line_color=FAINT, line_width=0.8))


def _marks(plot: Plot, marks: Mapping[str, float], middle: float, named: bool) -> None:
    """Places along the axis, upright, with their names on the side towards the middle."""
    for name, place in marks.items():
        plot.add_layout(Model("Span", location=place, dimension="height", line_color=FAINT, line_dash=[5, 3]))
        side, off = ("left", 4) if place < middle else ("right", -4)
        look: dict[str, Any] = {"text_color": INK, "text_baseline": "bottom", "text_align": side, "x_offset": off} | _NOTE
        if named:
            plot.add_layout(Model("Label", x=place, y=2, y_units="screen", text=plain_text(name), **look))


NARROW, LETTER, SIGN = 300, 7.3, 34
"""Pixels: width of a panel on a narrow screen, of a letter in a legend, and of what stands beside each name."""


def _rows(lines: Sequence[Line]) -> tuple[int, int]:
    """Columns and rows of a legend that fits a narrow screen."""
    widths = [LETTER * len(line.name) + SIGN for line in lines]
    columns = len(lines) if sum(widths) <= NARROW else max(1, int(NARROW / max(widths)))
    return columns, -(-len(lines) // columns)


def _legend(plot: Plot, panel: Panel, drawn: Sequence[Sequence[Model]]) -> None:
    """Names above the panel; a click takes a line away or brings it back."""
    named = zip(panel.lines, drawn, strict=True)
    items = [Model("LegendItem", label=value(plain_text(line.name)), renderers=list(each)) for line, each in named]
    look: dict[str, Any] = {"label_text_color": INK, "label_text_font": FONT, "label_text_font_size": "13px"}
    look |= {"background_fill_color": None, "border_line_color": None, "inactive_fill_color": PAPER, "inactive_fill_alpha": 0.7}
    space = {
        "padding": 0,
        "margin": 0,
        "spacing": 11,
        "label_standoff": 5,
        "glyph_width": 18,
        "label_height": 16,
        "glyph_height": 16,
    }
    columns = _rows(panel.lines)[0]
    placed = {"location": "left", "orientation": "horizontal", "ncols": columns}
    plot.add_layout(Model("Legend", items=items, click_policy="hide", **placed, **look, **space), "above")


def _hover(plot: Plot, source: Model, panel: Panel, along: Axis) -> Model:
    """What is read at the pointer: the sample nearest along the axis, of every line. It is found by a line that cannot be seen and
    has a point half way between one sample and the next: what lies between two of them is nearest to one sample.
    """
    cursor = plot.add_glyph(source, Model("Line", x=column("edge"), y=column("cursor"), line_alpha=0.0))
    rows = [Reading("x", along.label or "at", along.unit, digits=6)]
    rows += [Reading(f"y{number}", line.name, panel.unit, line.color) for number, line in enumerate(panel.lines)]
    return hover(rows, [cursor], mode="vline")
