# SPDX-License-Identifier: GPL-3.0-or-later
"""Means and factors against the closed forms of tests/support/references.py and against integrals done by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.measures import basics
from tests.support.book import CLOSED, known, listed
from tests.support.shapes import uneven_time


def half_wave(points: int) -> tuple[np.ndarray, np.ndarray]:
    time = uneven_time(1.0, points, kinks=np.array([0.5]))
    return time, np.maximum(np.sin(2 * np.pi * time), 0.0)


def test_factors_of_half_wave_rectified_sine() -> None:
    time, samples = half_wave(200_000)
    assert basics.form_factor(time, samples) == listed("WAVE_FACTORS", "value", "form factor half-wave")
    ripple = basics.alternating_rms(time, samples) / basics.mean(time, samples)
    assert ripple == listed("WAVE_FACTORS", "value", "ripple factor half-wave")
    assert basics.crest_factor(time, samples) == known(
        2.0, "crest factor of a half-wave sine", "peak 1 over rms 1/2", CLOSED, rel=1e-8
    )


def test_straight_lines_are_integrated_exactly() -> None:
    """One step from -1 to 3 in 2 s: mean 1, mean square (1-3+9)/3, |x| areas 1/4 and 9/4; by hand."""
    time, line = np.array([5.0, 7.0]), np.array([-1.0, 3.0])
    assert basics.mean(time, line) == pytest.approx(1.0)
    assert basics.rms(time, line) == known(np.sqrt(7.0 / 3.0), "rms of a straight line from -1 to 3", "by hand", CLOSED)
    assert basics.alternating_rms(time, line) == pytest.approx(4.0 / np.sqrt(12.0))
    assert basics.rectified_mean(time, line) == pytest.approx(1.25)
    assert basics.mean_product(time, line, np.array([2.0, 0.0])) == pytest.approx(1.0 / 3.0)
    assert basics.peak(line) == 3.0


def test_signal_of_zeros_has_no_factors() -> None:
    time, nothing = np.array([0.0, 1.0, 3.0]), np.zeros(3)
    assert basics.crest_factor(time, nothing) is None
    assert basics.form_factor(time, nothing) is None


@pytest.mark.parametrize("points", [50, 200, 800])
def test_error_of_the_straight_lines_is_as_stated(points: int) -> None:
    """Module's docstring: rms of a sine low by (pi/N)^2/3; even steps, so that N means something."""
    time = np.linspace(0.0, 1.0, points + 1)
    found = basics.rms(time, np.sin(2 * np.pi * time)) * np.sqrt(2)
    assert 1 - found == pytest.approx((np.pi / points) ** 2 / 3, rel=0.01)


@given(factor=st.floats(1e-6, 1e6), shift=st.floats(-1e-3, 1e3), offset=st.floats(-10, 10))
def test_scale_shift_and_offset(factor: float, shift: float, offset: float) -> None:
    """Twice the volts, twice the rms; another clock, the same; a direct part adds to the mean alone."""
    time, samples = half_wave(300)
    moved, scaled = time + shift, factor * samples
    assert basics.rms(moved, scaled) == pytest.approx(factor * basics.rms(time, samples), rel=1e-7)
    assert basics.crest_factor(moved, scaled) == pytest.approx(basics.crest_factor(time, samples), rel=1e-7)
    assert basics.mean(moved, samples + offset) == pytest.approx(basics.mean(time, samples) + offset, abs=1e-7)
    assert basics.alternating_rms(moved, samples + offset) == pytest.approx(basics.alternating_rms(time, samples), rel=1e-7)


@given(seed=st.integers(0, 10_000), extra=st.integers(1, 200))
def test_more_samples_on_the_same_lines_change_nothing(seed: int, extra: int) -> None:
    random = np.random.default_rng(seed)
    time, samples = uneven_time(1.0, 60, seed), random.normal(size=60)
    denser = np.unique(np.concatenate((time, random.uniform(0, 1, extra))))
    again = np.interp(denser, time, samples)
    for measure in (basics.mean, basics.rms, basics.rectified_mean, basics.crest_factor):
        assert measure(denser, again) == pytest.approx(measure(time, samples), rel=1e-9, abs=1e-12)
