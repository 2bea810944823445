# SPDX-License-Identifier: GPL-3.0-or-later
"""Distortion against the closed forms of tests/support/references.py, coefficients against series known by construction."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.measures import harmonics as hm
from heatsim.waves import Array
from tests.support.book import CLOSED, known, listed
from tests.support.references import THD
from tests.support.shapes import uneven_time

pytestmark = pytest.mark.numerics

EDGE = 1e-11
"""Length of the square's edges in periods; its distortion is low by 3.5 times that."""


def square() -> tuple[Array, Array]:
    """Three periods, with steps as small as EDGE and as large as a hundredth of a period."""
    corners = np.sort(np.concatenate([np.arange(6) * 0.5 + 0.25 - EDGE / 2, np.arange(6) * 0.5 + 0.25 + EDGE / 2]))
    time = uneven_time(3.0, 600, kinks=corners)
    return time, np.interp(time, corners, np.tile([-1.0, 1.0, 1.0, -1.0], 3), left=-1.0, right=-1.0)


def triangle() -> tuple[Array, Array]:
    corners = np.arange(0.0, 3.1, 0.25)
    time = uneven_time(3.0, 40, kinks=corners)
    return time, np.interp(time, corners, np.resize([0.0, 1.0, 0.0, -1.0], corners.size))


def half_sine() -> tuple[Array, Array]:
    time = uneven_time(3.0, 400_000, kinks=np.arange(0.0, 3.1, 0.5))
    return time, np.maximum(np.sin(2 * np.pi * time), 0.0)


SHAPES = {"square": square, "triangle": triangle, "halfwave rect sine, no DC": half_sine}


@pytest.mark.parametrize("row", THD)
def test_thd_closed_forms(row: tuple) -> None:
    shape, order, *_ = row
    time, samples = SHAPES[shape]()
    table = hm.harmonics(time, samples, 3, order or 1)
    found = hm.total_distortion(table) if order is None else hm.thd_fundamental(table)
    assert found == listed("THD", "thd", row)


def series(time: Array, amplitudes: Array, phases: Array) -> Array:
    """Sum of A_h cos(2 pi h t + phase_h), period 1."""
    orders = np.arange(1, amplitudes.size + 1)
    return np.asarray(amplitudes @ np.cos(2 * np.pi * np.outer(orders, time) + phases[:, None]))


def test_coefficients_of_a_known_series() -> None:
    """Amplitudes and phases come back; 4000 samples a period leave (pi h/N)^2/3 = 8e-6 at h = 6."""
    amplitudes, phases = np.array([1.0, 0.2, 0.0, 0.05, 0.3, 0.01]), np.array([0.5, -2.0, 0.0, 3.0, 1.0, -1.0])
    time = uneven_time(5.0, 20_000)
    table = hm.harmonics(time, 0.7 + series(time, amplitudes, phases), 5, 6)
    assert table.mean == pytest.approx(0.7, abs=1e-5)
    assert table.fundamental == pytest.approx(1.0)
    assert table.rms * np.sqrt(2) == pytest.approx(amplitudes, abs=1e-5)
    strong = amplitudes > 0
    assert table.phase[strong] == pytest.approx(phases[strong], abs=2e-3)


@pytest.mark.parametrize("order", [1, 5, 20, 40])
def test_attenuation_of_the_straight_lines_is_as_stated(order: int) -> None:
    """Even steps: each harmonic is low by sinc^2(h/N), which the docstring gives to first order."""
    time = np.linspace(0.0, 1.0, 201)
    found = hm.harmonics(time, np.cos(2 * np.pi * order * time), 1)
    assert found.rms[order - 1] * np.sqrt(2) == known(
        np.sinc(order / 200) ** 2, f"harmonic {order} of 200 straight lines", "sinc^2(h/N)", CLOSED, rel=1e-9
    )


def test_orders_the_samples_do_not_determine_are_left_out() -> None:
    time = uneven_time(4.0, 4 * 25 + 1)
    assert hm.harmonics(time, np.sin(2 * np.pi * time), 4).rms.size == 12
    with pytest.raises(ValueError, match="do not resolve"):
        hm.harmonics(time, np.sin(2 * np.pi * time), 60)


def test_thd_forms_and_even_odd_split() -> None:
    """Fundamental 1, h2 0.3, h3 0.4: THD_F = 0.5; section 11 of the reference file."""
    time = uneven_time(2.0, 40_000)
    table = hm.harmonics(time, series(time, np.array([1.0, 0.3, 0.4]), np.array([0.0, 1.0, 2.0])), 2)
    assert hm.thd_fundamental(table) == pytest.approx(0.5, rel=1e-5)
    assert hm.total_distortion(table) == pytest.approx(0.5, rel=1e-5)
    assert (hm.even_ratio(table), hm.odd_ratio(table)) == (pytest.approx(0.3, rel=1e-5), pytest.approx(0.4, rel=1e-5))
    assert table.ratios[:3] == pytest.approx([1.0, 0.3, 0.4], rel=1e-5)


