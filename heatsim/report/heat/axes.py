# SPDX-License-Identifier: GPL-3.0-or-later
"""The time axis of a heat: its first part wide, what comes after it until rest beside it in a narrower picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.ticker import MaxNLocator

from heatsim.report.base.style import FAINT, PAPER, unit_label
from heatsim.report.heat.words import time_words
from heatsim.studies.heat import HeatResult

BEYOND, APART = 1.35, 2.2
"""Time shown wide over the time to the wanted temperature; how much longer the whole heat must be to be shown in two parts."""

UNDER = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.8}
"""Paper under a note that lines may run through."""

SPECK = 0.02
"""Share of the largest value below which something under zero counts as none."""

RISEN = 0.9
"""Share of the way to the last temperature that stands for the wanted one where that is not reached."""


@dataclass(frozen=True)
class Stretch:
    """A part of the time axis: from start to end [s], labelled in a unit of so many seconds."""

    start: float
    end: float

    @property
    def unit(self) -> tuple[float, str]:
        """Seconds a unit, and its name."""
        return (1.0, "seconds") if self.end <= 240 else (60.0, "minutes") if self.end <= 4 * 3600 else (3600.0, "hours")


def stretches(result: HeatResult) -> tuple[Stretch, ...]:
    """One part, or two where the heat goes on long after the piece is as wanted."""
    time, surface = result.series["time_s"], result.series["surface_c"]
    reached = result.wanted.reached
    if reached is None or reached <= 0:
        risen = surface[0] + RISEN * (surface[-1] - surface[0])
        reached = float(time[int(np.argmax(surface >= risen))])
    first, last = BEYOND * reached, float(time[-1])
    if not 0 < APART * first < last:
        return (Stretch(0.0, last),)
    return Stretch(0.0, first), Stretch(first, last)


@dataclass(frozen=True)
class Row:
    """Axes side by side that show one thing over all parts of the time."""

    axes: tuple[Axes, ...]
    parts: tuple[Stretch, ...]

    @property
    def first(self) -> Axes:
        """Where time begins."""
        return self.axes[0]

    @property
    def last(self) -> Axes:
        """Where time ends."""
        return self.axes[-1]

    def unit(self, text: str) -> None:
        """The unit, beside the axis on the left, all of a picture in one line."""
        unit_label(self.first, text)
        self.first.yaxis.labelpad = 14

    def plot(self, time: Any, values: Any, **look: Any) -> None:
        """A line over all parts; its label counts once."""
        for ax, part in zip(self.axes, self.parts, strict=True):
            ax.plot(np.asarray(time) / part.unit[0], values, **look)

    def fill(self, time: Any, low: Any, high: Any, **look: Any) -> None:
        """An area over all parts."""
        for ax, part in zip(self.axes, self.parts, strict=True):
            ax.fill_between(np.asarray(time) / part.unit[0], low, high, **look)

    def level(self, value: float, **look: Any) -> None:
        """A level across all parts."""
        for ax in self.axes:
            ax.axhline(value, **look)

    def moment(self, when: float, **look: Any) -> None:
        """A line upright at a time [s]."""
        for ax, part in zip(self.axes, self.parts, strict=True):
            if part.start <= when <= part.end:
                ax.axvline(when / part.unit[0], **look)

    def at(self, when: float) -> tuple[Axes, float]:
        """The axes that show a time [s], and where on them it is."""
        place = next((k for k, part in enumerate(self.parts) if when <= part.end), len(self.parts) - 1)
        return self.axes[place], when / self.parts[place].unit[0]

    def reach(self, low: float, high: float) -> None:
        """What is shown, bottom and top."""
        for ax in self.axes:
            ax.set_ylim(low, high)


def near() -> ConstrainedLayoutEngine:
    """Axes side by side close together."""
    return ConstrainedLayoutEngine(w_pad=0.02, h_pad=0.03, wspace=0.015, hspace=0.03)


def rows(fig: Figure, result: HeatResult, heights: Sequence[float]) -> list[Row]:
    """Rows of axes on a common time axis; heights: of each, as shares."""
    parts = stretches(result)
    widths = (1.0,) if len(parts) == 1 else (1.75, 1.0)
    grid = fig.subplots(
        len(heights),
        len(parts),
        sharex="col",
        sharey="row",
        squeeze=False,
        gridspec_kw={"height_ratios": list(heights), "width_ratios": widths},
    )
    for column, part in enumerate(parts):
        per, unit = part.unit
        grid[-1, column].set_xlim(part.start / per, part.end / per)
        grid[-1, column].xaxis.set_major_locator(MaxNLocator(6 if column == 0 else 4, integer=True, steps=[1, 2, 5, 10]))
        grid[-1, column].set_xlabel(unit if column == 0 else f"{unit}, from {time_words(part.start)} on")
        for ax in grid[:, column] if column else ():
            ax.spines["left"].set_visible(True)
            ax.spines["left"].set_linestyle((0, (2, 2)))
            ax.spines["left"].set_color(FAINT)
            ax.tick_params(axis="y", length=0)
    fig.align_ylabels(grid[:, 0])
    return [Row(tuple(row), parts) for row in grid]


def around(*values: Any, zero: bool = False, room: float = 0.1) -> tuple[float, float]:
    """Bottom and top of a picture that holds all finite values; zero: its bottom is zero where nothing is below."""
    told = np.concatenate([np.ravel(np.asarray(each, dtype=float)) for each in values])
    told = told[np.isfinite(told)]
    if not told.size:
        return 0.0, 1.0
    low, high = float(told.min()), float(told.max())
    if zero and low >= -SPECK * abs(high):
        return 0.0, high * (1 + room) if high > 0 else 1.0
    span = (high - low) or max(abs(high), 1.0)
    return low - room * span, high + room * span
