# SPDX-License-Identifier: GPL-3.0-or-later
"""What supply and chokes do slowly, judged from the waveform: the supply's own resonance and time constant, its ripple, and the
difference between two chokes' currents.

All of it is told from series of one number a tank period: the mean or the peak-to-peak of a watched signal.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from heatsim.netlist.deck import FAST_RIPPLE, SettleRule
from heatsim.waves import Array
from heatsim.waves.periods import PerPeriod

Move = tuple[float, str]
"""Relative change, and the same in words."""

SMOOTH = 4
"""Periods averaged before a ripple is compared with the one before: even, for a steady period of two."""


def slow_moves(series: Mapping[str, Array], marks: Array, rule: SettleRule, count: int, later: int = 0) -> list[Move]:
    """Every relative change between one slow cycle of the supply and the next, with its words.

    series: one number a tank period by its label, relative to the signal's size; marks: the periods' edges [s], one more;
    count: periods in a window; later: first period of the stretch that a rate of change is taken over

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
            size = _left(values[later:], marks[later:], rule.slow_time)
            words = f"{label} has {100 * size:.2g} % to go by the supply's own time constant of {1e3 * rule.slow_time:.3g} ms"
        else:
            break
        moves.append((size, words))
    return moves


def difference_move(
    found: Mapping[str, PerPeriod], marks: Array, rule: SettleRule, count: int, later: int, cycle: float = 0.0
) -> Move:
    """What the difference between two chokes' mean currents still has to go, as a share of the smaller choke's size.

    later: first period of the stretch that its rate of change is taken over
    cycle: period of a swing that the change must be told from [s]; that of a slow ripple is known

    d(t) = end + left exp(-t/tau): with tau known from the circuit, the rate of change says what is left. Three means of one
    exponential would say it too (see `heatsim.engine.settle.to_come`), but over a stretch much shorter than tau they differ by
    less than they scatter. Each choke's own current goes half of the way.
    """
    if not rule.difference:
        return 0.0, ""
    left, right = (found[name] for name in rule.difference)
    size = min(abs(float(each.mean[-count:].mean())) + float(each.swing[-count:].mean()) for each in (left, right)) or 1.0
    apart, tau = (left.mean - right.mean) / size, rule.difference_time
    slow_ripple = rule.ripple_period >= FAST_RIPPLE * float(np.diff(marks).mean())
    cycle = rule.ripple_period if slow_ripple else cycle
    if cycle:
        kept = float(np.exp(-cycle / tau))
        rest = abs(float(_since_cycle(apart, marks, cycle).mean())) * kept / (1 - kept)
    else:
        at = marks[later:-1] - marks[later]
        rest = abs(float(np.polyfit(at, apart[later:], 1)[0])) * tau * float(np.exp(-at[-1] / (2 * tau)))
    return (
        rest / 2,
        f"the mean currents of the two chokes have an estimated {50 * rest:.2g} % still to go, towards one another or apart",
    )


def fades(found: Mapping[str, PerPeriod], series: Mapping[str, Array], marks: Array, rule: SettleRule, count: int) -> float | None:
    """By how much the supply's own resonance still swings where nothing else moves and it dies away; None otherwise.

    From one cycle of the swing to the next what swings must shrink at least half as fast as the supply's time constant says. What
    the means have to go by that time constant may be no more than the tolerance or a quarter of the swing: a swing that decays
    moves its own mean a little. So it comes to rest between its latest crest and valley. Within a tank period the slope of a
    swinging mean adds to the peak-to-peak, at most pi times the swing over the tank periods in a cycle; that goes with it.
    """
    cycle, period = rule.swing_period, float(np.diff(marks).mean())
    periods = round(cycle / period)
    if rule.ripple_period or periods < FAST_RIPPLE + 2 or marks.size < 2 * periods + count + 1:
        return None
    if difference_move(found, marks, rule, count, 0, cycle)[0] > rule.tolerance:
        return None
    kept, largest, slope = float(np.exp(-cycle / rule.slow_time)), 0.0, 0.0
    for label, values in series.items():
        smooth = _smooth(values, count)
        now, before = smooth[-periods:], smooth[-2 * periods : -periods]
        swing = float(np.ptp(now))
        to_come = abs(float(now.mean() - before.mean())) * max(1.0, kept / (1 - kept))
        shrinks = swing <= max((1 + kept) / 2 * float(np.ptp(before)), rule.tolerance)
        if not shrinks or to_come > max(rule.tolerance, swing / 4, slope):
            return None
        largest, slope = max(largest, swing), np.pi / periods * swing if label.endswith("(mean)") else 0.0
    return largest


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
    kept = np.exp(-ripple / rule.slow_time) if rule.slow_time else 0.0
    change = float(np.abs(_since_cycle(values, marks, ripple)).max())
    return change * max(1.0, float(kept / (1 - kept)))


def _since_cycle(values: Array, marks: Array, cycle: float) -> Array:
    """By how much the latest quarter of a cycle differs from the cycle before, averaged over SMOOTH periods."""
    smooth = _smooth(values, SMOOTH)
    at = marks[: smooth.size] + (marks[SMOOTH] - marks[0]) / 2
    late = at > at[-1] - cycle / 4
    return np.asarray(smooth[late] - np.interp(at[late] - cycle, at, smooth))
