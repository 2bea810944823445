# SPDX-License-Identifier: GPL-3.0-or-later
"""What rings so fast that a run cannot get on? Asked of the last stretch of a run that was given up."""

from __future__ import annotations

import numpy as np

from heatsim.waves import Array, Waveforms

GRID = 1 << 15
"""Samples of the even grid on which the spectrum is taken."""

ALIVE = 0.01
"""A signal that swings about its own trend by less than this share of its largest size is not looked at."""

STRONG = 0.1
"""A spectral line below this share of the signal's strongest is not called ringing."""


def fastest_ringing(waves: Waveforms, points: int, above: float) -> tuple[str, float] | None:
    """Name and frequency [Hz] of the signal that rings most strongly above `above` [Hz] in the last `points` samples.

    Strength is that of the line relative to the strongest of the same signal, from the discrete Fourier transform of
    the samples interpolated to an even grid, straight line removed, under a Hann window. None without a STRONG one.
    """
    time = waves.time[-points:]
    if time.size < 16:
        return None
    even = np.linspace(time[0], time[-1], GRID)
    frequency = np.fft.rfftfreq(GRID, even[1] - even[0])
    if frequency[-1] <= above:
        return None
    level = {name: _levelled(even - even[0], np.interp(even, time, waves[name][-points:])) for name in waves.names}
    lines = {name: _spectrum(x) for name, x in level.items() if np.ptp(x) > ALIVE * np.abs(waves[name]).max()}
    fast = frequency > above
    share = {name: float(line[fast].max() / line.max()) for name, line in lines.items() if line.max() > 0}
    if not share:
        return None
    name = max(share, key=lambda each: share[each])
    return (name, float(frequency[fast][np.argmax(lines[name][fast])])) if share[name] >= STRONG else None


def _levelled(time: Array, samples: Array) -> Array:
    """Samples less the straight line through them."""
    x = time / time[-1]
    return np.asarray(samples - np.polyval(np.polyfit(x, samples, 1), x))


def _spectrum(samples: Array) -> Array:
    """Magnitude of the spectrum under a Hann window, its first two lines left out."""
    line = np.abs(np.fft.rfft(samples * np.hanning(samples.size)))
    line[:2] = 0.0
    return np.asarray(line)
