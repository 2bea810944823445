# SPDX-License-Identifier: GPL-3.0-or-later
"""The fit to readings on models whose answer is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.studies.match.readings.fit import NotFitted, chance, cost_of, fit, gain, left_out, posterior

SLOPES = np.array([[1.0, 0.0, 0.2], [0.5, 2.0, 0.0]])
DEVIATIONS = np.array([0.1, 0.4])
VALUES = np.array([0.7, -1.1])


def linear(t: np.ndarray) -> np.ndarray:
    return SLOPES @ t


def test_a_linear_model_is_fitted_as_bayes_says() -> None:
    """Conditional mean of a joint normal law: J^T (S + J J^T)^-1 y, cost y^T (S + J J^T)^-1 y."""
    found = fit(linear, lambda t: SLOPES, VALUES, DEVIATIONS, np.zeros(3))
    joint = np.diag(DEVIATIONS**2) + SLOPES @ SLOPES.T
    assert found.at_rest and found.unknowns == pytest.approx(SLOPES.T @ np.linalg.solve(joint, VALUES), abs=1e-9)
    assert found.cost == pytest.approx(VALUES @ np.linalg.solve(joint, VALUES))
    expected = np.eye(3) - SLOPES.T @ np.linalg.solve(joint, SLOPES)
    assert found.covariance == pytest.approx(expected, abs=1e-9)


def test_a_curved_model_comes_to_the_minimum() -> None:
    """Against a scan of the cost."""

    def curved(t: np.ndarray) -> np.ndarray:
        return np.array([np.exp(1.2 * t[0])])

    def slopes(t: np.ndarray) -> np.ndarray:
        return np.array([[1.2 * np.exp(1.2 * t[0])]])

    values, deviations = np.array([6.0]), np.array([0.3])
    found = fit(curved, slopes, values, deviations, np.zeros(1))
    grid = np.linspace(-1, 3, 40001)
    costs = ((values - np.exp(1.2 * grid)) / deviations) ** 2 + grid**2
    assert found.at_rest and found.unknowns[0] == pytest.approx(grid[np.argmin(costs)], abs=0.2 * np.sqrt(found.covariance[0, 0]))
    assert found.cost == pytest.approx(costs.min(), abs=0.05)


def test_where_there_is_no_steady_state_the_step_is_shortened() -> None:
    def bounded(t: np.ndarray) -> np.ndarray | None:
        return None if t[0] > 1.0 else 3 * t

    found = fit(bounded, lambda t: 3 * np.eye(1), np.array([2.7]), np.array([0.1]), np.zeros(1))
    assert found.unknowns[0] == pytest.approx(0.9, abs=0.01)
    with pytest.raises(NotFitted):
        fit(bounded, lambda t: np.eye(1), np.ones(1), np.ones(1), np.array([2.0]))


def test_a_minimum_that_cannot_be_reached_is_not_at_rest() -> None:
    def bounded(t: np.ndarray) -> np.ndarray | None:
        return None if t[0] > 0.5 else 3 * t

    assert not fit(bounded, lambda t: 3 * np.eye(1), np.array([6.0]), np.array([0.1]), np.zeros(1)).at_rest


def test_the_cost_follows_the_chi_square_law() -> None:
    """Readings drawn from the prior and the meters: one in ten is further off than its tenth, within four standard deviations of
    that count."""
    generator = np.random.default_rng(3)
    count, below = 600, 0
    for _ in range(count):
        values = SLOPES @ generator.normal(size=3) + DEVIATIONS * generator.normal(size=2)
        below += chance(fit(linear, lambda t: SLOPES, values, DEVIATIONS, np.zeros(3)).cost, 2) < 0.1
    assert abs(below - 0.1 * count) < 4 * np.sqrt(0.1 * 0.9 * count)


def test_a_reading_is_held_against_what_the_others_lead_to_expect() -> None:
    """Prediction of each from the others by the joint normal law, worked out one by one."""
    slopes, deviations = np.vstack([SLOPES, [[0.3, -1.0, 0.5]]]), np.array([0.1, 0.4, 0.2])
    values = np.array([0.7, -1.1, 2.5])
    found = fit(lambda t: slopes @ t, lambda t: slopes, values, deviations, np.zeros(3))
    joint = np.diag(deviations**2) + slopes @ slopes.T
    for k in range(3):
        rest = [i for i in range(3) if i != k]
        weights = np.linalg.solve(joint[np.ix_(rest, rest)], joint[rest, k])
        expected = (values[k] - weights @ values[rest]) / np.sqrt(joint[k, k] - weights @ joint[rest, k])
        assert left_out(found, values, deviations)[k] == pytest.approx(expected)


def test_the_gain_of_a_reading_is_what_it_turns_out_to_narrow() -> None:
    """Posterior with the reading among the others against the one without."""
    further = np.array([0.4, 0.1, 1.0])
    before, which = posterior(SLOPES, DEVIATIONS), np.array([0, 2])
    after = posterior(np.vstack([SLOPES, further]), np.append(DEVIATIONS, 0.3))
    ratio = np.linalg.det(after[np.ix_(which, which)]) / np.linalg.det(before[np.ix_(which, which)])
    assert gain(before, further, 0.3, which) == pytest.approx(1 - ratio ** (1 / 4))
    assert gain(before, np.zeros(3), 0.3, which) == pytest.approx(0.0, abs=1e-12)


def test_the_cost_counts_readings_and_unknowns() -> None:
    assert cost_of(np.array([1.0, 2.0]), np.array([1.0]), np.array([4.0]), np.array([1.5])) == pytest.approx(4 + 5)
