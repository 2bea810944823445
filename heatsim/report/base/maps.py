# SPDX-License-Identifier: GPL-3.0-or-later
"""What maps of headroom share: the colours, and where a region is thickest, for its label."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import matplotlib.patheffects as effects
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap

from heatsim.report.base.style import PAPER
from heatsim.waves import Array

HEADROOM = LinearSegmentedColormap.from_list(
    "headroom", [(0.0, "#8a3b24"), (0.28, "#c27d5f"), (0.5, "#f7f1e8"), (0.72, "#79b3ab"), (1.0, "#1f6b63")]
)
"""From brown (short of what is allowed) over paper to green-blue; apart for every common kind of colour blindness."""

ON_MAP, UNDER = "#2b3038", "#fdfdfb"
"""Ink and paper on a map's colours. These stay what they are on dark paper, and so do ink and paper on them: they are no colours of
`style`, which pages turn round.
"""

LABEL = 17
"""Letters in a line of a region's label."""

ROOM = 0.065
"""Distance from the middle of a region to its edge, as a share of the picture, that a label needs."""

ALIKE = 0.97
"""Share of the greatest depth from which cells are alike."""

ASIDE = 0.2
"""How far from a small region its label stands, as a share of the picture."""


def halo(width: float, paper: str = PAPER) -> list[Any]:
    """A rim of paper round lines and letters; on a map's colours it is `UNDER`."""
    return [effects.withStroke(linewidth=width, foreground=paper)]


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
        row, column = _middle(depth)
        yield cells, row, column, float(depth.max())


def _middle(depth: Array) -> tuple[int, int]:
    """Row and column of the deepest cell; of several alike the one in their middle."""
    deepest = np.argwhere(depth >= ALIKE * depth.max())
    row, column = deepest[np.argmin(np.sum((deepest - deepest.mean(axis=0)) ** 2, axis=1))]
    return int(row), int(column)


@dataclass(frozen=True)
class Named:
    """What ends a region. text: "part: limit", or any words; share: the region's middle as shares of the picture's width and
    height; depth: from there to the region's edge, as a share of the picture.
    """

    text: str
    share: tuple[float, float]
    depth: float

    @property
    def lines(self) -> str:
        """The text in short lines."""
        part, colon, rest = self.text.partition(": ")
        return "\n".join([f"{part}{colon.strip()}", *textwrap.wrap(rest, LABEL)] if colon else textwrap.wrap(self.text, LABEL))

    @property
    def beside(self) -> tuple[float, float] | None:
        """Where the text stands, as shares of the picture, where it would not fit into its region."""
        if self.depth >= ROOM and all(ROOM <= each <= 1 - ROOM for each in self.share):
            return None
        return min(max(self.share[0], 0.14), 0.86), self.share[1] + (-ASIDE if self.share[1] > 0.5 else ASIDE)


Span = tuple[float, float]
"""First and last value of an axis."""


def at_share(share: tuple[float, float], across: Span, up: Span) -> tuple[float, float]:
    """A place in the axes' units from shares of the picture."""
    return across[0] + share[0] * (across[1] - across[0]), up[0] + share[1] * (up[1] - up[0])


def name_region(ax: Axes, named: Named, across: Span, up: Span) -> None:
    """A label in its region, or beside it with a line to it where it would not fit."""
    where, beside = at_share(named.share, across, up), named.beside
    box = {"boxstyle": "round,pad=0.25", "facecolor": UNDER, "edgecolor": "none", "alpha": 0.88}
    look: dict[str, Any] = {"fontsize": 9, "color": ON_MAP, "ha": "center", "va": "center", "zorder": 6, "bbox": box}
    if beside is None:
        ax.text(*where, named.lines, **look)
        return
    arrow = {"arrowstyle": "-", "color": ON_MAP, "linewidth": 0.9}
    ax.annotate(named.lines, where, beside, textcoords="axes fraction", arrowprops=arrow, **look)
    ax.plot(*where, "o", color=ON_MAP, markersize=3, zorder=6)
