# SPDX-License-Identifier: GPL-3.0-or-later
"""A long cylinder of saturable material in an axial field, integrated in time: finite volumes, implicit steps.

Independent of the package: none of its functions. d B(H)/dt = (1/r) d/dr(r rho dH/dr), H = H0 sin(w t) at the surface; the
material is a table of B over H. Power is what enters through the surface, E x H, over the last of several periods.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

Array = NDArray[np.float64]
MU_0 = 4e-7 * np.pi


def grid(radius: float, first: float, deepest: float, growth: float) -> Array:
    """Edges of the cells [m], from the surface inwards, each wider than the last by a factor, to a depth."""
    edges, width = [radius], first
    while radius - edges[-1] < deepest:
        edges.append(max(edges[-1] - width, 0.0))
        width *= growth
    return np.array(edges[::-1])


def surface_power(
    radius: float,
    resistivity: float,
    frequency: float,
    peak: float,
    differential: Callable[[Array], Array],
    depth: float,
    periods: int = 3,
) -> tuple[float, float]:
    """Mean power a square metre [W/m2] and reactive power likewise [var/m2], of the fundamental.

    differential: dB/dH [H/m] at a field [A/m]; depth: a typical skin depth [m], by which the grid is made
    """
    edges = grid(radius, depth / 15, min(radius, 10 * depth), 1.06)
    middle = (edges[1:] + edges[:-1]) / 2
    volume = (edges[1:] ** 2 - edges[:-1] ** 2) / 2
    omega = 2 * np.pi * frequency
    inner = edges[1:-1] / np.diff(middle)
    last = edges[-1] / (edges[-1] - middle[-1])

    def flow(time: float, field: Array) -> Array:
        flux = np.concatenate([[0.0], inner * np.diff(field), [last * (peak * np.sin(omega * time) - field[-1])]])
        return np.asarray(resistivity * np.diff(flux) / volume / differential(field))

    n = middle.size
    end = periods / frequency
    times = end - np.arange(800, -1, -1) / (800 * frequency)
    band = np.eye(n) + np.eye(n, k=1) + np.eye(n, k=-1)
    with np.errstate(invalid="ignore"):  # SciPy's BDF subtracts a difference that is not set yet and is never used: numpy.empty
        found = solve_ivp(
            flow, (0, end), np.zeros(n), method="BDF", t_eval=times, rtol=1e-4, atol=peak * 1e-5, jac_sparsity=band,
            max_step=1 / (100 * frequency),
        )  # fmt: skip
    assert found.success and np.isfinite(found.y).all()
    electric = resistivity * last / edges[-1] * (peak * np.sin(omega * times) - found.y[-1])
    sine, cosine = np.sin(omega * times[:-1]), np.cos(omega * times[:-1])
    return float(peak * np.mean(electric[:-1] * sine)), float(peak * np.mean(electric[:-1] * cosine))
