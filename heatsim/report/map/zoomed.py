# SPDX-License-Identifier: GPL-3.0-or-later
"""The map on the page: to be zoomed, and read with the pointer."""

from __future__ import annotations

import numpy as np

from heatsim.report.base.words import field_words
from heatsim.report.base.zoom import Axis
from heatsim.report.base.zoom_headroom import equal_lines, headroom_cells, region_notes
from heatsim.report.base.zoom_map import Mark, zoomable_map
from heatsim.report.map import words
from heatsim.report.map.picture import alike, named_regions, scale
from heatsim.studies.map import MapAxis, MapGrid, MapResult, map_grid
from heatsim.waves import Array

ACROSS, UP = slice(1, None, 2), slice(2, None, 4)
"""Columns and rows of the grid that become cells; cells of these middles end where the axes end."""


def zoomed(result: MapResult) -> str:
    """The map as HTML of ours; its numbers are those of the still picture."""
    grid = map_grid(result)
    x, y = (places(axis, share) for axis, share in ((result.horizontal, grid.u), (result.vertical, grid.v)))
    wanted = result.scenario.tables.heater.wanted_headroom
    lines = equal_lines(x, y, grid.spare, 0.0, f"headroom wanted, {100 * wanted:.3g} %", "dashed", 1.4)
    own = result.own
    factors = scale(result.horizontal)[0], scale(result.vertical)[0]
    here = [] if own is None else [Mark("the scenario's own point", own.x * factors[0], own.y * factors[1], "diamond")]
    return zoomable_map(
        headroom_cells(x[ACROSS], y[UP], 100 * grid.least[UP, ACROSS]),
        " ".join(words.sentences(result)),
        axis_of(result.horizontal),
        axis_of(result.vertical),
        {("limit", None): _endings(result, grid)},
        [*lines, *equal_lines(x, y, grid.margin, 0.0, "boundary of what is usable", width=2.6)],
        here,
        notes=region_notes(named_regions(grid, alike(result)), (x[0], x[-1]), (y[0], y[-1])),
    )


def places(axis: MapAxis, share: Array) -> Array:
    """Places along an axis in easy units. share: of it [1]."""
    return np.asarray((axis.low + share * axis.span) * scale(axis)[0])


def axis_of(axis: MapAxis) -> Axis:
    """An axis in words and easy units."""
    return Axis(field_words(axis.field.path), scale(axis)[1])


def _endings(result: MapResult, grid: MapGrid) -> list[list[str]]:
    """Of each cell what ends the use there, or that it is usable and what comes next."""
    names = [words.ends_label(text) for text in grid.labels]
    return [["usable" if end < 0 else names[int(end)] for end in row] for row in grid.ends[UP, ACROSS]]
