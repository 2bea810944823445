# SPDX-License-Identifier: GPL-3.0-or-later
"""Layers of round wires in a row without end, each wire cut into filaments: what eddy currents and neighbours do to resistance.

Independent of the package: none of its functions. Filaments of endless rows of period p have the vector potential of a row of
line currents, A = -mu0 I/(4 pi) ln(2 cosh(2 pi y/p) - 2 cos(2 pi x/p)) (Lamb, Hydrodynamics, art. 156, a row of vortices).
Above the row the field is that of a core or of empty space, as the field on both sides is prescribed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

MU_0 = 4e-7 * np.pi
Array = NDArray[np.float64]


def disc(diameter: float, cells: int) -> tuple[Array, Array, float]:
    """Middles of the square cells that fill a circle, scaled to its area, and the area of one."""
    side = diameter / cells
    axis = (np.arange(cells) + 0.5) * side - diameter / 2
    x, y = np.meshgrid(axis, axis)
    inside = np.hypot(x, y) < diameter / 2
    area = np.pi / 4 * diameter**2 / inside.sum()
    return x[inside], y[inside], area


def resistance_ratio(
    diameter: float, pitch: float, layers: int, depth: float, spacing: float, start: float = 0.0, cells: int = 22
) -> float:
    """AC over DC resistance of `layers` layers, spacing apart, all wires with the same current; the field beyond the first layer
    is `start` times the one that all layers make together, beyond the last it is that plus their own."""
    x, y, area = disc(diameter, cells)
    n = x.size
    x, y = np.tile(x, layers), np.tile(y, layers) + np.repeat(np.arange(layers) * spacing, n)
    dx, dy = 2 * np.pi * (x[:, None] - x[None, :]) / pitch, 2 * np.pi * (y[:, None] - y[None, :]) / pitch
    near = np.eye(x.size, dtype=bool)
    row = 2 * np.cosh(dy) - 2 * np.cos(dx)
    gmd = 0.44705 * np.sqrt(area)  # of a square of this area from itself (Grover 1946)
    row[near] = (2 * np.pi * gmd / pitch) ** 2
    potential = -MU_0 / (4 * np.pi) * np.log(row)
    resistivity = 1.7e-8
    omega = 2 * resistivity / (MU_0 * depth**2)
    matrix = 1j * omega * potential + resistivity / area * near
    total = layers * (0.5 + start) / pitch  # applied field [A/m] for one ampere a wire: half the layers' own, and what was there
    drive = -1j * omega * MU_0 * total * y
    member = np.repeat(np.eye(layers), n, axis=0)
    both = np.linalg.solve(matrix, np.column_stack([member, drive]))
    volts = np.linalg.solve(member.T @ both[:, :layers], np.ones(layers) - member.T @ both[:, layers])
    current = both[:, :layers] @ volts + both[:, layers]
    loss = resistivity / area * np.sum(np.abs(current) ** 2)
    return float(loss / (layers * resistivity / (np.pi / 4 * diameter**2)))
