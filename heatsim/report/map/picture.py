# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture of an operating map: headroom by colour, the boundary, and beyond it what ends the usable region.

What is not usable is hatched as well as coloured, so that the map reads without colour.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from heatsim.errors import printable
from heatsim.report.base.maps import HEADROOM, ON_MAP, UNDER, Named, halo, name_region, regions
from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import FAINT, INK, PAPER, easy_unit
from heatsim.report.base.words import either_side, field_words, percent
from heatsim.report.map import words
from heatsim.studies.map import MapAxis, MapGrid, MapResult, Sample, family, map_grid

SIZE = (7.6, 5.6)
"""Width and height [inch]."""

LEVELS = (-1.0, -0.5, -0.25, -0.1, 0.0, 0.1, 0.2, 0.3, 0.4, 0.6, 0.8)
"""Headrooms at which the colour changes."""

HATCH = "#5e2413"
"""Colour of the lines over what is not usable."""

LINES = 3
"""Lines of text above the map."""


def figure(result: MapResult) -> Figure:
    """The map as a figure in the house style."""
    with new_figure(*SIZE) as fig:
        ax = fig.add_axes((0.09, 0.155, 0.78, 0.685))
        filled = draw(result, ax)
        _colour_bar(fig, filled)
        title = printable(f"{result.scenario.name}, {result.case}: where it is usable")
        fig.text(0.012, 0.985, title, fontsize=11.5, fontweight="bold", va="top")
        fig.text(0.012, 0.942, "\n".join(_fitting(LINES, words.sentences(result))), fontsize=8.5, va="top", linespacing=1.35)
        _legend(fig, result)
    return fig


def _fitting(lines: int, sentences: Iterable[str]) -> list[str]:
    """As many of the sentences as fit these lines."""
    found: list[str] = []
    for sentence in sentences:
        wrapped = textwrap.wrap(sentence, 104)
        if len(found) + len(wrapped) <= lines:
            found += wrapped
    return found


def draw(result: MapResult, ax: Axes) -> Any:
    """The map on axes of the caller's; returns the filled contours, for a colour bar."""
    grid = map_grid(result)
    x, y = _ticks(result.horizontal, grid.u), _ticks(result.vertical, grid.v)
    filled = _fill(ax, x, y, grid)
    _lines(ax, x, y, grid, result.scenario.tables.heater.wanted_headroom)
    _regions(ax, x, y, grid, alike(result))
    _points(result, ax)
    for axis, number in ((result.horizontal, ax.set_xlabel), (result.vertical, ax.set_ylabel)):
        number(_label(axis))
    ax.set_xlim(x[0], x[-1])
    ax.set_ylim(y[0], y[-1])
    ax.grid(False)
    return filled


def alike(result: MapResult) -> set[str]:
    """Limits, without their side, that both sides of a part come to alike."""
    bounds = [end for reach in result.answer.reaches for end in (reach.lower, reach.upper) if end is not None]
    return {family(end.ends) for end in bounds if end.both}


def scale(axis: MapAxis) -> tuple[float, str]:
    """Factor from SI and unit label of an axis."""
    unit = axis.field.unit
    if axis.field.kind != "quantity" or not unit:
        return 1.0, ""
    return easy_unit(unit, max(abs(axis.low), abs(axis.high)))


def _ticks(axis: MapAxis, share: Any) -> Any:
    return (axis.low + share * axis.span) * scale(axis)[0]


def _label(axis: MapAxis) -> str:
    unit = scale(axis)[1]
    words = field_words(axis.field.path)
    return f"{words}, {unit}" if unit else words


def _fill(ax: Axes, x: Any, y: Any, grid: MapGrid) -> Any:
    """Colours of the headroom, hatches where it is not usable, denser ones where there is no headroom."""
    shown = np.ma.masked_invalid(grid.least)
    filled = ax.contourf(x, y, shown, levels=LEVELS, colors=_colours(), extend="both")
    for field, hatch, colour in (
        (grid.margin, "////", to_rgba(HATCH, 0.4)),
        (np.where(grid.blocked, -1.0, 1.0), "xxxx", to_rgba(FAINT, 0.9)),
    ):
        if field.min() < 0:
            beyond = ax.contourf(x, y, field, levels=[-9.0, 0.0], colors="none", hatches=[hatch])
            beyond.set_edgecolor(colour)
            beyond.set_linewidth(0.0)
    return filled


def _colours() -> Any:
    """A colour a step: those below zero from the lower half of the scale, those above from the upper half, pale at zero."""
    below = LEVELS.index(0.0) + 1
    above = len(LEVELS) + 1 - below
    return HEADROOM([*np.linspace(0.06, 0.42, below), *np.linspace(0.56, 0.96, above)])


def _lines(ax: Axes, x: Any, y: Any, grid: MapGrid, wanted: float) -> None:
    """Lines of equal headroom, the wanted one, and the boundary."""
    inner = np.where(grid.margin >= 0, np.nan_to_num(grid.least, nan=-1.0), np.nan)
    if np.isfinite(inner).any():
        levels = [level for level in LEVELS if 0 < level != wanted]
        drawn = ax.contour(x, y, inner, levels=levels, colors=[ON_MAP], linewidths=0.5, alpha=0.6)
        ax.clabel(drawn, fmt=lambda level: f"+{100 * level:.0f} %", fontsize=7.5, colors=[ON_MAP])
    if grid.spare.min() < 0 < grid.spare.max():
        ax.contour(x, y, grid.spare, levels=[0.0], colors=[ON_MAP], linewidths=1.3, linestyles=[(0, (4, 2))])
    if grid.margin.min() < 0 <= grid.margin.max():
        drawn = ax.contour(x, y, grid.margin, levels=[0.0], colors=[ON_MAP], linewidths=2.2)
        drawn.set_path_effects(halo(4.2, UNDER))


