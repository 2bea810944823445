# SPDX-License-Identifier: GPL-3.0-or-later
"""Channels that are measured but not used for the ranking, held against the best fit: currents of coil, capacitors and supply.

They are no evidence, because the response library does not hold them. Where their mean, rms or peak is further from the best fit's
than a probe's gain explains, something does not go together: the answer, the signal named for the channel, or its probe.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from heatsim.studies.match.captures import ReadCapture
from heatsim.studies.match.result import NotRanked
from heatsim.studies.match.solver import Solution
from heatsim.waves import Array

ALLOWED = 0.05
"""Share by which mean and rms may be off the best fit's rms, and the peak off its peak: twice the spread of a good probe's gain
(2.5 % at two standard deviations) and zero error. Common practice, no source."""

PEAK_NOISE = 4.0
"""Rms of the noise that the highest of some thousand samples lies above the wave: normal noise passes it once in 16 000 samples."""


def not_ranked(found: ReadCapture, solution: Solution) -> tuple[NotRanked, ...]:
    """Every channel of a capture that the ranking does not use; solution: of the best fit at its condition."""
    return tuple(
        _held(found, channel, signal, solution) for channel, signal in found.record.signals.items() if signal in found.others
    )


def _held(found: ReadCapture, channel: str, signal: str, solution: Solution) -> NotRanked:
    samples, unit = found.others[signal], "A" if signal.endswith("current") else "V"
    phase, coupled = found.observation.lines.phase, channel in found.ac_coupled
    whole = phase > phase[-1] - 2 * math.pi * math.floor((phase[-1] - phase[0]) / (2 * math.pi) + 1e-9)
    captured = numbers(samples[whole], np.ones(int(whole.sum())), coupled)
    if signal not in solution.waveforms:
        return NotRanked(channel, signal, unit, captured, None, ())
    time = solution.waveforms.time
    fitted = numbers(solution.waveforms[signal], np.gradient(time), coupled)
    differs = tuple(contradictions(captured, fitted, found.record.noise.get(signal, 0.0)))
    return NotRanked(channel, signal, unit, captured, fitted, differs)


def numbers(samples: Array, weight: Array, coupled: bool) -> dict[str, float]:
    """Mean, rms and peak [unit] of whole periods; weight: of each sample in time; coupled: AC, so that there is no mean."""
    mean = float(np.average(samples, weights=weight))
    rest = samples - mean if coupled else samples
    sizes = {"rms": math.sqrt(float(np.average(rest**2, weights=weight))), "peak": float(np.max(np.abs(rest)))}
    return sizes if coupled else {"mean": mean, **sizes}


def contradictions(captured: Mapping[str, float], fitted: Mapping[str, float], noise: float) -> Iterator[str]:
    """Which of mean, rms and peak are further off than `ALLOWED` and the noise of a sample [unit] leave room for."""
    for key, value in captured.items():
        size = fitted["peak" if key == "peak" else "rms"]
        room = ALLOWED * size + (PEAK_NOISE * noise if key == "peak" else 0.0)
        less = math.sqrt(max(value**2 - noise**2, 0.0)) if key == "rms" else value
        if abs(less - fitted[key]) > room:
            yield key
