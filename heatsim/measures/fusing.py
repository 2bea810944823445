# SPDX-License-Identifier: GPL-3.0-or-later
"""The Joule integral, by which fuses are chosen for what they are to save.

CAUTION: a fuse's printed figure is met with a tolerance, counts what it lets through in its arc only where it is the clearing
figure at the voltage in question, and holds for faults of up to some 10 ms. Protection of mains and battery supplies follows local
codes and belongs to people licensed for it.
"""

from __future__ import annotations

import numpy as np

from heatsim.waves import Array


def joule_integral(time: Array, current: Array) -> Array:
    """Integral of the square of a current from the record's beginning to each of its instants [A2s].

    time: shape (n,) [s]; current: shape (n,) [A]

    The heat that a conductor takes up in proportion, as long as it has no time to give any off (IEC 60269-1, its I2t). Between two
    samples the current is a straight line, whose square integrates to (a^2 + a b + b^2)/3 times the time.
    """
    a, b = current[:-1], current[1:]
    return np.concatenate([[0.0], np.cumsum((a * a + a * b + b * b) / 3 * np.diff(time))])


def time_to_reach(time: Array, current: Array, integral: float) -> float:
    """Instant [s] at which the Joule integral of a current reaches a value; after the record the current stays what it ends with.

    time: shape (n,) [s]; current: shape (n,) [A]; integral: [A2s]
    """
    grown = joule_integral(time, current)
    if grown[-1] >= integral:
        return float(np.interp(integral, grown, time))
    last = float(current[-1]) ** 2
    return float(time[-1]) + (integral - float(grown[-1])) / last if last > 0 else float("inf")


def integral_at(time: Array, current: Array, instant: float) -> float:
    """Joule integral of a current up to an instant [A2s]; after the record the current stays what it is at its end.

    time: shape (n,) [s]; current: shape (n,) [A]; instant: [s]
    """
    grown = joule_integral(time, current)
    beyond = max(instant - float(time[-1]), 0.0) * float(current[-1]) ** 2
    return float(np.interp(instant, time, grown)) + beyond
