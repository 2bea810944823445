# SPDX-License-Identifier: GPL-3.0-or-later
"""What the physics functions share, against other implementations of the same."""

import numpy as np
import pytest
from scipy.integrate import cumulative_trapezoid
from scipy.optimize import nnls

from heatsim.physics.numeric import not_negative_fit, running_integral


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
