# SPDX-License-Identifier: GPL-3.0-or-later
"""A few numbers from waveforms, by formulas of our own: used alike on what ngspice and what SciPy computed.

Periods are counted where the coil current rises through zero: unlike the tank voltage it cannot ring there.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

Signals = Mapping[str, np.ndarray]


def rising(time: np.ndarray, samples: np.ndarray) -> np.ndarray:
    """Instants [s] at which samples rise through zero, by straight lines."""
    k = np.flatnonzero((samples[:-1] < 0) & (samples[1:] >= 0))
    return time[k] - samples[k] * (time[k + 1] - time[k]) / (samples[k + 1] - samples[k])


def mean(time: np.ndarray, samples: np.ndarray) -> float:
    """Mean over the record, true to uneven steps."""
    return float(np.trapezoid(samples, time) / (time[-1] - time[0]))


def numbers(time: np.ndarray, signals: Signals, periods: int) -> dict[str, float]:
    """The compared numbers of a record of whole periods."""
    found = {
        "frequency": periods / (time[-1] - time[0]),
        "tank peak": float(np.abs(signals["tank.voltage"]).max()),
        "coil rms": mean(time, signals["coil.current"] ** 2) ** 0.5,
        "supply mean": mean(time, signals["supply.current"]),
    }
    for side in ("left", "right"):
        found[f"drain {side} peak"] = float(signals[f"drain.{side}.voltage"].max())
    for side in ("left", "right", "centre"):
        if f"choke.{side}.current" in signals:
            found[f"choke {side} peak"] = float(signals[f"choke.{side}.current"].max())
    return found


def shape(time: np.ndarray, samples: np.ndarray, start: float, stop: float, points: int = 2000) -> np.ndarray:
    """One period on an even grid of phase."""
    return np.interp(np.linspace(start, stop, points), time, samples)
