# SPDX-License-Identifier: GPL-3.0-or-later
"""Records of one to two periods with known lines: the truth lies within the stated errors at the stated rate, frequency included.

Waves are sums of harmonics or pieces of sines, their noise and steps made here; expectations are those of the waves themselves.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from heatsim.measures.lines import Lines, record_lines
from heatsim.measures.short import DRIFT, SHORT, NoWholePeriod, guessed_frequency
from heatsim.measures.solving import wave_of

F, SAMPLES, SEEDS, COUNT = 87_654.3, 200, 30, 12
PERIODS = (1.05, 1.2, 1.6, 2.05)

TANK = np.array([3.0, 100.0, 4.0 * np.exp(0.7j), 6.0 * np.exp(-1.1j), 0.0, 1.5 * np.exp(2.0j)], dtype=complex)
"""Harmonics of 7.5 %, and a mean."""

DRAIN = np.array([32.0, 50.0, *(-66.0 / (n * n - 1) if n % 2 == 0 else 0.0 for n in range(2, 11))], dtype=complex)
"""Half sines, up to their tenth harmonic: a signal with a mean."""


def phase_of(time: np.ndarray, start: float) -> np.ndarray:
    return 2 * math.pi * F * time + start


@cache
def taken(periods: float, seed: int, step: float) -> tuple[Lines, dict[str, np.ndarray]]:
    """Lines of a record with noise, a drift of its amplitude and codes, and those it was made of."""
    generator = np.random.default_rng(seed)
    time = np.linspace(0.0, periods / F, SAMPLES) + 3e-5
    drift = 1 + DRIFT * generator.normal() * np.linspace(-0.5, 0.5, SAMPLES)
    noise = 0.5 if step else 1.5
    start, truth = generator.uniform(0, 2 * math.pi), {"a": TANK, "b": DRAIN}
    signals = {name: wave_of(c, phase_of(time, start)) * drift + generator.normal(0, noise, SAMPLES) for name, c in truth.items()}
    if step:
        signals = {name: step * np.round(samples / step) for name, samples in signals.items()}
    return record_lines(time, signals, F * (1 + generator.uniform(-0.1, 0.1)), COUNT, "a"), truth


def scores(found: Lines, truth: dict[str, np.ndarray]) -> list[float]:
    """Errors of all lines over the stated ones; the reference's phase is no number."""
    every: list[float] = []
    for name, lines in truth.items():
        own, error = np.zeros(COUNT + 1, complex), found.errors(name)
        own[: lines.size] = lines
        off = found.lines[name] - own
        imaginary = slice(2 if name == "a" else 1, None)
        every += [*(off.real / error.real), *(off.imag[imaginary] / error.imag[imaginary])]
    return every


@pytest.mark.parametrize("step", [0.0, 1.0])
@pytest.mark.parametrize("periods", PERIODS)
def test_intervals_hold_the_truth_at_their_rate(periods: float, step: float) -> None:
    """95 % intervals over 30 records and 49 numbers each: 90 to 99 %; the frequency, in 30 records, 83 to 100 % (binomial: three
    deviations are 12 %). With steps of 1 in 200, an 8-bit record's."""
    lines, frequency = [], []
    for seed in range(SEEDS):
        found, truth = taken(periods, seed, step)
        lines += scores(found, truth)
        frequency.append((found.frequency - F) / found.frequency_error)
    assert 0.90 <= float(np.mean(np.abs(lines) < 1.96)) <= 0.99
    assert float(np.mean(np.abs(frequency) < 1.96)) >= 0.83
    assert 0.7 < float(np.sqrt(np.mean(np.square(frequency)))) < 1.4, "neither too sure nor too modest"


def test_the_frequency_holds_over_all_lengths_together() -> None:
    """95 % intervals of 120 records: 90 to 99 %."""
    found = [taken(periods, seed, 0.0)[0] for periods in PERIODS for seed in range(SEEDS)]
    inside = float(np.mean([abs(each.frequency - F) < 1.96 * each.frequency_error for each in found]))
    assert 0.90 <= inside <= 0.99


def test_errors_grow_as_the_record_gets_shorter() -> None:
    errors = [float(np.median([taken(periods, seed, 0.0)[0].frequency_error for seed in range(SEEDS)])) for periods in PERIODS]
    assert errors == sorted(errors, reverse=True) and errors[0] > 2 * errors[-1]
    tied = [abs(taken(periods, 3, 0.0)[0].together[0].lines["b"][2]) for periods in (1.05, 2.05)]
    assert tied[0] > tied[1] > 0, "what a line follows of the frequency"


