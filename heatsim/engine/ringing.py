# SPDX-License-Identifier: GPL-3.0-or-later
"""What rings so fast that a run cannot get on? Asked of the last stretch of a run that was given up."""

from __future__ import annotations

import numpy as np

from heatsim.waves import Waveforms

GRID = 1 << 15
"""Samples of the even grid on which the spectrum is taken."""

ALIVE = 0.01
"""A signal that swings about its own trend by less than this share of its largest size is not looked at."""

STRONG = 0.1
"""A spectral line below this share of the signal's strongest is not called ringing."""


def fastest_ringing(waves: Waveforms, points: int, above: float) -> tuple[str, float] | None:
    """Name and frequency [Hz] of the signal that rings most strongly, None without a STRONG one.

    points: number of samples at the end of the record to look at
    above: lowest frequency that counts [Hz]

    Strength is that of the line relative to the strongest of the same signal, in the periodogram of the samples
    interpolated to an even grid, straight line removed, under a Hann window.
    """
    from scipy.signal import detrend, periodogram

    time = waves.time[-points:]
    if time.size < 16:
        return None
    even = np.linspace(time[0], time[-1], GRID)
    found, strongest = None, 0.0
    for name in waves.names:
        swing = detrend(np.interp(even, time, waves[name][-points:]))
        if np.ptp(swing) <= ALIVE * np.abs(waves[name]).max():
            continue
        frequency, line = (part[2:] for part in periodogram(swing, 1 / (even[1] - even[0]), "hann", scaling="spectrum"))
        line = np.sqrt(line / line.max()) * (frequency > above)
        if line.max() >= STRONG and line.max() > strongest:
            found, strongest = (name, float(frequency[np.argmax(line)])), float(line.max())
    return found
