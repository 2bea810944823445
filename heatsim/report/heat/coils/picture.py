# SPDX-License-Identifier: GPL-3.0-or-later
"""The pictures of coil advice: maps over turns and clearance, and the power of a handful of coils against temperature."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, LogNorm
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from heatsim.report.base.maps import halo
from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import BUS, DOTTED, FAINT, HEAT, INK, LEFT, LIMIT, RIGHT, SUPPLY, legend
from heatsim.report.base.words import either_side
from heatsim.studies.heat.coils.result import CoilAdvice, CoilEstimate, rank

MAPS = "Time to temperature and tank current, by turns and clearance"
MAPS_CAPTION = (
    "Each field is the best of its coils of several lengths. Hatched: a limit is not kept, by the estimate; a temperature in place "
    "of a time: there the piece stands still, below the wanted. Framed: the recommended coil."
)
POWER = "Power into the piece against its temperature"
POWER_CAPTION = (
    "By the ideal stage, dots simulated. Where a curve meets what the piece gives off, drawn for the first coil, it gets no "
    "warmer. Steel takes far less past its Curie point, where it is no longer magnetic."
)

WARM = LinearSegmentedColormap.from_list("warm", ["#f7e3cf", "#d99a6c", "#9c4a2b"])
COOL = LinearSegmentedColormap.from_list("cool", ["#e4edf2", "#8fb3c9", "#2f5f80"])
LINES = ((RIGHT, "-"), (INK, (0, (5, 2))), (LEFT, "-"), (BUS, (0, (5, 2))), (SUPPLY, "-"), (FAINT, (0, (5, 2))))
"""Colour and dashes of the coils, the first that of the recommended one."""


Best = dict[tuple[float, float], CoilEstimate]
"""The best coil by turns and clearance [mm], rounded."""


def maps(advice: CoilAdvice) -> Figure:
    """Time to the wanted temperature, and the coil's current, over turns and clearance."""
    with new_figure(9.6, 4.3, layout="constrained") as figure:
        axes = figure.subplots(1, 2, sharey=True)
        best = _best(advice.candidates)
        _map(axes[0], best, WARM, lambda one: one.time, _time_text)
        _map(axes[1], best, COOL, lambda one: one.current, lambda one: f"{one.current:.0f}")
        axes[0].set_title(f"time to {advice.wanted:g} °C at its {advice.at}, s", pad=8)
        axes[1].set_title("coil current at most, A rms", pad=8)
        axes[0].set_ylabel("clearance, mm (bore, mm)")
        for ax in axes:
            _mark(ax, best, advice)
        figure.supxlabel(textwrap.fill(_hatched(best), 140), x=0.01, ha="left", fontsize=8, color=LIMIT)
    return figure


def _hatched(best: Best) -> str:
    """Which limits the hatched fields do not keep, the most frequent first; empty where every field keeps them."""
    broken = [either_side(f"{one.short[0].part}: {one.short[0].limit}") for one in best.values() if one.short]
    broken += ["beyond what the estimate or the parts' figures reach to" for one in best.values() if one.doubts]
    told = [f"{name} ({count})" for name, count in Counter(broken).most_common(4)]
    return f"Hatched, by what is worst (fields): {'; '.join(told)}" if told else ""


def _time_text(one: CoilEstimate) -> str:
    if one.time is not None:
        return f"{one.time:.0f}" if one.time < 1000 else f"{one.time / 60:.0f}'"
    return f"{one.stalls:.0f}°" if one.stalls is not None else "–"


def _place(one: CoilEstimate) -> tuple[float, float]:
    return one.shape.turns, round(1e3 * one.clearance, 3)


def _best(candidates: Sequence[CoilEstimate]) -> Best:
    found: Best = {}
    for one in sorted(candidates, key=rank):
        found.setdefault(_place(one), one)
    return found


def _axes_of(best: Best) -> tuple[list[float], list[float]]:
    return sorted({turns for turns, _ in best}), sorted({clearance for _, clearance in best})


