# SPDX-License-Identifier: GPL-3.0-or-later
"""Lines of a sweep: outputs over one axis, a line for each case and word, with what ends the use where headroom crosses zero."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from heatsim.report.base.maps import halo
from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import ACROSS, DOTTED, FAINT, LIMIT, PAPER, note
from heatsim.report.base.words import either_side, value_text
from heatsim.report.sweep.axes import CASES, axis_label, axis_scale, head, name_lines, positions, scaled, title, with_unit
from heatsim.report.sweep.view import BROKEN, Dimension, SweepView
from heatsim.waves import Array

FLOOR = -1.0
"""Headroom [1] below this is drawn at the edge: hopeless is hopeless."""


def lines(view: SweepView, outputs: Sequence[str]) -> Figure:
    """Small multiples of outputs over the first axis with numbers; a line for each case and word."""
    at = next((k for k, dimension in enumerate(view.dimensions) if dimension.numbers is not None), 0)
    heights = [1.9 if key == "headroom" else 1.0 for key in outputs]
    axis = view.dimensions[at]
    with new_figure(7.4, 1.0 + 1.3 * sum(heights), layout="constrained") as figure:
        axes = np.atleast_1d(figure.subplots(len(outputs), 1, sharex=True, gridspec_kw={"height_ratios": heights}))
        for key, ax in zip(outputs, axes, strict=True):
            _panel(view, at, key, ax)
        others = np.ndindex(tuple(size for k, size in enumerate(view.shape) if k != at + 1))
        name_lines(axes[0], [_name(view, index, at) for index in others])
        if axis.numbers is None:
            axes[-1].set_xticks(range(len(axis.values)), [str(value) for value in axis.values])
        axes[-1].set_xlabel(axis_label(axis))
        head(figure, f"{view.name}, over {axis.label}")
    return figure


def _panel(view: SweepView, at: int, key: str, ax: Axes) -> None:
    """One output: a line for every combination of the other dimensions."""
    values, unit = scaled(view, key)
    cube = np.moveaxis(view.cube(values), at + 1, -1)
    lost = np.moveaxis(view.cube(np.isin(view.texts("outcome"), BROKEN)), at + 1, -1)
    axis = view.dimensions[at]
    x, order = positions(axis)
    for number, index in enumerate(np.ndindex(cube.shape[:-1])):
        colour, dashes, mark = CASES[number % len(CASES)]
        ax.plot(x, cube[index][order], color=colour, linestyle=dashes, marker=mark, markersize=3.4 if len(x) <= 60 else 0)
        gone = x[lost[index][order]]
        ax.plot(gone, np.full(len(gone), 0.05), "x", color=LIMIT, markersize=6, transform=ax.get_xaxis_transform())
    ax.set_title(with_unit(title(key), unit), pad=6)
    ax.margins(x=0.02, y=0.14)
    if key == "headroom":
        _headroom(view, at, cube, ax)
    elif np.isfinite(cube).any() and 0 <= np.nanmin(cube) < 0.75 * np.nanmax(cube):
        ax.set_ylim(bottom=0)


def _headroom(view: SweepView, at: int, cube: Array, ax: Axes) -> None:
    """Zero line, shaded failure, wanted headroom, where each line crosses zero and what ends it there."""
    known = cube[np.isfinite(cube)]
    low, high = (known.min(), known.max()) if len(known) else (0.0, 0.0)
    ax.set_ylim(max(min(1.1 * low, -8), 100 * FLOOR), max(1.15 * high, 12))
    ax.axhspan(ax.get_ylim()[0], 0, color=LIMIT, alpha=0.07, zorder=0)
    ax.axhline(0, color=LIMIT, linewidth=1.3)
    if view.wanted > 0:
        ax.axhline(100 * view.wanted, color=FAINT, linewidth=1.0, linestyle=DOTTED)
        level = 100 * view.wanted
        note(ax, f"wanted: {level:.3g} %", (1.0, level), (-2, 2), ACROSS, ha="right", va="bottom", color=FAINT)
    note(ax, "fails below", (0.0, 0.0), (5, -3), ACROSS, va="top", color=LIMIT)
    if low < 100 * FLOOR:
        note(ax, f"goes down to {low:.0f} %", (0.0, 0.0), (5, 3), "axes fraction", color=FAINT)
    if view.dimensions[at].numbers is not None:
        _name_crossings(view, at, cube, ax)


def _name_crossings(view: SweepView, at: int, cube: Array, ax: Axes) -> None:
    """Where each line crosses zero and what ends the use there; at most three crossings a line."""
    axis, count = view.dimensions[at], 0
    ends = np.moveaxis(view.cube(view.texts("ends")), at + 1, -1)
    x, order = positions(axis)
    for number, index in enumerate(np.ndindex(cube.shape[:-1])):
        line, colour, name = cube[index][order], CASES[number % len(CASES)][0], _name(view, index, at)
        for left, where in crossings(x, line)[:3]:
            falling = bool(line[left] >= 0)
            limit = either_side(ends[index][order][left + falling]).replace(": ", " ")
            ax.plot([where], [0], "o", markerfacecolor=PAPER, markeredgecolor=colour, markersize=6, zorder=5)
            count += 1
            text = (f"{name}: " if name else "") + _limit_of_use(axis, where, falling, limit)
            look: dict[str, Any] = {"fontsize": 8.5, "color": colour, "path_effects": halo(2.4)}
            note(ax, text, (0.0, 0.0), (5, 4 + 12 * count), "axes fraction", **look)


def _limit_of_use(axis: Dimension, where: float, falling: bool, limit: str) -> str:
    """A crossing in words: "up to about 24.9 V, then choke temperature"; it lies on a straight line between two points."""
    number = value_text(where / axis_scale(axis)[0], axis.unit) if axis.unit else f"{where:.3g}"
    return f"up to about {number}, then {limit}" if falling else f"from about {number}, below it {limit}"


def crossings(x: Array, y: Array) -> list[tuple[int, float]]:
    """Where a line passes zero, with the number of the point before it; both neighbours must have a number."""
    known = np.isfinite(y[:-1]) & np.isfinite(y[1:])
    found = np.flatnonzero(known & ((y[:-1] >= 0) != (y[1:] >= 0)))
    return [(int(k), float(x[k] - y[k] * (x[k + 1] - x[k]) / (y[k + 1] - y[k]))) for k in found]


def _name(view: SweepView, index: tuple[int, ...], at: int) -> str:
    """Case and words of a line; empty when there is one line only."""
    return view.others((*index[: at + 1], slice(None), *index[at + 1 :]))
