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

from heatsim.report.base.style import BUS, CENTRE, HEAT, INK, SUPPLY, easy_unit
from heatsim.report.base.words import measure_words, named_measure, sentence_case
from heatsim.report.sweep.view import Dimension, SweepView, columns_of
from heatsim.waves import Array

CASES: tuple[tuple[str, Any, str], ...] = (
    (INK, "-", "o"),
    (BUS, (0, (5, 2)), "s"),
    (SUPPLY, (0, (1, 1.4)), "^"),
    (CENTRE, (0, (5, 1.5, 1, 1.5)), "D"),
    (HEAT, (0, (3, 1)), "v"),
)
"""Colour, dashes and mark of each case."""


def scaled(view: SweepView, key: str) -> tuple[Array, str]:
    """An output by place in easy units, and the unit."""
    values = view.largest_of(columns_of(key))
    largest = float(np.nanmax(np.abs(values))) if np.isfinite(values).any() else 0.0
    factor, label = easy_unit("ratio" if key == "headroom" else named_measure(key)[2], largest)
    return factor * values, label


def title(key: str) -> str:
    """What an output is, in words."""
    return "Least headroom" if key == "headroom" else sentence_case(measure_words(key))


def with_unit(text: str, unit: str) -> str:
    """A label with its unit, if it has one."""
    return f"{text}, {unit}" if unit else text


def axis_scale(axis: Dimension) -> tuple[float, str]:
    """Factor from SI and unit label of an axis."""
    return (1.0, axis.unit) if axis.numbers is None else easy_unit(axis.unit, float(np.abs(axis.numbers).max()))


def positions(axis: Dimension) -> tuple[Array, NDArray[np.int64]]:
    """Positions along the axis in easy units, in rising order, and that order."""
    if axis.numbers is None:
        return np.linspace(0, len(axis.values) - 1, len(axis.values)), np.arange(len(axis.values))
    order = np.argsort(axis.numbers, kind="stable")
    return axis.numbers[order] * axis_scale(axis)[0], order


def axis_label(axis: Dimension) -> str:
    """The field in words with its unit."""
    return with_unit(axis.label, "" if axis.numbers is None else axis_scale(axis)[1])


def head(figure: Figure, text: str) -> None:
    """The title of the whole figure, in as many lines as it takes."""
    width = int(figure.get_figwidth() * 10.2)
    figure.suptitle("\n".join(textwrap.wrap(text, width)), x=0.012, ha="left", fontsize=11.5, fontweight="bold")


def name_lines(ax: Axes, names: list[str]) -> None:
    """The names of the lines, above the picture on the right."""
    looks = (CASES[k % len(CASES)] for k in range(len(names)))
    handles = [Line2D([], [], color=colour, linestyle=dashes, marker=mark, markersize=4) for colour, dashes, mark in looks]
    if any(names):
        place: dict[str, Any] = {"loc": "lower right", "bbox_to_anchor": (1.0, 1.0), "borderaxespad": 0}
        ax.legend(handles, names, ncols=min(len(names), 4), handlelength=2.6, **place)
