# SPDX-License-Identifier: GPL-3.0-or-later
"""What the physics functions share, against another implementation of the same."""

import numpy as np
from scipy.integrate import cumulative_trapezoid

from heatsim.physics.numeric import running_integral


def test_running_integral_is_that_of_scipy_and_exact_for_straight_lines() -> None:
    time = np.array([0.0, 0.1, 0.5, 2.0])
    np.testing.assert_allclose(running_integral(3 * time, time), 1.5 * time**2, rtol=1e-14)
    values = np.random.default_rng(1).normal(size=4)
    assert np.array_equal(running_integral(values, time), cumulative_trapezoid(values, time, initial=0.0))
