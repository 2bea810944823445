# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of a match: the capture with the best fit and with the scenario over one period, and the causes' probabilities."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from heatsim.errors import printable
from heatsim.report.base.pictures import new_figure
from heatsim.report.base.style import ALONG, BUS, FAINT, HEAT, INK, legend, note, unit_label
from heatsim.report.base.words import part_words, sentence_case
from heatsim.report.match.words import behind_words, phrase, probability, remark, residual_words
from heatsim.studies.match import NONE_OF_THESE, NOTHING, CauseCandidate, MatchResult, Trace
from heatsim.waves import Array

FIT, CAUSE = BUS, HEAT
"""Colours of the best fit, a line, and of what the cause adds, an area."""

POINTS = 110
"""Dots of a capture drawn, at most; the mean and its error are of all of them."""


def overlay(result: MatchResult, record: int = 0) -> Figure:
    """One record: a column a signal; the capture under the best fit, what the cause adds, and what is left.

    Raises IndexError for a record without traces.
    """
    traces = [trace for trace in result.traces if trace.record == record]
    if not traces:
        raise IndexError(f"record {record} has no traces")
    width = 7.2 if len(traces) == 1 else 6.2 * len(traces)
    with new_figure(width, 8.4) as figure:
        label = printable(result.records[record].label.rsplit("/", 1)[-1])
        figure.suptitle(f"{label}: best fit is {_best(result)}", x=0.12 / width, y=0.985, ha="left", fontsize=12, fontweight="bold")
        grid = figure.subplots(3, len(traces), squeeze=False, sharex=True, height_ratios=[1.5, 1.0, 0.8])
        figure.subplots_adjust(0.8 / width, 0.062, 1 - 0.2 / width, 0.885, wspace=0.85 / (width / len(traces) - 0.85), hspace=0.42)
        crossing = _crossing(traces)
        for column, trace in enumerate(traces):
            cycle(trace, grid[0, column], crossing)
            added(trace, grid[1, column], crossing, result.best.cause == NOTHING)
            left_over(trace, grid[2, column])
    return figure


def _best(result: MatchResult) -> str:
    if result.best.cause == NONE_OF_THESE and len(result.candidates) > 1:
        return f"{phrase(result.candidates[1])}, but it does not explain it"
    return phrase(result.best)


def cycle(trace: Trace, ax: Axes, crossing: float | None = None) -> Axes:
    """One period of a signal. crossing [s]: where the tank falls through zero, None when that is not clear."""
    time = _micro(trace)
    ax.plot(time, trace.sound, color=FAINT, linestyle=(0, (4, 2)), linewidth=1.2, label="scenario as written")
    ax.plot(time, trace.best, color=FIT, linewidth=1.6, label="best fit")
    _dots(ax, trace, trace.measured, "capture, ± 2 standard errors")
    _limits(ax, trace)
    unit_label(ax, trace.unit)
    if crossing is not None:
        _halves(ax, 1e6 * crossing)
    ax.set_title(f"{sentence_case(part_words(trace.signal))} over one period")
    legend(ax, 3)
    return ax


def added(trace: Trace, ax: Axes, crossing: float | None = None, sound: bool = False) -> Axes:
    """Where in the cycle the cause shows: best less sound, and the capture less sound, which should follow it."""
    time, share = _micro(trace), trace.best - trace.sound
    label = "what ordinary spread of parts adds" if sound else "what the cause adds"
    ax.fill_between(time, 0, share, color=CAUSE, alpha=0.30, linewidth=0, label=label)
    ax.plot(time, share, color=CAUSE, linewidth=0.9)
    _dots(ax, trace, trace.measured - trace.sound, "capture")
    ax.axhline(0, color=FAINT, linewidth=0.8)
    _limits(ax, trace)
    unit_label(ax, trace.unit)
    worst = time[int(np.argmax(np.abs(share)))]
    half = "" if crossing is None else f" (tank {'positive' if worst < 1e6 * crossing else 'negative'})"
    place = f"most at {worst:.1f} µs{half}" if np.max(np.abs(share)) > 2 * np.max(trace.error) else "too small to be seen"
    ax.set_title("Departure from the scenario: " + place)
    legend(ax, 2)
    return ax


def left_over(trace: Trace, ax: Axes) -> Axes:
    """Capture less best fit, and the band that noise allows."""
    time, rest = _micro(trace), trace.measured - trace.best
    band, label = 2 * trace.error, "what noise allows (± 2 standard errors)"
    ax.fill_between(time, -band, band, color=FAINT, alpha=0.40, linewidth=0, label=label)
    ax.plot(time, rest, color=INK, linewidth=0.9, label="capture less best fit")
    ax.axhline(0, color=FAINT, linewidth=0.8)
    _limits(ax, trace)
    reach = 1.15 * max(float(np.max(np.abs(rest))), 4 * float(np.median(trace.error)))
    ax.set_ylim(-reach, reach)
    unit_label(ax, trace.unit)
    ax.set_xlabel("time from the tank's rise through zero [µs]")
    ax.set_title(residual_words(trace.residual, trace.noise, trace.unit))
    legend(ax, 2)
    return ax


