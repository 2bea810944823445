# SPDX-License-Identifier: GPL-3.0-or-later
"""What the supply does slowly, judged from the waveform: its own resonance and time constant, and its ripple.

All of it is told from series of one number a tank period: the mean or the peak-to-peak of a watched signal.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from heatsim.netlist.deck import FAST_RIPPLE, SettleRule
from heatsim.waves import Array

Move = tuple[float, str]
"""Relative change, and the same in words."""

SMOOTH = 4
"""Periods averaged before a ripple is compared with the one before: even, for a steady period of two."""


def slow_moves(series: Mapping[str, Array], marks: Array, rule: SettleRule, count: int) -> list[Move]:
    """Every relative change between one slow cycle of the supply and the next, with its words.

    series: one number a tank period by its label, relative to the signal's size; marks: the periods' edges [s], one more;
    count: periods in a window

    Under a ripple each signal is compared with itself one period of the ripple before. Without, the averages over windows
    may not swing over one period of the supply's own resonance; a time constant is multiplied by the rate of change, which
    gives what is still to come.
    """
    period = float(np.diff(marks).mean())
    moves = []
    for label, values in series.items():
        if rule.ripple_period:
            size = _against_ripple_before(values, marks, rule, period)
            words = f"{label} differs by {100 * size:.2g} % from one period of the supply's ripple to the next"
        elif rule.swing_period > count * period:
            size = _swing(values, round(rule.swing_period / period), count)
            words = f"{label} swings by {100 * size:.2g} % with the supply's own resonance at {1 / rule.swing_period:.3g} Hz"
        elif rule.slow_time > 3 * count * period:
            size = _left(values, marks, rule.slow_time)
            words = f"{label} has {100 * size:.2g} % to go by the supply's own time constant of {1e3 * rule.slow_time:.3g} ms"
        else:
            break
        moves.append((size, words))
    return moves


def _smooth(values: Array, count: int) -> Array:
    """Averages over `count` neighbouring periods."""
    return np.convolve(values, np.full(count, 1 / count), "valid")


def _swing(values: Array, periods: int, count: int) -> float:
    """Peak-to-peak of the averages over windows, in the latest cycle."""
    return float(np.ptp(_smooth(values[-(periods + count) :], count)))


def _left(values: Array, marks: Array, slow_time: float) -> float:
    """What is still to come, from the rate of change between the first and the last third."""
    thirds = [float(part.mean()) for part in np.array_split(values, 3)]
    return abs(thirds[2] - thirds[0]) * slow_time / (2 / 3 * float(marks[-1] - marks[0]))


def _against_ripple_before(values: Array, marks: Array, rule: SettleRule, period: float) -> float:
    """Largest difference from the ripple's period before, and what by the supply's time constant is still to come.

    A fast ripple is compared by mean and extremes over blocks of whole periods of the ripple: from one tank period to the
    next it is met at ever other phases.
    """
    ripple = rule.ripple_period
    if ripple < FAST_RIPPLE * period:
        block = round(np.ceil(FAST_RIPPLE * period / ripple) * ripple / period)
        pairs = _smooth(values, 2)
        before, now = pairs[-2 * block : -block], pairs[-block:]
        differences = [now.mean() - before.mean(), now.max() - before.max(), now.min() - before.min()]
        return float(np.abs(differences).max())
    smooth = _smooth(values, SMOOTH)
    at = marks[: smooth.size] + (marks[SMOOTH] - marks[0]) / 2
    late = at > at[-1] - ripple / 4
    kept = np.exp(-ripple / rule.slow_time) if rule.slow_time else 0.0
    change = float(np.abs(smooth[late] - np.interp(at[late] - ripple, at, smooth)).max())
    return change * max(1.0, float(kept / (1 - kept)))
