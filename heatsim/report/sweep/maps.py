# SPDX-License-Identifier: GPL-3.0-or-later
"""Maps of a sweep over two axes: headroom by colour, its zero as a line, and what ends each region."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from itertools import islice, product
from typing import TYPE_CHECKING, Any

import matplotlib.patheffects as effects
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, Normalize, TwoSlopeNorm

from heatsim.report.base.style import FAINT, INK, LIMIT, PAPER
from heatsim.report.sweep.axes import axis_label, head, positions, scaled, title
from heatsim.report.sweep.view import BROKEN, Dimension, SweepView, either_side
from heatsim.waves import Array

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PANELS = 9
"""At most so many maps on one sheet."""

HEADROOM = LinearSegmentedColormap.from_list(
    "headroom", [(0.0, "#8a3b24"), (0.28, "#c27d5f"), (0.5, "#f7f1e8"), (0.72, "#79b3ab"), (1.0, "#1f6b63")]
)
"""From brown (short of what is allowed) over paper to green-blue; apart for every common kind of colour blindness."""

PLAIN = LinearSegmentedColormap.from_list("plain", ["#f4f2ee", "#a9b4c2", "#31363f"])
"""For outputs that are neither good nor bad."""

EDGE = 100.0
"""Headroom [%] at which the colours end, to either side."""


def maps(view: SweepView, key: str) -> Figure:
    """Maps of one output over the first two axes with numbers, one for each case and each value of other dimensions."""
    from matplotlib.figure import Figure

    first, second = [k for k, dimension in enumerate(view.dimensions) if dimension.numbers is not None][:2]
    panels = list(islice(_panels(view, first, second), PANELS))
    columns = 2 if len(panels) == 4 else min(len(panels), 3)
    rows = -(-len(panels) // columns)
    width = 7.4 if len(panels) == 1 else 3.6 * columns + 1.0
    figure = Figure(figsize=(width, (5.2 if len(panels) == 1 else 3.5 * rows) + 0.5), layout="constrained")
    axes = np.atleast_1d(figure.subplots(rows, columns, sharex=True, sharey=True)).ravel()
    values, unit = scaled(view, key)
    colours, norm = _colours(values, key)
    for (name, pick), ax in zip(panels, axes, strict=False):
        mesh = _map(view, (first, second), pick, (key, values, unit), ax, (colours, norm))
        ax.set_title(name, pad=6, fontsize=9.5)
    for ax in axes[len(panels) :]:
        ax.set_visible(False)
    bar = figure.colorbar(
        mesh,
        ax=list(axes),
        extend="both" if key == "headroom" else "neither",
        fraction=0.05,
        pad=0.02,
        aspect=24,
        shrink=1.0 if rows == 1 else 1 / rows + 0.15,
        extendfrac=0.03,
    )
    _marks(figure, axes)
    bar.outline.set_visible(False)
    bar.set_label(f"{title(key).lower()}, {unit}" if unit else title(key).lower())
    dropped = " (the first of more)" if len(panels) < _count(view, first, second) else ""
    head(figure, f"{view.name}: {title(key).lower()}{dropped}")
    return figure


def _count(view: SweepView, first: int, second: int) -> int:
    return int(np.prod(view.shape) // (view.shape[first + 1] * view.shape[second + 1]))


def _panels(view: SweepView, first: int, second: int) -> Iterator[tuple[str, tuple[Any, ...]]]:
    """Name and index of each map: cases and the values of all dimensions that are not drawn."""
    sizes: list[Any] = [[slice(None)] if k in (first + 1, second + 1) else range(size) for k, size in enumerate(view.shape)]
    for pick in product(*sizes):
        told = [view.cases[pick[0]]] if len(view.cases) > 1 else []
        told += [
            f"{dimension.label} {dimension.values[at]}"
            for dimension, at in zip(view.dimensions, pick[1:], strict=False)
            if isinstance(at, int) and len(dimension.values) > 1
        ]
        yield ", ".join(told), pick


def _colours(values: Array, key: str) -> tuple[LinearSegmentedColormap, Normalize]:
    if key == "headroom":
        return HEADROOM, TwoSlopeNorm(0.0, -EDGE, EDGE * 0.5)
    finite = values[np.isfinite(values)]
    return PLAIN, Normalize(float(finite.min()), float(finite.max())) if len(finite) else Normalize(0, 1)


def _map(
    view: SweepView,
    drawn: tuple[int, int],
    pick: tuple[Any, ...],
    output: tuple[str, Array, str],
    ax: Axes,
    colours: tuple[Any, Any],
) -> Any:
    """One map; columns along the first axis."""
    across, along = (view.dimensions[k] for k in drawn)
    (x, x_order), (y, y_order) = positions(across), positions(along)

    def grid(values: Any) -> Any:
        return view.cube(values)[pick][np.ix_(x_order, y_order)].T

    key, values, _ = output
    shown = grid(values)
    mesh = ax.pcolormesh(_edges(x), _edges(y), np.ma.masked_invalid(shown), cmap=colours[0], norm=colours[1], rasterized=True)
    _lost(ax, x, y, grid(view.texts("outcome")), shown)
    if key == "headroom":
        level = _with_failures(shown, grid(np.isin(view.texts("outcome"), BROKEN)))
        _contours(ax, x, y, level, view.wanted)
        _regions(ax, x, y, level, grid(view.texts("ends")))
    else:
        _levels(ax, x, y, shown)
    ax.set_xlim(_edges(x)[0], _edges(x)[-1])
    ax.set_ylim(_edges(y)[0], _edges(y)[-1])
    ax.grid(False)
    _outer_labels(ax, across, along)
    return mesh


def _outer_labels(ax: Axes, across: Dimension, along: Dimension) -> None:
    """Labels on the outside of the sheet only."""
    ax.set_xlabel(axis_label(across))
    ax.set_ylabel(axis_label(along))
    ax.label_outer()


def _edges(centres: Array) -> Array:
    """Edges of cells round their centres."""
    if len(centres) == 1:
        return np.array([centres[0] - 0.5, centres[0] + 0.5])
    middle = (centres[1:] + centres[:-1]) / 2
    return np.concatenate([[2 * centres[0] - middle[0]], middle, [2 * centres[-1] - middle[-1]]])


def _with_failures(shown: Array, broken: Array) -> Array:
    """Headroom with points that fail without a number far below zero, so that lines go round them."""
    return np.where(np.isnan(shown) & broken, -EDGE, shown)


def _lost(ax: Axes, x: Array, y: Array, outcomes: Any, shown: Array) -> None:
    """Marks where there is no number: a cross where the circuit fails to run, a dot where nothing is known."""
    told = {
        "latched or dead": ("x", LIMIT, np.isin(outcomes, BROKEN)),
        "no result": (".", FAINT, (outcomes != "") & ~np.isin(outcomes, BROKEN) & np.isnan(shown)),
    }
    for name, (mark, colour, where) in told.items():
        rows, columns = np.nonzero(where)
        if len(rows):
            ax.plot(x[columns], y[rows], mark, color=colour, markersize=5, label=name, linestyle="none")


def _marks(figure: Figure, axes: Any) -> None:
    """What the marks mean, once for the sheet."""
    found = {name: handle for ax in axes for handle, name in zip(*ax.get_legend_handles_labels(), strict=True)}
    if found:
        figure.legend(list(found.values()), list(found), loc="outside upper right", ncols=2, borderaxespad=0.4)


def _contours(ax: Axes, x: Array, y: Array, level: Array, wanted: float) -> None:
    """The line of no headroom, and that of the headroom that is wanted."""
    if min(level.shape) < 2 or not np.isfinite(level).any():
        return
    low, high = np.nanmin(level), np.nanmax(level)
    halo: list[Any] = [effects.withStroke(linewidth=3.4, foreground=PAPER)]
    if low < 0 <= high:
        drawn = ax.contour(x, y, level, levels=[0.0], colors=[INK], linewidths=1.8)
        drawn.set_path_effects(halo)
        ax.clabel(drawn, fmt={0.0: "no headroom left"}, fontsize=8)
    if wanted > 0 and low < 100 * wanted < high:
        drawn = ax.contour(x, y, level, levels=[100 * wanted], colors=[INK], linewidths=1.0, linestyles=[(0, (1, 1.4))])
        ax.clabel(drawn, fmt={100 * wanted: f"{100 * wanted:.3g} % wanted"}, fontsize=8)


def _levels(ax: Axes, x: Array, y: Array, shown: Array) -> None:
    """Lines of equal value of any other output."""
    if min(shown.shape) >= 2 and np.isfinite(shown).any() and np.nanmin(shown) < np.nanmax(shown):
        drawn = ax.contour(x, y, shown, levels=6, colors=[INK], linewidths=0.8)
        ax.clabel(drawn, fontsize=8, fmt="%.3g")


def _regions(ax: Axes, x: Array, y: Array, level: Array, ends: Any) -> None:
    """What ends each region that fails: its limit, written where the region is thickest."""
    from scipy.ndimage import distance_transform_edt, label

    words = np.array([[either_side(text) for text in row] for row in ends], dtype=object)
    for limit in sorted(set(words[level < 0]) - {""}):
        if limit.startswith("oscillator"):
            continue  # the crosses say so
        parts, count = label((words == limit) & (level < 0))
        for number in range(1, count + 1):
            inside = parts == number
            if inside.sum() < max(3, 0.03 * inside.size):
                continue
            depth = distance_transform_edt(np.pad(inside, 1))[1:-1, 1:-1]
            row, column = np.unravel_index(np.argmax(depth), depth.shape)
            ax.text(
                x[column],
                y[row],
                "\n".join(textwrap.wrap(limit, 15)),
                ha="center",
                va="center",
                fontsize=8.5,
                color=INK,
                path_effects=[effects.withStroke(linewidth=2.6, foreground=PAPER)],
            )


__all__ = ["maps"]
