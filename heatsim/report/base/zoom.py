# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures on pages that can be zoomed and read with the pointer, drawn by Bokeh, whose script is written into the page.

A page has `script()` once in its head, and what `zoomable_traces` or `zoom_map.zoomable_map` return where the picture belongs,
both marked as safe.
Without script, and on paper, the picture that stands still (class `still` in `base.css`) is shown instead.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from heatsim.errors import printable
from heatsim.report.base.scheme import themed
from heatsim.report.base.style import FAINT, INK, LIMIT, PAPER
from heatsim.report.base.thin import thinned
from heatsim.waves import Array

if TYPE_CHECKING:
    from bokeh.models import HoverTool, LayoutDOM, Plot
HOW = (
    "Drag a box to zoom in; with Ctrl the wheel zooms at the pointer, and a double click shows all again. A click on a name takes "
    "its line away."
)
"""What can be done with such a picture, to be said once on a page."""

MOST = 6000
"""Samples of a line that are kept on a page; of more, the least and greatest of each slice of time."""

FONT = "system-ui, 'DejaVu Sans', sans-serif"

PREFIXED = (-12, 9)
"""Powers of ten of the least and the greatest SI prefix."""

PLAIN = ("", "%", "°C", "K", "min", "h", "periods")
"""Units that take no prefix."""

REACH = 1.9
"""A level is drawn where it lies no further from zero than so many times the lines."""

LEGEND = 22
"""Height of a line of a legend [px]."""

ROOM = 0.07
"""Share of the height left free above and below."""


@dataclass(frozen=True)
class Axis:
    """What goes along an axis: words and unit, SI with a prefix as it fits, or one of `PLAIN`."""

    label: str
    unit: str = "s"


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
    return f"<script>{_bokeh()}</script>\n<script>{own}</script>"


@lru_cache
def _bokeh() -> str:
    from bokeh.resources import Resources

    return "\n".join(Resources(mode="inline", components=["bokeh"], log_level="error").js_raw)


def zoomable_traces(
    panels: Sequence[Panel],
    about: str,
    along: Axis = Axis("time"),
    view: tuple[float, float] | None = None,
    marks: Mapping[str, float] | None = None,
) -> str:
    """Panels below one another with one axis along, to be put into a page.

    about: what is shown, for those who cannot see it; view: start and end that are shown at first, all by default; marks: name ->
    place along the axis, drawn upright through all panels. Panels without lines are left out; empty without any.
    """
    from bokeh.models import Range1d, Span

    drawn = [panel for panel in panels if panel.lines]
    if not drawn:
        return ""
    ends = (min(float(line.x[0]) for panel in drawn for line in panel.lines), _last(drawn))
    start, end = view or ends
    shared = Range1d(start, end, bounds=ends)
    pointer = Span(dimension="height", line_color=FAINT, line_dash="dotted")
    plots = [_traces(panel, shared, pointer, along, marks or {}, panel is drawn[-1]) for panel in drawn]
    return embedded(plots, about)


def _last(panels: Sequence[Panel]) -> float:
    return max(float(line.x[-1]) for panel in panels for line in panel.lines)


def _traces(panel: Panel, shared: Any, pointer: Any, along: Axis, marks: Mapping[str, float], lowest: bool) -> Plot:
    """One panel."""
    from bokeh.models import ColumnDataSource, CrosshairTool, Range1d

    low, high, beyond = _reach(panel)
    x, columns = thinned([(line.x, line.y) for line in panel.lines], MOST)
    data = {f"y{number}": column.astype(np.float32) for number, column in enumerate(columns)}
    source = ColumnDataSource({"x": x, "cursor": np.zeros(x.size, dtype=np.int8)} | data)
    plot = frame(Axis("", panel.unit), along, shared, Range1d(low, high, bounds=_wider(low, high)), panel.height, lowest)
    plot.height += LEGEND * _rows(panel.lines)[1]
    plot.title.text = plain_text("; ".join([panel.title, *(f"{each.name}: {_where(each)} this picture" for each in beyond)]))
    _levels(plot, [level for level in panel.levels if level not in beyond], marks)
    _legend(plot, panel, [_line(plot, source, panel, number) for number in range(len(panel.lines))])
    plot.add_tools(_hover(plot, source, panel, along), CrosshairTool(overlay=pointer))
    return plot


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


def _line(plot: Plot, source: Any, panel: Panel, number: int) -> list[Any]:
    """A line, with the area up to another one where it has one."""
    from bokeh.models import Line as Glyph
    from bokeh.models import VArea

    line, found = panel.lines[number], []
    names = [each.name for each in panel.lines]
    if line.fill:
        area = VArea(x="x", y1=f"y{number}", y2=f"y{names.index(line.fill)}", fill_color=line.color, fill_alpha=0.25)
        found.append(plot.add_glyph(source, area))
    glyph = Glyph(x="x", y=f"y{number}", line_color=line.color, line_dash=line.dash, line_width=line.width, line_join="round")
    found.append(plot.add_glyph(source, glyph, visible=line.shown))
    return found


