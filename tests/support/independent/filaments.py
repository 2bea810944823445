# SPDX-License-Identifier: GPL-3.0-or-later
"""A non-magnetic bar in a coil as coaxial rings: Kirchhoff's and Faraday's laws for filaments of finite section.

The section of the bar is cut into rectangles in r and z, finer towards its surfaces, each with an even current density. Mutual
inductances are Maxwell's of coaxial loops (Treatise, 1873, art. 701) between the centres, in which the distance of near rings
becomes the geometric mean distance of the rectangles; the turns of the coil are loops. (R + j w L) i = -j w M I.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ellipe, ellipkm1

Array = NDArray[np.float64]
MU_0 = 4e-7 * np.pi


@dataclass(frozen=True)
class Bar:
    """Radius, length and place of the middle [m] and resistivity [ohm m] of a bar; rise: its upper half's over its lower's."""

    radius: float
    length: float
    offset: float
    resistivity: float
    rise: float = 1.0


def loops(a: Array, b: Array, gap: Array) -> Array:
    """Mutual inductance [H] of coaxial loops."""
    far = (a + b) ** 2 + gap**2
    k_square = 4 * a * b / far
    k = np.sqrt(k_square)
    return MU_0 * np.sqrt(a * b) * ((2 / k - k) * ellipkm1(((a - b) ** 2 + gap**2) / far) - 2 / k * ellipe(k_square))


def graded(start: float, end: float, count: int, first: float, both: bool) -> Array:
    """Edges, the last (and if `both` the first) cell `first` wide or less, growing away by a constant factor."""
    if both:
        half = graded(0.0, (end - start) / 2, (count + 1) // 2, first, False)
        return np.concatenate([start + half[-1] - half[::-1], end - half[-1] + half[1:]])
    low, high = 1.0, 20.0
    for _ in range(100):
        factor = (low + high) / 2
        low, high = (factor, high) if first * np.sum(factor ** np.arange(count)) < end - start else (low, factor)
    widths = low ** np.arange(count)[::-1]
    return start + np.concatenate([[0.0], np.cumsum(widths)]) * (end - start) / widths.sum()


def _corner(u: Array, v: Array) -> Array:
    """Antiderivative of ln sqrt(u^2 + v^2) over both."""
    square = np.maximum(u * u + v * v, 1e-300)
    with np.errstate(divide="ignore", invalid="ignore"):
        first, second = np.nan_to_num(np.arctan(v / u)), np.nan_to_num(np.arctan(u / v))
    return 0.5 * (u * v * (np.log(square) - 3) + u * u * first + v * v * second)


def _log_distance(x: Array, y: Array, width: Array, height: Array) -> Array:
    """Mean of ln(distance) from a point to a rectangle whose middle is x, y away."""
    left, right, low, high = x - width / 2, x + width / 2, y - height / 2, y + height / 2
    return (_corner(right, high) - _corner(left, high) - _corner(right, low) + _corner(left, low)) / (width * height)


def ring_inductances(r: Array, z: Array, width: Array, height: Array) -> Array:
    """Inductance matrix [H] of rings with rectangular sections."""
    x, y = r[:, None] - r[None, :], z[:, None] - z[None, :]
    distance = np.hypot(x, y)
    own = distance == 0
    distance[own] = 0.2235 * (width + height)
    found = loops(r[:, None], r[None, :], np.where(own, distance, y))
    mean = _log_distance(x, y, np.broadcast_to(width, x.shape), np.broadcast_to(height, x.shape))
    mean[own] = np.log(distance[own])
    near = distance < 4 * (np.maximum(width, height)[:, None] + np.maximum(width, height)[None, :])
    correction = MU_0 * np.sqrt(r[:, None] * r[None, :]) * np.where(near, np.log(distance) - mean, 0.0)
    return found + (correction + correction.T) / 2


def between(edges: Array | None, places: Array, heat: Array) -> Array:
    """Heat between `edges`, all of it if these are none, from that of cells between `places`, even in each."""
    total = np.concatenate([[0.0], np.cumsum(heat)])
    return np.diff(np.interp(edges, places, total)) if edges is not None else total[-1:]


def turns_of(coil: tuple[float, float, float]) -> Array:
    """Places of the turns [m] of a coil (diameter, length, turns)."""
    turns = round(coil[2])
    return ((np.arange(turns) + 0.5) / turns - 0.5) * coil[1]


def bar_in_turns(
    coil: tuple[float, float, float], bar: Bar, frequency: float, cells: tuple[int, int] = (14, 48), edges: Array | None = None
) -> tuple[complex, Array]:
    """Added impedance [ohm], and power in each slice between `edges` [m] for an amplitude of one ampere [W]."""
    depth = np.sqrt(bar.resistivity / (np.pi * frequency * MU_0))
    across = graded(0.0, bar.radius, cells[0], min(depth / 4, bar.radius / cells[0]), False)
    along = graded(bar.offset - bar.length / 2, bar.offset + bar.length / 2, cells[1], min(depth / 2, bar.length / cells[1]), True)
    r, z = (grid.ravel() for grid in np.meshgrid((across[1:] + across[:-1]) / 2, (along[1:] + along[:-1]) / 2, indexing="ij"))
    width, height = (grid.ravel() for grid in np.meshgrid(np.diff(across), np.diff(along), indexing="ij"))
    to_coil = np.sum(loops(r[:, None], np.array(coil[0] / 2), z[:, None] - turns_of(coil)), axis=1)
    resistivity = bar.resistivity * np.where(z > bar.offset, bar.rise, 1.0)
    resistance, omega = 2 * np.pi * r * resistivity / (width * height), 2 * np.pi * frequency
    system = np.diag(resistance) + 1j * omega * ring_inductances(r, z, width, height)
    current = np.linalg.solve(system, -1j * omega * to_coil)
    power = np.abs(current) ** 2 * resistance / 2
    return complex(1j * omega * (to_coil @ current)), between(edges, along, power.reshape(cells[0], -1).sum(axis=0))
