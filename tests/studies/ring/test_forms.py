# SPDX-License-Identifier: GPL-3.0-or-later
"""Forms of saturation and the solution of v = R i + d(flux)/dt on them, against quad and solve_ivp of SciPy."""

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from heatsim.parts.curves import GappedCurve, LinearCurve, half_current
from heatsim.studies.ring.forms import SmoothSoftCurve, form_of, slope, solve_flux

CURVES = [
    LinearCurve(80e-6, 0.0),
    SmoothSoftCurve(80e-6, 2e-6, 12.0, 1.85),
    SmoothSoftCurve(80e-6, 1e-6, 12.0, 1.3),
    GappedCurve(80e-6, 2e-6, 1e-3, 0.1e-3),
    GappedCurve(80e-6, 2e-6, 1e-3, 0.3e-3),
]


def name(curve):
    return type(curve).__name__


@pytest.mark.parametrize("curve", CURVES, ids=name)
def test_flux_is_the_integral_of_inductance_and_slope_its_inverse(curve):
    for current in (0.5, 5.0, 12.0, 30.0):
        flux = quad(lambda i: float(curve.inductance(i)), 0, current, limit=400, epsabs=1e-9, epsrel=1e-5)[0]
        assert curve.flux(current) == pytest.approx(flux, rel=1e-4)
        assert curve.current(flux) == pytest.approx(current, rel=1e-3)
        assert curve.current(-flux) == pytest.approx(-current, rel=1e-3)
        near = curve.current(flux * np.array([1 - 1e-5, 1 + 1e-5]))
        assert slope(curve, np.array([flux]))[0] == pytest.approx((near[1] - near[0]) / (2e-5 * flux), rel=1e-3)


@pytest.mark.parametrize("curve", CURVES[1:], ids=name)
def test_half_of_the_inductance_is_left_at_the_half_current_and_never_less_than_the_air_core(curve):
    assert curve.inductance(0.0) == pytest.approx(curve.inductance_zero, rel=1e-6)
    assert curve.inductance(half_current(curve)) == pytest.approx(0.5 * curve.inductance_zero, rel=1e-6)
    assert curve.inductance(1e5) >= curve.inductance_air * (1 - 1e-9)


@pytest.mark.parametrize("knee", [0.02, 0.1, 0.5])
@pytest.mark.parametrize("air", [1e-7, 2e-6, 30e-6])
def test_flux_of_a_gapped_curve_is_the_inverse_of_its_current_from_far_below_to_far_beyond_the_knee(knee, air):
    curve, currents = GappedCurve(80e-6, air, 1e-3, knee * 1e-3), np.geomspace(1e-6, 1e8, 280)
    assert curve.current(curve.flux(currents)) == pytest.approx(currents, rel=1e-8)
    assert curve.flux(-currents) == pytest.approx(-curve.flux(currents), rel=1e-12)
    assert [float(curve.flux(i)) for i in currents[::7]] == pytest.approx(curve.flux(currents)[::7], rel=1e-9)
    assert curve.flux(0.0) == 0.0


@pytest.mark.parametrize("curve", CURVES, ids=name)
@pytest.mark.parametrize("resistance", [0.0, 0.06, 1.5])
def test_the_ramp_is_that_of_an_adaptive_integration(curve, resistance):
    volts, length, steps = 12.0, 150e-6, 500
    step = np.full(steps, length / steps)
    found = curve.current(solve_flux(curve, volts * step, step, resistance))

    def slope(_, flux):
        return volts - resistance * curve.current(flux)

    at = np.linspace(0, length, steps + 1)
    right = solve_ivp(slope, (0, length), [0.0], method="LSODA", rtol=1e-10, atol=1e-14, t_eval=at, max_step=length / 300)
    assert found == pytest.approx(curve.current(right.y[0]), abs=1e-4 * float(np.max(found)))


def test_one_iteration_from_nearby_is_exact_to_first_order():
    """The error of the second order: a tenth of the change leaves a hundredth of the error."""
    curve, step, errors = CURVES[1], np.full(400, 3e-7), []
    base = solve_flux(curve, 12.0 * step, step, 0.05)
    for change in (1e-2, 1e-3):
        whole = solve_flux(curve, 12.0 * step, step, 0.05 + change)
        once = solve_flux(curve, 12.0 * step, step, 0.05 + change, guess=base, iterations=1)
        errors.append(np.max(np.abs(once - whole)))
    assert errors[1] < 0.02 * errors[0]


def test_an_air_core_above_the_core_itself_is_held_below_half():
    curve = form_of("soft", {"ln_zero": np.log(1e-6), "ln_half": 1.0, "ln_steepness": 0.0, "ln_air": np.log(9e-6)})
    assert curve.inductance(1e3) == pytest.approx(0.45e-6, rel=1e-3)