_NOTE: dict[str, Any] = {"text_font": FONT, "text_font_size": "12px", "background_fill_color": PAPER, "background_fill_alpha": 0.75}
"""Look of a text on a picture."""


def _levels(plot: Plot, levels: Sequence[Level], marks: Mapping[str, float]) -> None:
    """Values across the panel and places upright, each with its name."""
    from bokeh.models import Label, Span

    for level in levels:
        up = "top" if level.value > 0 else "bottom"
        plot.add_layout(Span(location=level.value, dimension="width", line_color=level.color, line_dash=[3, 3]))
        look = {"text_color": level.color, "text_baseline": up} | _NOTE
        plot.add_layout(Label(x=4, x_units="screen", y=level.value, text=plain_text(level.name), **look))
    for name, place in marks.items():
        plot.add_layout(Span(location=place, dimension="height", line_color=FAINT, line_dash=[5, 3]))
        look = {"text_color": INK, "text_baseline": "bottom"} | _NOTE
        plot.add_layout(Label(x=place, y=2, x_offset=4, y_units="screen", text=plain_text(name), **look))
    plot.add_layout(Span(location=0, dimension="width", line_color=FAINT, line_width=0.8))


NARROW, LETTER, SIGN = 300, 7.3, 34
"""Pixels: width of a panel on a narrow screen, of a letter in a legend, and of what stands beside each name."""


