# SPDX-License-Identifier: GPL-3.0-or-later
"""Frequency, windows and repetition, on signals whose period is known by construction."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.measures import periods
from heatsim.waves import Array, Waveforms
from heatsim.waves.periods import PerPeriod, crossings, per_period
from tests.support.shapes import uneven_time

F = 65_123.4


def noisy(seed: int, noise: float = 0.05, stop: float = 1e-3, points: int = 13_000) -> tuple[Array, Array]:
    time = uneven_time(stop, points, seed)
    ripple = np.sin(2 * np.pi * F * time + 0.7) + 0.1 * np.sin(6 * np.pi * F * time)
    return time, ripple + noise * np.random.default_rng(seed + 1).normal(size=time.size)


def record(time: Array, samples: Array) -> Waveforms:
    return Waveforms(time, {"tank.voltage": samples})


def test_noise_counts_no_period_twice() -> None:
    time, samples = noisy(1, noise=0.05)
    assert crossings(time, samples).size > 100  # without hysteresis it does
    assert periods.period_marks(time, samples).size in (64, 65)  # 65.1 periods


def test_frequency_within_its_own_error_and_error_as_large_as_the_scatter() -> None:
    """300 noisy records: estimates scatter round the truth, and as widely as each of them says."""
    found = [periods.steady_frequency(record(*noisy(seed)), periods=60) for seed in range(0, 900, 3)]
    off = np.array([one.value - F for one in found if one])
    error = np.array([one.standard_error for one in found if one])
    assert off.size == 300
    assert abs(np.mean(off)) < 4 * np.std(off) / np.sqrt(300)
    assert np.std(off) == pytest.approx(np.mean(error), rel=0.15)
    per_crossing = 0.05 / (1.3 * 2 * np.pi * F)  # noise over slope at the crossing [s]
    assert np.std(off) < per_crossing * F**2 * np.sqrt(12 / 60**3)  # slope of a line through 60 such, about 3 Hz


def test_frequency_of_a_clean_record() -> None:
    found = periods.steady_frequency(record(*noisy(2, noise=0.0)), periods=50)
    assert found is not None and found.standard_error is not None
    assert found.value == pytest.approx(F, rel=1e-6)
    assert found.standard_error < 0.1 and found.crossings == 51


def test_window_holds_whole_periods_at_the_end() -> None:
    window = periods.steady_window(record(*noisy(3, noise=0.0)), periods=20)
    assert window is not None
    assert window.period == pytest.approx(1 / F, rel=1e-6)
    assert window.periods == 20 and window.edges.size == 21
    assert 1e-3 - 1 / F < window.stop < 1e-3


def test_short_record_gives_what_it_has() -> None:
    time = uneven_time(3.6, 700)
    window = periods.steady_window(record(time, np.sin(2 * np.pi * time - 0.5)), periods=20)
    assert window is not None and window.periods == 3
    short = time < 0.9
    assert periods.steady_window(record(time[short], np.sin(2 * np.pi * time[short]))) is None


def test_oscillation_that_ended_has_no_window() -> None:
    time = uneven_time(100.0, 20_000)
    sine = np.sin(2 * np.pi * time)
    assert periods.steady_window(record(time, np.where(time < 97, sine, -0.01))) is None
    assert periods.steady_window(record(time, 0.01 * sine), quiet=0.02) is None
    assert periods.steady_window(record(time, 0.03 * sine), quiet=0.02) is not None


def test_level_of_a_signal_with_a_direct_part() -> None:
    """A drain: half sines, never below zero; its mean is the level."""
    time = uneven_time(10.3, 3000)
    drain = record(time, np.maximum(np.sin(2 * np.pi * time), 0.0))
    window = periods.steady_window(drain, periods=5, level=None)
    assert window is not None and window.period == pytest.approx(1.0, rel=1e-4)


def test_fit_through_known_scatter() -> None:
    """Marks 0, 1.1, 2, 2.9: slope by hand 0.96, residuals -.06 .08 .02 -.04 -> s^2 = 0.006, sigma_T = s/sqrt(5)."""
    found = periods.fit_frequency(np.array([0.0, 1.1, 2.0, 2.9]))
    assert found is not None
    assert found.value == pytest.approx(1 / 0.96)
    assert found.standard_error == pytest.approx(np.sqrt(0.006 / 5) / 0.96**2)
    assert periods.fit_frequency(np.array([1.0])) is None
    two = periods.fit_frequency(np.array([1.0, 3.0]))
    assert two is not None and two.value == pytest.approx(0.5) and two.standard_error is None


def swelling(rate: float = 0.0, alternation: float = 0.0) -> PerPeriod:
    time = uneven_time(20.2, 8000)
    size = 1 + rate * (time - 10) + 0.5 * alternation * np.where(np.floor(time) % 2 > 0, 1, -1)
    return per_period(time, size * np.sin(2 * np.pi * time), np.arange(21.0))


def test_drift_and_period_two_are_told_apart() -> None:
    """1 % growth a period: halves of 20 periods lie 10 periods apart, so 10 % drift; 4 % alternation, no drift."""
    growing, alternating, steady = swelling(rate=0.01), swelling(alternation=0.04), swelling()
    assert periods.drift_ratio(growing) == pytest.approx(0.1, rel=0.01)
    assert periods.period_two_ratio(growing) == pytest.approx(0.0, abs=5e-4)
    assert periods.period_two_ratio(alternating) == pytest.approx(0.04, rel=0.02)
    assert periods.drift_ratio(alternating) == pytest.approx(0.0, abs=5e-4)
    assert periods.drift_ratio(steady) == pytest.approx(0.0, abs=2e-4)
    one = PerPeriod(np.ones(1), np.ones(1))
    assert periods.drift_ratio(one) is None and periods.period_two_ratio(one) is None


@given(factor=st.floats(1e-3, 1e6), shift=st.floats(-1.0, 1.0), seed=st.integers(0, 1000))
def test_frequency_does_not_care_for_scale_clock_or_sampling(factor: float, shift: float, seed: int) -> None:
    time, samples = noisy(seed, noise=0.0, stop=3e-4, points=4000)
    found = periods.steady_frequency(record(time + shift, factor * samples), periods=10)
    assert found is not None and found.value == pytest.approx(F, rel=3e-6)


@pytest.mark.parametrize("drift", [0.0, 0.3, -2.0])
def test_ripple_is_within_periods_and_drift_is_none(drift: float) -> None:
    """3 A peak to peak twice a period, on a mean that moves by up to 2 A in each: the whole record spans seven times as much."""
    time = uneven_time(10.0, 4000, 2)
    found, error = periods.ripple(time, 5 + drift * time + 1.5 * np.sin(4 * np.pi * time + 1), np.arange(11.0))
    assert found == pytest.approx(3.0, rel=1e-3) and error < 1e-3


def test_ripple_that_scatters_has_the_error_of_its_mean() -> None:
    size = np.repeat([1.0, 1.2, 0.8, 1.0], 1000)
    time = np.arange(4000.0) / 1000
    found, error = periods.ripple(time, size * np.sin(2 * np.pi * time), np.array([0.0, 1.0, 2.0, 3.0, time[-1]]))
    assert found == pytest.approx(2.0, rel=1e-3)
    assert error == pytest.approx(np.std([2.0, 2.4, 1.6, 2.0], ddof=1) / 2, rel=1e-3)
