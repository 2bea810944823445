# SPDX-License-Identifier: GPL-3.0-or-later
"""A sweep on its page, to be zoomed and read with the pointer: lines over one axis, maps over two."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from typing import Any

import numpy as np

from heatsim.report.base.words import limit_words, named_measure
from heatsim.report.base.zoom import Axis, Level, Line, Panel, zoomable_traces
from heatsim.report.base.zoom_headroom import equal_lines, headroom_cells, region_notes
from heatsim.report.base.zoom_map import zoomable_map
from heatsim.report.sweep.axes import CASES, axis_scale, positions, scaled, title
from heatsim.report.sweep.maps import EDGE, axis_ends, named_regions
from heatsim.report.sweep.pictures import OUTPUTS, kind
from heatsim.report.sweep.view import BROKEN, Dimension, SweepView

PANELS = 4
"""Maps on a page at most."""

CELLS = 10_000
"""Points of a map to be zoomed at most; of a larger one the still picture has to do."""

LINES = 8
"""Lines of a panel at most."""

DASHES = ("solid", "dashed", "dotted", "dashdot", "dotdash")
"""Of the cases in turn, as in the still picture."""

READ = ("tank.peak_voltage_v", "supply.mean_current_a", "workpiece.power_w")
"""Measures that are read at a point of a map."""


def zoomed(view: SweepView, outputs: Sequence[str] = ()) -> str:
    """The picture as HTML of ours; empty where only the still one serves: of tolerances, of other outputs, without results."""
    which = kind(view)
    if outputs or which == "influence" or not np.isfinite(view.column("headroom")).any():
        return ""
    return "".join(_maps(view)) if which == "maps" else _traces(view)


def _maps(view: SweepView) -> Iterator[str]:
    """A map for each case and each value of other dimensions."""
    drawn = [k for k, dimension in enumerate(view.dimensions, start=1) if dimension.numbers is not None][:2]
    every = list(product(*([slice(None)] if k in drawn else range(size) for k, size in enumerate(view.shape))))
    if len(every) > PANELS or view.shape[drawn[0]] * view.shape[drawn[1]] > CELLS:
        return
    for pick in every:
        yield _map(view, (drawn[0] - 1, drawn[1] - 1), pick)


def _map(view: SweepView, drawn: tuple[int, int], pick: tuple[Any, ...]) -> str:
    """One map, columns along the first axis."""
    across, up = (view.dimensions[k] for k in drawn)
    (x, x_order), (y, y_order) = positions(across), positions(up)

    def grid(values: Any) -> Any:
        return view.cube(values)[pick][np.ix_(x_order, y_order)].T

    shown = 100 * grid(view.column("headroom"))
    broken = np.isin(grid(view.texts("outcome")), BROKEN)
    level = np.where(np.isnan(shown) & broken, -EDGE, shown)
    lines = [*equal_lines(x, y, level, 100 * view.wanted, "headroom wanted", "dashed", 1.4)] if view.wanted else []
    ends = np.vectorize(lambda text: limit_words(text) if text else "no result", otypes=[object])(grid(view.texts("ends")))
    more: dict[tuple[str, str | None], Any] = {("decides", None): ends, ("grade", None): grid(view.texts("grade"))}
    for key in READ:
        if key in view.frame:
            part, words, unit = named_measure(key)
            more[f"{part} {words}", unit] = grid(view.column(key))
    where = view.others(pick, named=True)
    return zoomable_map(
        headroom_cells(x, y, shown),
        f"Least headroom{f', {where}' if where else ''}: a map over two axes; the tables below hold its numbers",
        _axis(across),
        _axis(up),
        more,
        [*lines, *equal_lines(x, y, level, 0.0, "no headroom left", width=2.6)],
        ends=(axis_ends(x), axis_ends(y)),
        notes=region_notes(named_regions(x, y, level, grid(view.texts("ends"))), axis_ends(x), axis_ends(y)),
    )


def _axis(dimension: Dimension) -> Axis:
    return Axis(dimension.label, axis_scale(dimension)[1])


def _traces(view: SweepView) -> str:
    """The usual outputs over the one axis with numbers; empty without one, or with more lines than can be told apart."""
    at = next((k for k, dimension in enumerate(view.dimensions) if dimension.numbers is not None), None)
    if at is None or view.shape[at + 1] < 2:
        return ""
    others = list(np.ndindex(tuple(size for k, size in enumerate(view.shape) if k != at + 1)))
    if len(others) > LINES:
        return ""
    panels = [_panel(view, at, key, others) for key in OUTPUTS if np.isfinite(scaled(view, key)[0]).any()]
    dimension = view.dimensions[at]
    return zoomable_traces(panels, f"{view.name}, over {dimension.label}; the tables below hold its numbers", _axis(dimension))


def _panel(view: SweepView, at: int, key: str, others: Sequence[tuple[int, ...]]) -> Panel:
    """One output: a line for every combination of the other dimensions."""
    values, unit = scaled(view, key)
    cube = np.moveaxis(view.cube(values), at + 1, -1)
    x, order = positions(view.dimensions[at])
    lines = [
        Line(_name(view, at, index) or title(key).lower(), x, cube[index][order], CASES[k % len(CASES)][0], DASHES[k % len(DASHES)])
        for k, index in enumerate(others)
    ]
    wanted = [Level(100 * view.wanted, "headroom wanted")] if key == "headroom" and view.wanted else []
    return Panel(title(key), unit, lines, wanted)


def _name(view: SweepView, at: int, index: tuple[int, ...]) -> str:
    return view.others((*index[: at + 1], slice(None), *index[at + 1 :]))
