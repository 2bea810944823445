# SPDX-License-Identifier: GPL-3.0-or-later
"""The measures of a capture with their errors, against closed forms through a digitiser of the tests' own."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from heatsim.measures.gather import MeasureContext, measure
from heatsim.measures.solving import wave_of
from heatsim.studies.match.measure import measured
from heatsim.studies.match.result import Measure
from heatsim.waves import Waveforms
from tests.support.captures.scope import Channel, Probe, Scope, digitise

WAVE = np.array([0, 130, 0.6, 2.1j, 0, 0.7], complex)
PURE = np.array([0, 130], complex)


def _digitised(lines: NDArray[np.complex128], seed: int, samples: int, periods: float) -> tuple[Waveforms, Channel]:
    """A wave through the captures' own digitiser: 8-bit codes and noise of half of one."""
    time = np.arange(samples) * periods / 85e3 / samples
    wave = wave_of(lines, 2 * math.pi * 85e3 * time + 0.3)
    taken = digitise(wave, Scope(samples, periods, 0.5, 0, 0, 0), Probe(), np.random.default_rng(seed))
    return Waveforms(time, {"tank.voltage": taken.values}, {"tank.voltage": "V"}), taken


def _measured(lines: NDArray[np.complex128], seed: int, samples: int, periods: float) -> dict[str, Measure]:
    waves, taken = _digitised(lines, seed, samples, periods)
    noise = math.hypot(taken.noise, taken.step / math.sqrt(12))
    return measured(waves, {"tank.voltage": noise}, 85e3, {"tank.voltage": taken.step}, seed=seed)


TRUE = {
    "tank.frequency_hz": 85e3,
    "tank.rms_voltage_v": float(np.linalg.norm(WAVE)) / math.sqrt(2),
    "tank.thd_ratio": math.hypot(0.6, 2.1, 0.7) / 130,
    "tank.odd_harmonic_ratio": math.hypot(2.1, 0.7) / 130,
    "tank.even_harmonic_ratio": 0.6 / 130,
    "tank.peak_voltage_v": float(np.max(np.abs(wave_of(WAVE, np.linspace(0, 2 * math.pi, 100_000))))),
}
"""Closed forms of the wave's measures."""

LEAST = {"tank.peak_voltage_v": 0.25}
"""Where one code rules, as in a peak, errors are on the safe side."""


@pytest.mark.parametrize(("samples", "periods"), [(5000, 24.4), (1000, 6.3), (1000, 2.6)])
def test_measures_have_errors_of_their_size_and_no_noise_in_them(samples: int, periods: float) -> None:
    """Against closed forms, over 20 digitised records each: the errors of 95 % intervals come out as large as stated (their rms
    within what 20 draws scatter by, a factor of 1.6), and none leans to one side."""
    found = [_measured(WAVE, seed, samples, periods) for seed in range(20)]
    for key, true in TRUE.items():
        scores = np.array([(each[key].value - true) / each[key].error for each in found])
        assert abs(float(np.mean(scores))) < 0.7, key
        assert LEAST.get(key, 0.5) < float(np.sqrt(np.mean(scores**2))) < 1.65, key


def test_noise_no_longer_lifts_the_distortion() -> None:
    """THD of a pure sine: the plain number is that of noise and codes; the corrected one lies within its error of nil."""
    for seed in range(6):
        waves, _ = _digitised(PURE, seed, 1000, 6.3)
        plain = measure(waves, MeasureContext(from_rest=False, periods=4))["tank.thd_ratio"]
        found = _measured(PURE, seed, 1000, 6.3)["tank.thd_ratio"]
        assert isinstance(plain, float)
        assert found.error is not None
        assert plain > 1.5e-3
        assert found.value < 2.5 * found.error
        assert found.value < 0.8 * plain


def test_dense_records_are_measured_from_fewer_samples() -> None:
    """Of a million samples every tenth is enough: numbers agree within the errors of a record of a tenth."""
    dense, thin = _measured(WAVE, 1, 1_000_000, 22.0), _measured(WAVE, 2, 100_000, 22.0)
    for key in TRUE:
        error = math.hypot(dense[key].error or 0.0, thin[key].error or 0.0)
        assert dense[key].value == pytest.approx(thin[key].value, abs=4 * error), key


def test_short_and_silent_records_are_measured_without_a_word() -> None:
    short = _measured(WAVE, 1, 400, 2.1)
    assert short["tank.rms_voltage_v"].value == pytest.approx(TRUE["tank.rms_voltage_v"], rel=0.02)
    flat = Waveforms(np.arange(100) * 1e-6, {"tank.voltage": np.zeros(100)}, {"tank.voltage": "V"})
    assert all(each.error is None for each in measured(flat, {}, 85e3, {}).values())
