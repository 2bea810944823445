# SPDX-License-Identifier: GPL-3.0-or-later
"""What tolerances do: how an output spreads over the samples, and which field moves it."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from heatsim.report.base.style import BUS, FAINT, INK, LIMIT
from heatsim.report.sweep.axes import head, scaled, title
from heatsim.report.sweep.view import BROKEN, SweepView, field_words
from heatsim.waves import Array

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FIELDS = 6
"""At most so many fields are drawn, the most influential first."""


def influence(view: SweepView, key: str) -> Figure:
    """Spread of an output on the left; beside it the output over each field, ordered by how much it moves it.

    How much a field moves it is the slope of a plane fitted to all fields at once, times the whole width of its band.
    """
    from matplotlib.figure import Figure

    assert view.samples is not None
    values, unit = scaled(view, key)
    fields = list(view.samples["fields"])
    offsets = np.array([view.offsets(told) for told in fields])
    slopes, level = plane(offsets, values)
    moved = [200 * _relative_width(told) * slope for told, slope in zip(fields, slopes, strict=True)]
    order = sorted(range(len(fields)), key=lambda k: -abs(moved[k]))[:FIELDS]
    figure = Figure(figsize=(2.9 + 1.75 * len(order), 4.1), layout="constrained")
    axes = figure.subplots(1, 1 + len(order), sharey=True, gridspec_kw={"width_ratios": [1.5, *[1.0] * len(order)]})
    _spread(values, key, axes[0])
    for k, ax in zip(order, axes[1:], strict=True):
        _over(offsets[k], values, (slopes[k], level), key, ax)
        told = f"\nmoves it by {abs(moved[k]):.2g} {'points' if unit == '%' else unit}" if np.isfinite(level) else ""
        ax.set_title(_wrapped(field_words(fields[k]["field"])) + told, pad=6, fontsize=9, fontweight="normal")
    axes[0].set_ylabel(f"{title(key).lower()}, {unit}" if unit else title(key).lower())
    head(figure, _headline(view, values, key))
    return figure


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
    told = f"{view.name}: {held} of {len(known) + broken} samples keep every limit; {worst}"
    return told + (f"; {broken} do not run" if broken else "") + (f"; {without} without a result" if without else "")


def _spread(values: Array, key: str, ax: Axes) -> None:
    """How many samples lie where: one dot each up to a hundred or so, bars beyond; with the middle and the outer 5 %."""
    known = np.sort(values[np.isfinite(values)])
    ax.set_title("how it spreads\nline: nine samples in ten", pad=6, fontsize=9, fontweight="normal")
    if not len(known):
        ax.text(0.5, 0.5, "no results", ha="center", transform=ax.transAxes, color=FAINT)
        return
    edges = np.linspace(known[0], known[-1], max(6, min(30, int(len(known) ** 0.5) * 2)) + 1)
    if key == "headroom":
        edges = _through_zero(edges)
    counts, edges = np.histogram(known, edges)
    centres, heights = (edges[1:] + edges[:-1]) / 2, np.diff(edges)
    short = (centres < 0) & (key == "headroom")
    ax.barh(centres, counts, heights * 0.92, color=np.where(short, LIMIT, BUS), alpha=0.75)
    low, middle, high = np.quantile(known, [0.05, 0.5, 0.95])
    ax.plot([1.02 * counts.max()] * 2, [low, high], color=INK, linewidth=1.4, clip_on=False)
    ax.plot(1.02 * counts.max(), middle, "o", color=INK, markersize=4.5, clip_on=False)
    for level, text in ((low, f"{low:.3g}"), (middle, f"{middle:.3g} in the middle"), (high, f"{high:.3g}")):
        ax.annotate(
            text.replace("-", "−"), (1.02 * counts.max(), level), (5, 0), textcoords="offset points", va="center", fontsize=8
        )
    ax.set_xlim(0, 1.9 * counts.max())
    ax.xaxis.set_major_locator(MaxNLocator(4, integer=True))
    ax.set_xlabel("samples")
    if key == "headroom":
        ax.axhline(0, color=LIMIT, linewidth=1.3)


def _through_zero(edges: Array) -> Array:
    """Edges moved so that one of them is zero, if zero lies among them."""
    if not edges[0] < 0 < edges[-1]:
        return edges
    step = edges[1] - edges[0]
    return np.asarray(np.arange(np.floor(edges[0] / step), np.ceil(edges[-1] / step) + 1) * step)


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


__all__ = ["influence", "plane"]
