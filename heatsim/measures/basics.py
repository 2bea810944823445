# SPDX-License-Identifier: GPL-3.0-or-later
"""Mean, root mean square and peaks of a signal sampled at uneven instants.

Everywhere the signal is taken as the straight lines between its samples, and those are integrated exactly: no
resampling, no assumption on the step. With N samples a period that makes the rms of a sine low by (pi/N)^2/3 (80 ppm
at 200), and its peak by at most (pi/N)^2/2.

Arguments throughout: `time` [s], shape (n,), rising strictly; `samples`, shape (n,), in the unit of the result.
Whoever wants a value "in the steady state" cuts the record to whole periods first (`heatsim.measures.periods`).
"""

from __future__ import annotations

import numpy as np

from heatsim.waves import Array


def mean(time: Array, samples: Array) -> float:
    """Time mean, in the unit of the samples."""
    return float(np.trapezoid(samples, time) / (time[-1] - time[0]))


def mean_product(time: Array, first: Array, second: Array) -> float:
    """Time mean of the product of two signals, for example volts and amperes to watts.

    Over one step of two straight lines: (2 a0 b0 + a0 b1 + a1 b0 + 2 a1 b1)/6.
    """
    return float(np.dot(_six_products(first, second), np.diff(time)) / (6.0 * (time[-1] - time[0])))


def step_products(time: Array, first: Array, second: Array) -> Array:
    """Integral of the product of two signals over each step, shape (n - 1,); see `mean_product`."""
    return np.asarray(_six_products(first, second) * np.diff(time) / 6.0)


def _six_products(first: Array, second: Array) -> Array:
    product, (a, b) = first * second, (first[:-1] + first[1:], second[:-1] + second[1:])
    return np.asarray(product[:-1] + product[1:] + a * b)


def rms(time: Array, samples: Array) -> float:
    """Root mean square, direct part included, in the unit of the samples."""
    return float(np.sqrt(mean_product(time, samples, samples)))


def alternating_rms(time: Array, samples: Array) -> float:
    """Root mean square after the mean is taken off, in the unit of the samples."""
    return rms(time, samples - mean(time, samples))


def rectified_mean(time: Array, samples: Array) -> float:
    """Time mean of the absolute value, in the unit of the samples; steps that cross zero are split where they do."""
    a, b = samples[:-1], samples[1:]
    sizes = np.abs(a) + np.abs(b)
    whole = np.where(sizes > 0, sizes, 1.0)
    areas = np.where(a * b < 0, (a * a + b * b) / whole, sizes) / 2.0
    return float(np.dot(areas, np.diff(time)) / (time[-1] - time[0]))


def peak(samples: Array) -> float:
    """Largest absolute value, in the unit of the samples."""
    return float(np.max(np.abs(samples)))


def crest_factor(time: Array, samples: Array) -> float | None:
    """Peak over rms [1]; sqrt(2) for a sine. None for a signal that is zero throughout."""
    effective = rms(time, samples)
    return peak(samples) / effective if effective > 0 else None


def form_factor(time: Array, samples: Array) -> float | None:
    """Rms over rectified mean [1]; pi/(2 sqrt(2)) for a sine, pi/2 for a half-wave rectified one."""
    rectified = rectified_mean(time, samples)
    return rms(time, samples) / rectified if rectified > 0 else None
