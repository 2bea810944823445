# SPDX-License-Identifier: GPL-3.0-or-later
"""What maps of headroom share: the colours, and where a region is thickest, for its label."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import matplotlib.patheffects as effects
import numpy as np
from matplotlib.colors import LinearSegmentedColormap

from heatsim.report.base.style import PAPER
from heatsim.waves import Array

HEADROOM = LinearSegmentedColormap.from_list(
    "headroom", [(0.0, "#8a3b24"), (0.28, "#c27d5f"), (0.5, "#f7f1e8"), (0.72, "#79b3ab"), (1.0, "#1f6b63")]
)
"""From brown (short of what is allowed) over paper to green-blue; apart for every common kind of colour blindness."""


def halo(width: float) -> list[Any]:
    """A rim of paper round lines and letters."""
    return [effects.withStroke(linewidth=width, foreground=PAPER)]


def regions(inside: Any, least: float) -> Iterator[tuple[Any, int, int, float]]:
    """Connected regions of a map that hold at least this share of it: their cells, and row, column and depth of the cell
    farthest from their edge; depth as a share of the picture.

    inside: truth by row and column.
    """
    from scipy.ndimage import distance_transform_edt, label

    parts, count = label(inside)
    for part in range(1, count + 1):
        cells = parts == part
        if cells.mean() < least:
            continue
        rows, columns = cells.shape
        depth: Array = distance_transform_edt(np.pad(cells, 1), sampling=(1 / rows, 1 / columns))[1:-1, 1:-1]
        row, column = np.unravel_index(int(np.argmax(depth)), depth.shape)
        yield cells, int(row), int(column), float(depth.max())
