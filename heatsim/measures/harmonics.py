# SPDX-License-Identifier: GPL-3.0-or-later
"""Harmonics of a periodic signal sampled at uneven instants, and the distortion measures built on them.

The Fourier integral over whole periods is taken exactly over the straight lines between the samples; there is no
resampling and no window function. What remains is the error of the straight lines themselves: with N samples a
period harmonic h comes out low by about (pi h/N)^2/3, that is 80 ppm at h = 1 and 12 % at h = 40 for N = 200.

Grouping. IEC 61000-4-7 analyses 200 ms (10 periods of 50 Hz, 12 of 60 Hz): lines 5 Hz apart, gathered round each
harmonic into groups, and summed up to order 40. Its window belongs to the mains and says nothing about a tank at
100 kHz. What is kept of it is the sum to order 40 and a window of whole periods, locked to the signal: ours is
N periods of the tank itself, with lines f/N apart. A signal that repeats itself every period has nothing between the
harmonics, so each group is its one line at h*f, and that is what is summed here. Where a signal does not repeat
(drift, every other period different), the energy between the lines is left out of the harmonics; it shows in
`total_distortion` and in `periods.drift_ratio` and `period_two_ratio`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatsim.measures.basics import alternating_rms, mean
from heatsim.waves import Array

HIGHEST = 40
"""Highest order summed; IEC 61000-4-7 (some count to 50)."""

ROUND_OFF = 1e-12
"""What is smaller than this share of the whole signal is nought."""


@dataclass(frozen=True)
class Harmonics:
    """fundamental: frequency [Hz]; mean: direct part; rms: of orders 1, 2, ..., shape (orders,), in the signal's unit;
    phase [rad]: of each as a cosine from the first instant on, shape (orders,); alternating_rms: of the whole signal
    without its direct part.
    """

    fundamental: float
    mean: float
    rms: Array
    phase: Array
    alternating_rms: float

    @property
    def has_fundamental(self) -> bool:
        """Whether there is a fundamental beyond round-off, to which ratios can refer."""
        return float(self.rms[0]) > ROUND_OFF * (self.alternating_rms + abs(self.mean))

    @property
    def ratios(self) -> Array:
        """Rms of each order over that of the fundamental [1], shape (orders,); only if `has_fundamental`."""
        return np.asarray(self.rms / self.rms[0])


def coefficients(time: Array, samples: Array, periods: int, highest: int) -> NDArray[np.complex128]:
    """Complex amplitudes c of orders 1 to `highest`, shape (highest,): signal = mean + sum Re c_h exp(j h w t).

    time [s], shape (n,), must span exactly `periods` periods; t counts from its first instant. Integrated by parts:

        c_h = 2/(j h w T) * [ sum_k dx_k exp(-j h w m_k) sin(h w d_k/2)/(h w d_k/2) - (x_end - x_start) ]

    with dx_k the rise over step k, m_k its middle, d_k its length and T = `periods` periods; exact for straight
    lines, and as sound for a step of a picosecond as for a long one.
    """
    length = time[-1] - time[0]
    omega = 2.0 * np.pi * periods / length
    rises, half = np.diff(samples), 0.5 * omega * np.diff(time)
    turn = np.exp(-1j * omega * (0.5 * (time[1:] + time[:-1]) - time[0]))
    open_by, jump = np.exp(1j * half), samples[-1] - samples[0]
    out = np.empty(highest, dtype=np.complex128)
    turned, opened = np.ones_like(turn), np.ones_like(open_by)
    for order in range(1, highest + 1):
        turned *= turn
        opened *= open_by
        total = np.dot(rises * (opened.imag / (order * half)), turned)
        out[order - 1] = 2.0 * (total - jump) / (1j * order * omega * length)
    return out


def harmonics(time: Array, samples: Array, periods: int, highest: int = HIGHEST) -> Harmonics:
    """Harmonic table of a record of exactly `periods` whole periods.

    time [s], samples in any unit, shape (n,). Orders above half the mean number of samples a period are left out:
    the samples do not determine them. Raises ValueError when there are fewer than three samples a period.
    """
    resolved = min(highest, (time.size - 1) // (2 * periods))
    if resolved < 1:
        raise ValueError(f"{time.size} samples do not resolve {periods} periods")
    found = coefficients(time, samples, periods, resolved)
    return Harmonics(
        periods / float(time[-1] - time[0]),
        mean(time, samples),
        np.abs(found) / np.sqrt(2.0),
        np.angle(found),
        alternating_rms(time, samples),
    )


def _over_fundamental(table: Harmonics, square: float) -> float | None:
    """Root of a sum of squares over the fundamental [1], None without one."""
    return float(np.sqrt(square) / table.rms[0]) if table.has_fundamental else None


def thd_fundamental(table: Harmonics) -> float | None:
    """THD_F [1]: root sum square of orders 2 and up over the fundamental; IEEE 1459, IEC 61000-4-7 to order 40."""
    return _over_fundamental(table, float(np.sum(table.rms[1:] ** 2)))


def total_distortion(table: Harmonics) -> float | None:
    """Everything but mean and fundamental over the fundamental [1], without an upper order: THD_F plus what lies above
    the last order and between the lines; sqrt(X_ac^2 - X_1^2)/X_1.
    """
    return _over_fundamental(table, max(table.alternating_rms**2 - float(table.rms[0]) ** 2, 0.0))


def even_ratio(table: Harmonics) -> float | None:
    """Root sum square of the even orders over the fundamental [1]; nil for half-wave symmetry."""
    return _over_fundamental(table, float(np.sum(table.rms[1::2] ** 2)))


def odd_ratio(table: Harmonics) -> float | None:
    """Root sum square of orders 3, 5, 7, ... over the fundamental [1]."""
    return _over_fundamental(table, float(np.sum(table.rms[2::2] ** 2)))


def half_wave_asymmetry(time: Array, samples: Array, periods: int) -> float | None:
    """Share of a signal that half-wave symmetry forbids [1], between 0 and 1.

    Rms of y(t) = [x(t) + x(t + T/2)]/2 over rms of x(t), both without their direct parts. Whatever obeys
    x(t + T/2) = -x(t) drops out of y and all even harmonics stay in it, so that for a periodic signal the ratio is
    sqrt(sum of even X_h^2 / sum of all X_h^2): even harmonics of any order, weighed against the whole, not against the
    fundamental as in `even_ratio`. Record of exactly `periods` periods; y is formed at the samples of both halves, so
    the straight lines are added exactly. None for a signal without an alternating part.
    """
    whole = alternating_rms(time, samples)
    if not whole > ROUND_OFF * float(np.max(np.abs(samples))):
        return None
    length = time[-1] - time[0]
    half = 0.5 * length / periods
    earlier = np.mod(time - time[0] - half, length)
    grid = np.unique(np.concatenate((time - time[0], earlier)))
    shifted = np.interp(np.mod(grid + half, length), time - time[0], samples)
    both = 0.5 * (np.interp(grid, time - time[0], samples) + shifted)
    return alternating_rms(grid, both) / whole
