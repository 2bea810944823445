# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the periods of a signal lie, how exactly its frequency is known, and whether it repeats itself.

A period is marked by a rising crossing of a level. Noise must not mark it twice: a crossing counts when the signal
has been below level - hysteresis and next gets above level + hysteresis. Its instant is interpolated between the
samples, so the step of the record does not limit the frequency's accuracy.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatsim.measures.basics import alternating_rms, mean
from heatsim.waves import Array, Waveforms
from heatsim.waves.periods import PerPeriod, crossings, per_period

SECTION = "tank.voltage"
"""The signal whose rising zero crossings mark the periods, unless told otherwise."""

HYSTERESIS = 0.2
"""Hysteresis as a share of the amplitude; noise up to about half of it does no harm."""

STALE = 1.75
"""A signal that has not crossed for so many periods before the record's end has stopped."""


@dataclass(frozen=True)
class Window:
    """Whole periods of a record: from `start` to `stop` [s], `periods` of them."""

    start: float
    stop: float
    periods: int

    @property
    def period(self) -> float:
        """Mean period [s]."""
        return (self.stop - self.start) / self.periods

    @property
    def edges(self) -> Array:
        """Starts of the periods and the end of the last [s], shape (periods + 1,)."""
        return np.linspace(self.start, self.stop, self.periods + 1)


@dataclass(frozen=True)
class Frequency:
    """value: fitted frequency [Hz]; standard_error: of the fit [Hz], None with fewer than three crossings;
    crossings: how many the line was laid through; first: fitted instant of the first one [s].
    """

    value: float
    standard_error: float | None
    crossings: int
    first: float


def tail_amplitude(time: Array, samples: Array) -> tuple[float, float]:
    """Amplitude of a sine with the same rms, and mean, over the record's last quarter, in the samples' unit."""
    late = time >= time[-1] - 0.25 * (time[-1] - time[0])
    late[-2:] = True
    return float(np.sqrt(2.0)) * alternating_rms(time[late], samples[late]), mean(time[late], samples[late])


def period_marks(time: Array, samples: Array, level: float | None = 0.0) -> Array:
    """Rising crossings [s] with a hysteresis of HYSTERESIS times the amplitude near the record's end.

    level: in the samples' unit; None takes the mean over the last quarter of the record.
    """
    amplitude, middle = tail_amplitude(time, samples)
    return crossings(time, samples, middle if level is None else level, HYSTERESIS * amplitude)


def fit_frequency(marks: Array) -> Frequency | None:
    """Straight line t = t0 + k T through crossings `marks` [s], shape (m,), by least squares; None with fewer than two.

    Standard error of the slope from the scatter about the line (m - 2 degrees of freedom), carried over to 1/T by
    sigma_f = sigma_T/T^2. It holds for crossings that scatter independently of each other; a frequency that
    wanders widens it, an error of the record's time base does not show in it.
    """
    if marks.size < 2:
        return None
    number = np.arange(marks.size) - 0.5 * (marks.size - 1)
    middle = float(np.mean(marks))
    spread = float(np.dot(number, number))
    period = float(np.dot(number, marks - middle)) / spread
    error = None
    if marks.size > 2:
        scatter = marks - middle - number * period
        error = float(np.sqrt(np.dot(scatter, scatter) / (marks.size - 2) / spread)) / period**2
    return Frequency(1.0 / period, error, int(marks.size), middle + float(number[0]) * period)


def steady_window(
    waveforms: Waveforms, section: str = SECTION, periods: int = 20, level: float | None = 0.0, quiet: float = 0.0
) -> Window | None:
    """The last `periods` whole periods of signal `section`, or as many as there are.

    level: crossing that marks a period, in the section's unit, None for the signal's own mean; quiet: amplitude, in
    the section's unit, at or below which it does not count as oscillating. None when there is no whole period or the
    oscillation ended before the record did. Ends lie on the line fitted through the crossings.
    """
    found = steady_frequency(waveforms, section, periods, level, quiet)
    return window_of(waveforms, found) if found else None


def window_of(waveforms: Waveforms, found: Frequency) -> Window:
    """The window of `steady_window` for the frequency of `steady_frequency`."""
    count = found.crossings - 1
    start = max(found.first, float(waveforms.time[0]))
    stop = min(found.first + count / found.value, float(waveforms.time[-1]))
    return Window(start, stop, count)


def steady_frequency(
    waveforms: Waveforms, section: str = SECTION, periods: int = 20, level: float | None = 0.0, quiet: float = 0.0
) -> Frequency | None:
    """Frequency [Hz] over the window of `steady_window`; same arguments."""
    time, samples = waveforms.time, waveforms[section]
    marks = period_marks(time, samples, level)[-(periods + 1) :]
    found = fit_frequency(marks)
    if found is None or time[-1] - marks[-1] > STALE / found.value:
        return None
    inside = samples[time >= marks[0]]
    return found if 0.5 * np.ptp(inside) > quiet else None


def ripple(time: Array, samples: Array, edges: Array) -> tuple[float, float]:
    """Peak to peak within a period, the mean over all periods, and its standard error from their scatter, in the signal's unit.

    time: [s], shape (n,); samples: shape (n,); edges: of the periods [s], shape (p + 1,)

    What a period fails to close by is drift, no ripple, and is taken out in proportion to time. The error is nought for periods
    that are one simulated period several times over.
    """
    drift = np.interp(time, edges, np.interp(edges, time, samples))
    swing = per_period(time, samples - drift, edges).swing
    error = float(np.std(swing, ddof=1) / np.sqrt(swing.size)) if swing.size > 1 else 0.0
    return float(np.mean(swing)), error


def drift_ratio(table: PerPeriod) -> float | None:
    """How far the earlier half of the periods differs from the later half [1]; None with fewer than two periods.

    The larger of the changes of mean and of peak to peak, each averaged over a half, relative to peak to peak plus
    the size of the mean.
    """
    half = table.mean.size // 2
    if half == 0:
        return None
    scale = float(np.mean(table.swing) + abs(np.mean(table.mean)))
    moved = max(abs(float(np.mean(x[-half:]) - np.mean(x[-2 * half : -half]))) for x in (table.mean, table.swing))
    return moved / scale if scale > 0 else 0.0


def period_two_ratio(table: PerPeriod) -> float | None:
    """How much larger every other period is than those between [1]; None with fewer than four periods.

    Difference of the swings of odd and even periods over their mean. Each period is compared with the mean of its
    two neighbours, so that a steady growth does not count. Near zero for a signal that repeats after one period; a
    stage on its way to a broken rhythm repeats only after two.
    """
    swing = table.swing
    if swing.size < 4 or not np.mean(swing) > 0:
        return None
    aside = 0.5 * (swing[1:-1] - 0.5 * (swing[:-2] + swing[2:]))
    sign = 1.0 - 2.0 * (np.arange(aside.size) % 2)
    return float(2.0 * abs(np.mean(sign * aside)) / np.mean(swing))
