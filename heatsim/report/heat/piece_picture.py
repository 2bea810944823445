# SPDX-License-Identifier: GPL-3.0-or-later
"""The piece cut open: its temperatures when it is as warm as wanted, over the radius and along the axis at several times."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import ALONG, DOTTED, FAINT, INK, LEFT, note, unit_label
from heatsim.report.heat.words import celsius, time_words
from heatsim.studies.heat import HeatResult, Snapshot

TITLE = "The piece cut open"

CAPTION = (
    "Above: a cut along the axis, drawn to scale, with the turns of the coil where its size is known. The darker, the warmer. "
    "Below: on the left through the hottest section, from the axis to the surface; on the right along the piece, full lines at "
    "the surface and dashed lines on the axis. Flat lines mean a piece that is warm right through; lines that fall towards the "
    "ends mean cold ends."
)
"""What one should see."""

SIZE = (8.6, 6.4)
"""Width and height [inch]."""

WARMTH = LinearSegmentedColormap.from_list("warmth", ["#f6e9dc", "#e7b183", "#c9703d", "#8e3517", "#4a1409"])
"""Colours of temperatures, paler to darker and evenly so."""

COLD, HOT = to_rgb("#c39a4e"), to_rgb("#ad3b2a")
"""Colours of the first and the last of several times; both read on white and on dark paper."""

MARKS = ((0, (1, 1.2)), (0, (3, 1.5)), (0, (6, 1.8)), "-", (0, (8, 1.5, 1.5, 1.5)))
"""Dashes over the radius, so that lines are told apart without colour too."""


def figure(result: HeatResult) -> Figure:
    """The picture in the house style."""
    with new_figure(*SIZE, layout="constrained") as made:
        made.suptitle(TITLE, x=0.012, ha="left", fontsize=11.5, fontweight="bold")
        grid = made.add_gridspec(2, 2, height_ratios=(1.0, 1.25))
        _cut(made, made.add_subplot(grid[0, :]), result)
        radial, along = made.add_subplot(grid[1, 0]), made.add_subplot(grid[1, 1])
        _radial(radial, result)
        _along(along, result)
        radial.sharey(along)
        lines, names = radial.get_legend_handles_labels()
        made.legend(lines, names, loc="outside lower left", ncols=min(len(names), 3), handlelength=3.2, columnspacing=1.6)
    return made


def shown(result: HeatResult) -> Snapshot:
    """The time that is drawn as a cut: when it is as wanted, else the last."""
    return next((each for each in result.snapshots if each.time == result.wanted.reached), result.snapshots[-1])


def edges(middles: Any, end: float | None = None, start: float | None = None) -> Any:
    """Edges of cells from their middles; the outermost where given, else half a cell out."""
    middles = np.asarray(middles, dtype=float)
    if middles.size == 1:
        half = abs(middles[0]) or 1e-3
        return np.array([middles[0] - half if start is None else start, middles[0] + half if end is None else end])
    inner = (middles[1:] + middles[:-1]) / 2
    first = 2 * middles[0] - inner[0] if start is None else start
    return np.concatenate([[first], inner, [2 * middles[-1] - inner[-1] if end is None else end]])


def _ends(result: HeatResult) -> Any:
    """Edges of the slices [m]; the outermost at the ends of the piece where its length is known."""
    table = result.scenario.tables.case[result.case].workpiece if result.case in result.scenario.cases else None
    if table is None or table.length is None:
        return edges(result.places)
    return edges(result.places, table.offset + table.length / 2, table.offset - table.length / 2)


def _cut(fig: Figure, ax: Axes, result: HeatResult) -> None:
    """Half the piece and its mirror image, in the coil."""
    snapshot = shown(result)
    radii, places = 1e3 * edges(result.radii, result.outer), 1e3 * _ends(result)
    radii[0] = 0.0 if radii[0] < 0.15 * radii[-1] else radii[0]
    cells: dict[str, Any] = {
        "cmap": WARMTH,
        "vmin": _coldest(result),
        "vmax": _hottest(result),
        "rasterized": True,
        "shading": "flat",
    }
    fine = np.linspace(places[0], places[-1], 12 * result.places.size + 1)
    between = (fine[1:] + fine[:-1]) / 2
    shells = [np.interp(between, 1e3 * result.places, shell) for shell in snapshot.celsius.T]
    for side in (1.0, -1.0):
        drawn = ax.pcolormesh(fine, side * radii, np.array(shells), **cells)
    _coil(ax, result)
    ax.margins(0.05)
    ax.set_aspect("equal", adjustable="datalim")
    ax.set_title(f"{snapshot.name}, after {time_words(snapshot.time)}", fontsize=9, fontweight="normal", pad=6)
    ax.set_xlabel("mm along the axis, from the coil's middle")
    unit_label(ax, "mm")
    ax.grid(False)
    bar = fig.colorbar(drawn, ax=ax, pad=0.015, aspect=14)
    bar.outline.set_visible(False)
    bar.ax.set_ylabel("°C", rotation=0, va="center", labelpad=8)


def _coil(ax: Axes, result: HeatResult) -> None:
    """The turns, if the coil is given by its size."""
    coil = result.scenario.tables.coil
    if coil.diameter is None or coil.length is None or coil.turns is None:
        return
    width = 1e3 * (coil.tube_diameter or 0.6 * coil.length / coil.turns)
    half, radius = 500 * coil.length, 500 * coil.diameter
    step = 2 * half / coil.turns
    for place in -half + step * (np.arange(round(coil.turns)) + 0.5):
        for side in (radius, -radius):
            ax.add_patch(
                Rectangle((place - width / 2, side - width / 2), width, width, facecolor="none", edgecolor=LEFT, linewidth=1.0)
            )


def _coldest(result: HeatResult) -> float:
    return float(50.0 * np.floor(shown(result).celsius.min() / 50.0))


def _hottest(result: HeatResult) -> float:
    return float(50.0 * np.ceil(shown(result).celsius.max() / 50.0))


def _looks(snapshots: Sequence[Snapshot]) -> list[dict[str, Any]]:
    """Line properties of each time, later ones redder."""
    shares = np.linspace(0.0, 1.0, len(snapshots)) if len(snapshots) > 1 else [1.0]
    mixed = (tuple((1 - share) * a + share * b for a, b in zip(COLD, HOT, strict=True)) for share in shares)
    return [{"color": colour, "linewidth": 1.8} for colour in mixed]


def _radial(ax: Axes, result: HeatResult) -> None:
    for place, (snapshot, look) in enumerate(zip(result.snapshots, _looks(result.snapshots), strict=True)):
        name = f"{snapshot.name}, {time_words(snapshot.time)}"
        ax.plot(1e3 * result.radii, snapshot.celsius[result.hottest], label=name, linestyle=MARKS[place % len(MARKS)], **look)
    ax.axhline(result.wanted.celsius, color=INK, linestyle=DOTTED, linewidth=1.2)
    ax.set_xlim(0.0, 1e3 * result.outer)
    ax.set_xlabel("mm from the axis, hottest section")
    unit_label(ax, "°C")


def _along(ax: Axes, result: HeatResult) -> None:
    for snapshot, look in zip(result.snapshots, _looks(result.snapshots), strict=True):
        ax.plot(1e3 * result.places, snapshot.celsius[:, -1], **look)
        ax.plot(1e3 * result.places, snapshot.celsius[:, 0], **(look | {"linewidth": 1.2, "linestyle": (0, (4, 2))}))
    ax.axhline(result.wanted.celsius, color=INK, linestyle=DOTTED, linewidth=1.2)
    note(
        ax,
        f"wanted {celsius(result.wanted.celsius)}",
        (0.5, result.wanted.celsius),
        (0, 3),
        ("axes fraction", "data"),
        ha="center",
        va="bottom",
    )
    coil = result.scenario.tables.coil
    if coil.length is not None:
        for end in (-500 * coil.length, 500 * coil.length):
            ax.axvline(end, color=FAINT, linewidth=0.9, linestyle=(0, (2, 2)))
        note(ax, "inside the coil", (0.0, 0.02), (0, 2), ALONG, ha="center", va="bottom", fontsize=7.5)
    low, high = ax.get_ylim()
    ax.set_ylim(max(min(low, 0.0), -40.0) if low > 0 else low, high)
    ax.set_xlabel("mm along the axis")
