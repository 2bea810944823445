# SPDX-License-Identifier: GPL-3.0-or-later
"""Lines of records with known harmonics: exact without noise, with errors of the stated size with it, modulated or not."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.measures.lines import BANDS, band_powers, lines_of_period, record_bands, record_lines
from heatsim.measures.solving import wave_of

pytestmark = pytest.mark.numerics

HARMONICS = np.array([3.0, 100.0, 4.0 * np.exp(0.7j), 6.0 * np.exp(-1.1j), 0.0, 1.5 * np.exp(2.0j)])
FREQUENCY = 87_654.3


def record(
    samples: int = 5000, periods: float = 19.3, noise: float = 0.0, modulation: float = 0.0, seed: int = 0, uneven: bool = False
) -> tuple[np.ndarray, np.ndarray]:
    generator = np.random.default_rng(seed)
    time = np.arange(samples) * periods / FREQUENCY / samples + 3e-5
    if uneven:
        time = np.sort(time + generator.uniform(0, 0.4, samples) * (time[1] - time[0]))
    wave = wave_of(HARMONICS.astype(complex), 2 * np.pi * FREQUENCY * time + 0.4)
    modulated = 1 + modulation * np.sin(2 * np.pi * 2 / (time[-1] - time[0]) * time + 0.3)
    return time, wave * modulated + generator.normal(0, noise, samples)


@pytest.mark.parametrize("uneven", [False, True])
@pytest.mark.parametrize("periods", [1.4, 7.77, 240.0])
def test_lines_without_noise_are_exact(periods: float, uneven: bool) -> None:
    time, samples = record(8000, periods, uneven=uneven)
    found = record_lines(time, {"a": samples}, FREQUENCY * (1 + 0.05 / periods), 8, "a")
    assert found.frequency == pytest.approx(FREQUENCY, rel=3e-5)
    assert np.abs(found.lines["a"][:6] - HARMONICS) == pytest.approx(np.zeros(6), abs=0.06)
    assert found.modulation is None


def test_errors_are_of_the_stated_size() -> None:
    """Normal standardised errors: over 60 records and 10 numbers each the rms is within 1 +- 3/sqrt(2*600)."""
    scores, drift = [], []
    for seed in range(60):
        time, samples = record(noise=2.0, seed=seed)
        found = record_lines(time, {"a": samples}, FREQUENCY * 1.001, 5, "a")
        error = (found.lines["a"] - HARMONICS) / found.error("a")
        scores += [*error[2:].real, *error[2:].imag, error[1].real]
        drift.append((found.frequency - FREQUENCY) / found.frequency_error)
        assert found.noise["a"] == pytest.approx(2.0, rel=0.05)
    assert float(np.sqrt(np.mean(np.square(scores)))) == pytest.approx(1.0, abs=0.1)
    assert float(np.sqrt(np.mean(np.square(drift)))) == pytest.approx(1.0, abs=0.35)


def test_modulation_is_found_and_taken_out() -> None:
    time, samples = record(20_000, 200.0, noise=1.0, modulation=0.08)
    found = record_lines(time, {"a": samples}, FREQUENCY, 5, "a")
    assert found.modulation is not None
    assert found.modulation.amplitude == pytest.approx(0.08, rel=0.05)
    assert found.modulation.frequency == pytest.approx(2 / (time[-1] - time[0]), rel=0.05)
    assert np.abs(found.lines["a"][2:4] / found.lines["a"][1] - HARMONICS[2:4] / 100) == pytest.approx(np.zeros(2), abs=2e-3)


def test_noise_alone_is_no_modulation() -> None:
    modulated = [record_lines(*_one(record(2000, 40.0, noise=3.0, seed=seed)), FREQUENCY, 5, "a").modulation for seed in range(40)]
    assert sum(modulation is not None for modulation in modulated) == 0


def _one(pair: tuple[np.ndarray, np.ndarray]) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    return pair[0], {"a": pair[1]}


def test_lines_of_a_period_are_those_of_a_record() -> None:
    time = np.linspace(0, 1 / FREQUENCY, 3001)
    period = wave_of(HARMONICS.astype(complex), 2 * np.pi * FREQUENCY * time)
    assert np.abs(lines_of_period(time, period, 5) - HARMONICS) == pytest.approx(np.zeros(6), abs=1e-3)


@pytest.mark.parametrize("samples", [6000, 40_000])
def test_bands_hold_what_is_in_them(samples: int) -> None:
    """A line of amplitude 2 at order 60 has a mean square of 2, in the second band alone; noise is told as noise."""
    time, wave = record(samples, 20.0, noise=0.5, seed=4)
    wave = wave + 2.0 * np.cos(60 * 2 * np.pi * FREQUENCY * time)
    found = record_lines(time, {"a": wave}, FREQUENCY, 8, "a")
    power, noise = record_bands(found, "a", wave, 100)
    assert power.shape == (3,)
    assert power[1] - noise[1] == pytest.approx(2.0, rel=0.05)
    assert power[0] == pytest.approx(noise[0], rel=1.2)
    assert noise[1] == pytest.approx(25 * 2 * 0.25 / samples, rel=0.15)
    assert 0.49 < found.noise["a"] < 0.57  # the whole residual: 1.5
    assert band_powers(np.eye(1, BANDS[-1] + 1, 60, dtype=complex)[0] * 2)[1] == pytest.approx(2.0)


def test_too_short_a_record_is_refused() -> None:
    time, samples = record(30, 0.5)
    with pytest.raises(ValueError, match="too short"):
        record_lines(time, {"a": samples}, FREQUENCY, 5, "a")
