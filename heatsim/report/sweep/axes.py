# SPDX-License-Identifier: GPL-3.0-or-later
"""What the pictures of a sweep share: outputs in easy units, axes, looks of cases."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from heatsim.report.base.style import BUS, CENTRE, HEAT, INK, SUPPLY, engineering
from heatsim.report.base.words import part_words, split_key
from heatsim.report.sweep.view import Dimension, SweepView
from heatsim.waves import Array

TITLES = {
    "headroom": "Least headroom",
    "tank.peak_voltage_v": "Tank voltage, peak",
    "choke.*.peak_current_a": "Choke current, peak",
    "tank.frequency_hz": "Frequency",
    "tank.thd_ratio": "Harmonic distortion of the tank",
}

CASES: tuple[tuple[str, Any, str], ...] = (
    (INK, "-", "o"),
    (BUS, (0, (5, 2)), "s"),
    (SUPPLY, (0, (1, 1.4)), "^"),
    (CENTRE, (0, (5, 1.5, 1, 1.5)), "D"),
    (HEAT, (0, (3, 1)), "v"),
)
"""Colour, dashes and mark of each case."""


def columns_of(key: str) -> tuple[str, ...]:
    """The measures an output stands for: `choke.*.peak_current_a` for that of each choke there is."""
    return tuple(key.replace("*", side) for side in ("left", "right", "centre")) if "*" in key else (key,)


def scaled(view: SweepView, key: str) -> tuple[Array, str]:
    """An output by place in easy units, and the unit."""
    values = view.worst_of(columns_of(key))
    unit = "ratio" if key == "headroom" else split_key(key)[1]
    if unit == "ratio":
        return 100 * values, "%"
    largest = float(np.nanmax(np.abs(values))) if np.isfinite(values).any() else 0.0
    factor, label = engineering(unit, largest) if unit not in ("°C", "K", "A/m2", "") else (1.0, unit)
    return factor * values, easy_unit(label)


def easy_unit(label: str) -> str:
    """Units as they are printed on pictures."""
    return label.replace("ohm", "Ω")


def title(key: str) -> str:
    """What an output is, in words."""
    if key in TITLES:
        return TITLES[key]
    part, _, rest = split_key(key)[0].replace("*", "").rpartition(".")
    words = f"{part_words(part.rstrip('.'))}: {rest.replace('_', ' ')}"
    return words[0].upper() + words[1:]


def axis_scale(axis: Dimension) -> tuple[float, str]:
    """Factor from SI and unit label of an axis."""
    if axis.numbers is None or not axis.unit:
        return 1.0, axis.unit
    if axis.unit in ("%", "ratio"):
        return 100.0, "%"
    return (1.0, axis.unit) if axis.unit in ("°C", "K") else engineering(axis.unit, float(np.abs(axis.numbers).max()))


def positions(axis: Dimension) -> tuple[Array, NDArray[np.int64]]:
    """Positions along the axis in easy units, in rising order, and that order."""
    if axis.numbers is None:
        return np.linspace(0, len(axis.values) - 1, len(axis.values)), np.arange(len(axis.values))
    order = np.argsort(axis.numbers, kind="stable")
    return axis.numbers[order] * axis_scale(axis)[0], order


def axis_label(axis: Dimension) -> str:
    """The field in words with its unit."""
    unit = easy_unit(axis_scale(axis)[1])
    return f"{axis.label}, {unit}" if unit and axis.numbers is not None else axis.label


def head(figure: Figure, text: str) -> None:
    """The sheet's title, in as many lines as it takes."""
    width = int(figure.get_figwidth() * 10.2)
    figure.suptitle("\n".join(textwrap.wrap(text, width)), x=0.012, ha="left", fontsize=11.5, fontweight="bold")


def name_lines(ax: Axes, names: list[str]) -> None:
    """The names of the lines, above the picture on the right."""
    handles = [
        Line2D(
            [],
            [],
            color=CASES[k % len(CASES)][0],
            linestyle=CASES[k % len(CASES)][1],
            marker=CASES[k % len(CASES)][2],
            markersize=4,
        )
        for k in range(len(names))
    ]
    if any(names):
        ax.legend(
            handles,
            names,
            loc="lower right",
            ncols=min(len(names), 4),
            handlelength=2.6,
            bbox_to_anchor=(1.0, 1.0),
            borderaxespad=0,
        )


__all__ = ["CASES", "axis_label", "axis_scale", "columns_of", "easy_unit", "head", "name_lines", "positions", "scaled", "title"]
