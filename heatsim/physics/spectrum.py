# SPDX-License-Identifier: GPL-3.0-or-later
"""Harmonics of one period given by samples that need not be even: exact for straight lines between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heatsim.errors import InputError
from heatsim.physics.numeric import FloatArray


@dataclass(frozen=True)
class Spectrum:
    """frequency: of the first harmonic [Hz]; mean; rms: of harmonics 1, 2, … ; rest: rms of all harmonics above."""

    frequency: float
    mean: float
    rms: FloatArray
    rest: float

    @property
    def frequencies(self) -> FloatArray:
        """Frequency of each harmonic [Hz]."""
        return np.asarray(self.frequency * np.arange(1, len(self.rms) + 1), dtype=float)

    @property
    def ripple_rms(self) -> float:
        """Rms of everything but the mean."""
        return float(np.sqrt(np.sum(self.rms**2) + self.rest**2))

    @property
    def dominant_frequency(self) -> float:
        """Frequency of the largest harmonic [Hz]."""
        return float(self.frequency * (1 + int(np.argmax(self.rms))))


def closed_period(time: npt.ArrayLike, values: npt.ArrayLike, where: str) -> tuple[FloatArray, FloatArray]:
    """Time [s] and values [any] of one period with the drift between its ends taken off (`without_drift`), so that it closes
    exactly.

    time: [s]; values: shape (n,), in any unit [any]; where: name of the function that asks, for the message [1]

    Raises InputError for other than two rising lists of one length, 8 samples or more, or a drift above a tenth of the
    peak-to-peak value: that is not a period.
    """
    t, y = np.asarray(time, dtype=float), np.asarray(values, dtype=float)
    if t.ndim != 1 or t.shape != y.shape or len(t) < 8 or not np.all(np.diff(t) > 0) or not np.all(np.isfinite(y)):
        raise InputError.single(
            where, "needs finite samples on a rising time axis", f"{t.shape}, {y.shape}", "two lists of one length, 8 or more"
        )
    drift = float(y[-1] - y[0])
    if abs(drift) > 0.1 * np.ptp(y):
        raise InputError.single(where, "is not one whole period", f"ends {drift:.3g} from its start", "within 10 %")
    return t, without_drift(t, y)


def without_drift(time: FloatArray, values: FloatArray) -> FloatArray:
    """Values [any] with the drift from the first to the last taken out in a straight line: they end as they begin, same mean.

    time: [s]; values: shape (n,), in any unit [any]
    """
    way = (time - time[0]) / (time[-1] - time[0])
    return np.asarray(values - (values[-1] - values[0]) * (way - 0.5))


def periodic_spectrum(time: npt.ArrayLike, values: npt.ArrayLike, harmonics: int = 40) -> Spectrum:
    """Harmonics of one closed period of samples joined by straight lines (last sample repeats the first).

    time: [s]; values: shape (n,), in any unit [any]; harmonics: number of them [1]

    c_k = sum of slope_n [exp(-j w t_(n+1)) - exp(-j w t_n)]/(T w^2), w = 2 pi k/T, exact for such a curve; `rest` is
    what Parseval's sum leaves of the exact mean square.
    """
    t, y = closed_period(time, values, "periodic_spectrum")
    steps, period = np.diff(t), float(t[-1] - t[0])
    left, right = y[:-1], y[1:]
    mean = float(np.sum(steps * (left + right)) / (2.0 * period))
    square = float(np.sum(steps * (left**2 + left * right + right**2)) / (3.0 * period)) - mean**2
    omega = 2.0 * np.pi * np.arange(1, harmonics + 1) / period
    first = np.exp(-1j * omega[0] * (t - t[0]))
    turns = np.cumprod(np.broadcast_to(first, (harmonics, len(t))), axis=0)
    coefficients = np.diff(turns, axis=1) @ (np.diff(y) / steps) / (period * omega**2)
    rms = np.sqrt(2.0) * np.abs(coefficients)
    return Spectrum(1.0 / period, mean, rms, float(np.sqrt(max(square - np.sum(rms**2), 0.0))))
