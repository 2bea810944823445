# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures over time. Each takes waveforms [SI] and matplotlib axes, draws on the axes and returns them.

Signals that a record lacks are left out; axes with nothing to draw say so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from heatsim.measures.basics import mean
from heatsim.report.base import style
from heatsim.report.base.style import ACROSS, ALONG, BUS, FAINT, INK, LIMIT, SIDE, SUPPLY, TANK
from heatsim.waves import Array, Waveforms

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def _microseconds(waves: Waveforms) -> Array:
    """Time from the start [µs]."""
    return np.asarray(1e6 * (waves.time - waves.time[0]))


def _lines(ax: Axes, waves: Waveforms, pattern: str, label: str, width: float = 1.5) -> int:
    """One line a side for signals named by `pattern`, such as "gate.{}.voltage"; returns how many there are."""
    drawn = 0
    for side, look in SIDE.items():
        name = pattern.format(side)
        if name in waves:
            time = _microseconds(waves)
            ax.plot(time, waves[name], label=label.format(side), linewidth=width, **look)
            drawn += 1
    return drawn


def _time_axis(ax: Axes, waves: Waveforms, unit: str) -> Axes:
    """Labels, and the legend line."""
    ax.set_xlim(0, 1e6 * waves.duration)
    ax.set_xlabel(f"µs from {1e3 * waves.time[0]:.4g} ms after switching on")
    style.unit_label(ax, unit)
    style.legend(ax)
    return ax


def tank(waves: Waveforms, ax: Axes) -> Axes:
    """Tank voltage [V] and both drains [V]."""
    ax.set_title("Tank and drains")
    drawn = 0
    if "tank.voltage" in waves:
        time = _microseconds(waves)
        ax.plot(time, waves["tank.voltage"], color=TANK, linewidth=4.5, alpha=0.28, label="tank (left minus right)")
        drawn = 1
    drawn += _lines(ax, waves, "drain.{}.voltage", "{} drain")
    if not drawn:
        return style.empty(ax, "neither tank nor drain voltages were recorded")
    ax.axhline(0, color=FAINT, linewidth=0.8)
    return _time_axis(ax, waves, "V")


def choke_currents(waves: Waveforms, ax: Axes) -> Axes:
    """Choke currents [A], with their mean as a thin line each."""
    ax.set_title("Choke currents")
    sides = [side for side in SIDE if f"choke.{side}.current" in waves]
    if not sides:
        return style.empty(ax, "no choke current was recorded")
    for side in sides:
        current = waves[f"choke.{side}.current"]
        level = mean(waves.time, current)
        _lines(ax, waves.only([f"choke.{side}.current"]), "choke.{}.current", "{} choke, mean " + f"{level:.3g} A")
        ax.axhline(level, color=SIDE[side]["color"], linewidth=0.8, alpha=0.8)
    low, high = ax.get_ylim()
    ax.set_ylim(min(low, 0), high)
    return _time_axis(ax, waves, "A")


def gates(waves: Waveforms, ax: Axes, rating: float | None = None, threshold: float | None = None) -> Axes:
    """Gate voltages [V] between the devices' ratings of plus and minus `rating` [V], over their `threshold` [V]."""
    ax.set_title("Gate voltages")
    if not _lines(ax, waves, "gate.{}.voltage", "{} gate"):
        return style.empty(ax, "no gate voltage was recorded")
    _time_axis(ax, waves, "V")
    if threshold is not None:
        ax.axhline(threshold, color=INK, linewidth=0.8, linestyle=(0, (6, 3)))
        style.note(ax, f"threshold {threshold:.3g} V", (1.0, threshold), (-2, 2), ACROSS, ha="right", va="bottom")
    for value in (rating, -rating) if rating else ():
        style.limit_line(ax, value, f"rating {value:+.3g} V")
    return ax


def switches(waves: Waveforms, ax: Axes, rating: float | None = None, count: int = 1, heaviest: float = 1.0) -> Axes:
    """Current of each whole bank [A]; rating [A] of one of its `count` devices, heaviest: share of that which carries most, over
    the mean [1].
    """
    ax.set_title("Switch currents, whole banks" if count > 1 else "Switch currents")
    if not _lines(ax, waves, "switch.{}.current", "{} bank" if count > 1 else "{} switch"):
        return style.empty(ax, "no switch current was recorded")
    _time_axis(ax, waves, "A")
    if rating:
        style.limit_line(ax, rating * count / heaviest, rating_words(rating, count, heaviest))
    return ax


