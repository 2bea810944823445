# SPDX-License-Identifier: GPL-3.0-or-later
"""Forms of saturation and the solution of v = R i + d(flux)/dt on them, against quad and solve_ivp of SciPy."""

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from heatsim.studies.ring.forms import GappedForm, LinearForm, SoftForm, form_of, solve_flux

FORMS = [
    LinearForm(80e-6),
    SoftForm(80e-6, 2e-6, 12.0, 1.85),
    SoftForm(80e-6, 1e-6, 12.0, 1.3),
    GappedForm(80e-6, 2e-6, 1e-3, 0.1),
    GappedForm(80e-6, 2e-6, 1e-3, 0.3),
]


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.kind)
def test_flux_is_the_integral_of_inductance_and_slope_its_inverse(form):
    for current in (0.5, 5.0, 12.0, 30.0):
        flux = quad(lambda i: float(form.inductance(np.array([i]))[0]), 0, current, limit=400, epsabs=1e-9, epsrel=1e-5)[0]
        assert form.current(np.array([flux]))[0] == pytest.approx(current, rel=1e-3)
        assert form.current(np.array([-flux]))[0] == pytest.approx(-current, rel=1e-3)
        near = form.current(flux * np.array([1 - 1e-5, 1 + 1e-5]))
        assert form.slope(np.array([flux]))[0] == pytest.approx((near[1] - near[0]) / (2e-5 * flux), rel=1e-3)


@pytest.mark.parametrize("form", FORMS[1:], ids=lambda form: form.kind)
def test_half_of_the_inductance_is_left_at_the_half_current_and_never_less_than_the_air_core(form):
    assert form.inductance(np.array([0.0]))[0] == pytest.approx(form.zero, rel=1e-6)
    assert form.inductance(np.array([form.half_current()]))[0] == pytest.approx(0.5 * form.zero, rel=1e-3)
    assert form.inductance(np.array([1e5]))[0] >= form.air * (1 - 1e-9)


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.kind)
@pytest.mark.parametrize("resistance", [0.0, 0.06, 1.5])
def test_the_ramp_is_that_of_an_adaptive_integration(form, resistance):
    volts, length, steps = 12.0, 150e-6, 500
    step = np.full(steps, length / steps)
    found = form.current(solve_flux(form, volts * step, step, resistance))

    def slope(_, flux):
        return volts - resistance * form.current(flux)

    at = np.linspace(0, length, steps + 1)
    right = solve_ivp(slope, (0, length), [0.0], method="LSODA", rtol=1e-10, atol=1e-14, t_eval=at, max_step=length / 300)
    assert found == pytest.approx(form.current(right.y[0]), abs=1e-4 * float(np.max(found)))


def test_one_iteration_from_nearby_is_exact_to_first_order():
    """The error of the second order: a tenth of the change leaves a hundredth of the error."""
    form, step, errors = FORMS[1], np.full(400, 3e-7), []
    base = solve_flux(form, 12.0 * step, step, 0.05)
    for change in (1e-2, 1e-3):
        whole = solve_flux(form, 12.0 * step, step, 0.05 + change)
        once = solve_flux(form, 12.0 * step, step, 0.05 + change, guess=base, iterations=1)
        errors.append(np.max(np.abs(once - whole)))
    assert errors[1] < 0.02 * errors[0]


def test_an_air_core_above_the_core_itself_is_held_below_half():
    form = form_of("soft", {"ln_zero": np.log(1e-6), "ln_half": 1.0, "ln_steepness": 0.0, "ln_air": np.log(9e-6)})
    assert form.inductance(np.array([1e3]))[0] == pytest.approx(0.45e-6, rel=1e-3)
