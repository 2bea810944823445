# SPDX-License-Identifier: GPL-3.0-or-later
"""What maps of headroom share where they can be zoomed: the colours of cells, and lines of equal headroom."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from matplotlib.colors import to_hex
from matplotlib.figure import Figure

from heatsim.report.base.maps import HEADROOM, Named, Span, at_share
from heatsim.report.base.zoom_map import Boundary, Cells, Note
from heatsim.waves import Array

FULL = 50.0
"""Headroom [%] at which the colours end, to either side."""

STEPS = 40
"""Colours from one end to the other."""


def headroom_cells(x: Array, y: Array, percent: Array) -> Cells:
    """Cells of the least headroom. x, y: their middles, shape (n,) and (m,); percent: shape (m, n) [%]."""
    palette = [to_hex(HEADROOM((step + 0.5) / STEPS)) for step in range(STEPS)]
    return Cells(x, y, percent, "least headroom", "%", palette, -FULL, FULL)


def equal_lines(
    x: Array, y: Array, field: Array, level: float, name: str, dash: str = "solid", width: float = 2.0
) -> list[Boundary]:
    """The lines where a field has a level, up to the ends of the axes; none where it has not.

    x, y: places, shape (n,) and (m,); field: there, shape (m, n), NaN where it is not known
    """
    if min(field.shape) < 2 or not np.isfinite(field).any():
        return []
    if not np.nanmin(field) < level <= np.nanmax(field):
        return []
    drawn = Figure().add_subplot().contour(x, y, np.ma.masked_invalid(field), levels=[level])
    lines = [np.asarray(line) for path in drawn.get_paths() for line in path.to_polygons(closed_only=False)]
    if not lines:
        return []
    joined = np.concatenate([part for line in lines for part in (line, [[np.nan, np.nan]])])
    return [Boundary(name, joined[:, 0], joined[:, 1], dash=dash, width=width)]


def region_notes(found: Iterable[Named], across: Span, up: Span) -> list[Note]:
    """What ends each region, in words on the map."""
    made = []
    for named in found:
        where, beside = at_share(named.share, across, up), named.beside
        made.append(
            Note(named.lines, *(where if beside is None else at_share(beside, across, up)), None if beside is None else where)
        )
    return made
