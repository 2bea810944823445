# SPDX-License-Identifier: GPL-3.0-or-later
"""Captured and simulated signals folded into one period, to be laid over each other."""

from __future__ import annotations

import math

import numpy as np

from heatsim.measures.lines import Lines, lines_of_period
from heatsim.measures.solving import wave_of
from heatsim.studies.match.fit import HypothesisFit
from heatsim.studies.match.hypothesis import Dataset, Model
from heatsim.studies.match.probes import GOOD, PHASES, good, parabola, peak_of, spread_of_good
from heatsim.studies.match.result import Trace
from heatsim.studies.match.solver import COUNT, REFERENCE, Solution
from heatsim.waves import Array

MOST_POINTS = 400
SAMPLES_A_POINT = 8
"""Points of an aliased period, and samples each should have."""


class _Simulated:
    """A simulated period as the probes show it, by the phase of the record's reference."""

    def __init__(self, solution: Solution, signals: list[str], reference: str) -> None:
        self.waves, self.frequency = solution.waveforms, solution.frequency
        time = self.waves.time
        self.turn = float(np.angle(lines_of_period(time, self.waves[reference], 1)[1]))
        self.tank = float(np.angle(lines_of_period(time, self.waves[REFERENCE], 1)[1])) - self.turn
        self.lines = {name: lines_of_period(time, self.waves[name], COUNT, self.turn) for name in signals}

    def plain(self, signal: str, phase: Array) -> Array:
        """A signal at phases [rad] of the reference's crest."""
        time, samples = self.waves.time, self.waves[signal]
        span = time[-1] - time[0]
        at = time[0] + ((phase - self.turn) / (2 * math.pi)) % 1.0 * span
        return np.asarray(np.interp(at, time, samples))


def traces_of(
    datasets: list[Dataset], samples: list[dict[str, Array]], one: HypothesisFit, best: list[Solution]
) -> tuple[Trace, ...]:
    """Traces of every record and signal. samples: by record and signal; best: the fit's solutions, one a record."""
    found = []
    for record, dataset in enumerate(datasets):
        names, reference = list(dataset.observation.layout.orders), dataset.observation.layout.reference
        fitted, sound = (_Simulated(solution, names, reference) for solution in (best[record], dataset.library.start))
        seen = _Seen(datasets, one, record, fitted)
        found += [_trace(record, name, dataset.observation.lines, samples[record][name], seen, sound) for name in names]
    return tuple(found)


def _trace(record: int, name: str, lines: Lines, samples: Array, seen: _Seen, sound: _Simulated) -> Trace:
    left = samples - seen.wave(name, lines.phase) * lines.scale
    start = -seen.fitted.tank - math.pi / 2  # the tank's crest stands at -tank; its rise through zero a quarter before
    count = int(np.clip(samples.size / SAMPLES_A_POINT, 40, MOST_POINTS))
    place = np.floor(((lines.phase - start) / (2 * math.pi)) % 1.0 * count).astype(int)
    weight = np.maximum(np.bincount(place, minlength=count), 1)
    share = (np.arange(count) + 0.5) / count
    phase = start + 2 * math.pi * share
    best = seen.wave(name, phase)
    measured = best + np.bincount(place, left / lines.scale, count) / weight
    noise, unit = float(lines.noise[name]), "A" if name.endswith("current") else "V"
    residual = float(np.sqrt(np.mean(left**2)))
    error = noise / np.sqrt(weight)
    return Trace(record, name, unit, share / lines.frequency, measured, error, best, sound.plain(name, phase), noise, residual)


class _Seen:
    """Fitted signals of one record through their fitted probes."""

    def __init__(self, datasets: list[Dataset], one: HypothesisFit, record: int, fitted: _Simulated) -> None:
        self.fitted, self.probe, self.channel = fitted, one.hypothesis.probe, one.hypothesis.channel
        model, self.reference = Model(datasets, one.hypothesis), datasets[record].observation.layout.reference
        sizes = [list(spread_of_good(name).values()) for _, name in model.channels]
        found = one.nuisance[len(model.names) :].reshape(len(model.channels), len(GOOD)) * np.array(sizes)
        self.settings = {
            name: dict(zip(GOOD, row.tolist(), strict=True))
            for (dataset, name), row in zip(model.channels, found, strict=True)
            if dataset == record
        }
        self.values = one.hypothesis.probe_values(one.u)

    def wave(self, name: str, phase: Array) -> Array:
        """Gain, zero, delay and bow on the wave itself, a wrong probe on its lines. The reference's own fundamental marks the
        phase, so that the delay counts against the reference's."""
        own, fitted, nothing = self.settings[name], self.fitted, np.zeros(0)
        delay = own["delay"] - self.settings[self.reference]["delay"]
        if self.probe is None or self.channel not in self.settings:
            wave = fitted.plain(name, phase - 2 * math.pi * fitted.frequency * delay)
            whole = fitted.plain(name, PHASES)
            bow = own["bow"] * parabola(wave, float(whole.min()), float(whole.max()))
            return np.asarray(math.exp(own["gain"]) * wave + own["offset"] * peak_of(fitted.lines[name]) + bow)
        seen, _ = good(own["gain"], own["offset"], delay, own["bow"])(fitted.frequency, fitted.lines[name], nothing, ())
        turn = 0.0
        if self.channel == name:
            seen, _ = self.probe.effect(fitted.frequency, seen, nothing, self.values)
        if self.channel == self.reference:
            turn = float(np.angle(self.probe.effect(fitted.frequency, fitted.lines[self.reference], nothing, self.values)[0][1]))
        return wave_of(seen * np.exp(-1j * np.arange(seen.size) * turn), phase)
