# SPDX-License-Identifier: GPL-3.0-or-later
"""Captured and simulated signals folded into one period, to be laid over each other."""

from __future__ import annotations

import math

import numpy as np

from heatsim.measures.lines import Lines, lines_of_period, wave_of
from heatsim.studies.match.fit import HypothesisFit
from heatsim.studies.match.hypothesis import Dataset, Model
from heatsim.studies.match.probes import GOOD, good
from heatsim.studies.match.result import Trace
from heatsim.studies.match.solver import COUNT, REFERENCE, Solution
from heatsim.waves import Array

MOST_POINTS = 400
SAMPLES_A_POINT = 8
"""Points of a aliased period, and samples each should have."""


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
    model = Model(datasets, one.hypothesis)
    found = []
    for k, dataset in enumerate(datasets):
        names = list(dataset.observation.layout.orders)
        fitted, sound = (_Simulated(s, names, dataset.observation.layout.reference) for s in (best[k], dataset.library.start))
        for name in names:
            found.append(_trace(k, name, dataset.observation.lines, samples[k][name], model, one, fitted, sound))
    return tuple(found)


def _trace(
    record: int, name: str, lines: Lines, samples: Array, model: Model, one: HypothesisFit, fitted: _Simulated, sound: _Simulated
) -> Trace:
    best = _through(record, name, lines.phase, model, one, fitted) * lines.scale
    left = samples - best
    start = -fitted.tank - math.pi / 2  # the tank's crest stands at -tank; its rise through zero a quarter before
    count = int(np.clip(samples.size / SAMPLES_A_POINT, 40, MOST_POINTS))
    place = np.floor(((lines.phase - start) / (2 * math.pi)) % 1.0 * count).astype(int)
    weight = np.maximum(np.bincount(place, minlength=count), 1)
    phase = start + 2 * math.pi * (np.arange(count) + 0.5) / count
    at_best = _through(record, name, phase, model, one, fitted)
    measured = at_best + np.bincount(place, left / lines.scale, count) / weight
    noise = float(lines.noise[name])
    time = (np.arange(count) + 0.5) / count / lines.frequency
    unit = "A" if name.endswith("current") else "V"
    return Trace(
        record,
        name,
        unit,
        time,
        measured,
        noise / np.sqrt(weight),
        at_best,
        sound.plain(name, phase),
        noise,
        float(np.sqrt(np.mean(left**2))),
    )


def _through(record: int, name: str, phase: Array, model: Model, one: HypothesisFit, fitted: _Simulated) -> Array:
    """The fitted signal through its fitted probe: gain, zero and delay on the wave itself, a wrong probe on its lines. The
    reference's own fundamental marks the phase, so that the delay counts against the reference's."""
    settings = {}
    for k, (dataset, channel) in enumerate(model.channels):
        if dataset == record:
            place = len(model.names) + k * len(GOOD)
            settings[channel] = {key: float(one.nuisance[place + n]) * size for n, (key, size) in enumerate(GOOD.items())}
    reference = model.datasets[record].observation.layout.reference
    own, delay = settings[name], settings[name]["delay"] - settings[reference]["delay"]
    probe, channel = one.hypothesis.probe, one.hypothesis.channel
    if probe is None or channel not in settings:
        wave = fitted.plain(name, phase - 2 * math.pi * fitted.frequency * delay)
        peak = float(abs(fitted.lines[name][0]) + abs(fitted.lines[name][1]))
        return math.exp(own["gain"]) * wave + own["offset"] * peak
    values = tuple(p.value(float(x)) for p, x in zip(probe.parameters, one.u[one.hypothesis.own :], strict=True))
    nothing = np.zeros(0)
    seen, _ = good(own["gain"], own["offset"], delay)(fitted.frequency, fitted.lines[name], nothing, ())
    turn = 0.0
    if channel == name:
        seen, _ = probe.effect(fitted.frequency, seen, nothing, values)
    if channel == reference:
        turn = float(np.angle(probe.effect(fitted.frequency, fitted.lines[reference], nothing, values)[0][1]))
    return wave_of(seen * np.exp(-1j * np.arange(seen.size) * turn), phase)