def _micro(trace: Trace) -> Array:
    return np.asarray(trace.time * 1e6)


def _limits(ax: Axes, trace: Trace) -> None:
    """One period: the grid's own length and a step."""
    ax.set_xlim(0, 1e6 * float(trace.time[-1] + trace.time[1] - trace.time[0]))


def _dots(ax: Axes, trace: Trace, values: Array, label: str) -> None:
    """A thin bar of two standard errors either way, with a dot, at evenly chosen instants."""
    some = slice(None, None, max(1, -(-trace.time.size // POINTS)))
    look: dict[str, Any] = {"markersize": 1.9, "markeredgewidth": 0, "elinewidth": 0.7, "zorder": 3}
    bars = 2 * trace.error[some]
    ax.errorbar(_micro(trace)[some], values[some], yerr=bars, fmt="o", color=INK, label=label, **look)


def _crossing(traces: list[Trace]) -> float | None:
    """Where the tank falls through zero [s]: None without a tank trace or with more than one such place."""
    tank = next((trace for trace in traces if trace.signal == "tank.voltage"), None)
    if tank is None:
        return None
    clear = np.abs(tank.best) > 0.02 * np.max(np.abs(tank.best))
    time, values = tank.time[clear], tank.best[clear]
    falls = np.flatnonzero((values[:-1] > 0) & (values[1:] < 0))
    if falls.size != 1 or not 0.25 < falls[0] / values.size < 0.75:
        return None
    k = int(falls[0])
    return float(time[k] + (time[k + 1] - time[k]) * values[k] / (values[k] - values[k + 1]))


def _halves(ax: Axes, middle: float) -> None:
    """Which bank is on in which half, below the curve's top."""
    end = ax.get_xlim()[1]
    ax.axvline(middle, color=FAINT, linewidth=0.8, linestyle=(0, (1, 1.5)))
    low, high = ax.get_ylim()
    ax.set_ylim(low - 0.16 * (high - low), high)
    for centre, text in ((middle / 2, "tank positive:\nright bank on"), ((middle + end) / 2, "tank negative:\nleft bank on")):
        note(ax, text, (centre, 0.02), (0, 0), ALONG, ha="center", va="bottom")


def evidence(result: MatchResult) -> Figure:
    """Probability of every cause, with its odds to the best; grey where the first look already ruled it out."""
    candidates = result.candidates
    idle = [bool(remark(each)) for each in candidates]
    with new_figure(7.2, 1.25 + 0.34 * len(candidates), layout="constrained") as figure:
        ax = figure.add_subplot()
        for place, each in enumerate(candidates):
            ax.barh(place, each.probability, height=0.62, color=FAINT if idle[place] else FIT)
            inside = each.probability > 0.7
            side, start = ("right", -5) if inside else ("left", 5)
            colour = "white" if inside else FAINT if idle[place] else INK
            note(ax, _odds(each), (each.probability, place), (start, 0), va="center", ha=side, color=colour)
        ax.set_yticks(range(len(candidates)), [_name(result, place) for place in range(len(candidates))])
        for label, grey in zip(ax.get_yticklabels(), idle, strict=True):
            label.set_color(FAINT if grey else INK)
        ax.invert_yaxis()
        ax.grid(False, axis="y")
        ax.set(xlim=(0, 1), xlabel="probability; beforehand nothing wrong twice, rare causes half as likely")
        ax.xaxis.set_major_formatter(lambda value, _: f"{100 * value:.0f} %")
        if any(idle):
            note(ax, "grey: ruled out at first look, not simulated", (1, 0), (0, 6), "axes fraction", color=FAINT, ha="right")
        ax.set_title("Which cause explains the capture", pad=8)
    return figure


def _odds(candidate: CauseCandidate) -> str:
    """Probability and odds, no surer than they are known to be."""
    odds = "" if candidate.log_evidence >= 0 else f"   odds {behind_words(candidate)}"
    return probability(candidate) + odds


def _name(result: MatchResult, place: int) -> str:
    each = result.candidates[place]
    kind = f": {each.kind}" if place == 0 and each.kind and each.kind != each.cause and each.cause != NONE_OF_THESE else ""
    return "\n".join(textwrap.wrap(printable(each.cause + kind), 34))
