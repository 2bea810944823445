# SPDX-License-Identifier: GPL-3.0-or-later
"""Flux curves of chokes: exact forms, limits, inverses, and energy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.parts.curves import GappedCurve, LinearCurve, half_current, soft_curve, steeper_curve, table_curve
from heatsim.physics.magnetisation import bias_flux_linkage

ZERO, AIR, HALF = 60e-6, 1.5e-6, 25.0
TABLE = ([0, 5, 10, 20, 30], [65e-6, 60e-6, 50e-6, 35e-6, 22e-6])


def curves():
    return {
        "linear": LinearCurve(ZERO, AIR),
        "soft": soft_curve(ZERO, AIR, HALF, 1.855),
        "gapped": GappedCurve(ZERO, AIR, 1.2e-3, 1e-4),
        "table": table_curve(*TABLE, AIR),
    }


@pytest.mark.parametrize("exponent", [1.2, 1.636, 1.855, 2.2, 3.0])
def test_a_soft_curve_follows_the_catalogue_form_within_a_hundredth_of_l0(exponent):
    # L = La + (L0-La)/(1+(i/ih)^c): powder catalogues' percent permeability = 1/(0.01 + b H^c) with H = 1/(100 b)^(1/c)
    # at i = ih. Reference file, section 5, form from a printed page.
    curve = soft_curve(ZERO, AIR, HALF, exponent)
    i = np.linspace(0, 20 * HALF, 4001)
    exact = AIR + (ZERO - AIR) / (1 + (i / HALF) ** exponent)
    assert np.abs(curve.inductance(i) - exact).max() < 0.01 * ZERO
    measured = np.diff(curve.flux(i)) / np.diff(i)
    assert np.abs(measured - 0.5 * (exact[1:] + exact[:-1])).max() < 0.01 * ZERO


def test_a_soft_curves_flux_is_the_exact_integral():
    # against the hypergeometric closed form of heatsim.physics, written and tested apart from this one; H in A/m with
    # one ampere per ampere-per-metre, so b = 0.01/HALF_OE^c in oersted
    from heatsim.constants import OERSTED

    b = 0.01 * (HALF / OERSTED) ** -1.855
    i = np.linspace(0, 300, 301)
    exact = bias_flux_linkage(i, ZERO, AIR, 1.0, b, 1.855)
    assert np.abs(soft_curve(ZERO, AIR, HALF, 1.855).flux(i) - exact).max() < 1e-3 * np.max(exact)


def test_a_gapped_curve_is_straight_then_the_air_core():
    curve = curves()["gapped"]
    assert curve.inductance(0.0) == pytest.approx(ZERO, rel=1e-9)
    assert curve.inductance(10.0) == pytest.approx(ZERO, rel=1e-3)
    assert curve.inductance(400.0) == pytest.approx(AIR, rel=1e-3)
    middle = float(curve.current(1.2e-3))
    assert 1 / curve.inductance(middle) == pytest.approx(0.5 / ZERO + 0.5 / AIR, rel=1e-3)


def test_a_table_goes_through_its_points_then_on_with_the_final_slope_to_the_air_core():
    curve = curves()["table"]
    assert curve.inductance(TABLE[0]) == pytest.approx(TABLE[1], abs=0.005 * 65e-6)
    slope = (22e-6 - 35e-6) / 10
    assert curve.inductance(40.0) == pytest.approx(22e-6 + 10 * slope, abs=0.005 * 65e-6)
    assert curve.inductance(100.0) == pytest.approx(AIR, rel=1e-6)
    assert curve.known_to == 30.0


@pytest.mark.parametrize("name", ["linear", "soft", "gapped", "table"])
class TestEveryCurve:
    def test_is_odd_rising_and_never_flatter_than_the_air_core(self, name):
        curve = curves()[name]
        i = np.linspace(-500, 500, 2001)
        flux = curve.flux(i)
        assert np.allclose(flux, -flux[::-1], rtol=1e-9, atol=1e-18)
        assert np.diff(flux).min() >= AIR * (i[1] - i[0]) * (1 - 1e-6)

    def test_current_is_the_inverse_of_flux(self, name):
        curve = curves()[name]
        i = np.linspace(-200, 200, 801)
        assert np.allclose(curve.current(curve.flux(i)), i, rtol=1e-8, atol=1e-8)

    def test_inductance_falls_with_current(self, name):
        curve = curves()[name]
        assert np.all(np.diff(curve.inductance(np.linspace(0, 300, 500))) <= 1e-12)
        assert curve.inductance(0.0) == pytest.approx(curve.inductance_zero, rel=2e-3)

    def test_takes_no_net_energy_round_a_cycle(self, name):
        # integral of i d(flux) over any closed path in flux is nil for a single-valued current: here a two-tone path
        curve = curves()[name]
        t = np.linspace(0, 2 * np.pi, 20001)
        flux = 8e-4 * np.sin(t) + 3e-4 * np.sin(3 * t + 0.4)
        current = curve.current(flux)
        net = np.sum(0.5 * (current[1:] + current[:-1]) * np.diff(flux))
        stored = np.max(np.cumsum(0.5 * (current[1:] + current[:-1]) * np.diff(flux)))
        assert abs(net) < 1e-4 * stored


@given(st.floats(-300, 300), st.floats(-300, 300))
def test_flux_is_monotone(a, b):
    for curve in curves().values():
        low, high = sorted((a, b))
        assert curve.flux(low) <= curve.flux(high)


@pytest.mark.parametrize(
    ("currents", "values"),
    [
        ([0, 5], [60e-6, 50e-6]),
        ([1, 5, 9], [60e-6, 50e-6, 40e-6]),
        ([0, 5, 5], [60e-6, 50e-6, 40e-6]),
        ([0, 5, 9], [60e-6, 50e-6, 55e-6]),
        ([0, 5, 9], [60e-6, 50e-6, 1e-6]),
    ],
)
def test_impossible_tables_are_refused(currents, values):
    with pytest.raises(ValueError):
        table_curve(currents, values, AIR)


def test_a_steeper_soft_curve_has_a_larger_exponent_and_the_same_half_current():
    i = np.linspace(0.1, 8 * HALF, 400)
    found, wanted = steeper_curve(soft_curve(ZERO, AIR, HALF, 1.5), 1.3), soft_curve(ZERO, AIR, HALF, 1.5 * 1.3)
    assert np.max(np.abs(found.inductance(i) - wanted.inductance(i))) < 0.01 * ZERO
    assert found.flux(i) == pytest.approx(wanted.flux(i), rel=0.01)
    assert half_current(found) == pytest.approx(half_current(wanted), rel=0.01)


def test_steeper_curves_keep_what_has_no_knee_and_narrow_what_has_one():
    linear, gapped = curves()["linear"], curves()["gapped"]
    assert steeper_curve(linear, 1.3) is linear
    assert steeper_curve(gapped, 2.0).knee == gapped.knee / 2
