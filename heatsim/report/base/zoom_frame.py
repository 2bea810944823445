# SPDX-License-Identifier: GPL-3.0-or-later
"""What all figures that can be zoomed share: axes, tools, what is read at the pointer, and how they become a piece of a page."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import Any

from heatsim.errors import printable
from heatsim.report.base.models import Model, Pairs, Plot, document_text, grid_of
from heatsim.report.base.scheme import themed
from heatsim.report.base.style import FAINT, INK

FONT = "system-ui, 'DejaVu Sans', sans-serif"

PREFIXED = (-12, 9)
"""Powers of ten of the least and the greatest SI prefix."""

PLAIN = ("", "%", "°C", "K", "min", "h", "periods")
"""Units that take no prefix."""

COUNTS = ("periods",)
"""Units that are not written at every number along an axis; its label has them."""


@dataclass(frozen=True)
class Axis:
    """What goes along an axis: words and unit, SI with a prefix as it fits, or one of `PLAIN`."""

    label: str
    unit: str = "s"


@dataclass(frozen=True)
class Reading:
    """A row of what is read at the pointer: column of the data, words, unit (None for a text), colour of the line."""

    column: str
    name: str
    unit: str | None
    color: str = ""
    digits: int = 4


def hover(rows: Sequence[Reading], renderers: Sequence[Any], mode: str = "mouse", beside: str = "horizontal") -> Model:
    """The tool that shows readings beside the pointer ("horizontal" or "vertical"), in the page's colours."""
    lines, formats = [], Pairs()
    for row in rows:
        mark = f'<span style="color:{themed(row.color)}">&#9632;</span> ' if row.color else ""
        name = escape(printable(row.name)).replace("@", "&#64;").replace("$", "&#36;")
        value = f"@{row.column}{'' if row.unit is None else '{custom}'}" if row.column else ""
        lines.append(f'<div class="name">{mark}{name}</div><div class="value">{value}</div>')
        if row.unit is not None:
            formats[f"@{row.column}"] = _value_text(row.unit, row.digits)
    box = "display:grid;grid-template-columns:auto auto;gap:0 .7em;margin:-5px;padding:5px 8px;font:13px system-ui,sans-serif"
    tips = f'<div class="reading" style="{box};background:var(--card);color:var(--ink)">{"".join(lines)}</div>'
    place: dict[str, Any] = {
        "mode": mode,
        "attachment": beside,
        "point_policy": "follow_mouse",
        "line_policy": "none",
        "show_arrow": False,
    }
    return Model("HoverTool", renderers=list(renderers), tooltips=tips, formatters=formats, **place)


@lru_cache
def _value_text(unit: str, digits: int) -> Model:
    """How values are written at the pointer; written once in a figure, as all that is cached here."""
    code = f"return heatsim.reading(value, unit, powers, {digits})"
    return Model("CustomJSHover", args=Pairs(unit=shown_unit(unit), powers=powers(unit)), code=code)


SCALE = Model("LinearScale")
"""Of both axes of all plots."""


def frame(title: str, y: Axis, x: Axis, x_range: Model, y_range: Model, height: int, lowest: bool = True) -> Plot:
    """An empty plot with axes, grid and tools. lowest: whether it has numbers along."""
    heading = Model("Title", text=plain_text(title), text_color=INK, text_font=FONT, text_font_size="14px", standoff=4)
    look: dict[str, Any] = {"background_fill_color": None, "border_fill_color": None, "outline_line_color": None, "min_border": 8}
    more = 34 + (26 + (20 if x.label else 0) if lowest else 0)
    look |= {"height": height + more, "min_border_left": 62, "sizing_mode": "stretch_width"}
    plot = Plot(x_range=x_range, y_range=y_range, title=heading, x_scale=SCALE, y_scale=SCALE, **look)
    for side, axis in (("below", x), ("left", y)):
        ticker = _ticker(side)
        if lowest or side == "left":
            numbers = tick_text("" if axis.unit in COUNTS else axis.unit)
            label = plain_text(axis.label) or None
            plot.add_layout(Model("LinearAxis", axis_label=label, formatter=numbers, ticker=ticker, **_look()), side)
        plot.add_layout(Model("Grid", dimension=int(side == "left"), ticker=ticker, grid_line_color=FAINT, grid_line_alpha=0.28))
    box = Model("BoxZoomTool")
    plot.add_tools(Model("PanTool"), box, Model("WheelZoomTool", modifiers=Pairs(ctrl=True)), Model("ResetTool"))
    plot.properties["toolbar"].update(active_drag=box)
    return plot


@lru_cache
def _ticker(side: str) -> Model:
    """Places of numbers and grid lines along or upward."""
    return Model("BasicTicker", desired_num_ticks=5, tags=[side])


POLICY = Model("AllLabels")
"""Every number along an axis is written."""


def _look() -> dict[str, Any]:
    """Of axes."""
    words: dict[str, Any] = {"font": FONT, "font_style": "normal", "color": INK}
    found: dict[str, Any] = {f"{kind}_text_{key}": value for kind in ("axis_label", "major_label") for key, value in words.items()}
    found |= {"axis_label_text_font_size": "13px", "major_label_text_font_size": "12px", "axis_label_standoff": 4}
    return (
        found
        | {"axis_line_color": FAINT, "major_tick_line_color": FAINT, "minor_tick_line_color": None}
        | {"major_tick_in": 0, "major_label_policy": POLICY}
    )


@lru_cache
def tick_text(unit: str) -> Model:
    """How numbers along an axis are written."""
    code = "return heatsim.tick(tick, ticks, unit, powers)"
    return Model("CustomJSTickFormatter", args=Pairs(unit=shown_unit(unit), powers=powers(unit)), code=code)


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
    height = sum(plot.properties["height"] for plot in plots) + 32
    data = themed(document_text(grid_of(plots))).replace("<", "\\u003c")
    return (
        f'<div class="zoomable" role="group" aria-label="{escape(printable(about))}" style="min-height:{height}px">'
        f'<script type="application/json">{data}</script><div class="plot"></div></div>'
    )