def _regions(ax: Axes, x: Any, y: Any, grid: MapGrid, both: set[str]) -> None:
    """What ends it, written where the region beyond the boundary is widest; thin lines between two of them."""
    _separators(ax, x, y, _kinds(grid))
    for named in named_regions(grid, both):
        name_region(ax, named, (x[0], x[-1]), (y[0], y[-1]))


def _kinds(grid: MapGrid) -> Any:
    """Number of what ends it by row and column, the same for both sides of a part; -1 where it is usable."""
    kinds = [either_side(text) for text in grid.labels]
    return np.array([*(kinds.index(name) for name in kinds), -1])[grid.ends.astype(int)]


def named_regions(grid: MapGrid, both: set[str]) -> Iterator[Named]:
    """The regions beyond the boundary with what ends each. both: limits that both sides of a part come to alike."""
    kind = _kinds(grid)
    rows, columns = kind.shape
    for number in sorted(set(kind[kind >= 0])):
        for inside, row, column, depth in regions(kind == number, 0.002):
            limits = sorted(grid.labels[int(k)] for k in np.unique(grid.ends[inside]))
            # both sides of a part are named as one when they are alike or take turns
            text = words.ends_label(limits[0], len(limits) > 1 or family(limits[0]) in both)
            yield Named(text, ((column + 0.5) / columns, (row + 0.5) / rows), depth)


def _separators(ax: Axes, x: Any, y: Any, kind: Any) -> None:
    """Thin lines where one region beyond the boundary borders on another."""
    rows, columns = np.nonzero((kind[:, 1:] != kind[:, :-1]) & (kind[:, 1:] >= 0) & (kind[:, :-1] >= 0))
    half = 0.5 * (y[1] - y[0])
    across = [
        [(0.5 * (x[c] + x[c + 1]), y[r] - half), (0.5 * (x[c] + x[c + 1]), y[r] + half)] for r, c in zip(rows, columns, strict=True)
    ]
    ax.add_collection(LineCollection(across, colors=ON_MAP, linewidths=1.0))


MARKS: dict[str, dict[str, Any]] = {
    "judged": {"marker": ".", "markersize": 3.2, "color": ON_MAP},
    "not judged": {"marker": "x", "markersize": 4.0, "color": ON_MAP},
    "own": {"marker": "D", "markersize": 7.5, "color": PAPER, "markeredgecolor": INK, "markeredgewidth": 1.6},
}
"""Look of simulated points with headrooms and without, and of the scenario's own."""


def _marked(result: MapResult) -> Iterator[tuple[dict[str, Any], list[Sample], str]]:
    """Look, points and meaning of the marks there are."""
    samples = result.evidence.samples
    yield MARKS["judged"], [one for one in samples if not result.evidence.blocked(one)], f"{len(samples)} simulated points"
    yield MARKS["not judged"], [one for one in samples if result.evidence.blocked(one)], "dead, latched or unknown"
    yield MARKS["own"], [result.own] if result.own is not None else [], "the scenario's own point"


def _points(result: MapResult, ax: Axes) -> None:
    """Simulated points, and the scenario's own."""
    across, along = scale(result.horizontal)[0], scale(result.vertical)[0]
    for look, samples, _ in _marked(result):
        x, y = [one.x * across for one in samples], [one.y * along for one in samples]
        ax.plot(x, y, linestyle="none", clip_on=False, zorder=7 if look is MARKS["own"] else 5, **look)


def _legend(fig: Figure, result: MapResult) -> None:
    """What lines and marks mean, in one line at the bottom."""
    wanted = 100 * result.scenario.tables.heater.wanted_headroom
    marks = [
        (Line2D([], [], color=INK, linewidth=2.2), "boundary"),
        (Line2D([], [], color=INK, linewidth=1.3, linestyle=(0, (4, 2))), f"wanted, {wanted:.3g} %"),
        *((Line2D([], [], linestyle="none", **_beside(look)), text) for look, samples, text in _marked(result) if samples),
    ]
    spacing: dict[str, Any] = {"handlelength": 1.9, "columnspacing": 1.2, "handletextpad": 0.5, "borderaxespad": 0.3}
    place: dict[str, Any] = {"loc": "lower left", "bbox_to_anchor": (0.005, 0.0), "ncols": len(marks)}
    fig.legend([mark for mark, _ in marks], [text for _, text in marks], fontsize=8, **place, **spacing)


def _beside(look: Mapping[str, Any]) -> dict[str, Any]:
    """The look of a mark beside the map, where ink is that of the page."""
    return {key: INK if value == ON_MAP else value for key, value in look.items()}


def _colour_bar(fig: Figure, filled: Any) -> None:
    """The scale of headroom, right of the map."""
    cax = fig.add_axes((0.892, 0.155, 0.02, 0.685))
    bar = fig.colorbar(filled, cax=cax, ticks=list(LEVELS), spacing="uniform", extendfrac=0.03)
    bar.ax.set_yticklabels([percent(level).removesuffix(" %").replace("+0", "0") for level in LEVELS])
    bar.ax.tick_params(length=0)
    bar.outline.set_visible(False)
    bar.set_label("least headroom, %")
