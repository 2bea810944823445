# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of an identified ring: inductance against current, and the captured ramp with what the fit leaves of it."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from heatsim.errors import printable
from heatsim.physics.numeric import FloatArray
from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import CENTRE, FAINT, INK, LEFT, RIGHT, SUPPLY, easy_unit, legend, note
from heatsim.studies.ring import CurvePoints, MaterialMatch, RingResult, predict

TITLE = "Inductance against current"
"""Of the picture."""

RAMP_TITLE = "Captured ramp"
"""Of the ramp and what the fit leaves of it."""

MARKS = ((0, (6, 2)), (0, (2, 1.4)), (0, (6, 1.6, 1.2, 1.6)))
"""Dashes of the candidates, so that they can be told apart without colour."""


def inductance_axes(result: RingResult, ax: Axes) -> Axes:
    """L(I): what was measured, the fit with its 95 % band, and up to three catalogue candidates."""
    factor, unit = easy_unit("H", result.fit.curve.inductance_zero)
    curve = result.curve
    ax.fill_between(curve.current, curve.low * factor, curve.high * factor, color=LEFT, alpha=0.22, linewidth=0)
    ax.plot(curve.current, curve.inductance * factor, color=LEFT, label=f"{result.fit.kind} form, 95 % band")
    for match, colour, dash in zip(chosen(result), (RIGHT, CENTRE, SUPPLY), MARKS, strict=False):
        if match.curve is not None:
            name = match.material.name + ("" if match.fits else " (does not fit)")
            inductance = match.curve.inductance(curve.current) * factor
            ax.plot(curve.current, inductance, color=colour, linestyle=dash, label=name, linewidth=1.2)
    if result.direct:
        _points(ax, result.direct, factor)
    bench = result.data.readings
    if bench:
        look: dict[str, Any] = {"color": INK, "markersize": 4, "markerfacecolor": "none", "clip_on": False}
        ax.plot(bench.current, bench.inductance * factor, "s", label="readings", **look)
    if result.data.lcr:
        ax.plot([0], [result.data.lcr[0] * factor], "D", color=INK, markersize=5, label="LCR reading", clip_on=False)
    half = result.quantities.get("half_current_a")
    if half and half.value and half.value <= 1.02 * result.data.reach:
        ax.plot([half.value, half.value], [0, result.fit.curve.inductance_zero * factor / 2], color=FAINT, linewidth=0.9)
        note(ax, f"50 % at {half.value:.3g} A", (half.value, 0), (3, 4))
    ax.set(xlabel="direct current [A]", ylabel=f"differential inductance [{unit}]", xlim=(0, curve.current[-1]), ylim=(0, None))
    ax.set_title(f"{printable(result.test.name)}: inductance against current", pad=36)
    legend(ax, 3)
    return ax


def chosen(result: RingResult) -> tuple[MaterialMatch, ...]:
    """The materials that are drawn: those that fit, or the nearest."""
    return result.fitting[:3] or result.materials[:2]


def _points(ax: Axes, direct: CurvePoints, factor: float) -> None:
    spread = np.array([direct.inductance - direct.low, direct.high - direct.inductance]) * factor
    look: dict[str, Any] = {"markersize": 3, "elinewidth": 0.8, "capsize": 1.5, "zorder": 3}
    bars = np.clip(spread, 0, None)
    ax.errorbar(direct.current, direct.inductance * factor, yerr=bars, fmt="o", color=INK, label="slopes of the ramp", **look)


def ramp_axes(result: RingResult, ax: Axes) -> Axes:
    """The captured ramp and the fit through it."""
    ramp = result.data.ramp
    assert ramp is not None
    scale = easy_unit("s", float(np.ptp(ramp.time)))[0]
    fine = np.linspace(ramp.time[0], ramp.time[-1], 800)
    ax.plot(ramp.time * scale, ramp.current, ".", color=FAINT, markersize=2.5, label="captured")
    fitted = predict(result.fit.curve, result.fit.values, ramp, fine)
    ax.plot(fine * scale, fitted, color=LEFT, label=f"{result.fit.kind} form with series resistance")
    ax.set(ylabel="current [A]", xlim=(ramp.time[0] * scale, ramp.time[-1] * scale))
    ax.set_title(RAMP_TITLE)
    ax.tick_params(labelbottom=False)
    legend(ax)
    return ax


def residual_axes(result: RingResult, ax: Axes) -> Axes:
    """What the fit leaves of the ramp, and its running mean, which shows a pattern that noise does not make."""
    ramp = result.data.ramp
    assert ramp is not None
    scale, unit = easy_unit("s", float(np.ptp(ramp.time)))
    milli, amps = easy_unit("A", float(np.max(result.data.deviation)))
    rest = (ramp.current - predict(result.fit.curve, result.fit.values, ramp, ramp.time)) * milli
    ax.plot(ramp.time * scale, rest, ".", color=FAINT, markersize=2.5, label="captured less fit")
    ax.plot(*_running(ramp.time * scale, rest), color=LEFT, label="mean of neighbours")
    ax.set(xlabel=f"time [{unit}]", ylabel=f"residual [{amps}]", xlim=(ramp.time[0] * scale, ramp.time[-1] * scale))
    legend(ax)
    return ax


def _running(time: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Means of some 40 equal pieces."""
    pieces = min(40, time.size)
    times, means = ([part.mean() for part in np.array_split(each, pieces)] for each in (time, values))
    return np.array(times), np.array(means)


def draw(result: RingResult) -> Figure:
    """The whole picture: inductance, and with a capture the ramp and its residual."""
    ramp = result.data.ramp
    if ramp is None:
        return inductance_figure(result)
    with new_figure(7.2, 8.4, layout="constrained") as figure:
        upper, middle, lower = figure.subplots(3, 1, height_ratios=[1.35, 1.0, 0.6])
        inductance_axes(result, upper)
        ramp_axes(result, middle)
        residual_axes(result, lower)
    return figure


def inductance_figure(result: RingResult) -> Figure:
    """Inductance against current alone."""
    with new_figure(7.2, 4.2, layout="constrained") as figure:
        inductance_axes(result, figure.add_subplot())
    return figure


def ramp_figure(result: RingResult) -> Figure:
    """The captured ramp and what the fit leaves of it."""
    with new_figure(7.2, 4.6, layout="constrained") as figure:
        upper, lower = figure.subplots(2, 1, height_ratios=[1.0, 0.6])
        ramp_axes(result, upper)
        residual_axes(result, lower)
    return figure
