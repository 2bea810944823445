# SPDX-License-Identifier: GPL-3.0-or-later
"""The fit of a heater to readings: Gauss-Newton on simulated steady states, with the ordinary spread of the parts as the prior.

With unknowns t of a standard normal law beforehand, readings y of covariance S and what the simulator says, m(t), the fit is the
minimum of

    (y - m)^T S^-1 (y - m) + t^T t

(maximum a posteriori; A. Tarantola, Inverse Problem Theory, SIAM 2005, 3.2; memory). The slopes J of m are taken by differences at
the start and again where the fit comes to rest; between, Broyden's rule carries them on. The posterior covariance is
(1 + J^T S^-1 J)^-1. Where the file is right the minimum follows the chi-square law with as many degrees of freedom as readings.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from heatsim.waves import Array

Simulate = Callable[[Array], Array | None]
"""What the readings would be at unknowns t; None where the heater has no steady state."""

Slopes = Callable[[Array], Array]
"""Their derivatives at unknowns t where `Simulate` was asked last, shape (readings, unknowns)."""

ROUNDS = 24
AT_REST, NEARLY = 0.2, 0.5
"""Length of a step in posterior standard deviations below which the fit is at rest, and below which it counts as so where the cost
cannot be made less: simulated readings are themselves off by a tenth of a meter's error."""

LONGEST = 2.0
"""Longest step of one unknown, in standard deviations of the prior."""

HALVINGS = 4


class NotFitted(Exception):
    """No heater near the scenario's can be simulated; the text says why."""


@dataclass(frozen=True)
class Fitted:
    """A fit.

    unknowns: t, in standard deviations of the prior
    slopes: J there, shape (readings, unknowns)
    predicted: what the readings would be
    covariance: of t
    cost: the minimum
    at_rest: whether the fit came to rest
    """

    unknowns: Array
    slopes: Array
    predicted: Array
    covariance: Array
    cost: float
    at_rest: bool


def posterior(slopes: Array, deviations: Array) -> Array:
    """Covariance of the unknowns; slopes: shape (readings, unknowns); deviations: of the readings."""
    scaled = slopes / deviations[:, None]
    return np.asarray(np.linalg.inv(np.eye(slopes.shape[1]) + scaled.T @ scaled))


def cost_of(t: Array, predicted: Array, values: Array, deviations: Array) -> float:
    """What the fit makes least."""
    return float(np.sum(((values - predicted) / deviations) ** 2) + t @ t)


def fit(simulate: Simulate, slopes_at: Slopes, values: Array, deviations: Array, start: Array) -> Fitted:
    """The fit from a start. Raises NotFitted where that cannot be simulated."""
    predicted = simulate(start)
    if predicted is None:
        raise NotFitted("the heater at which the fit was to begin has no steady state")
    t, slopes, fresh, at_rest = start, slopes_at(start), True, False
    for _ in range(ROUNDS):
        covariance = posterior(slopes, deviations)
        step = covariance @ (slopes.T @ ((values - predicted) / deviations**2) - t)
        length = float(np.sqrt(step @ np.linalg.solve(covariance, step)))
        moved = None if length < AT_REST else _moved(simulate, t, step, predicted, values, deviations)
        if moved is None:
            if fresh:
                at_rest = length < NEARLY
                break
            simulate(t)
            slopes, fresh = slopes_at(t), True
            continue
        there, found = moved
        way = there - t
        slopes = slopes + np.outer(found - predicted - slopes @ way, way) / (way @ way)
        t, predicted, fresh = there, found, False
    if not fresh:
        simulate(t)
        slopes = slopes_at(t)
    cost = cost_of(t, predicted, values, deviations)
    return Fitted(t, slopes, predicted, posterior(slopes, deviations), cost, at_rest)


def _moved(
    simulate: Simulate, t: Array, step: Array, predicted: Array, values: Array, deviations: Array
) -> tuple[Array, Array] | None:
    """Where the cost is less along a step, and the readings there; None if nowhere."""
    step = step * min(1.0, LONGEST / float(np.max(np.abs(step))))
    before = cost_of(t, predicted, values, deviations)
    for _ in range(HALVINGS):
        there = t + step
        found = simulate(there)
        if found is not None and cost_of(there, found, values, deviations) < before:
            return there, found
        step = step / 3
    return None


def chance(cost: float, readings: int) -> float:
    """Probability that a heater of the file gives readings as far off as these or further."""
    from scipy.stats import chi2

    return float(chi2.sf(cost, readings))


def left_out(fitted: Fitted, values: Array, deviations: Array) -> Array:
    """How far each reading is from what all others and the file lead to expect, in standard deviations of that difference.

    (C^-1 d)_i / sqrt((C^-1)_ii), d: readings less the prediction before the fit, C: its covariance S + J J^T; the leave-one-out
    residual of linear regression (R. D. Cook, S. Weisberg, Residuals and Influence in Regression, 1982; memory).
    """
    inverse = np.linalg.inv(np.diag(deviations**2) + fitted.slopes @ fitted.slopes.T)
    departure = values - fitted.predicted + fitted.slopes @ fitted.unknowns
    return np.asarray(inverse @ departure / np.sqrt(np.diag(inverse)))


def with_reading(covariance: Array, slopes: Array, deviation: float) -> Array:
    """Covariance of the unknowns once a further reading is taken; slopes: of that reading, shape (unknowns,)."""
    seen = covariance @ slopes
    return np.asarray(covariance - np.outer(seen, seen) / (deviation**2 + float(slopes @ seen)))


def gain(covariance: Array, slopes: Array, deviation: float, which: Array) -> float:
    """By what share a further reading narrows the unknowns that matter: their joint spread (the root of the determinant of their
    covariance, per unknown) is expected to shrink by it, 0 to 1.

    slopes: of that reading, shape (unknowns,); deviation: its own; which: places of the unknowns that matter
    """
    after = with_reading(covariance, slopes, deviation)
    old, new = (np.linalg.slogdet(each[np.ix_(which, which)])[1] for each in (covariance, after))
    return float(1 - np.exp(0.5 * (new - old) / len(which)))
