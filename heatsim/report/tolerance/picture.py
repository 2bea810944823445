# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture of a tolerance study: how the least headroom spreads, what makes it spread, and the samples that tell it."""

from __future__ import annotations

import textwrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MultipleLocator

from heatsim.errors import printable
from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import BUS, FAINT, INK, LIMIT, empty
from heatsim.report.base.words import field_words
from heatsim.report.tolerance.words import headline, moves_text
from heatsim.studies.tolerance import ToleranceResult

SIZE = (8.4, 4.2)
"""Width and height [inch]."""


def figure(result: ToleranceResult) -> Figure:
    """The picture as a figure in the house style."""
    with new_figure(*SIZE, layout="constrained") as fig:
        title = textwrap.fill(f"{result.scenario.name}: {headline(result)}", 88)
        fig.suptitle(printable(title), x=0.01, ha="left", fontsize=10.5, fontweight="bold")
        left, right = fig.subplots(1, 2, gridspec_kw={"width_ratios": [1.25, 1.0]})
        _samples(result, left)
        _influences(result, right)
    return fig


def _samples(result: ToleranceResult, ax: Axes) -> None:
    """Least headroom of every simulated heater over that field which moves it most."""
    running = [each for each in result.samples if each.runs and each.rooms]
    if result.room is None or not running:
        ax.set_title("Least headroom")
        empty(ax, "too few heaters run")
        return
    most = result.room.influences[0].field
    column = [band.field.path for band in result.bands].index(most)
    offsets = np.array([each.offsets[column] for each in running])
    rooms = 100 * np.array([each.least[0] for each in running])
    low = rooms < 0
    ax.set_title("Least headroom of the simulated heaters")
    ax.axhspan(100 * result.room.low, 100 * result.room.high, color=BUS, alpha=0.14, linewidth=0)
    ax.plot(offsets[~low], rooms[~low], "o", color=BUS, markersize=4, label="keeps every limit")
    if low.any():
        ax.plot(offsets[low], rooms[low], "x", color=LIMIT, markersize=5.5, label="does not")
    ax.axhline(0, color=LIMIT, linewidth=1.2)
    ax.axvline(0, color=FAINT, linewidth=0.8)
    ax.set_xlabel(f"{field_words(most)}, as a share of its tolerance")
    ax.set_ylabel("%", rotation=0)
    ax.xaxis.set_major_locator(MultipleLocator(0.5))
    ax.xaxis.set_major_formatter(lambda value, _: f"{100 * value:+.0f} %".replace("-", "−") if value else "0")
    ax.legend(loc="best", fontsize=8)


def _influences(result: ToleranceResult, ax: Axes) -> None:
    """Share of each field in the spread of the least headroom."""
    ax.set_title("What makes it spread")
    if result.room is None:
        empty(ax, "not known")
        return
    found = result.room.influences[::-1]
    names = [textwrap.fill(field_words(one.field), 22) for one in found]
    ax.barh(range(len(found)), [100 * one.total for one in found], color=BUS, height=0.62)
    ax.set_yticks(range(len(found)), names)
    for place, one in enumerate(found):
        moves = f"{100 * one.total:.0f} %  ({moves_text(one.moves)})"
        ax.text(100 * one.total + 1.5, place, moves, va="center", fontsize=8, color=INK)
    ax.set_xlim(0, 100 * max(one.total for one in found) * 1.75 + 5)
    ax.set_xlabel("share of the spread, %; in brackets:\nfrom one end of its band to the other")
    ax.grid(visible=False, axis="y")
