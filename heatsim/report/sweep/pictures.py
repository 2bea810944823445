# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of a sweep: which one fits, and lines over one axis."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import matplotlib.patheffects as effects
import numpy as np
from matplotlib.axes import Axes

from heatsim.errors import InputError
from heatsim.quantity import format_quantity
from heatsim.report.base.style import FAINT, LIMIT, PAPER, house
from heatsim.report.sweep.axes import CASES, axis_label, axis_scale, columns_of, head, name_lines, positions, scaled, title
from heatsim.report.sweep.influence import influence
from heatsim.report.sweep.maps import maps
from heatsim.report.sweep.view import BROKEN, Dimension, SweepView, either_side
from heatsim.waves import Array

if TYPE_CHECKING:
    from matplotlib.figure import Figure

OUTPUTS = ("headroom", "tank.peak_voltage_v", "choke.*.peak_current_a", "tank.frequency_hz", "tank.thd_ratio")
"""What is drawn over one axis unless asked otherwise; a star stands for either choke, and the larger one is drawn."""

FLOOR = -1.0
"""Headroom [1] below this is drawn at the edge of lines: hopeless is hopeless."""


def draw(plan: Mapping[str, Any], frame: Any, outputs: Sequence[str] = ()) -> Figure:
    """The picture that fits the sweep: lines, maps, or influence.

    plan: as a store holds it; frame: of the sweep, rows by place; outputs: measures instead of the usual ones.
    """
    view = SweepView(plan, frame)
    for key in outputs:
        if key != "headroom" and not any(name in view.frame for name in columns_of(key)):
            raise InputError.single("--output", "is not a measure of this sweep", key, _near(key, view.frame))
    with house():
        if view.samples and np.prod(view.shape[1:-1]) == 1:
            return influence(view, outputs[0] if outputs else "headroom")
        if sum(dimension.numbers is not None for dimension in view.dimensions) >= 2:
            return maps(view, outputs[0] if outputs else "headroom")
        return lines(view, outputs or OUTPUTS)


def save(figure: Figure, path: Path) -> None:
    """Write in the format of the name: PNG, SVG, PDF."""
    try:
        with house():
            figure.savefig(path, dpi=160)
    except (OSError, ValueError) as error:
        raise InputError.single("--plot", f"cannot be written ({error})", path) from None


def _near(key: str, frame: Any) -> str:
    close = difflib.get_close_matches(key, [str(name) for name in frame.columns], n=3, cutoff=0.4)
    return f"did you mean {' or '.join(close)}?" if close else "headroom, or a column of the exported table"


def lines(view: SweepView, outputs: Sequence[str]) -> Figure:
    """Small multiples of outputs over the first axis with numbers; a line for each case and word."""
    from matplotlib.figure import Figure

    at = next((k for k, dimension in enumerate(view.dimensions) if dimension.numbers is not None), 0)
    heights = [1.9 if key == "headroom" else 1.0 for key in outputs]
    figure = Figure(figsize=(7.4, 1.0 + 1.3 * sum(heights)), layout="constrained")
    axes = np.atleast_1d(figure.subplots(len(outputs), 1, sharex=True, gridspec_kw={"height_ratios": heights}))
    for key, ax in zip(outputs, axes, strict=True):
        _panel(view, at, key, ax)
    name_lines(axes[0], [_name(view, index, at) for index in np.ndindex(_others(view, at))])
    axis = view.dimensions[at]
    if axis.numbers is None:
        axes[-1].set_xticks(range(len(axis.values)), [str(value) for value in axis.values])
    axes[-1].set_xlabel(axis_label(axis))
    head(figure, f"{view.name}, over {axis.label}")
    return figure


def _others(view: SweepView, at: int) -> tuple[int, ...]:
    """Sizes of the dimensions that are not along the picture."""
    return tuple(size for k, size in enumerate(view.shape) if k != at + 1)


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
    ax.set_title(f"{title(key)}, {unit}" if unit else title(key), pad=6)
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
        ax.axhline(100 * view.wanted, color=FAINT, linewidth=1.0, linestyle=(0, (1, 1.4)))
        _aside(ax, f"wanted: {100 * view.wanted:.3g} %", 100 * view.wanted, ("right", "bottom"), FAINT)
    _aside(ax, "fails below", 0.0, ("left", "top"), LIMIT)
    if low < 100 * FLOOR:
        ax.annotate(
            f"goes down to {low:.0f} %".replace("-", "−"),
            (0.0, 0.0),
            (5, 3),
            fontsize=8,
            color=FAINT,
            xycoords="axes fraction",
            textcoords="offset points",
        )
    told = 0
    if view.dimensions[at].numbers is None:
        return
    ends = np.moveaxis(view.cube(view.texts("ends")), at + 1, -1)
    x, order = positions(view.dimensions[at])
    for number, index in enumerate(np.ndindex(cube.shape[:-1])):
        for left, where in crossings(x, cube[index][order])[:3]:
            colour = CASES[number % len(CASES)][0]
            falling = cube[index][order][left] >= 0
            limit = either_side(ends[index][order][left + falling])
            ax.plot([where], [0], "o", markerfacecolor=PAPER, markeredgecolor=colour, markersize=6, zorder=5)
            told += 1
            name = _name(view, index, at)
            text = f"{name}: " if name else ""
            text += _limit_of_use(view.dimensions[at], where, bool(falling), limit.replace(": ", " "))
            ax.annotate(
                text,
                (0.0, 0.0),
                (5, 4 + 12 * told),
                xycoords="axes fraction",
                textcoords="offset points",
                fontsize=8.5,
                color=colour,
                path_effects=[effects.withStroke(linewidth=2.4, foreground=PAPER)],
            )


def _limit_of_use(axis: Dimension, where: float, falling: bool, limit: str) -> str:
    """A crossing in words: "up to 24.9 V, then choke temperature"."""
    number = format_quantity(where / axis_scale(axis)[0], axis.unit) if axis.unit else f"{where:.3g}"
    return f"up to {number}, then {limit}" if falling else f"from {number}, below it {limit}"


def _aside(ax: Axes, text: str, level: float, where: tuple[str, str], colour: str) -> None:
    """A small note at a level of the picture, left or right, above or below it."""
    side, rests = where
    ax.annotate(
        text,
        (float(side == "right"), level),
        (-2 if side == "right" else 5, 2 if rests == "bottom" else -3),
        ha=side,
        va=rests,
        xycoords=("axes fraction", "data"),
        textcoords="offset points",
        fontsize=8,
        color=colour,
    )


def crossings(x: Array, y: Array) -> list[tuple[int, float]]:
    """Where a line passes zero, with the number of the point before it; both neighbours must have a number."""
    found = []
    for k in range(len(x) - 1):
        if np.isfinite(y[k]) and np.isfinite(y[k + 1]) and (y[k] >= 0) != (y[k + 1] >= 0):
            found.append((k, float(x[k] - y[k] * (x[k + 1] - x[k]) / (y[k + 1] - y[k]))))
    return found


def _name(view: SweepView, index: tuple[int, ...], at: int) -> str:
    """Case and words of a line; empty when there is one line only."""
    others = [dimension for k, dimension in enumerate(view.dimensions) if k != at]
    told = [view.cases[index[0]]] if len(view.cases) > 1 else []
    told += [str(dimension.values[k]) for dimension, k in zip(others, index[1:], strict=False) if len(dimension.values) > 1]
    return ", ".join(told)


__all__ = ["OUTPUTS", "draw", "lines", "save"]