@pytest.mark.parametrize("start", [0.1, 1.6, 3.0, 4.4])
def test_without_noise_the_lines_are_exact(start: float) -> None:
    time = np.linspace(0.0, 1.3 / F, SAMPLES)
    found = record_lines(time, {"a": wave_of(TANK, phase_of(time, start))}, 0.9 * F, 8, "a")
    assert found.frequency == pytest.approx(F, rel=1e-7)
    assert np.abs(found.lines["a"][:6] - TANK) == pytest.approx(np.zeros(6), abs=1e-3)
    assert found.modulation is None and len(found.together) == 3


@pytest.mark.parametrize("periods", [1.1, 1.5, 1.9])
def test_ringing_at_the_edges_does_not_mislead(periods: float) -> None:
    """A burst of 23 times the frequency after each passage through zero, a tenth of the wave: above the lines asked for."""
    time = np.linspace(0.0, periods / F, 500)
    for start in np.linspace(0.0, 6.0, 7):
        phase = phase_of(time, start)
        since = phase % math.pi
        ringing = 10 * np.exp(-4 * since) * np.sin(23 * since)
        wave = 100 * np.sin(phase) + ringing + np.random.default_rng(5).normal(0, 0.3, time.size)
        guess = guessed_frequency(time, wave, True)
        assert guess is not None and guess == pytest.approx(F, rel=0.15)
        found = record_lines(time, {"a": wave}, guess, COUNT, "a")
        assert abs(found.frequency - F) < 3.5 * found.frequency_error + 3e-4 * F


def test_longer_records_are_measured_as_ever() -> None:
    """From `SHORT` periods on nothing is shared by frequency and lines; a hair below it is."""
    time = np.linspace(0.0, 1.0, 400)
    wave = {"a": wave_of(TANK, 2 * math.pi * SHORT * time)}
    assert not record_lines(time, wave, SHORT * (1 + 1e-9), 5, "a").together
    assert record_lines(time, wave, SHORT * (1 - 1e-9), 5, "a").together
    assert record_lines(time, wave, SHORT * (1 + 1e-9), 5, "a", together=True).together


@pytest.mark.parametrize("periods", [0.8, 0.9, 0.97])
def test_less_than_a_period_is_refused(periods: float) -> None:
    time = np.linspace(0.0, periods / F, SAMPLES)
    for start in np.linspace(0.0, 6.0, 7):
        wave = wave_of(TANK, phase_of(time, start)) + np.random.default_rng(1).normal(0, 0.5, SAMPLES)
        with pytest.raises(NoWholePeriod):
            record_lines(time, {"a": wave}, F, COUNT, "a")


@pytest.mark.parametrize("periods", [1.05, 1.5, 2.5, 7.3])
def test_two_crossings_tell_the_frequency_of_tank_and_drain(periods: float) -> None:
    """Exactly for a sine and for half sines, which are above half their height a third of the time; either way up."""
    time = np.linspace(0.0, periods / F, 2000)
    for start in np.linspace(0.0, 6.0, 7):
        sine = 130 * np.sin(phase_of(time, start))
        assert guessed_frequency(time, sine, True) == pytest.approx(F, rel=0.02)
        for half in (np.maximum(sine, 0.0), -np.maximum(sine, 0.0)):
            guess = guessed_frequency(time, half, False)
            if guess is None:
                assert periods < 1.2, "begun where it rises, it may rise and fall but once"
            else:
                assert guess == pytest.approx(F, rel=0.05)
    assert guessed_frequency(time, np.ones_like(time), False) is None


def test_a_dense_record_is_measured_in_time_and_as_surely() -> None:
    """300 000 samples: the noise told is that of one sample, and lines and frequency are within four of their errors."""
    time, generator = np.linspace(0.0, 1.4 / F, 300_001), np.random.default_rng(8)
    wave = wave_of(TANK, phase_of(time, 0.7)) + generator.normal(0, 2.0, time.size)
    found = record_lines(time, {"a": wave}, 1.08 * F, COUNT, "a")
    assert found.noise["a"] == pytest.approx(2.0, rel=0.03) and found.phase.size == time.size
    assert abs(found.frequency - F) < 4 * found.frequency_error
    assert found.error("a")[3] == pytest.approx(2.0 * math.sqrt(2 / time.size), rel=0.3)
    off, error = found.lines["a"][2:6] - TANK[2:], found.errors("a")[2:6]
    assert np.all(np.abs(off.real) < 4 * error.real) and np.all(np.abs(off.imag) < 4 * error.imag)
