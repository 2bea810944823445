# SPDX-License-Identifier: GPL-3.0-or-later
"""Least squares with a few unknowns. scipy.optimize has them too, but takes longer to load than a case takes to be judged."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from heatsim.waves import Array

STEPS = 100
"""Of a fit, at most."""

Misfit: TypeAlias = Callable[[Array], Array]
"""What is left of the data beside a model, of the model's unknowns."""


def least_misfit(misfit: Misfit, start: Array, tolerance: float = 1e-12) -> Array:
    """The few unknowns at which a sum of squares is least, from a start that is near.

    misfit: of the unknowns, shape (n,) in any unit; start: shape (k,)
    tolerance: relative change of the unknowns, and of the sum, below which it ends

    Gauss-Newton steps, damped until they better the sum. Source: D. W. Marquardt, J. SIAM 11, 1963, p. 431.
    """
    x, damping = np.asarray(start, dtype=float), 1e-3
    left = misfit(x)
    for _ in range(STEPS):
        shifts = 1.5e-8 * np.maximum(np.abs(x), 1e-8)
        slopes = np.column_stack([(misfit(x + shift) - left) / size for shift, size in zip(np.diag(shifts), shifts, strict=True)])
        found = _damped_step(misfit, x, left, slopes, damping)
        if found is None:
            return x
        step, after, damping = found
        gained, x, left = 1.0 - float(after @ after) / float(left @ left), x + step, after
        if gained <= tolerance or np.linalg.norm(step) <= tolerance * np.linalg.norm(x):
            return x
    return x


def _damped_step(misfit: Misfit, x: Array, left: Array, slopes: Array, damping: float) -> tuple[Array, Array, float] | None:
    """A step that betters the sum of squares, the misfit after it, and the damping of the next; None where there is none."""
    normal, pull = slopes.T @ slopes, slopes.T @ left
    scale = np.diag(np.maximum(np.diag(normal), 1e-12 * np.max(normal)))
    while damping < 1e12 and pull.any():
        step = np.asarray(-np.linalg.solve(normal + damping * scale, pull), dtype=np.float64)
        after = misfit(x + step)
        if float(after @ after) < float(left @ left):
            return step, after, max(damping / 10.0, 1e-12)
        damping *= 10.0
    return None
