# SPDX-License-Identifier: GPL-3.0-or-later
"""Harmonics of uneven samples against closed forms of square, triangle and half-wave rectified sine."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.physics.spectrum import closed_period, periodic_spectrum
from tests.support.book import CLOSED, known


def uneven(points: int, period: float = 1.0) -> np.ndarray:
    """A rising time axis with steps that differ tenfold."""
    steps = 1.0 + 9.0 * np.abs(np.sin(np.arange(points) * 1.7))
    return period * np.concatenate([[0.0], np.cumsum(steps)]) / np.sum(steps)


def test_triangle_is_exact_with_four_corners_and_some_points_between() -> None:
    """Fourier series of a triangle of amplitude 1: 8/(pi^2 n^2) for odd n; mean square 1/3. Mathematics."""
    time = np.sort(np.concatenate([[0, 0.25, 0.75, 1.0], [0.1, 0.2, 0.33, 0.6, 0.9]]))
    values = np.interp(time, [0, 0.25, 0.75, 1.0], [0, 1, -1, 0])
    found = periodic_spectrum(time, values, 9)
    expected = [8 / (np.pi**2 * n**2) / np.sqrt(2) if n % 2 else 0.0 for n in range(1, 10)]
    assert found.rms == known(expected, "harmonics 1 to 9 of a triangle", "Fourier series", CLOSED, abs=1e-12)
    assert found.ripple_rms**2 == pytest.approx(1 / 3, rel=1e-12)
    assert found.mean == pytest.approx(0.0, abs=1e-15)


def test_half_wave_rectified_sine() -> None:
    """Fourier series: mean 1/pi, fundamental 1/2, even n 2/(pi (n^2 - 1)). Reference file, section 8 and 11."""
    time = uneven(4000, 1e-5)
    found = periodic_spectrum(time, np.maximum(np.sin(2 * np.pi * time / 1e-5), 0.0), 6)
    expected = np.array([0.5, 2 / (3 * np.pi), 0, 2 / (15 * np.pi), 0, 2 / (35 * np.pi)]) / np.sqrt(2)
    assert found.frequency == pytest.approx(1e5)
    assert found.mean == known(1 / np.pi, "mean of a half-wave sine", "Fourier series", CLOSED, rel=1e-5)
    assert found.rms == known(expected, "harmonics 1 to 6 of a half-wave sine", "Fourier series", CLOSED, abs=1e-5)
    assert found.frequencies[1] == pytest.approx(2e5)


def test_what_is_above_the_last_harmonic_is_kept() -> None:
    time = np.linspace(0, 1, 2001)
    values = np.sin(2 * np.pi * time) + 0.3 * np.sin(2 * np.pi * 7 * time)
    found = periodic_spectrum(time, values, 5)
    assert found.rest == pytest.approx(0.3 / np.sqrt(2), rel=1e-4)
    assert found.dominant_frequency == pytest.approx(1.0)


def test_largest_harmonic_need_not_be_the_first() -> None:
    time = np.linspace(0, 1e-4, 401)
    assert periodic_spectrum(time, np.cos(2 * np.pi * 2e4 * time)).dominant_frequency == pytest.approx(2e4)


def test_a_small_drift_is_taken_off_and_a_large_one_refused() -> None:
    time = np.linspace(0, 1, 101)
    _, closed = closed_period(time, np.sin(2 * np.pi * time) + 0.05 * time, "x")
    assert closed == pytest.approx(np.sin(2 * np.pi * time) + 0.025, abs=1e-12)  # the mean stays
    with pytest.raises(InputError, match="not one whole period"):
        closed_period(time, np.sin(2 * np.pi * 0.8 * time), "x")


@pytest.mark.parametrize("time", [[0, 1, 2], [0, 1, 1, 2, 3, 4, 5, 6], [0, 1, 2, 3, 4, 5, 6, np.nan]])
def test_samples_that_are_none_are_refused(time: list[float]) -> None:
    with pytest.raises(InputError):
        closed_period(time, np.zeros(len(time)), "x")


def test_constant_current_has_no_ripple() -> None:
    found = periodic_spectrum(np.linspace(0, 1, 20), np.full(20, 3.0))
    assert (found.mean, found.ripple_rms) == pytest.approx((3.0, 0.0), abs=1e-12)