def _map(
    ax: Axes, best: Best, colours: Any, value: Callable[[CoilEstimate], float | None], text: Callable[[CoilEstimate], str]
) -> None:
    """One map: a field for each turns and clearance, with its number in it."""
    columns, rows = _axes_of(best)
    shown = np.full((len(rows), len(columns)), np.nan)
    for (turns, clearance), one in best.items():
        found = value(one)
        shown[rows.index(clearance), columns.index(turns)] = np.nan if found is None else found
    masked = np.ma.masked_invalid(shown)
    if masked.count():
        low, high = float(masked.min()), float(masked.max())
        ax.pcolormesh(masked, cmap=colours, norm=LogNorm(low, max(high, low * 1.01)), rasterized=True)
    middle = float(np.exp(np.nanmean(np.log(shown)))) if masked.count() else 1.0
    for (turns, clearance), one in best.items():
        row, column = rows.index(clearance), columns.index(turns)
        if one.excess > 0:
            ax.add_patch(Rectangle((column, row), 1, 1, fill=False, hatch="////", edgecolor=LIMIT, linewidth=0, alpha=0.45))
        dark = bool(shown[row, column] > 2.0 * middle)
        look: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": 7.5}
        edge = [] if dark else halo(1.6)
        ax.text(column + 0.5, row + 0.5, text(one), color="#ffffff" if dark else INK, path_effects=edge, **look)
    ax.set_xticks(np.arange(len(columns)) + 0.5, [f"{each:g}" for each in columns])
    bores = {clearance: 1e3 * one.shape.bore for (_, clearance), one in best.items()}
    ax.set_yticks(np.arange(len(rows)) + 0.5, [f"{each:g} ({bores[each]:.3g})" for each in rows])
    ax.set(xlim=(0, len(columns)), ylim=(0, len(rows)), xlabel="turns")
    ax.grid(False)
    ax.tick_params(length=0)


def _mark(ax: Axes, best: Best, advice: CoilAdvice) -> None:
    """A frame round the recommended coil's field, if it is one of the map's."""
    chosen, (columns, rows) = advice.recommended, _axes_of(best)
    if chosen is not None and _place(chosen.estimate) in best and not chosen.estimate.own:
        turns, clearance = _place(chosen.estimate)
        corner = (columns.index(turns), rows.index(clearance))
        ax.add_patch(Rectangle(corner, 1, 1, fill=False, edgecolor=RIGHT, linewidth=2.4, zorder=5, clip_on=False))


def power(advice: CoilAdvice) -> Figure:
    """Power into the piece against its temperature, for a handful of coils, and what it gives off in the first."""
    with new_figure(7.4, 4.4, layout="constrained") as figure:
        ax = figure.add_subplot()
        lines = list(_handful(advice))
        for (name, one), (colour, dashes) in zip(lines, LINES, strict=False):
            celsius = [each.celsius for each in one.states]
            ax.plot(celsius, [each.power for each in one.states], color=colour, linestyle=dashes, label=f"{name}: {_short(one)}")
            _simulated(ax, advice, one, colour)
        first = lines[0][1]
        lost = [max(each.given_off, 0.0) for each in first.states]
        ax.fill_between([each.celsius for each in first.states], lost, color=HEAT, alpha=0.15, linewidth=0)
        ax.plot(
            [each.celsius for each in first.states], lost, color=HEAT, linestyle=DOTTED, label="given off by the piece in the first"
        )
        ax.set(title="power into the piece, W", xlabel="its temperature, even, °C")
        ax.set_ylim(bottom=0)
        legend(ax, 2)
        ax.set_title("power into the piece, W", pad=14 + 12 * -(-(len(lines) + 1) // 2))
    return figure


def _short(one: CoilEstimate) -> str:
    return f"{one.shape.turns:g} turns, {1e3 * one.shape.bore:.3g} × {1e3 * one.shape.length:.3g} mm"


def _handful(advice: CoilAdvice) -> Iterator[tuple[str, CoilEstimate]]:
    """Coils worth comparing, by name: the recommended or best one, the scenario's, the next, the closest and the widest."""
    chosen = advice.recommended
    first = chosen.estimate if chosen is not None else advice.candidates[0] if advice.candidates else advice.own
    told = [("recommended" if chosen is not None else "best", first), ("own", advice.own)]
    told += [("next", each) for each in advice.candidates[:2]]
    same = [each for each in advice.candidates if each.shape.turns == first.shape.turns]
    if same:
        told.append(("closest", min(same, key=lambda each: (each.clearance, abs(each.shape.length - first.shape.length)))))
        told.append(("widest", max(same, key=lambda each: (each.clearance, -abs(each.shape.length - first.shape.length)))))
    seen: list[object] = []
    for name, one in told:
        if one.shape not in seen:
            seen.append(one.shape)
            yield name, one


def _simulated(ax: Axes, advice: CoilAdvice, one: CoilEstimate, colour: str) -> None:
    """Powers that were simulated."""
    for each in advice.confirmed:
        if each.estimate.shape == one.shape:
            points = [
                (state.celsius, row.simulated) for state in each.states for row in state.compared if row.key == "workpiece.power_w"
            ]
            if points:
                ax.plot(*zip(*points, strict=True), linestyle="none", marker="o", markersize=4.5, color=colour)
