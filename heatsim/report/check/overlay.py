# SPDX-License-Identifier: GPL-3.0-or-later
"""Waveforms of several builds over the same phase: tank voltage and left drain voltage of the last periods."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from heatsim.measures.harmonics import coefficients
from heatsim.report.base import style
from heatsim.report.base.style import BUS, CENTRE, FAINT, LEFT, RIGHT, SUPPLY
from heatsim.report.base.words import number
from heatsim.report.check.figures import last_periods
from heatsim.studies.check import CaseResult
from heatsim.waves import Array, Waveforms

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SIZE = (6.4, 5.2)
"""Width and height of a picture [inch]."""

SHOWN = 2
"""Periods shown."""

LOOKS: tuple[dict[str, Any], ...] = tuple(
    {"color": color, "linestyle": dashes}
    for color, dashes in (
        (LEFT, "-"),
        (RIGHT, (0, (5, 2))),
        (BUS, (0, (4, 1.5, 1, 1.5))),
        (SUPPLY, (0, (1, 1.4))),
        (CENTRE, (0, (8, 2, 1, 2))),
    )
)
"""Line of each build in turn."""

SIGNALS = {"tank.voltage": "Tank voltage", "drain.left.voltage": "Left drain voltage"}
"""What is drawn, from above."""


def drawable(cases: Sequence[CaseResult | None]) -> list[int]:
    """Places of the builds whose last periods were measured and recorded."""
    return [place for place, case in enumerate(cases) if case is not None and periods_of(case) is not None]


def periods_of(case: CaseResult) -> tuple[Array, Waveforms] | None:
    """The last periods of a case with their phase [1], in periods of its tank: a whole number where the fundamental of the tank
    voltage rises through zero; None where nothing was measured.
    """
    frequency = number(case.measures, "tank.frequency_hz")
    waves = last_periods(case, SHOWN + 1) if case.window is not None and frequency else None
    if waves is None or frequency is None or "tank.voltage" not in waves:
        return None
    found = coefficients(waves.time, waves["tank.voltage"], SHOWN + 1, 1)[0]
    lag = float(np.angle(found)) / (2 * np.pi) + 0.25  # a cosine of phase -90 degrees rises through zero where the record begins
    return (waves.time - waves.time[0]) * frequency + lag, waves


def within(phase: Array) -> tuple[Array, Any]:
    """The phase from a rise through zero on, and where it lies within the periods shown."""
    shifted = np.asarray(phase - np.ceil(phase[0]))
    return shifted, (shifted >= 0) & (shifted <= SHOWN)


def overlay(cases: Sequence[CaseResult | None], names: Sequence[str]) -> Figure:
    """One case of several builds, tank above left drain. names: of the builds, for the legend."""
    from heatsim.report.base.pictures import new_figure

    with new_figure(*SIZE) as figure:
        for place, (signal, title) in enumerate(SIGNALS.items()):
            ax = figure.add_axes((0.11, 0.56 - 0.465 * place, 0.865, 0.34))
            _draw(ax, cases, names, signal, title)
            lowest = place == len(SIGNALS) - 1
            ax.tick_params(labelbottom=lowest)
            ax.set_xlabel("periods of the tank" if lowest else "")
    return figure


def _draw(ax: Axes, cases: Sequence[CaseResult | None], names: Sequence[str], signal: str, title: str) -> Axes:
    """One signal of every build."""
    ax.set_title(title)
    for place in drawable(cases):
        case = cases[place]
        found = periods_of(case) if case is not None else None
        if found is None or signal not in found[1]:
            continue
        phase, waves = found
        phase, inside = within(phase)
        ax.plot(phase[inside], waves[signal][inside], label=_label(names[place]), linewidth=1.5, **LOOKS[place % len(LOOKS)])
    if not ax.lines:
        return style.empty(ax, f"no build recorded the {title.lower()}")
    ax.axhline(0, color=FAINT, linewidth=0.8)
    ax.set_xlim(0, SHOWN)
    style.unit_label(ax, "V")
    style.legend(ax, 3)
    return ax


def _label(name: str) -> str:
    """A name as a legend shows it: no formula between dollar signs, nothing hidden for its first sign."""
    plain = name.replace("$", r"\$")
    return f" {plain}" if plain.startswith("_") else plain
