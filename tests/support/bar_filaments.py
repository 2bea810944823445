# SPDX-License-Identifier: GPL-3.0-or-later
"""Resistance of a lone straight bar at a frequency, from filaments: an independent solution of the same field.

The section is cut into rectangles, finer towards its surface, each with an even current density. E = rho J + j w A, with A from
the mean of -mu0/(2 pi) ln r over each rectangle (exact integral), is the same over the section. Symmetric about both axes.
"""

from __future__ import annotations

import numpy as np

MU_0, RHO = 4e-7 * np.pi, 1.72e-8


def _edges(count: int, half: float, first: float) -> np.ndarray:
    """From the middle to a surface, the last cell `first` wide or less, growing inwards by a constant factor."""
    if count * first >= half:
        return np.linspace(0.0, half, count + 1)
    low, high = 1.0 + 1e-9, 10.0
    for _ in range(200):
        middle = (low + high) / 2
        total = first * (middle**count - 1) / (middle - 1)
        low, high = (middle, high) if total < half else (low, middle)
    steps = first * low ** np.arange(count)
    return np.concatenate(([0.0], np.cumsum(steps[::-1]) * half / steps.sum()))


def _integral(u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Antiderivative of ln r over both coordinates."""
    square = np.maximum(u * u + v * v, 1e-300)
    across = np.arctan2(v, np.where(u == 0, 1e-300, u)), np.arctan2(u, np.where(v == 0, 1e-300, v))
    return 0.5 * (u * v * (np.log(square) - 3) + u * u * _odd(across[0]) + v * v * _odd(across[1]))


def _odd(angle: np.ndarray) -> np.ndarray:
    """arctan of a quotient from arctan2 of its parts."""
    return np.where(angle > np.pi / 2, angle - np.pi, np.where(angle < -np.pi / 2, angle + np.pi, angle))


def bar_ratio(width: float, thickness: float, delta: float, cells: tuple[int, int] = (26, 14)) -> float:
    """AC over DC resistance."""
    omega = 2 * RHO / (MU_0 * delta**2)
    first = min(delta / 5, thickness / 4)
    along, across = (
        _edges(count, half, min(first, half / count)) for count, half in zip(cells, (width / 2, thickness / 2), strict=True)
    )
    x, y = (grid.ravel() for grid in np.meshgrid(*((each[1:] + each[:-1]) / 2 for each in (along, across)), indexing="ij"))
    a, b = (grid.ravel() for grid in np.meshgrid(np.diff(along), np.diff(across), indexing="ij"))
    mean = np.zeros((x.size, x.size))
    for sx in (1, -1):
        for sy in (1, -1):
            left, right = x[:, None] - sx * x - a / 2, x[:, None] - sx * x + a / 2
            low, high = y[:, None] - sy * y - b / 2, y[:, None] - sy * y + b / 2
            mean += (_integral(right, high) - _integral(left, high) - _integral(right, low) + _integral(left, low)) / (a * b)
    system = RHO * np.eye(x.size) - 1j * omega * MU_0 / (2 * np.pi) * mean * (a * b)
    density = np.linalg.solve(system, np.ones(x.size))
    total = 4 * np.sum(density * a * b)
    loss = 4 * np.sum(RHO * np.abs(density) ** 2 * a * b) / np.abs(total) ** 2
    return float(loss * width * thickness / RHO)
