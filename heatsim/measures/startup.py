# SPDX-License-Identifier: GPL-3.0-or-later
"""How an oscillator came up: how long it took, and by how much it overshot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatsim.measures.periods import HYSTERESIS, tail_amplitude
from heatsim.waves import Array
from heatsim.waves.periods import crossings

BAND = 0.02
"""Half width of the band round the settled envelope that counts as settled, as a share of it."""


@dataclass(frozen=True)
class Envelope:
    """Peak of each half cycle: instants [s], sizes (not negative, in the signal's unit), whether it is a positive one.

    Shape (m,) each.
    """

    time: Array
    size: Array
    positive: NDArray[np.bool_]

    def relative(self, half_cycles: int) -> Array:
        """Sizes over the settled size [1], the median of the last `half_cycles` of the same sign, shape (m,).

        Each sign has its own, so that a lopsided signal (even harmonics) has a smooth envelope all the same.
        """
        out = np.empty_like(self.size)
        for sign in (True, False):
            own = self.positive == sign
            if np.any(own):
                out[own] = self.size[own] / np.median(self.size[own][-max(half_cycles // 2, 1) :])
        return out


def envelope(time: Array, samples: Array, level: float = 0.0) -> Envelope:
    """Peaks about `level` between its crossings in either direction, on the parabola through the largest sample and its
    neighbours.

    time [s], samples in any unit, shape (n,). Half cycles smaller than HYSTERESIS times the final amplitude are passed
    over; the piece before the first crossing is left out, and so is the last one, which is not finished.
    """
    band = HYSTERESIS * tail_amplitude(time, samples)[0]
    up = crossings(time, samples, level, band)
    down = crossings(time, samples, level, band, rising=False)
    marks = np.concatenate((up, down))
    order = np.argsort(marks)
    at = np.searchsorted(time, marks[order])
    if at.size < 2:
        return Envelope(np.empty(0), np.empty(0), np.empty(0, dtype=bool))
    sizes = np.abs(samples[: at[-1]] - level)
    best = np.array([start + int(np.argmax(sizes[start:stop])) for start, stop in zip(at[:-1], at[1:], strict=True)])
    instants, peaks = _vertices(time, np.abs(samples - level), best)
    return Envelope(instants, peaks, (order < up.size)[:-1])


def _vertices(time: Array, sizes: Array, at: NDArray[np.int64]) -> tuple[Array, Array]:
    """Vertex of the parabola through each local maximum `at` and its neighbours: instant and height.

    A sample stands up to half a step from the peak: at 80 a period that costs 0.1 % of it, much beside a band of 2 %.
    """
    middle = np.clip(at, 1, time.size - 2)
    before, after = time[middle - 1] - time[middle], time[middle + 1] - time[middle]
    low, high = (sizes[middle - 1] - sizes[middle]) / before, (sizes[middle + 1] - sizes[middle]) / after
    bend = (high - low) / (after - before)
    slope = low - bend * before
    round_top = (bend < 0) & (sizes[middle] >= sizes[middle - 1]) & (sizes[middle] >= sizes[middle + 1])
    shift = np.where(round_top, -0.5 * slope / np.where(round_top, bend, 1.0), 0.0)
    instants = np.where(round_top, time[middle] + shift, time[at])
    return instants, np.where(round_top, sizes[middle] + 0.5 * slope * shift, sizes[at])


def settling_time(found: Envelope, start: float, half_cycles: int, band: float = BAND) -> float | None:
    """Time [s] from `start` [s] until the envelope is within `band` (share of its settled size) and stays there.

    The settled size is that of the last `half_cycles`. Resolved to half a period of the oscillation. None when
    there is no envelope or its last half cycle lies outside.
    """
    if found.size.size == 0:
        return None
    outside = np.flatnonzero(np.abs(found.relative(half_cycles) - 1.0) > band)
    first_in = int(outside[-1]) + 1 if outside.size else 0
    return float(found.time[first_in]) - start if first_in < found.time.size else None


def overshoot_ratio(found: Envelope, half_cycles: int) -> float | None:
    """Largest envelope over the settled one, less 1 [1]; not negative. None when there is no envelope."""
    return max(float(np.max(found.relative(half_cycles))) - 1.0, 0.0) if found.size.size else None