def rating_words(rating: float, count: int, heaviest: float) -> str:
    """What a bank of devices may carry, in words: "rating 2 × 60 A, shared unevenly"."""
    bank = f"{count} × {rating:.4g} A" if count > 1 else f"{rating:.4g} A"
    return f"rating {bank}" + (", shared unevenly" if heaviest > 1.0 else "")


def sliced(time: Array, samples: Array, slices: int) -> tuple[Array, Array, Array]:
    """Middle [s], least and greatest sample of equal slices of time, shape (m,) each; slices without samples are left
    out. Keeps every peak, however fine, and a hundred times fewer points.
    """
    edges = np.linspace(time[0], time[-1], slices + 1)
    starts = np.searchsorted(time, edges[:-1])
    filled = np.diff(np.append(starts, time.size)) > 0
    low, high = (pick.reduceat(samples, starts[filled]) for pick in (np.minimum, np.maximum))
    return 0.5 * (edges[:-1] + edges[1:])[filled], low, high


def startup(
    waves: Waveforms, ax: Axes, settled: float | None = None, window: tuple[float, float] | None = None, slices: int = 200
) -> Axes:
    """The whole run: band between least and greatest tank voltage [V], bus voltage [V], supply current [A, right axis].

    settled: time [s] after which the tank's envelope stays; window: start and end [s] of what was measured; slices: how
    many pieces the run is cut into, each to hold a whole period or more of the tank.
    """
    ax.set_title("From switching on")
    drawn = False
    if "tank.voltage" in waves:
        time, low, high = sliced(waves.time, waves["tank.voltage"], slices)
        ax.fill_between(1e3 * time, low, high, color=TANK, alpha=0.22, linewidth=0, label="tank voltage, least to greatest")
        ax.plot(1e3 * time, high, color=TANK, linewidth=0.8)
        ax.plot(1e3 * time, low, color=TANK, linewidth=0.8)
        drawn = True
    if "bus.voltage" in waves:
        time, low, high = sliced(waves.time, waves["bus.voltage"], slices)
        ax.plot(1e3 * time, 0.5 * (low + high), color=BUS, linewidth=2.0, label="bus voltage")
        drawn = True
    drawn = _supply_current(waves, ax, slices) or drawn
    if not drawn:
        return style.empty(ax, "neither tank nor supply were recorded")
    _moments(ax, settled, window)
    ax.set_xlim(1e3 * waves.time[0], 1e3 * waves.time[-1])
    ax.set_xlabel("ms after switching on")
    style.unit_label(ax, "V")
    style.legend(ax)
    return ax


def _supply_current(waves: Waveforms, ax: Axes, slices: int) -> bool:
    """Supply current on a second axis; its legend entry goes to the first."""
    if "supply.current" not in waves:
        return False
    time, low, high = sliced(waves.time, waves["supply.current"], slices)
    other = ax.twinx()
    other.grid(False)
    look: dict[str, Any] = {"color": SUPPLY, "linewidth": 1.5, "linestyle": (0, (4, 1.5, 1, 1.5))}
    other.plot(1e3 * time, 0.5 * (low + high), **look)
    style.unit_label(other, "A", SUPPLY)
    other.tick_params(axis="y", colors=SUPPLY)
    other.spines["right"].set_visible(True)
    ax.plot([], [], label="supply current (right axis)", **look)
    return True


def _moments(ax: Axes, settled: float | None, window: tuple[float, float] | None) -> None:
    """Marks on the time axis."""
    if window is not None:
        ax.axvspan(1e3 * window[0], 1e3 * window[1], color=BUS, alpha=0.14, linewidth=0)
        middle = (500 * (window[0] + window[1]), 0.5)
        style.note(ax, "measured here", middle, (0, 0), ALONG, rotation=90, ha="center", va="center")
    if settled is not None:
        ax.axvline(1e3 * settled, color=LIMIT, linewidth=1.0, linestyle=(0, (3, 2)))
        text = f"settled {1e3 * settled:.3g} ms"
        style.note(ax, text, (1e3 * settled, 1.0), (-3, -2), ALONG, color=LIMIT, ha="right", va="top")
