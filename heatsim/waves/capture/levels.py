# SPDX-License-Identifier: GPL-3.0-or-later
"""Code width and noise of a sampled signal, read off the samples alone."""

from __future__ import annotations

from math import comb

import numpy as np

from heatsim.waves.waveforms import Array

TRIMMED = 0.759
"""Mean square of a standard normal value whose outer 5 % are left out."""

ORDERS = (2, 3, 4, 5, 6)
"""Orders of the differences that noise is read from."""

ENOUGH = 200_000
"""Samples that noise is read from at most, a run in the middle of the record."""


def code_width(values: Array) -> float:
    """Code width of a quantised record, from the steps between the values it takes; 0 when they are not on a grid."""
    levels = np.unique(values)
    if levels.size < 4 or levels.size > 0.7 * values.size:
        return 0.0
    gaps = np.diff(levels)
    gaps = gaps[gaps > 1e-9 * np.ptp(levels)]
    small = gaps[gaps < 1.5 * np.quantile(gaps, 0.1)]
    width = float(np.median(small))
    misfit = np.abs(gaps / width - np.round(gaps / width))
    return width if float(np.quantile(misfit, 0.9)) < 0.15 else 0.0


def refined_width(values: Array) -> float:
    """`code_width`, made exact by the straight line through all levels, so that rounding in print averages out."""
    width = code_width(values)
    if not width:
        return 0.0
    levels = np.unique(values)
    codes = np.concatenate(([0.0], np.cumsum(np.round(np.diff(levels) / width))))
    codes -= codes.mean()
    return float(np.dot(codes, levels) / np.dot(codes, codes))


def local_noise(time: Array, values: Array) -> float:
    """Noise rms without a model: each sample against the straight line between its neighbours, outer 5 % left out."""
    share = (time[1:-1] - time[:-2]) / (time[2:] - time[:-2])
    off = values[1:-1] - (1 - share) * values[:-2] - share * values[2:]
    return _trimmed_rms(off / np.sqrt(1 + share**2 + (1 - share) ** 2))


def even_noise(values: Array) -> float:
    """Noise rms of evenly spaced samples, in their unit: the least that differences of several orders show.

    The k-th difference of white noise has the variance comb(2k, k) times that of the noise; a signal that is smooth
    from sample to sample loses with each order what noise does not. White noise is taken for granted: a low pass in
    the oscilloscope makes the estimate too small, content near half the sampling rate makes it too large.
    """
    middle = values.size // 2
    part = values[max(0, middle - ENOUGH // 2) : middle + ENOUGH // 2]
    found = [_trimmed_rms(np.diff(part, k)) / np.sqrt(comb(2 * k, k)) for k in ORDERS if part.size > 4 * k]
    return float(min(found, default=0.0))


def power_spectrum(values: Array) -> Array:
    """Power by frequency from zero to half the sampling rate, shape (n // 2 + 1,), in the unit squared: a Hann window of
    mean square one, so that white noise of variance s^2 has the mean s^2 everywhere.
    """
    window = np.sqrt(8.0 / 3.0) * (0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(values.size) + 0.5) / values.size))
    return np.asarray(np.abs(np.fft.rfft((values - values.mean()) * window)) ** 2 / values.size)


def floor_noise(values: Array) -> float:
    """Noise rms of evenly spaced samples by the median of their spectrum, above which a signal's lines stand out.

    Power of white noise is distributed exponentially: its median is ln 2 times its mean. It tells noise from a tone of
    few samples a period, which differences cannot.
    """
    middle = values.size // 2
    part = values[max(0, middle - ENOUGH // 8) : middle + ENOUGH // 8]
    return float(np.sqrt(np.median(power_spectrum(part)) / np.log(2.0)))


def _trimmed_rms(off: Array) -> float:
    """Rms of normal values by their inner 95 %, so that edges and spikes do not count."""
    if off.size == 0:
        return 0.0
    squares = np.sort(off**2)
    return float(np.sqrt(np.mean(squares[: max(1, int(0.95 * squares.size))]) / TRIMMED))