def _rows(lines: Sequence[Line]) -> tuple[int, int]:
    """Columns and rows of a legend that fits a narrow screen."""
    widths = [LETTER * len(line.name) + SIGN for line in lines]
    columns = len(lines) if sum(widths) <= NARROW else max(1, int(NARROW / max(widths)))
    return columns, -(-len(lines) // columns)


def _legend(plot: Plot, panel: Panel, drawn: Sequence[Sequence[Any]]) -> None:
    """Names above the panel; a click takes a line away or brings it back."""
    from bokeh.core.property.vectorization import Value
    from bokeh.models import Legend, LegendItem

    items = [
        LegendItem(label=Value(plain_text(line.name)), renderers=list(each)) for line, each in zip(panel.lines, drawn, strict=True)
    ]
    look: dict[str, Any] = {"label_text_color": INK, "label_text_font": FONT, "label_text_font_size": "13px"}
    look |= {"background_fill_color": None, "border_line_color": None, "inactive_fill_color": PAPER, "inactive_fill_alpha": 0.7}
    space = {
        "padding": 0,
        "margin": 0,
        "spacing": 4,
        "label_standoff": 5,
        "glyph_width": 18,
        "label_height": 16,
        "glyph_height": 16,
    }
    columns = _rows(panel.lines)[0]
    placed = {"location": "left", "orientation": "horizontal", "ncols": columns}
    plot.add_layout(Legend(items=items, click_policy="hide", **placed, **look, **space), "above")


def _hover(plot: Plot, source: Any, panel: Panel, along: Axis) -> HoverTool:
    """What is read at the pointer: the sample nearest along the axis, of every line. It is found by a line that cannot be seen,
    half way up whatever part of the panel is shown: only what is in sight is read.
    """
    from bokeh.models import CoordinateMapping, Range1d
    from bokeh.models import Line as Glyph

    same = {"x_source": plot.x_range, "x_target": plot.x_range, "y_target": plot.y_range}
    glyph, half = Glyph(x="x", y="cursor", line_alpha=0.0), CoordinateMapping(y_source=Range1d(-1, 1), **same)
    cursor = plot.add_glyph(source, glyph, coordinates=half)
    rows = [Reading("x", along.label or "at", along.unit, digits=6)]
    rows += [Reading(f"y{number}", line.name, panel.unit, line.color) for number, line in enumerate(panel.lines)]
    return hover(rows, [cursor], mode="vline")


@dataclass(frozen=True)
class Reading:
    """A row of what is read at the pointer: column of the data, words, unit (None for a text), colour of the line."""

    column: str
    name: str
    unit: str | None
    color: str = ""
    digits: int = 4


def hover(rows: Sequence[Reading], renderers: Sequence[Any], mode: str = "mouse", beside: str = "horizontal") -> HoverTool:
    """The tool that shows readings beside the pointer ("horizontal" or "vertical"), in the page's colours."""
    from bokeh.models import CustomJSHover, HoverTool

    lines, formats = [], {}
    for row in rows:
        mark = f'<span style="color:{themed(row.color)}">&#9632;</span> ' if row.color else ""
        name = escape(printable(row.name)).replace("@", "&#64;").replace("$", "&#36;")
        value = f"@{row.column}{'' if row.unit is None else '{custom}'}" if row.column else ""
        lines.append(f'<div class="name">{mark}{name}</div><div class="value">{value}</div>')
        if row.unit is not None:
            code = f"return heatsim.reading(value, unit, powers, {row.digits})"
            formats[f"@{row.column}"] = CustomJSHover(args={"unit": shown_unit(row.unit), "powers": powers(row.unit)}, code=code)
    box = "display:grid;grid-template-columns:auto auto;gap:0 .7em;margin:-5px;padding:5px 8px;font:13px system-ui,sans-serif"
    tips = f'<div class="reading" style="{box};background:var(--card);color:var(--ink)">{"".join(lines)}</div>'
    place: dict[str, Any] = {"mode": mode, "attachment": beside, "point_policy": "follow_mouse", "show_arrow": False}
    return HoverTool(renderers=list(renderers), tooltips=tips, formatters=formats, **place)


def frame(y: Axis, x: Axis, x_range: Any, y_range: Any, height: int, lowest: bool = True) -> Plot:
    """An empty plot with axes, grid and tools. lowest: whether it has numbers along."""
    from bokeh.models import BoxZoomTool, Grid, LinearAxis, PanTool, Plot, ResetTool, Title, WheelZoomTool

    title = Title(text_color=INK, text_font=FONT, text_font_size="14px", standoff=4)
    look = {"background_fill_color": None, "border_fill_color": None, "outline_line_color": None, "min_border": 8}
    more = 34 + (26 + (20 if x.label else 0) if lowest else 0)
    plot = Plot(x_range=x_range, y_range=y_range, height=height + more, sizing_mode="stretch_width", title=title, **look)
    plot.min_border_left = 62
    for side, axis in (("below", x), ("left", y)):
        made = LinearAxis(
            axis_label=plain_text(axis.label) or None, formatter=tick_text(axis.unit), visible=lowest or side == "left", **_look()
        )
        made.ticker.desired_num_ticks = 5
        plot.add_layout(made, side)
        plot.add_layout(Grid(dimension=int(side == "left"), ticker=made.ticker, grid_line_color=FAINT, grid_line_alpha=0.28))
    wheel = WheelZoomTool(modifiers="ctrl") if "modifiers" in WheelZoomTool.properties() else WheelZoomTool()
    box = BoxZoomTool()
    plot.add_tools(PanTool(), box, wheel, ResetTool())
    plot.toolbar.active_drag, plot.toolbar.logo = box, None
    return plot


def _look() -> dict[str, Any]:
    """Of axes."""
    words: dict[str, Any] = {"font": FONT, "font_style": "normal", "color": INK}
    found: dict[str, Any] = {f"{kind}_text_{key}": value for kind in ("axis_label", "major_label") for key, value in words.items()}
    found |= {"axis_label_text_font_size": "13px", "major_label_text_font_size": "12px", "axis_label_standoff": 4}
    return found | {"axis_line_color": FAINT, "major_tick_line_color": FAINT, "minor_tick_line_color": None, "major_tick_in": 0}


def tick_text(unit: str) -> Any:
    """How numbers along an axis are written."""
    from bokeh.models import CustomJSTickFormatter

    return CustomJSTickFormatter(
        args={"unit": shown_unit(unit), "powers": powers(unit)}, code="return heatsim.tick(tick, ticks, unit, powers)"
    )


def powers(unit: str) -> list[int]:
    """Least and greatest power of ten of the prefixes that a unit takes."""
    least, greatest = (0, 0) if unit in PLAIN else PREFIXED
    return [least, 0 if unit == "s" else greatest]


def shown_unit(unit: str) -> str:
    """A unit as it is printed."""
    return unit.replace("ohm", "Ω")


def plain_text(text: str) -> str:
    """Text in which Bokeh sees no formula, minus signs as printed."""
    return re.sub(r"(?<!\w)-(?=\d)", "−", printable(text)).replace("$$", "$\u200b$").replace("\\", "\\\u200b")


def embedded(plots: Sequence[Plot], about: str) -> str:
    """Plots below one another with one toolbar, as a piece of a page; the same for the same plots."""
    from bokeh.embed import json_item
    from bokeh.layouts import gridplot

    grid: LayoutDOM = gridplot([[plot] for plot in plots], sizing_mode="stretch_width", toolbar_options={"logo": None})
    text = _numbered(json.dumps(json_item(grid), separators=(",", ":"), ensure_ascii=False))
    height = sum(plot.height or 0 for plot in plots) + 32
    data = themed(text).replace("<", "\\u003c")
    return (
        f'<div class="zoomable" role="group" aria-label="{escape(printable(about))}" style="min-height:{height}px">'
        f'<script type="application/json">{data}</script><div class="plot"></div></div>'
    )


def _numbered(text: str) -> str:
    """The models of a document numbered in their order, whatever was made before."""
    found: dict[str, str] = {}
    return re.sub(r'"((?:root_)?id)":"(p\d+)"', lambda m: f'"{m[1]}":"{found.setdefault(m[2], f"p{len(found) + 1}")}"', text)
