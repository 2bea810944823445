# SPDX-License-Identifier: GPL-3.0-or-later
"""The heater during a heat: chokes, switches and water against time with their limits, and the headroom of the tightest ones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import ACROSS, BUS, DOTTED, FAINT, INK, LIMIT, SIDE, SUPPLY, legend, note
from heatsim.report.base.words import SIDES, family, part_words
from heatsim.report.heat.axes import UNDER, Row, around, near, rows
from heatsim.studies.heat import HeatResult, Watched

TITLE = "How the heater bears it"

CAPTION = (
    "Above: how warm chokes, junctions of the switches and the coil's water get, with their limits dotted. Each warms up at its "
    "own pace: what holds for one piece need not hold for one piece after the other. Below: how much room the tightest limits "
    "leave; below zero a limit is broken."
)
"""What one should see."""

WORST = 4
"""Limits whose headroom is drawn."""

NEAR = 2.2
"""A limit is drawn where it is less than this many times the warmest."""

LOOKS = (("-", INK), ((0, (5, 2)), SUPPLY), ((0, (1.2, 1.4)), BUS), ((0, (7, 2, 1.5, 2)), FAINT))
"""Dashes and colours of headrooms, the tightest first."""

ROOM = (-1.0, 1.0)
"""Headrooms further out than this are not drawn to scale."""

Lines = dict[str, tuple[Any, dict[str, Any]]]
"""Name of a line -> its values and how it is drawn."""


def figure(result: HeatResult) -> Figure:
    """The picture in the house style."""
    groups = list(_groups(result))
    with new_figure(8.6, 2.6 + 1.5 * len(groups), layout=near()) as made:
        made.suptitle(TITLE, x=0.012, ha="left", fontsize=11.5, fontweight="bold")
        *above, below = rows(made, result, [1.0] * len(groups) + [1.5])
        for row, (told, limit, words) in zip(above, groups, strict=True):
            _group(row, result, told, limit, words)
        _headroom(below, result)
    return made


def _groups(result: HeatResult) -> Iterator[tuple[Lines, float | None, str]]:
    """What is drawn together, with a limit [°C] and whose it is; only what is known."""
    told = result.series
    for head, end, words in (("choke", "temperature_c", "choke"), ("switch", "junction_temperature_c", "junctions")):
        keys = {f"{side} {words}": f"{head}.{side}.{end}" for side in SIDES}
        found = {name: (told[key], SIDE[side]) for (name, key), side in zip(keys.items(), SIDES, strict=True) if _known(told, key)}
        if found:
            yield found, allowed(result, head, "temperature" if head == "choke" else "junction temperature"), "limit"
    water = {
        name: (told[key], look)
        for name, key, look in (
            ("water at the outlet", "coil.water_outlet_c", {"color": BUS}),
            ("hottest wall of the tube", "coil.wall_temperature_c", {"color": INK, "linestyle": (0, (5, 2))}),
        )
        if _known(told, key)
    }
    if water:
        yield water, allowed(result, "coil", "water temperature"), "limit at the outlet"


def _known(told: Mapping[str, Any], key: str) -> bool:
    return key in told and bool(np.isfinite(told[key]).any())


def allowed(result: HeatResult, part: str, name: str) -> float | None:
    """The lowest limit [°C] of a kind of part whose name begins so, None without one."""
    found = [
        each.worst.allowed
        for each in result.limits
        if each.worst.part.split(".")[0] == part
        and each.worst.limit.startswith(name)
        and each.worst.unit == "°C"
        and each.worst.allowed
    ]
    return min(found, default=None)


def _group(row: Row, result: HeatResult, told: Lines, limit: float | None, words: str) -> None:
    time, shown = result.series["time_s"], [values for values, _ in told.values()]
    for name, (values, look) in told.items():
        row.plot(time, values, label=name, **look)
    warmest = max(float(np.nanmax(values)) for values in shown)
    drawn = limit is not None and limit < NEAR * warmest
    row.reach(*around(*shown, [limit] if limit is not None and drawn else [], zero=True))
    if limit is not None:
        _limit(row, limit, drawn, f"{words} {limit:g} °C")
    row.unit("°C")
    legend(row.first)
    _arrived(row, result)


def _limit(row: Row, limit: float, drawn: bool, words: str) -> None:
    """A limit, drawn or said in words where it lies far above."""
    if drawn:
        row.level(limit, color=LIMIT, linestyle=DOTTED, linewidth=1.5)
        note(row.first, words, (0.0, limit), (4, -3), ACROSS, va="top", color=LIMIT)
        return
    note(row.last, f"{words}: above this picture", (1.0, 1.0), (0, 4), "axes fraction", ha="right", va="bottom", color=LIMIT)


def _headroom(row: Row, result: HeatResult) -> None:
    """Room that the tightest limits leave against time."""
    tight = tightest(result)
    values = [np.clip(100 * each.headroom, 100 * ROOM[0], 100 * ROOM[1]) for _, each in tight]
    for (name, each), share, (dashes, color) in zip(tight, values, LOOKS, strict=False):
        row.plot(each.times, share, label=name, color=color, linestyle=dashes)
    wanted = 100 * result.scenario.tables.heater.wanted_headroom
    low, high = around(*values, [0.0, wanted])
    row.reach(low, high)
    row.level(0.0, color=LIMIT, linewidth=1.6)
    row.level(wanted, color=INK, linestyle=DOTTED, linewidth=1.0)
    note(row.first, f"wanted {wanted:g} %", (0.0, wanted), (4, 3), ACROSS, va="bottom", fontsize=7.5, bbox=UNDER)
    for ax in row.axes:
        ax.axhspan(low, 0.0, color=LIMIT, alpha=0.1, linewidth=0)
    row.unit("%")
    row.first.set_title("Room to the limit", fontsize=9, fontweight="normal", pad=34)
    legend(row.first, 2)
    names = row.first.get_legend()
    if names is not None:
        names.set_in_layout(False)  # it is wider than its axes; the title above it keeps room for it
    _arrived(row, result)


def tightest(result: HeatResult) -> list[tuple[str, Watched]]:
    """The limits that leave least, by name, worst first; of two sides the worse one."""
    found: dict[tuple[str, str], tuple[float, Watched]] = {}
    for each in result.limits:
        known = each.headroom[np.isfinite(each.headroom)]
        place = family(each.worst.part), each.worst.limit
        if known.size and (place not in found or known.min() < found[place][0]):
            found[place] = float(known.min()), each
    tight = sorted(found.values(), key=lambda row: row[0])[:WORST]
    return [(f"{part_words(each.worst.part)}: {each.worst.limit}", each) for _, each in tight]


def _arrived(row: Row, result: HeatResult) -> None:
    if result.wanted.reached is not None:
        row.moment(result.wanted.reached, color=FAINT, linewidth=0.8)
