# SPDX-License-Identifier: GPL-3.0-or-later
"""Maps of a sweep over two axes: headroom by colour, its zero as a line, and what ends each region."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import QuadMesh
from matplotlib.colors import LinearSegmentedColormap, Normalize, TwoSlopeNorm
from matplotlib.figure import Figure
from numpy.typing import NDArray

from heatsim.report.base.maps import HEADROOM, ON_MAP, UNDER, Named, halo, name_region, regions
from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import DOTTED, FAINT, INK, LIMIT
from heatsim.report.base.words import either_side
from heatsim.report.sweep.axes import axis_label, head, positions, scaled, title, with_unit
from heatsim.report.sweep.view import BROKEN, SweepView
from heatsim.waves import Array

PANELS = 9
"""At most so many maps on one sheet."""

PLAIN = LinearSegmentedColormap.from_list("plain", ["#f4f2ee", "#a9b4c2", "#31363f"])
"""For outputs that are neither good nor bad."""

SMALL = 0.03
"""Share of the map from which every region of a limit has its name written; of smaller ones the first."""

FINE = 120
"""Steps along each axis in which regions are looked at."""

EDGE = 100.0
"""Headroom [%] at which the colours end, to either side."""


def maps(view: SweepView, key: str) -> Figure:
    """Maps of one output over the first two axes with numbers, one for each case and each value of other dimensions."""
    drawn = [k for k, dimension in enumerate(view.dimensions, start=1) if dimension.numbers is not None][:2]
    every = list(product(*([slice(None)] if k in drawn else range(size) for k, size in enumerate(view.shape))))
    panels = every[:PANELS]
    columns = 2 if len(panels) == 4 else min(len(panels), 3)
    rows = -(-len(panels) // columns)
    width, height = (7.4, 5.7) if len(panels) == 1 else (3.6 * columns + 1.0, 3.5 * rows + 0.5)
    values, unit = scaled(view, key)
    colours, norm = _colours(values, key)
    with new_figure(width, height, layout="constrained") as figure:
        axes = np.atleast_1d(figure.subplots(rows, columns, sharex=True, sharey=True)).ravel()
        for pick, ax in zip(panels, axes, strict=False):
            mesh = _map(view, (drawn[0] - 1, drawn[1] - 1), pick, (key, values), ax)
            mesh.set(cmap=colours, norm=norm)
            ax.set_title(view.others(pick, named=True), pad=6, fontsize=9.5)
        for ax in axes[len(panels) :]:
            ax.set_visible(False)
        extend, shrink = "both" if key == "headroom" else "neither", 1.0 if rows == 1 else 1 / rows + 0.15
        look: dict[str, Any] = {"fraction": 0.05, "pad": 0.02, "aspect": 24, "extendfrac": 0.03}
        bar = figure.colorbar(mesh, ax=list(axes), extend=extend, shrink=shrink, **look)
        _marks(figure, axes)
        bar.outline.set_visible(False)
        bar.set_label(with_unit(title(key).lower(), unit))
        dropped = " (the first of more)" if len(panels) < len(every) else ""
        head(figure, f"{view.name}: {title(key).lower()}{dropped}")
    return figure


def _colours(values: Array, key: str) -> tuple[LinearSegmentedColormap, Normalize]:
    if key == "headroom":
        return HEADROOM, TwoSlopeNorm(0.0, -EDGE, EDGE * 0.5)
    finite = values[np.isfinite(values)]
    return PLAIN, Normalize(float(finite.min()), float(finite.max())) if len(finite) else Normalize(0, 1)


def _map(view: SweepView, drawn: tuple[int, int], pick: tuple[Any, ...], output: tuple[str, Array], ax: Axes) -> QuadMesh:
    """One map; columns along the first axis. output: its key and its values by place."""
    (x, x_order), (y, y_order) = (positions(view.dimensions[k]) for k in drawn)

    def grid(values: Any) -> Any:
        return view.cube(values)[pick][np.ix_(x_order, y_order)].T

    shown, outcomes = grid(output[1]), grid(view.texts("outcome"))
    mesh = ax.pcolormesh(_edges(x), _edges(y), np.ma.masked_invalid(shown), rasterized=True)
    broken = np.isin(outcomes, BROKEN)
    _lost(ax, x, y, {"latched or dead": broken, "no result": (outcomes != "") & ~broken & np.isnan(shown)})
    if output[0] == "headroom":
        level = np.where(np.isnan(shown) & broken, -EDGE, shown)  # so that lines go round points without a number
        _contours(ax, x, y, level, view.wanted)
        for named in named_regions(x, y, level, grid(view.texts("ends"))):
            name_region(ax, named, axis_ends(x), axis_ends(y))
    else:
        _levels(ax, x, y, shown)
    ax.set(xlim=axis_ends(x), ylim=axis_ends(y))
    ax.grid(False)
    ax.set(xlabel=axis_label(view.dimensions[drawn[0]]), ylabel=axis_label(view.dimensions[drawn[1]]))
    ax.label_outer()
    return mesh


def _edges(centres: Array) -> Array:
    """Edges of cells round their centres."""
    if len(centres) == 1:
        return np.array([centres[0] - 0.5, centres[0] + 0.5])
    middle = (centres[1:] + centres[:-1]) / 2
    return np.concatenate([[2 * centres[0] - middle[0]], middle, [2 * centres[-1] - middle[-1]]])


def axis_ends(centres: Array) -> tuple[float, float]:
    """First and last place: the axes end where the points do, and no half cell beyond them is drawn."""
    first, last = (float(centres[k]) for k in (0, -1))
    return (first, last) if first < last else (first - 0.5, last + 0.5)


LOST = {"latched or dead": ("x", LIMIT), "no result": (".", FAINT)}
"""Mark and colour of points without a number: the circuit fails to run, or nothing is known."""


def _lost(ax: Axes, x: Array, y: Array, found: Mapping[str, Any]) -> None:
    """Marks where there is no number. found: what LOST names, by row and column."""
    for name, where in found.items():
        rows, columns = np.nonzero(where)
        mark, colour = LOST[name]
        if len(rows):
            ax.plot(x[columns], y[rows], mark, color=colour, markersize=5, label=name, linestyle="none", clip_on=False, zorder=5)


def _marks(figure: Figure, axes: Any) -> None:
    """What marks and lines mean, once for the sheet."""
    found = {name: handle for ax in axes for handle, name in zip(*ax.get_legend_handles_labels(), strict=True)}
    if found:
        figure.legend(list(found.values()), list(found), loc="outside lower left", ncols=len(found), borderaxespad=0.4)


def _contours(ax: Axes, x: Array, y: Array, level: Array, wanted: float) -> None:
    """The line of no headroom, and that of the headroom that is wanted."""
    if min(level.shape) < 2 or not np.isfinite(level).any():
        return
    low, high = np.nanmin(level), np.nanmax(level)
    if low < 0 <= high:
        drawn = ax.contour(x, y, level, levels=[0.0], colors=[ON_MAP], linewidths=1.8)
        drawn.set_path_effects(halo(3.4, UNDER))
        ax.plot([], [], color=INK, linewidth=1.8, label="no headroom left")
    if wanted > 0 and low < 100 * wanted < high:
        ax.contour(x, y, level, levels=[100 * wanted], colors=[ON_MAP], linewidths=1.1, linestyles=[DOTTED])
        ax.plot([], [], color=INK, linewidth=1.1, linestyle=DOTTED, label=f"headroom wanted, {100 * wanted:.3g} %")


def _levels(ax: Axes, x: Array, y: Array, shown: Array) -> None:
    """Lines of equal value of any other output."""
    if min(shown.shape) >= 2 and np.isfinite(shown).any() and np.nanmin(shown) < np.nanmax(shown):
        drawn = ax.contour(x, y, shown, levels=6, colors=[ON_MAP], linewidths=0.8)
        ax.clabel(drawn, fontsize=8, fmt="%.3g")


def named_regions(x: Array, y: Array, level: Array, ends: Any) -> Iterator[Named]:
    """The regions that fail with what ends each; of a limit that has none of some size, one.

    x, y: places, shape (n,) and (m,); level: headroom there, shape (m, n); ends: what decides there, as stored
    """
    columns, rows = (_finely(centres) for centres in (x, y))
    words = np.array([[_ending(text) for text in row] for row in ends], dtype=object)
    words = np.where(level < 0, words, "")[np.ix_(rows, columns)]
    for limit in sorted(set(words.ravel()) - {""}):
        found = list(regions(words == limit, 0.0))
        for _, row, column, depth in [each for each in found if each[0].mean() >= SMALL] or found[:1]:
            yield Named(limit, ((column + 0.5) / FINE, (row + 0.5) / FINE), depth)


def _ending(text: str) -> str:
    """A limit for a label; what does not run has the name of its crosses."""
    return "latched or dead" if text.startswith("oscillator") else either_side(text)


def _finely(centres: Array) -> NDArray[np.int64]:
    """The nearest place of each of `FINE` even steps along the axis."""
    first, last = axis_ends(centres)
    steps = first + (np.arange(FINE) + 0.5) / FINE * (last - first)
    return np.asarray(np.abs(steps[:, None] - centres[None, :]).argmin(axis=1), dtype=np.int64)
