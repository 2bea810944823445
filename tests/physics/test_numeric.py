# SPDX-License-Identifier: GPL-3.0-or-later
"""What the physics functions share, against other implementations of the same."""

import numpy as np
import pytest
from scipy.integrate import cumulative_trapezoid
from scipy.optimize import leastsq, nnls, rosen

from heatsim.physics.numeric import least_misfit, not_negative_fit, running_integral


def test_running_integral_is_that_of_scipy_and_exact_for_straight_lines() -> None:
    time = np.array([0.0, 0.1, 0.5, 2.0])
    np.testing.assert_allclose(running_integral(3 * time, time), 1.5 * time**2, rtol=1e-14)
    values = np.random.default_rng(1).normal(size=4)
    assert np.array_equal(running_integral(values, time), cumulative_trapezoid(values, time, initial=0.0))


@pytest.mark.parametrize("seed", range(40))
def test_not_negative_fit_is_that_of_lawson_and_hanson(seed: int) -> None:
    random = np.random.default_rng(seed)
    columns, wanted = random.normal(size=(30, 4)), random.normal(size=30)
    np.testing.assert_allclose(not_negative_fit(columns, wanted), nnls(columns, wanted)[0], rtol=1e-9, atol=1e-12)


def test_not_negative_fit_gives_back_what_was_put_in_and_nothing_where_nothing_fits() -> None:
    columns = np.random.default_rng(5).uniform(0.1, 1.0, (20, 4))
    np.testing.assert_allclose(not_negative_fit(columns, columns @ [0.0, 2.0, 0.0, 0.5]), [0.0, 2.0, 0.0, 0.5], atol=1e-12)
    assert not not_negative_fit(columns, -columns[:, 0]).any()


@pytest.mark.parametrize("seed", range(20))
def test_least_misfit_is_that_of_minpack(seed: int) -> None:
    """A decaying exponential in noise."""
    random, t = np.random.default_rng(seed), np.linspace(0.0, 3.0, 60)
    data = 2.0 * np.exp(-1.5 * t) + 0.05 * random.normal(size=t.size)
    start = np.array([2.0, 1.5]) * random.uniform(0.5, 1.6, 2)
    found = least_misfit(lambda x: x[0] * np.exp(-x[1] * t) - data, start)
    minpack = leastsq(lambda x: x[0] * np.exp(-x[1] * t) - data, start, xtol=1e-12, ftol=1e-12)[0]
    np.testing.assert_allclose(found, minpack, rtol=1e-5)


def test_least_misfit_goes_round_corners() -> None:
    """Rosenbrock's valley, where an undamped step goes astray."""
    found = least_misfit(lambda x: np.array([10.0 * (x[1] - x[0] ** 2), 1.0 - x[0]]), np.array([-1.2, 1.0]))
    assert rosen(found) < 1e-12


def test_least_misfit_stays_where_nothing_can_be_bettered() -> None:
    start = np.array([1.0, 2.0])
    assert np.array_equal(least_misfit(lambda x: np.array([3.0, 4.0]), start), start)
    assert np.array_equal(least_misfit(lambda x: np.full(3, np.nan), start), start)
    assert np.array_equal(least_misfit(lambda x: np.array([x[0] - 1.0, 0.0 * x[1]]), start), start)
