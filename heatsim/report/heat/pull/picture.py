# SPDX-License-Identifier: GPL-3.0-or-later
"""The picture of a piece that leaves the coil or goes in: tank and drains, coil and supply, beside the step and until all rests."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import ALONG, FAINT, HEAT, INK, SIDE, SUPPLY, TANK, empty, legend, limit_line, note, unit_label
from heatsim.report.heat.pull.words import WAYS
from heatsim.studies.heat.pull import Moved
from heatsim.waves import Array, Waveforms

SIZE = (9.6, 5.6)
"""Width and height [inch]."""

NEAR = 10.0
"""Periods after the step in the pictures on the left."""

REST = 1.5
"""Times the settling time after which the pictures on the right end."""

DRAWN = 0.6
"""Share of their rating [1] from which on the rating of the drains is drawn."""

CAPTION = (
    "Of the instants that were tried, the one with the highest drain voltage. On the left every period; on the right the highest "
    "and lowest of each period until the tank has settled."
)


def figure(moved: Moved) -> Figure:
    """The picture of one direction in the house style."""
    with new_figure(*SIZE, layout="constrained") as made:
        made.suptitle(WAYS[moved.leaves], x=0.012, ha="left", fontsize=11.5, fontweight="bold")
        waves, at, frequency = (moved.waveforms, *(moved.measures.get(key) for key in ("step.time_s", "before.tank.frequency_hz")))
        if waves is None or at is None or not frequency:
            empty(made.subplots(), "no waveform was simulated")
            return made
        axes = made.subplots(2, 2, sharex="col", sharey="row", gridspec_kw={"width_ratios": (1.25, 1.0)})
        near, far = _parts(waves, at, 1 / frequency, moved)
        _traces(axes[0, 0], axes[1, 0], near, at)
        _envelopes(axes[0, 1], axes[1, 1], far, at, 1 / frequency)
        _rating(axes[0, 0], moved)
        for ax in axes.flat:
            ax.axvspan(0.0, 1e6 * moved.duration if ax in axes[:, 0] else 1e3 * moved.duration, color=HEAT, alpha=0.18, linewidth=0)
            ax.axvline(0.0, color=HEAT, linewidth=1.0)
            ax.set_xmargin(0.0)
        note(axes[0, 0], "the piece moves", (0.0, 0.03), (4, 0), ALONG, color=HEAT, va="bottom")
        axes[1, 0].set_xlabel("µs from the step")
        axes[1, 1].set_xlabel("ms from the step")
    return made


def _parts(waves: Waveforms, at: float, period: float, moved: Moved) -> tuple[Waveforms, Waveforms]:
    """The part beside the step, and that until the tank has settled."""
    last = float(waves.time[-1])
    settled = moved.measures.get("settling.time_s")
    end = last if settled is None else min(last, at + moved.duration + max(REST * settled, 3 * NEAR * period))
    return waves.between(float(waves.time[0]), min(last, at + NEAR * period)), waves.between(float(waves.time[0]), end)


def _traces(volts: Axes, amps: Axes, waves: Waveforms, at: float) -> None:
    time = 1e6 * (waves.time - at)
    volts.plot(time, waves["tank.voltage"], color=TANK, linewidth=4.0, alpha=0.28, label="tank")
    for side in ("left", "right"):
        volts.plot(time, waves[f"drain.{side}.voltage"], linewidth=1.3, label=f"{side} drain", **SIDE[side])
    amps.plot(time, waves["coil.current"], color=INK, linewidth=1.2, label="coil")
    amps.plot(time, waves["supply.current"], color=SUPPLY, linewidth=2.0, label="supply")
    for ax, unit in ((volts, "V"), (amps, "A")):
        unit_label(ax, unit)
        legend(ax)


def _envelopes(volts: Axes, amps: Axes, waves: Waveforms, at: float, period: float) -> None:
    time, low, high = _extremes(waves, "tank.voltage", at, period)
    volts.fill_between(time, low, high, color=TANK, alpha=0.2, linewidth=0, label="tank")
    for side in ("left", "right"):
        time, _, high = _extremes(waves, f"drain.{side}.voltage", at, period)
        volts.plot(time, high, label=f"{side} drain, highest", **SIDE[side])
    time, low, high = _extremes(waves, "coil.current", at, period)
    amps.fill_between(time, low, high, color=INK, alpha=0.2, linewidth=0, label="coil")
    time, low, high = _extremes(waves, "supply.current", at, period)
    amps.plot(time, 0.5 * (low + high), color=SUPPLY, linewidth=2.0, label="supply")
    for ax in (volts, amps):
        ax.axhline(0.0, color=FAINT, linewidth=0.6)
        legend(ax)


def _extremes(waves: Waveforms, name: str, at: float, period: float) -> tuple[Array, Array, Array]:
    """Middles of the periods from the step on [ms], and the lowest and highest sample in each."""
    count = max(1, round(waves.duration / period))
    edges = np.linspace(waves.time[0], waves.time[-1], count + 1)
    starts = np.unique(np.searchsorted(waves.time, edges[:-1]))
    low, high = (pick.reduceat(waves[name], starts) for pick in (np.minimum, np.maximum))
    ends = np.append(waves.time[starts[1:]], waves.time[-1])
    return 1e3 * (0.5 * (waves.time[starts] + ends) - at), low, high


def _rating(ax: Axes, moved: Moved) -> None:
    """The drains' rating, where there is one and the drains come near it."""
    rated = [each for each in moved.findings if each.limit.startswith("drain voltage") and each.allowed is not None]
    worst = max(rated, key=lambda each: each.value or 0.0, default=None)
    if worst is not None and worst.allowed and (worst.value or 0.0) > DRAWN * worst.allowed:
        limit_line(ax, worst.allowed, f"rating {worst.allowed:.4g} V")
