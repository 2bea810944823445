# SPDX-License-Identifier: GPL-3.0-or-later
"""Least squares with a few unknowns, against MINPACK."""

import numpy as np
import pytest
from scipy.optimize import leastsq, rosen

from heatsim.measures.fitting import least_misfit


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
