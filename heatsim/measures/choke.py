# SPDX-License-Identifier: GPL-3.0-or-later
"""A feed choke at work: current, flux swing, and what is left of its inductance at the worst instant."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from heatsim.waves import Array

Inductance = Callable[[Array], Array]
"""Differential inductance [H] at currents [A], as a part's model gives it."""

POINTS = 61
"""Points along a trajectory at which its slope is taken."""

REACH = 0.08
"""Half width of the stretch fitted round each point, as a share of the whole trajectory."""

FEWEST = 12
"""Samples each such stretch must hold; it is widened where they are rare."""

RIPPLE_FLOOR = 1e-3
"""Excursion, as a share of the largest current, below which a slope says nothing."""


def least_inductance(current: Array, inductance: Inductance) -> float:
    """Smallest differential inductance [H] of a part's model over the currents [A] passed through, shape (n,)."""
    passed = np.linspace(float(np.min(current)), float(np.max(current)), 257)
    return float(np.min(inductance(passed)))


def trajectory_inductance(current: Array, flux: Array) -> tuple[Array, Array] | None:
    """Differential inductance along the flux-current trajectory: currents [A] and d(flux)/di [H], shape (POINTS,).

    current [A], flux [Wb], shape (n,), over whole periods, in any order of time. Both are scaled to run from 0 to 1,
    i' and y', and u = i' + y' serves as the length along the curve: it advances where the curve is steep as well as
    where it is flat, so that neither the straight part nor the spike of a saturating choke is lost. Round each point
    a parabola i'(u) is fitted to the samples within REACH of the length, weighted towards the point; its slope w
    gives

        L = (flux span/current span) * (1 - w)/w

    Where the way up and the way down differ (core loss), the result is the slope of the middle of the loop. Tested:
    within 1 % of L0 for soft and for gapped curves sampled 200 times a period. None when the current hardly moves.
    """
    spans = np.ptp(current), np.ptp(flux)
    if not spans[0] > RIPPLE_FLOOR * np.max(np.abs(current)) or not spans[1] > 0 or current.size < FEWEST:
        return None
    across, up = (current - np.min(current)) / spans[0], (flux - np.min(flux)) / spans[1]
    order = np.argsort(across + up)
    length, across = (across + up)[order], across[order]
    points = np.linspace(length[0], length[-1], POINTS)
    fits = np.array([_local_slope(length, across, float(point)) for point in points])
    slope = np.clip(fits[:, 1], 1e-9, 1.0 - 1e-9)
    return np.min(current) + fits[:, 0] * spans[0], spans[1] / spans[0] * (1.0 - slope) / slope


def _local_slope(length: Array, across: Array, point: float) -> tuple[float, float]:
    """Value and slope at `point` of a weighted parabola through across(length); length rises."""
    middle = int(np.searchsorted(length, point))
    low, high = max(middle - FEWEST // 2, 0), min(middle + FEWEST // 2, length.size - 1)
    reach = max(REACH * float(length[-1] - length[0]), 1.01 * float(max(point - length[low], length[high] - point)))
    first, last = np.searchsorted(length, (point - reach, point + reach))
    off = (length[first:last] - point) / reach
    weight = (1.0 - np.abs(off) ** 3) ** 1.5  # square root of the tricube weight of local regression
    design = np.column_stack((weight, weight * off, weight * off**2))
    value, slope, _ = np.linalg.lstsq(design, weight * across[first:last], rcond=None)[0]
    return float(value), float(slope / reach)


def least_trajectory_inductance(current: Array, flux: Array) -> float | None:
    """Smallest value of `trajectory_inductance` [H], or None. Noise makes it come out low rather than high."""
    found = trajectory_inductance(current, flux)
    return None if found is None else float(np.min(found[1]))
