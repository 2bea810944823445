# SPDX-License-Identifier: GPL-3.0-or-later
"""Where a signal crosses a level, and what it does from one crossing to the next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatsim.waves.waveforms import Array


def crossings(
    time: Array, samples: Array, level: float = 0.0, hysteresis: float = 0.0, *, rising: bool = True, first: bool = False
) -> Array:
    """Instants [s] where a signal crosses a level, shape (m,), by straight lines between its samples.

    time: [s], shape (n,); samples: shape (n,)
    level: in the samples' unit; hysteresis: half width of the band about it, not negative
    rising: upwards, else downwards
    first: where noise crosses the level several times within one passage of the band, take the earliest of these
    instants, else their mean
    """
    x = samples - level if rising else level - samples
    high, low = x > hysteresis, x <= -hysteresis
    marked = np.flatnonzero(high | low)
    is_high = high[marked]
    passage = np.flatnonzero(~is_high[:-1] & is_high[1:])
    begin, end = marked[passage], marked[passage + 1]
    below = x <= 0.0
    at = np.flatnonzero(below[:-1] != below[1:])
    instants = time[at] - x[at] * (time[at + 1] - time[at]) / (x[at + 1] - x[at])
    lowest, beyond = np.searchsorted(at, begin), np.searchsorted(at, end)
    if first or instants.size == 0:
        return np.asarray(instants[lowest])
    sums = np.concatenate(([0.0], np.cumsum(instants - time[0])))
    return np.asarray(time[0] + (sums[beyond] - sums[lowest]) / (beyond - lowest))


@dataclass(frozen=True)
class PerPeriod:
    """A signal period by period, in its own unit: mean and peak to peak, shape (periods,) each."""

    mean: Array
    swing: Array


def per_period(time: Array, samples: Array, edges: Array) -> PerPeriod:
    """Mean and peak to peak of an unevenly sampled signal between neighbouring edges.

    time: [s], shape (n,); samples: shape (n,)
    edges: [s], shape (p + 1,), inside the record and at least one sample apart
    """
    integral = np.concatenate(([0.0], np.cumsum(np.diff(time) * (samples[1:] + samples[:-1]) / 2)))
    at = np.searchsorted(time, edges)
    before = np.maximum(at - 1, 0)
    to_edge = (edges - time[before]) * (samples[before] + np.interp(edges, time, samples)) / 2
    inner = samples[: at[-1] + 1]
    swing = np.maximum.reduceat(inner, at[:-1]) - np.minimum.reduceat(inner, at[:-1])
    return PerPeriod(np.diff(integral[before] + to_edge) / np.diff(edges), swing)
