# SPDX-License-Identifier: GPL-3.0-or-later
"""The wires of a wound ring where a plane across its axis cuts them, in the hole and outside, each cut into filaments.

Independent of the package: none of its functions, no layers, the wires at their places. The ring's own flux changes nothing
(its field is that of the ampere-turns, with or without a core), so filaments of straight wires with logarithmic potential do.
Wires in the hole carry the current one way, those outside the other. Arrangements repeat `fold` times round the ring.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

MU_0 = 4e-7 * np.pi
Array = NDArray[np.float64]


def disc(diameter: float, cells: int) -> tuple[Array, float]:
    """Middles of the square cells that fill a circle, as complex numbers, and the area of one; scaled to the circle's area."""
    side = diameter / cells
    axis = (np.arange(cells) + 0.5) * side - diameter / 2
    place = (axis[:, None] + 1j * axis[None, :]).ravel()
    inside = abs(place) < diameter / 2
    return place[inside], float(np.pi / 4 * diameter**2 / inside.sum())


def resistance_ratios(
    diameter: float,
    hole: Sequence[tuple[int, float]],
    outside: Sequence[tuple[int, float]],
    fold: int,
    depth: float,
    cells: int = 16,
) -> tuple[float, float]:
    """AC over DC resistance, mean over the wires in the hole and over those outside. Layers: number of wires, radius [m]."""
    cell, area = disc(diameter, cells)
    middles, signs = [], []
    for layers, sign in ((hole, 1.0), (outside, -1.0)):
        for number, (wires, radius) in enumerate(layers):
            assert wires % fold == 0
            turned = 2 * np.pi * (np.arange(wires // fold) + 0.25 * number) / wires
            middles += list(radius * np.exp(1j * turned))
            signs += [sign] * (wires // fold)
    wires, n = len(middles), cell.size
    place = (np.array(middles)[:, None] + cell[None, :]).ravel()
    images = np.exp(2j * np.pi * np.arange(fold) / fold)
    far = sum(np.log(abs(place[:, None] - image * place[None, :])) for image in images[1:])
    near = abs(place[:, None] - place[None, :])
    near[np.diag_indices(place.size)] = 0.44705 * np.sqrt(area)  # mean distance of a square from itself (Grover 1946)
    potential = -MU_0 / (2 * np.pi) * (np.log(near) + far)
    resistivity = 1.7e-8
    omega = 2 * resistivity / (MU_0 * depth**2)
    matrix = 1j * omega * potential + np.diag(np.full(place.size, resistivity / area))
    member = np.repeat(np.eye(wires), n, axis=0)
    solved = np.linalg.solve(matrix, member)
    current = solved @ np.linalg.solve(member.T @ solved, np.array(signs, dtype=complex))
    loss = (abs(current.reshape(wires, n)) ** 2).sum(axis=1) * resistivity / area / (resistivity / (np.pi / 4 * diameter**2))
    within = np.array(signs) > 0
    return float(loss[within].mean()), float(loss[~within].mean())
