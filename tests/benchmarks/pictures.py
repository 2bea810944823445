# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of the results page, in the house style."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.clock import Spread
from tests.benchmarks.methods import CHEAPEST, CHECK, FASTER, LOAD, METHODS, PLAIN, SETTLED, SINGLE, SUPPLY
from tests.benchmarks.results import Results
from tests.benchmarks.scaling import fitted
from tests.benchmarks.tables import of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH = 8.0
"""Inches."""

DOTS = 110
"""A picture's dots an inch: sharp enough for a page, small enough for the history."""


def times_picture(results: Results) -> Figure:
    """Processor time of a whole point by each way, one panel a circuit, on one logarithmic axis."""
    from matplotlib.figure import Figure

    from heatsim.report.base.style import CENTRE, INK, LEFT, RIGHT, house

    colours = {PLAIN: INK, SETTLED: INK, CHECK: INK, CHEAPEST: RIGHT, FASTER: RIGHT, SINGLE: CENTRE, SUPPLY: LEFT, LOAD: LEFT}
    names = list(METHODS)
    with house():
        figure = Figure(figsize=(WIDTH, 0.55 + 1.35 * len(results.truths)), layout="constrained")
        panels = figure.subplots(len(results.truths), 1, sharex=True, squeeze=False)[:, 0]
        for ax, truth in zip(panels, results.truths, strict=True):
            for row, method in enumerate(names):
                found = of(results.timings, truth.circuit.name, method)
                if not found:
                    continue
                spread = Spread.of([1e3 * each.whole.cpu for each in found])
                ax.plot(
                    [spread.low, spread.high], [row, row], color=colours[method], linewidth=4, alpha=0.35, solid_capstyle="round"
                )
                ax.plot(spread.median, row, "o", color=colours[method], markersize=5)
                ax.annotate(
                    f"{spread.median:.3g}" if spread.median < 100 else f"{spread.median:.0f}",
                    (max(spread.high, spread.median), row),
                    (7, 0),
                    textcoords="offset points",
                    va="center",
                    fontsize=8,
                )
            ax.set_yticks(range(len(names)), names)
            ax.set_ylim(len(names) - 0.4, -0.6)
            ax.set_xscale("log")
            ax.margins(x=0.09)
            ax.grid(axis="y", visible=False)
            ax.set_title(truth.circuit.name, pad=5)
        _plain_log(panels[-1])
        panels[-1].set_xlabel("processor time of a whole point, ms; dot: median, bar: quartiles")
    return figure


def _plain_log(ax: Axes) -> None:
    """Ticks of a logarithmic axis as plain numbers."""
    from matplotlib.ticker import LogLocator, NullFormatter

    ax.xaxis.set_major_locator(LogLocator(subs=(1, 2, 5)))
    ax.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    ax.xaxis.set_minor_formatter(NullFormatter())


def scaling_picture(results: Results) -> Figure:
    """Throughput against workers, time against points, time of a point against the size of its circuit."""
    from matplotlib.figure import Figure

    from heatsim.report.base.style import house

    with house():
        figure = Figure(figsize=(WIDTH, 3.1), layout="constrained")
        left, middle, right = figure.subplots(1, 3)
        _workers(left, results)
        _points(middle, results)
        _sizes(right, results)
        figure.get_layout_engine().set(wspace=0.08)
    return figure


def _workers(ax: Axes, results: Results) -> None:
    from matplotlib.ticker import MaxNLocator

    from heatsim.report.base.style import FAINT, LEFT

    found = sorted((each for each in results.swept if each.points == results.extent.fixed), key=lambda each: each.workers)
    workers, rates = [each.workers for each in found], [each.rate for each in found]
    top = min(results.machine.cores, workers[-1])
    ideal = [min(k, top) * rates[0] / workers[0] for k in workers]
    ax.plot(workers, ideal, color=FAINT, linestyle=(0, (1, 1.5)))
    ax.annotate(
        "one worker's rate\ntimes the cores",
        (workers[-1], ideal[-1]),
        (0, 5),
        textcoords="offset points",
        ha="right",
        va="bottom",
        fontsize=8,
        color=FAINT,
    )
    ax.plot(workers, rates, "o-", color=LEFT, markersize=4)
    ax.set_xticks(workers)
    ax.set_ylim(0, 1.3 * max([*rates, *ideal]))
    ax.yaxis.set_major_locator(MaxNLocator(6, integer=True))
    ax.set_title(f"points/s, {results.extent.fixed} points", pad=6)
    ax.set_xlabel("workers")


def _points(ax: Axes, results: Results) -> None:
    from heatsim.report.base.style import FAINT, LEFT

    found = sorted((each for each in results.swept if each.workers == results.machine.cores), key=lambda each: each.points)
    points, walls = [each.points for each in found], [each.took.wall for each in found]
    start, slope = fitted(found)
    line = np.array([0, points[-1]])
    ax.plot(line, start + slope * line, color=FAINT, linestyle=(0, (1, 1.5)))
    ax.plot(points, walls, "o", color=LEFT, markersize=4)
    ax.annotate(
        f"{max(start, 0):.1f} s + {1e3 * slope:.0f} ms a point", (0.97, 0.05), xycoords="axes fraction", ha="right", fontsize=8
    )
    ax.set_ylim(0)
    ax.set_xlim(0)
    ax.set_title(f"seconds, {results.machine.cores} workers", pad=6)
    ax.set_xlabel("points of the sweep")


def _sizes(ax: Axes, results: Results) -> None:
    from heatsim.report.base.style import INK, LEFT, RIGHT

    banks = [each for each in results.sized if each.name.startswith("banks")]
    others = [each for each in results.sized if not each.name.startswith("banks")]
    for label, colour, pick in (
        ("whole point", LEFT, lambda each: each.followed.median),
        ("its simulator part", RIGHT, lambda each: each.sim.median),
        ("10 periods, cold", INK, lambda each: 10 * each.period),
    ):
        style = "--" if colour == RIGHT else "-"
        ax.plot(
            [each.states for each in banks],
            [1e3 * pick(each) for each in banks],
            style,
            marker="o",
            markersize=4,
            color=colour,
            label=label,
        )
        ax.plot([each.states for each in others], [1e3 * pick(each) for each in others], "s", markersize=4, color=colour)
    ax.set_ylim(0)
    ax.set_ylim(0, 1.45 * ax.get_ylim()[1])
    ax.legend(loc="upper left", fontsize=7.5, handlelength=1.6, borderaxespad=0.1, labelspacing=0.3)
    ax.set_title("CPU ms by size", pad=6)
    ax.set_xlabel("nodes and inductors")


def save(results: Results, folder: Path) -> Sequence[str]:
    """Write both pictures; returns their names."""
    names = ("times.png", "scaling.png")
    for name, draw in zip(names, (times_picture, scaling_picture), strict=True):
        draw(results).savefig(folder / name, dpi=DOTS)
    return names


__all__ = ["save", "scaling_picture", "times_picture"]
