# SPDX-License-Identifier: GPL-3.0-or-later
"""Numbers an expert would read off one period of the tank or drain voltage: used to see that a cause shows where it should."""

from __future__ import annotations

import numpy as np

Period = dict[str, np.ndarray]


def harmonics(period: np.ndarray, count: int = 12) -> np.ndarray:
    """Complex amplitudes, peak, of harmonics 0 (the mean) to `count` of one period whose last sample repeats the first."""
    lines = np.fft.rfft(period[:-1])[:count + 1] / (period.size - 1)
    lines[1:] *= 2
    return lines


def even(period: np.ndarray) -> float:
    """Harmonics 2 to 12, root of the sum of squares, as a share of the fundamental."""
    size = np.abs(harmonics(period))
    return float(np.sqrt(np.sum(size[2::2] ** 2)) / size[1])


def odd(period: np.ndarray) -> float:
    """Harmonics 3 to 11 likewise."""
    size = np.abs(harmonics(period))
    return float(np.sqrt(np.sum(size[3::2] ** 2)) / size[1])


def fundamental(period: np.ndarray) -> float:
    """Peak of the fundamental [V]."""
    return float(np.abs(harmonics(period)[1]))


def third_in_phase(period: np.ndarray) -> complex:
    """Third harmonic as a share of the fundamental, its phase counted from the fundamental's crest."""
    lines = harmonics(period)
    return complex(lines[3] / np.abs(lines[1]) * np.exp(-3j * np.angle(lines[1])))


def conducting(drain: np.ndarray, level: float = 5.0) -> float:
    """Share of the period for which a drain stands below `level` [V]."""
    return float(np.mean(drain[:-1] < level))


def rough(period: np.ndarray, lowest: int = 25) -> float:
    """Rms of the harmonics from `lowest` on [V]: ringing."""
    lines = np.fft.rfft(period[:-1]) / (period.size - 1)
    return float(np.sqrt(2 * np.sum(np.abs(lines[lowest:]) ** 2)))
