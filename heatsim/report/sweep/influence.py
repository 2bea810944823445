# SPDX-License-Identifier: GPL-3.0-or-later
"""What tolerances do: how an output spreads over the samples, and which field moves it."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import BUS, FAINT, INK, LIMIT, empty, note
from heatsim.report.base.words import field_words
from heatsim.report.sweep.axes import head, scaled, title, with_unit
from heatsim.report.sweep.view import BROKEN, SweepView
from heatsim.waves import Array

FIELDS = 6
"""At most so many fields are drawn, the most influential first."""


def influence(view: SweepView, key: str) -> Figure:
    """Spread of an output on the left; beside it the output over each field, ordered by how much it moves it.

    How much a field moves it is the slope of a plane fitted to all fields at once, times the whole width of its band.
    """
    assert view.samples is not None
    values, unit = scaled(view, key)
    fields, offsets = list(view.samples["fields"]), _offsets(view)
    slopes, level = plane(offsets, values)
    moved = _moved(fields, slopes)
    order = sorted(range(len(fields)), key=lambda k: -abs(moved[k]))[:FIELDS]
    with new_figure(2.9 + 1.75 * len(order), 4.1, layout="constrained") as figure:
        axes = figure.subplots(1, 1 + len(order), sharey=True, gridspec_kw={"width_ratios": [1.5, *[1.0] * len(order)]})
        _spread(values, key, axes[0])
        for k, ax in zip(order, axes[1:], strict=True):
            _over(offsets[k], values, (slopes[k], level), key, ax)
            effect = f"\nmoves it by {abs(moved[k]):.2g} {'points' if unit == '%' else unit}" if np.isfinite(level) else ""
            ax.set_title(_wrapped(field_words(fields[k]["field"])) + effect, pad=6, fontsize=9, fontweight="normal")
        axes[0].set_ylabel(with_unit(title(key).lower(), unit))
        head(figure, _headline(view, values, key))
    return figure


def moved_by(view: SweepView, key: str) -> list[tuple[str, float]]:
    """Each toleranced field and how far it moves an output over its whole band, in easy units, the most influential first.

    Empty where there are too few points to tell.
    """
    assert view.samples is not None
    slopes, level = plane(_offsets(view), scaled(view, key)[0])
    found = [
        (str(field["field"]), by) for field, by in zip(view.samples["fields"], _moved(view.samples["fields"], slopes), strict=True)
    ]
    return sorted(found, key=lambda one: -abs(one[1])) if np.isfinite(level) else []


def _offsets(view: SweepView) -> Array:
    """Deviation of every toleranced field [%], a row a field."""
    assert view.samples is not None
    return np.array([view.offsets(field) for field in view.samples["fields"]])


def _moved(fields: Sequence[Mapping[str, Any]], slopes: Array) -> list[float]:
    return [200 * _relative_width(field) * slope for field, slope in zip(fields, slopes, strict=True)]


def plane(offsets: Array, values: Array) -> tuple[Array, float]:
    """Slopes and level of the plane that fits values over offsets (a row a field) best; NaN level with too few points."""
    known = np.isfinite(values) & np.isfinite(offsets).all(axis=0)
    if known.sum() <= len(offsets) + 1:
        return np.zeros(len(offsets)), float("nan")
    columns = np.column_stack([*offsets[:, known], np.ones(known.sum())])
    found = np.linalg.lstsq(columns, values[known], rcond=None)[0]
    return found[:-1], float(found[-1])


def _relative_width(banded: Mapping[str, Any]) -> float:
    """Half width of a band as a ratio to the nominal value."""
    return float(banded["width"] if banded["relative"] else banded["width"] / abs(next(iter(banded["nominal"].values()))))


def _headline(view: SweepView, values: Array, key: str) -> str:
    """What the samples say, in a line."""
    known = values[np.isfinite(values)]
    if key != "headroom" or not len(known):
        return f"{view.name}: {len(known)} samples within tolerance"
    held, broken = int((known >= 0).sum()), int(np.isin(view.texts("outcome"), BROKEN).sum())
    without = len(values) - len(known) - broken
    worst = f"the least headroom is {known.min():.1f} %".replace("-", "−")
    text = f"{view.name}: {held} of {len(known) + broken} samples keep every limit; {worst}"
    return text + (f"; {broken} do not run" if broken else "") + (f"; {without} without a result" if without else "")


def _spread(values: Array, key: str, ax: Axes) -> None:
    """How many samples lie where: one dot each up to a hundred or so, bars beyond; with the middle and the outer 5 %."""
    known = np.sort(values[np.isfinite(values)])
    ax.set_title("distribution\nline: nine samples in ten", pad=6, fontsize=9, fontweight="normal")
    if not len(known):
        empty(ax, "no results")
        return
    edges = np.linspace(known[0], known[-1], max(6, min(30, int(len(known) ** 0.5) * 2)) + 1)
    if key == "headroom" and edges[0] < 0 < edges[-1]:  # moved so that zero is one of them
        step = edges[1] - edges[0]
        edges = np.arange(np.floor(edges[0] / step), np.ceil(edges[-1] / step) + 1) * step
    counts, edges = np.histogram(known, edges)
    centres, heights = (edges[1:] + edges[:-1]) / 2, np.diff(edges)
    short = (centres < 0) & (key == "headroom")
    ax.barh(centres, counts, heights * 0.92, color=np.where(short, LIMIT, BUS), alpha=0.75)
    low, middle, high = np.quantile(known, [0.05, 0.5, 0.95])
    ax.plot([1.02 * counts.max()] * 2, [low, high], color=INK, linewidth=1.4, clip_on=False)
    ax.plot(1.02 * counts.max(), middle, "o", color=INK, markersize=4.5, clip_on=False)
    for level, text in ((low, f"{low:.3g}"), (middle, f"{middle:.3g} median"), (high, f"{high:.3g}")):
        note(ax, text, (1.02 * counts.max(), level), (5, 0), va="center")
    ax.set_xlim(0, 1.9 * counts.max())
    ax.xaxis.set_major_locator(MaxNLocator(4, integer=True))
    ax.set_xlabel("samples")
    if key == "headroom":
        ax.axhline(0, color=LIMIT, linewidth=1.3)


def _over(offsets: Array, values: Array, trend: tuple[float, float], key: str, ax: Axes) -> None:
    """The output over one field's deviation, with its trend, the other fields being nominal."""
    known = np.isfinite(offsets) & np.isfinite(values)
    x, y = offsets[known], values[known]
    short = (y < 0) & (key == "headroom")
    ax.plot(x[~short], y[~short], "o", color=BUS, markersize=3.4, alpha=0.75)
    ax.plot(x[short], y[short], "x", color=LIMIT, markersize=4.6)
    if key == "headroom":
        ax.axhline(0, color=LIMIT, linewidth=1.3)
    ax.axvline(0, color=FAINT, linewidth=0.8)
    if len(x) and np.isfinite(trend[1]):
        ends = np.array([x.min(), x.max()])
        ax.plot(ends, trend[1] + trend[0] * ends, color=INK, linewidth=1.6)
    ax.set_xlabel("deviation, %")


def _wrapped(words: str, width: int = 20) -> str:
    """Two lines at most."""
    return "\n".join(textwrap.wrap(words, width)[:2])
