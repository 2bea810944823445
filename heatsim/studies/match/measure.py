# SPDX-License-Identifier: GPL-3.0-or-later
"""A capture measured with the code that measures simulations, and how far noise and quantisation reach into each number.

A number read off a noisy record is off by chance, and some (peaks, THD, which sums forty harmonics of noise) are too high on the
average. Both are found by a parametric bootstrap (B. Efron, R. J. Tibshirani, An Introduction to the Bootstrap, 1993; memory): the
record's own lines make a wave without noise; noise of the record's size is put on it again and again, and the record's codes, and
the number read off each time. What these are too high is taken off the record's number; their spread is its standard error.

Noise adds to a size (rms, a root of a sum of squares) in squares, so that its square is what is corrected: with a size c of the
wave without noise and v of the noisy ones, x^2 - (mean(v^2) - c^2). The wave without noise has some of the record's noise in its
lines; in squares this adds as much to c as to x, and the correction holds for sizes far below the noise, too.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from heatsim.measures.gather import MeasureContext, measure
from heatsim.measures.lines import record_lines
from heatsim.measures.solving import wave_of
from heatsim.studies.match.result import Measure
from heatsim.waves import Array, Waveforms

MOST_LINES = 40
STEADINESS = ("tank.frequency_standard_error_hz", "tank.drift_ratio", "tank.period_two_ratio", "window.start_s", "window.stop_s")
"""Measures that say how the others were measured."""

SIZES = ("rms_voltage_v", "rms_current_a", "thd_ratio", "distortion_ratio", "harmonic_ratio", "asymmetry_ratio")
"""Ends of the keys of sizes, to which noise adds in squares."""

PERIODS, REPEATS = 20, 16
"""Periods measured at most, at the record's end, and how often noise is put on them."""

SPARE = 2.5
"""Periods beyond those measured that the measures want to see."""

MOST_SAMPLES = 100_000
"""Of denser records every second, third... sample is measured: at 20 periods the rest are 4500 a period."""


def measured(
    waves: Waveforms, noise: Mapping[str, float], frequency: float, steps: Mapping[str, float | None], seed: int = 0
) -> dict[str, Measure]:
    """Every measure the record allows, with standard errors, None where it is too short for its lines.

    noise: signal -> rms of a sample, quantisation included
    frequency: of the tank [Hz]
    steps: signal -> step between codes, None for none
    """
    held = int(waves.duration * frequency)
    periods = max(1, min(PERIODS, held - 2))
    if held > periods + SPARE + 1:
        waves = waves.between(waves.time[-1] - (periods + SPARE) / frequency, waves.time[-1])
    if (stride := -(-waves.time.size // MOST_SAMPLES)) > 1:
        thinned = {name: samples[::stride] for name, samples in waves.signals.items()}
        waves = Waveforms(waves.time[::stride], thinned, waves.units, waves.origin)
    context = MeasureContext(from_rest=False, periods=periods)
    values = _numbers(waves, context)
    try:
        smooth = _smooth(waves, frequency)
    except (ValueError, np.linalg.LinAlgError):
        return {key: Measure(value, None) for key, value in values.items()}
    clean, generator = _numbers(smooth, context), np.random.default_rng(seed)
    tries = [_numbers(_noisy(smooth, noise, steps, generator), context) for _ in range(REPEATS)]
    found = {}
    for key, value in values.items():
        seen = np.array([each[key] for each in tries if key in each])
        whole = key in clean and seen.size == REPEATS
        found[key] = _corrected(key, value, clean[key], seen) if whole else Measure(value, None)
    return found


def _corrected(key: str, value: float, clean: float, seen: Array) -> Measure:
    """A number without what noise adds on the average. The error of a size reaches up from it to the root of its square and the
    square's error: the usual error for sizes well above the noise, that of nothing for those which drown in it."""
    spread = math.sqrt(1 + 1 / seen.size)
    if not key.endswith(SIZES):
        return Measure(value - float(np.mean(seen)) + clean, spread * float(np.std(seen, ddof=1)))
    square = max(value**2 - float(np.mean(seen**2)) + clean**2, 0.0)
    size = math.sqrt(square)
    return Measure(size, math.sqrt(square + spread * float(np.std(seen**2, ddof=1))) - size)


def _numbers(waves: Waveforms, context: MeasureContext) -> dict[str, float]:
    return {
        key: float(value)
        for key, value in measure(waves, context).items()
        if isinstance(value, float) and np.isfinite(value) and key not in STEADINESS
    }


def _smooth(waves: Waveforms, frequency: float) -> Waveforms:
    reference = "tank.voltage" if "tank.voltage" in waves else waves.names[0]
    spacing = waves.duration / (waves.time.size - 1)
    count = int(min(MOST_LINES, 1 / (frequency * spacing) / 2.2, (waves.time.size / 3 - 1) / 2))
    lines = record_lines(waves.time, waves.signals, frequency, max(count, 3), reference)
    return Waveforms(waves.time, {name: wave_of(c, lines.phase) * lines.scale for name, c in lines.lines.items()}, waves.units)


def _noisy(
    smooth: Waveforms, noise: Mapping[str, float], steps: Mapping[str, float | None], generator: np.random.Generator
) -> Waveforms:
    """The wave with noise on it, and on codes where the record shows steps. What noise is not theirs (step^2/12) is Gaussian; where
    the codes lie is drawn each time, as between them the record leaves the wave open."""
    signals = {}
    for name, samples in smooth.signals.items():
        step = steps.get(name)
        rms = math.sqrt(max(noise.get(name, 0.0) ** 2 - (step or 0.0) ** 2 / 12, 0.0))
        signals[name] = samples + generator.normal(0, rms, samples.size)
        if step:
            code = step * generator.random()
            signals[name] = code + step * np.round((signals[name] - code) / step)
    return Waveforms(smooth.time, signals, smooth.units)
