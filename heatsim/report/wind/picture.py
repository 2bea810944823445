# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture of a winding: every one the drawer allows, by copper and temperature."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import DOTTED, INK, LEFT, LIMIT, RIGHT
from heatsim.studies.wind import WindingCandidate, WindResult

TITLE = "Every winding the drawer allows"


def figure(result: WindResult) -> Figure:
    """The picture as a figure of its own, in the house style."""
    with new_figure(6.4, 4.2, layout="constrained") as made:
        front_picture(result, made.add_subplot())
    return made


def front_picture(result: WindResult, ax: Axes) -> Axes:
    """Every estimated winding by copper and temperature, coloured by headroom; those nothing beats ringed; the choice."""

    def place(one: WindingCandidate) -> tuple[float, float]:
        return 1e3 * one.copper_mass, one.estimate.temperature or np.nan

    groups = (
        ([c for c in result.candidates if c.headroom < 0], LIMIT, "breaks a limit", 6, 0.25),
        ([c for c in result.candidates if c.headroom >= 0], LEFT, "keeps every limit", 8, 0.5),
    )
    for group, colour, label, size, alpha in groups:
        if group:
            x, y = zip(*map(place, group), strict=True)
            ax.scatter(x, y, s=size, color=colour, alpha=alpha, linewidths=0, rasterized=True, label=f"{label} ({len(group)})")
    front = [c for c in result.front if c.headroom >= 0]
    if front:
        x, y = zip(*map(place, front), strict=True)
        ax.scatter(x, y, s=26, facecolors="none", edgecolors=INK, linewidths=0.8, label="no other beats it")
    if result.best is not None:
        x0, y0 = place(result.best.candidate)
        ax.scatter([x0], [y0], s=90, marker="D", color=RIGHT, edgecolors="white", zorder=5, label="simulated, holds")
    ceiling = result.scenario.tables.limits.choke_temperature
    ax.set(xlabel="copper in one choke, g", ylabel="choke temperature, °C", title=TITLE)
    ax.set_ylim(bottom=result.duty.ambient, top=1.6 * ceiling)
    ax.axhline(ceiling, color=LIMIT, linestyle=DOTTED, linewidth=1.2)
    ax.legend(loc="upper right", fontsize=7.5)
    return ax
