# SPDX-License-Identifier: GPL-3.0-or-later
"""Is a run settled? Judged from its waveform, not assumed from a time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from heatsim.netlist.deck import SettleRule
from heatsim.waves import Array

State = Literal["settled", "moving", "quiet", "latched"]


@dataclass(frozen=True)
class Judgement:
    """state, and the largest relative drift seen between neighbouring windows (None without enough periods)."""

    state: State
    drift: float | None
    signal: str = ""


def rising_zeros(time: Array, samples: Array) -> Array:
    """Instants [s] at which `samples` rises through zero, by straight lines between unevenly spaced samples."""
    below = samples < 0
    k = np.flatnonzero(below[:-1] & ~below[1:])
    return np.asarray(time[k] - samples[k] * (time[k + 1] - time[k]) / (samples[k + 1] - samples[k]))


def judge(time: Array, signals: Mapping[str, Array], rule: SettleRule) -> Judgement:
    """Compare the last three windows of `rule.periods` periods.

    Settled when, for every watched signal, mean and peak-to-peak of neighbouring windows differ by at most the tolerance
    of that signal's peak-to-peak plus |mean|, in both pairs: a slow beat that happens to agree once is not settled.
    Quiet when the section signal stayed below `rule.quiet` over the last fifth of the record; latched when besides a
    watched current stands above `rule.latch_current`.
    """
    section = signals[rule.section]
    late = time >= time[-1] - 0.2 * (time[-1] - time[0])
    if np.abs(section[late]).max() < rule.quiet:
        currents = [np.abs(np.mean(signals[name][late])) for name in rule.watched if name != rule.section]
        return Judgement("latched" if max(currents, default=0.0) > rule.latch_current else "quiet", None)
    marks = rising_zeros(time, section)
    edges = marks[-1::-rule.periods][:4][::-1]
    if edges.size < 4:
        return Judgement("moving", None)
    drifts = {name: _drift(time, signals[name], edges) for name in rule.watched}
    worst = max(drifts, key=lambda name: drifts[name])
    state: State = "settled" if drifts[worst] <= rule.tolerance else "moving"
    return Judgement(state, drifts[worst], worst)


def _drift(time: Array, samples: Array, edges: Array) -> float:
    """Largest relative change of mean or peak-to-peak between neighbouring windows."""
    windows = [_window(time, samples, a, b) for a, b in zip(edges[:-1], edges[1:], strict=True)]
    scale = windows[-1][1] + abs(windows[-1][0])
    if scale == 0:
        return 0.0
    pairs = zip(windows[:-1], windows[1:], strict=True)
    return max(max(abs(b[0] - a[0]), abs(b[1] - a[1])) / scale for a, b in pairs)


def _window(time: Array, samples: Array, start: float, stop: float) -> tuple[float, float]:
    """Mean and peak-to-peak between two instants."""
    inner = (time > start) & (time < stop)
    t = np.concatenate([[start], time[inner], [stop]])
    x = np.concatenate([np.interp([start], time, samples), samples[inner], np.interp([stop], time, samples)])
    return float(np.trapezoid(x, t) / (stop - start)), float(np.ptp(x))
