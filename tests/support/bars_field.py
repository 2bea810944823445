# SPDX-License-Identifier: GPL-3.0-or-later
"""Two equal bars of perfect conductor as go and return, in the plane: current on their surfaces by the boundary element method.

The vector potential of a line current is -(mu0/2pi) I ln r; on each bar it is the same everywhere. Panels of constant current,
whose integral of ln r is known, are matched at their middles. Loop inductance per length is twice the potential over the current;
the surface loss per length is Rs times the integral of the squared current per width.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
MU_0 = 4e-7 * np.pi


def surface_currents(width: float, thickness: float, spacing: float, panels: int = 80) -> tuple[float, float]:
    """Loop inductance per length [H/m], and the resistance of one bar per length over that of a strip of its width, Rs/w [1]."""
    start, stop = _outline(width, thickness, panels)
    lift = np.array([0.0, (spacing + thickness) / 2])
    start, stop = start + lift, stop + lift
    middle, mirror = (start + stop) / 2, np.array([1.0, -1.0])
    potential = _potential(middle, start, stop) - _potential(middle, start * mirror, stop * mirror)
    current = np.linalg.solve(potential, np.ones(len(middle)))
    length = np.hypot(*(stop - start).T)
    whole = float(current.sum())
    return MU_0 / np.pi / whole, float((current**2 / length).sum()) / whole**2 * width


def _outline(width: float, thickness: float, panels: int) -> tuple[Array, Array]:
    """Ends of the panels round a bar about the origin, short ones at the edges."""
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)]) * np.array([width, thickness]) / 2
    points = []
    for side, (one, other) in enumerate(zip(corners[:-1], corners[1:], strict=True)):
        count = panels if side % 2 == 0 else panels // 2
        points.append(one + (other - one) * ((1 - np.cos(np.linspace(0, np.pi, count + 1))) / 2)[:-1, None])
    whole = np.vstack([*points, corners[:1]])
    return whole[:-1], whole[1:]


def _potential(at: Array, start: Array, stop: Array) -> Array:
    """-ln r averaged over each panel, seen from each point, shape (points, panels)."""
    along = stop - start
    length = np.hypot(*along.T)
    unit = along / length[:, None]
    away = at[:, None, :] - start[None]
    x = (away * unit).sum(axis=-1)
    y = away[..., 1] * unit[:, 0] - away[..., 0] * unit[:, 1]

    def integral(x: Array) -> Array:
        flat = np.abs(y) < 1e-14
        turn = np.where(flat, 0.0, y * np.arctan(x / np.where(flat, 1.0, y)))
        return x * np.log(np.maximum(np.hypot(x, y), 1e-300)) - x + turn

    return np.asarray(-(integral(x) - integral(x - length)) / length)
