# SPDX-License-Identifier: GPL-3.0-or-later
"""A capture measured with the code that measures simulations, and how far noise and quantisation reach into each number.

A number read off a noisy record is off by chance, and some (peaks, THD, which sums forty harmonics of noise) are too high on the
average. Both are found by a parametric bootstrap (B. Efron, R. J. Tibshirani, An Introduction to the Bootstrap, 1993; memory): the
record's own lines make a wave without noise; noise of the record's size is put on it again and again and the number read off each
time. What these are too high is taken off the record's number; their spread is its standard error.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from heatsim.measures.gather import MeasureContext, measure
from heatsim.measures.lines import record_lines, wave_of
from heatsim.studies.match_result import Measure
from heatsim.waves import Waveforms

MOST_LINES = 40
STEADINESS = ("tank.frequency_standard_error_hz", "tank.drift_ratio", "tank.period_two_ratio", "window.start_s", "window.stop_s")
"""Measures that say how the others were measured."""

SPARE = 2.5
"""Periods beyond those measured that the measures want to see."""


def measured(waves: Waveforms, noise: Mapping[str, float], frequency: float, periods: int = 20, repeats: int = 16, seed: int = 0
             ) -> dict[str, Measure]:
    """Every measure the record allows, with standard errors. noise: signal -> rms of a sample, quantisation included; frequency
    [Hz]: of the tank; periods: measured, at the record's end. Errors are None where the record is too short for its lines."""
    held = int(waves.duration * frequency)
    periods = max(1, min(periods, held - 2))
    if held > periods + SPARE + 1:
        waves = waves.between(waves.time[-1] - (periods + SPARE) / frequency, waves.time[-1])
    context = MeasureContext(from_rest=False, periods=periods)
    values = _numbers(waves, context)
    try:
        smooth = _smooth(waves, frequency)
    except (ValueError, np.linalg.LinAlgError):
        return {key: Measure(value, None) for key, value in values.items()}
    clean, generator = _numbers(smooth, context), np.random.default_rng(seed)
    tries = [_numbers(_noisy(smooth, noise, generator), context) for _ in range(repeats)]
    found = {}
    for key, value in values.items():
        seen = np.array([each[key] for each in tries if key in each])
        if key not in clean or seen.size < repeats:
            found[key] = Measure(value, None)
        else:
            found[key] = Measure(value - float(np.mean(seen) - clean[key]), float(np.std(seen, ddof=1)))
    return found


def _numbers(waves: Waveforms, context: MeasureContext) -> dict[str, float]:
    return {key: float(value) for key, value in measure(waves, context).items()
            if isinstance(value, float) and np.isfinite(value) and key not in STEADINESS}


def _smooth(waves: Waveforms, frequency: float) -> Waveforms:
    reference = "tank.voltage" if "tank.voltage" in waves else waves.names[0]
    spacing = waves.duration / (waves.time.size - 1)
    count = int(min(MOST_LINES, 1 / (frequency * spacing) / 2.2, (waves.time.size / 3 - 1) / 2))
    lines = record_lines(waves.time, waves.signals, frequency, max(count, 3), reference)
    return Waveforms(waves.time, {name: wave_of(c, lines.phase) * lines.scale for name, c in lines.lines.items()}, waves.units)


def _noisy(waves: Waveforms, noise: Mapping[str, float], generator: np.random.Generator) -> Waveforms:
    signals = {name: samples + generator.normal(0, noise.get(name, 0.0), samples.size) for name, samples in waves.signals.items()}
    return Waveforms(waves.time, signals, waves.units)
