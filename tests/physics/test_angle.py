# SPDX-License-Identifier: GPL-3.0-or-later
"""An angle as an equivalent bar, against the diffusion equation over the L-section itself."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from heatsim.errors import InputError
from heatsim.physics.angle import equal_leg_angle
from heatsim.physics.eddy import cylinder_power
from tests.support.book import INDEPENDENT, known


def section_loss(leg: float, thickness: float, delta: float, across: int) -> float:
    """Loss per length of an angle of resistivity 1 in an axial field of 1 at its surface, skin depth delta.

    rho laplace(H) = j w mu H with H = 1 on the boundary (Maxwell's equations, long section; memory), five-point differences;
    loss = Re of the flux of rho grad H through the boundary = w mu Im(-integral of H).
    """
    step = thickness / across
    count = round(leg / step)
    x = (np.arange(count) + 0.5) * step
    metal = (x[:, None] < thickness) | (x[None, :] < thickness)
    number = np.full(metal.shape, -1)
    number[metal] = np.arange(metal.sum())
    rows, columns, values, right = [], [], [], np.zeros(metal.sum(), dtype=complex)
    centre = np.full(metal.sum(), 2j * (step / delta) ** 2)
    for axis in (0, 1):
        for way in (-1, 1):
            shifted = np.full(metal.shape, -1)
            source, target = [slice(None)] * 2, [slice(None)] * 2
            source[axis], target[axis] = (slice(1, None), slice(None, -1)) if way > 0 else (slice(None, -1), slice(1, None))
            shifted[tuple(target)] = number[tuple(source)]
            near = shifted[metal]
            inside = near >= 0
            centre += np.where(inside, 1.0, 2.0)  # half a cell to the boundary
            right += np.where(inside, 0.0, 2.0)
            rows.append(np.flatnonzero(inside))
            columns.append(near[inside])
            values.append(np.full(inside.sum(), -1.0))
    rows.append(np.arange(metal.sum()))
    columns.append(np.arange(metal.sum()))
    matrix = coo_matrix((np.concatenate([*values, centre]), (np.concatenate(rows), np.concatenate(columns)))).tocsc()
    field = spsolve(matrix, right)
    return float(-2.0 / delta**2 * np.sum(field.imag) * step**2)


def test_the_reference_is_that_of_a_thin_skin_where_it_is_thin() -> None:
    """Surface loss 1/delta times the perimeter, less a little in the corners."""
    loss = section_loss(1.0, 0.2, 0.02, 40)
    assert 0.9 < loss * 0.02 / 4.0 < 1.0


WITHIN = [(0.5, 0.37), (1.0, 0.31), (1.5, 0.13), (2.0, 0.07), (3.0, 0.21), (5.0, 0.10), (20.0, 0.03)]
"""Skin depths in the thickness, and how far the loss may be off."""


@pytest.mark.parametrize("slender", [5.0, 10.0])
@pytest.mark.parametrize(
    ("depths", "within"), [(0.5, 0.37), (1.0, 0.31), (1.5, 0.13), (2.0, 0.07), (3.0, 0.21), (5.0, 0.10), (20.0, 0.03)]
)
def test_loss_is_that_of_the_section(slender: float, depths: float, within: float) -> None:
    """depths: skin depths in the thickness. Equal field at the surface, equal frequency and resistivity."""
    leg, thickness = 0.03, 0.03 / slender
    delta = thickness / depths
    frequency, resistivity = 50e3, np.pi * 50e3 * 4e-7 * np.pi * delta**2
    wanted = resistivity * section_loss(leg, thickness, delta, max(12, round(5 * depths)))
    bar = equal_leg_angle(leg, thickness)
    found = cylinder_power(bar.diameter / 2, 1.0, resistivity * bar.diffusion, 1.0, frequency, 1.0)
    what = f"loss of an equal-leg angle, leg over thickness {slender}, {depths} skin depths thick"
    assert found == known(wanted, what, "field in the section, finite differences", INDEPENDENT, unit="W/m", rel=within)


def test_section_and_perimeter() -> None:
    bar = equal_leg_angle(0.03, 0.003)
    assert np.pi * bar.diameter**2 / 4 == pytest.approx(0.003 * 0.057)
    assert np.pi * bar.diameter * np.sqrt(bar.diffusion) == pytest.approx(0.12)
    assert 1.0 < bar.surface < np.sqrt(bar.diffusion)


def test_a_block_is_no_angle() -> None:
    with pytest.raises(InputError, match="too thick for an angle"):
        equal_leg_angle(0.03, 0.015)
