# SPDX-License-Identifier: GPL-3.0-or-later
"""The main picture of a heat: temperatures of the piece against time, and below them powers, supply current and frequency."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure

from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import ACROSS, DOTTED, FAINT, HEAT, INK, PAPER, SUPPLY, legend, note
from heatsim.report.heat.axes import UNDER, Row, around, near, rows
from heatsim.report.heat.words import celsius, time_words
from heatsim.studies.heat import HeatResult

TITLE = "How warm the piece gets, and what that takes"

ROOM = 0.3
"""A level is named on the left where the surface takes more than this share of the first part of the time to come to it."""


def caption(result: HeatResult, curie: float | None, mark: str = "dot") -> str:
    """What one should see; mark: what stands where the piece is as warm as wanted."""
    told = ["Above: the surface leads, the core follows; where they part, heat is still on its way in."]
    if result.wanted.reached is not None:
        told.append(f"The {mark} is where the piece is as warm as wanted.")
    if curie is not None and np.max(result.series["surface_c"]) > curie:
        told.append("Where the surface passes its Curie point it is no longer magnetic and takes much less power.")
    told.append("Below: power from the supply, into the piece, and given off by it; the piece is at rest where the last two meet.")
    return " ".join(told)


SIZE = (8.6, 7.2)
"""Width and height [inch]."""

SEEN = 8.0
"""Difference [K] from which the coldest place has a line of its own."""


def figure(result: HeatResult, curie: float | None) -> Figure:
    """The picture in the house style; curie: point of the piece [°C], None where it has none."""
    with new_figure(*SIZE, layout=near()) as made:
        made.suptitle(TITLE, x=0.012, ha="left", fontsize=11.5, fontweight="bold")
        temperature, power, current, frequency = rows(made, result, (3.0, 1.5, 0.8, 0.8))
        _temperatures(temperature, result, curie)
        _powers(power, result)
        told = result.series
        _one(current, result, told.get("supply.mean_current_a"), "supply current", "A", SUPPLY)
        _one(frequency, result, 1e-3 * told["tank.frequency_hz"] if "tank.frequency_hz" in told else None, "frequency", "kHz", INK)
    return made


def _temperatures(row: Row, result: HeatResult, curie: float | None) -> None:
    told, asked = result.series, result.wanted
    time, surface, core, coldest = (told[key] for key in ("time_s", "surface_c", "core_c", "coldest_c"))
    row.fill(time, core, surface, color=HEAT, alpha=0.16, linewidth=0)
    row.plot(time, surface, color=HEAT, linewidth=2.0, label="surface")
    row.plot(time, core, color=INK, linewidth=1.6, linestyle=(0, (5, 2)), label="core")
    if np.max(np.minimum(core, surface) - coldest) > SEEN:
        row.plot(time, coldest, color=FAINT, linewidth=1.0, zorder=1.5, label="coldest place")
    row.reach(*around(surface, core, coldest, [asked.celsius], zero=True))
    _levels(row, result, curie)
    if asked.reached is not None:
        _arrival(row, result, asked.reached)
    if result.equilibrium_c is not None:
        note(row.last, f"at rest: {celsius(result.equilibrium_c)}", (1.0, surface[-1]), (-2, 5), ACROSS, ha="right", va="bottom")
    row.unit("°C")
    legend(row.first)


def _levels(row: Row, result: HeatResult, curie: float | None) -> None:
    """What is wanted, and the Curie point, named where there is room for it."""
    wanted = result.wanted.celsius
    row.level(wanted, color=INK, linestyle=DOTTED, linewidth=1.4)
    above = curie is None or wanted >= curie
    _name(row, result, wanted, f"wanted: {result.wanted.at} at {celsius(wanted)}", above)
    if curie is not None and curie < row.first.get_ylim()[1]:
        row.level(curie, color=FAINT, linestyle=(0, (6, 3)), linewidth=1.0)
        _name(row, result, curie, f"Curie point {celsius(curie)}", not above)


def _name(row: Row, result: HeatResult, level: float, words: str, above: bool) -> None:
    """A level's name: on the left where the piece is still cold, else on the right."""
    passed = result.series["time_s"][result.series["surface_c"] >= level]
    left = not passed.size or passed[0] > ROOM * row.parts[0].end
    ax, edge = (row.first, 0.0) if left else (row.last, 1.0)
    look: dict[str, Any] = {"ha": "left" if left else "right", "va": "bottom" if above else "top", "bbox": UNDER}
    note(ax, words, (edge, level), (4 if left else -4, 3 if above else -3), ACROSS, **look)


def _arrival(row: Row, result: HeatResult, when: float) -> None:
    """The dot where the piece is as wanted, and in words when."""
    asked = result.wanted
    ax, place = row.at(when)
    row.moment(when, color=FAINT, linewidth=0.8)
    ax.plot(
        [place],
        [asked.celsius],
        "o",
        color=PAPER,
        markeredgecolor=INK,
        markeredgewidth=1.8,
        markersize=7.5,
        zorder=6,
        clip_on=False,
    )
    other = f"surface {celsius(asked.surface)}" if asked.at == "core" else f"core {celsius(asked.core)}"
    words = f"after {time_words(when)}\n{asked.at} {celsius(asked.celsius)}\n{other}"
    right = place < 0.8 * ax.get_xlim()[1]
    look = {"ha": "left" if right else "right", "va": "top", "fontsize": 9, "linespacing": 1.35}
    note(ax, words, (place, 0.62 * asked.celsius), (7 if right else -7, 0), **look)


def _powers(row: Row, result: HeatResult) -> None:
    told = result.series
    time, shown = told["time_s"], [told["piece_power_w"], told["given_off_w"]]
    factor, unit = (1e-3, "kW") if np.nanmax(told["piece_power_w"]) >= 1e3 else (1.0, "W")
    if "supply.power_w" in told:
        row.plot(time, factor * told["supply.power_w"], color=SUPPLY, label="from the supply")
        shown.append(told["supply.power_w"])
    row.plot(time, factor * told["piece_power_w"], color=HEAT, linewidth=2.0, label="into the piece")
    row.plot(time, factor * told["given_off_w"], color=INK, linestyle=DOTTED, linewidth=1.6, label="given off by the piece")
    row.reach(*around(*(factor * each for each in shown), zero=True))
    _arrived(row, result)
    row.unit(unit)
    legend(row.first)


def _one(row: Row, result: HeatResult, values: Any, name: str, unit: str, color: str) -> None:
    if values is not None and np.isfinite(values).any():
        row.plot(result.series["time_s"], values, color=color, label=name)
        row.reach(*around(values, room=0.2))
    _arrived(row, result)
    row.unit(unit)
    legend(row.first)


def _arrived(row: Row, result: HeatResult) -> None:
    if result.wanted.reached is not None:
        row.moment(result.wanted.reached, color=FAINT, linewidth=0.8)
