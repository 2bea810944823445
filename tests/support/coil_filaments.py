# SPDX-License-Identifier: GPL-3.0-or-later
"""A coil of tube as thousands of ring filaments that fill its metal, each with its resistance and all mutual inductances.

Independent of the package: none of its functions, another discretisation (the volume of the wall instead of its surface).
Mutual inductance of coaxial rings: Maxwell 1873, art. 701, with SciPy's elliptic integrals; a filament's own inductance from
the geometric mean distance of a rectangle, 0.2235 (a + b) (Grover 1946).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ellipe, ellipk

MU_0 = 4e-7 * np.pi
Array = NDArray[np.float64]


def rings(first: Array, second: Array, apart: Array) -> Array:
    """Mutual inductances [H] of coaxial rings."""
    square = 4 * first * second / ((first + second) ** 2 + apart**2)
    k = np.sqrt(square)
    return np.asarray(MU_0 * np.sqrt(first * second) * ((2 / k - k) * ellipk(square) - 2 / k * ellipe(square)))


def cells(tube: float, wall: float, depth: float, around: int) -> Array:
    """Place across and along [m], area [m2] and sum of the sides [m] of the cells of a tube's section.

    They are about as wide as deep: of flat ones the distance between middles would be a poor mean distance."""
    steps = depth * np.array([0.0, 0.6, 1.3, 2.2, 3.4, 5.0])
    edges = tube / 2 - np.append(steps[steps < wall], wall)
    angle = (np.arange(around) + 0.5) * 2 * np.pi / around
    found = []
    for outer, inner in zip(edges[:-1], edges[1:], strict=True):
        half = np.pi / around
        middle = 2 / 3 * (outer**3 - inner**3) / (outer**2 - inner**2) * np.sin(half) / half
        area, sides = np.pi * (outer**2 - inner**2) / around, outer - inner + half * (outer + inner)
        found.append(np.stack([middle * np.cos(angle), middle * np.sin(angle), 0 * angle + area, 0 * angle + sides], axis=1))
    return np.concatenate(found)


def impedance(
    diameter: float, pitch: float, turns: int, tube: float, wall: float, resistivity: float, frequency: float, around: int = 96
) -> tuple[float, float]:
    """Inductance [H] and resistance [ohm] of the coil, its turns rings in series."""
    cell = cells(tube, wall, np.sqrt(resistivity / np.pi / frequency / MU_0), around)
    radius = np.tile(diameter / 2 + cell[:, 0], turns)
    height = np.repeat(np.arange(turns) * pitch, len(cell)) + np.tile(cell[:, 1], turns)
    own = np.diag(0.2235 * np.tile(cell[:, 3], turns))
    omega = 2 * np.pi * frequency
    matrix = 1j * omega * rings(radius[:, None], radius[None, :], height[:, None] - height[None, :] + own)
    matrix += np.diag(resistivity * 2 * np.pi * radius / np.tile(cell[:, 2], turns))
    member = np.repeat(np.eye(turns), len(cell), axis=0)
    volts = np.linalg.solve(member.T @ np.linalg.solve(matrix, member), np.ones(turns)).sum()
    return float(volts.imag / omega), float(volts.real)