def test_signal_without_fundamental_has_no_ratios() -> None:
    table = hm.harmonics(np.linspace(0, 1, 200), np.full(200, 3.0), 1)
    for ratio in (hm.thd_fundamental, hm.total_distortion, hm.even_ratio, hm.odd_ratio):
        assert ratio(table) is None
    assert hm.half_wave_asymmetry(np.linspace(0, 1, 200), np.full(200, 3.0), 1) is None


def test_half_wave_asymmetry_is_the_even_share() -> None:
    """Orders 1 to 4 of 1, 0.3, 0.4, 0.2 and a direct part: sqrt((0.09+0.04)/(1+0.09+0.16+0.04))."""
    time = uneven_time(3.0, 30_000)
    samples = 5.0 + series(time, np.array([1.0, 0.3, 0.4, 0.2]), np.array([0.0, 1.0, 2.0, -1.0]))
    assert hm.half_wave_asymmetry(time, samples, 3) == pytest.approx(np.sqrt(0.13 / 1.29), rel=1e-5)


@pytest.mark.parametrize("periods", [1, 2, 7])
def test_half_wave_symmetry_gives_nought(periods: int) -> None:
    """Straight lines broken at mirrored instants obey the symmetry exactly; any number of periods."""
    corners = np.linspace(0, periods, 20 * periods + 1)
    zigzag = np.resize(np.concatenate((np.arange(10) ** 1.5, -(np.arange(10) ** 1.5))), corners.size)
    time = uneven_time(periods, 300 * periods, kinks=corners)
    assert hm.half_wave_asymmetry(time, np.interp(time, corners, zigzag), periods) == pytest.approx(0.0, abs=1e-7)


def test_half_sine_is_lopsided_by_its_even_part() -> None:
    """Half sine = sine/2 + even series: asymmetry^2 = (1/4-1/pi^2-1/8)/(1/4-1/pi^2)."""
    time, samples = half_sine()
    exact = np.sqrt((1 / 8 - 1 / np.pi**2) / (1 / 4 - 1 / np.pi**2))
    assert hm.half_wave_asymmetry(time, samples, 3) == known(
        exact, "half-wave asymmetry of a half sine", "its even series", CLOSED, rel=1e-8
    )


@given(seed=st.integers(0, 10_000), points=st.integers(50, 300))
def test_powers_of_the_orders_add_up(seed: int, points: int) -> None:
    """Parseval: mean square = squares of all orders. What is left beyond order n falls as n^-3 for straight lines."""
    time = uneven_time(1.0, points, seed)
    samples = series(time, np.array([1.0, 0.5]), np.array([0.3, 0.1 * seed]))
    found = np.sqrt(np.sum(np.abs(hm.coefficients(time, samples, 1, 20 * points)) ** 2) / 2)
    assert found == pytest.approx(hm.harmonics(time, samples, 1).alternating_rms, rel=1e-6)


@given(seed=st.integers(0, 10_000), factor=st.floats(1e-4, 1e5), start=st.floats(0.0, 1.0), extra=st.integers(1, 300))
def test_scale_start_and_sampling_do_not_matter(seed: int, factor: float, start: float, extra: int) -> None:
    """Any start of the window, any scale, more samples on the same lines: the same distortion."""
    random = np.random.default_rng(seed)
    corners = np.sort(random.uniform(0, 1, 200))
    values = np.sin(2 * np.pi * corners) + 0.2 * random.normal(size=200)
    once = np.unique(np.concatenate(([0.0, 1.0], corners)))
    more = np.unique(np.concatenate((start + once, start + random.uniform(0, 1, extra), [start, start + 1])))
    more = more[(more >= start) & (more <= start + 1)]
    grid = np.unique(np.concatenate((more, 1 + corners[corners < start], corners[corners > start])))
    found = hm.harmonics(grid, factor * np.interp(grid, corners, values, period=1.0), 1)
    wanted = hm.harmonics(once, np.interp(once, corners, values, period=1.0), 1)
    assert found.rms == pytest.approx(factor * wanted.rms, rel=1e-6, abs=1e-9 * factor)
    assert hm.thd_fundamental(found) == pytest.approx(hm.thd_fundamental(wanted), rel=1e-7)
