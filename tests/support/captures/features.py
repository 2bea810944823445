# SPDX-License-Identifier: GPL-3.0-or-later
"""Numbers an expert would read off a tank or drain voltage: used to see that a cause shows where it should.

`lines` are complex amplitudes, peak, of the harmonics 0 (the mean), 1, 2 ...: of one exact period or fitted to a record.
"""

from __future__ import annotations

import numpy as np

Lines = np.ndarray


def harmonics(period: np.ndarray, count: int = 12) -> Lines:
    """Lines of one period on an even grid whose last sample repeats the first."""
    lines = np.fft.rfft(period[:-1])[: count + 1] / (period.size - 1)
    lines[1:] *= 2
    return lines


def fitted(time: np.ndarray, values: np.ndarray, frequency: float, count: int = 12) -> Lines:
    """Lines of a record of whole or broken periods at a known frequency [Hz], by least squares."""
    angle = 2 * np.pi * frequency * np.outer(time, np.arange(1, count + 1))
    found = np.linalg.lstsq(np.column_stack([np.ones(time.size), np.cos(angle), np.sin(angle)]), values, rcond=None)[0]
    return np.concatenate([found[:1], found[1 : count + 1] - 1j * found[count + 1 :]])


def even(lines: Lines) -> float:
    """Harmonics 2, 4 ... 12, root of the sum of squares, as a share of the fundamental."""
    size = np.abs(lines)
    return float(np.sqrt(np.sum(size[2:13:2] ** 2)) / size[1])


def odd(lines: Lines) -> float:
    """Harmonics 3, 5 ... 11 likewise."""
    size = np.abs(lines)
    return float(np.sqrt(np.sum(size[3:13:2] ** 2)) / size[1])


def fundamental(lines: Lines) -> float:
    """Its peak."""
    return float(np.abs(lines[1]))


def third(lines: Lines) -> complex:
    """Third harmonic as a share of the fundamental, its phase counted from the fundamental's crest."""
    return complex(lines[3] / np.abs(lines[1]) * np.exp(-3j * np.angle(lines[1])))


def rough(lines: Lines, lowest: int = 25) -> float:
    """Rms of the harmonics from `lowest` on: ringing."""
    return float(np.sqrt(0.5 * np.sum(np.abs(lines[lowest:]) ** 2)))


def conducting(drain: np.ndarray, level: float = 5.0) -> float:
    """Share of one period for which a drain stands below `level` [V]."""
    return float(np.mean(drain[:-1] < level))


def swing(time: np.ndarray, values: np.ndarray, frequency: float) -> float:
    """How much the fundamental's peak changes along a record, in blocks of two periods: largest less least, as a share."""
    blocks = np.array_split(np.arange(time.size), max(2, int((time[-1] - time[0]) * frequency / 2)))
    peaks = [fundamental(fitted(time[k], values[k], frequency, 3)) for k in blocks]
    return (max(peaks) - min(peaks)) / float(np.mean(peaks))
