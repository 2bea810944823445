# SPDX-License-Identifier: GPL-3.0-or-later
"""Shells and slices: volumes and areas of the solid, and conduction paths in series."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.physics.bar_field import radial_edges
from heatsim.physics.cylinder_grid import CylinderGrid

AXIAL = np.array([0.0, 0.01, 0.03, 0.08])


@pytest.mark.parametrize("bore", [0.0, 0.004])
def test_volumes_and_areas_are_those_of_the_solid(bore: float) -> None:
    grid = CylinderGrid(radial_edges(0.01, bore, 1e-4, 20), AXIAL)
    section = math.pi * (0.01**2 - bore**2)
    assert grid.volumes.shape == grid.shape == (3, 20)
    assert grid.volumes.sum() == pytest.approx(section * 0.08, rel=1e-12)
    assert grid.end_areas.sum() == pytest.approx(section, rel=1e-12)
    assert grid.mantle_areas.sum() == pytest.approx(2.0 * math.pi * 0.01 * 0.08, rel=1e-12)
    assert grid.bore_areas.sum() == pytest.approx(2.0 * math.pi * bore * 0.08, rel=1e-12)


@pytest.mark.parametrize("slices", [2, 40])
def test_paths_in_series_are_those_of_one_tube_and_one_rod(slices: int) -> None:
    """ln(r2/r1)/(2 pi L) from middle to middle of the outer shells, and length over area; whichever way cells are numbered."""
    grid = CylinderGrid(radial_edges(0.01, 0.004, 1e-3, 5), np.linspace(0.0, 0.08, slices + 1))
    mesh, along_axis = grid.mesh, np.zeros(slices * 5, dtype=int)
    along_axis[mesh.number] = np.arange(slices)[:, None]
    both = mesh.first_resistance + mesh.second_resistance
    same = along_axis[mesh.first] == along_axis[mesh.second]
    through = np.log(grid.middles[-1] / grid.middles[0]) / (2.0 * math.pi * 0.08 / slices)
    assert both[same].sum() == pytest.approx(slices * through, rel=1e-12)
    rods = 0.08 * (1.0 - 1.0 / slices) / grid.end_areas
    assert both[~same].sum() == pytest.approx(rods.sum(), rel=1e-12)
    assert mesh.band == min(grid.shape) and np.abs(mesh.first - mesh.second).max() <= mesh.band


def test_the_ends_of_a_long_bar_are_closed() -> None:
    grid = CylinderGrid(np.array([0.0, 0.005, 0.01]), np.array([0.0, 0.1]))
    assert grid.mesh.areas.sum() == pytest.approx(grid.mantle_areas[0], rel=1e-12)


@pytest.mark.parametrize(
    "radial, axial", [([0.0, 0.01, 0.01], AXIAL), ([-0.001, 0.01], AXIAL), ([0.0, 0.01], [0.0]), ([0.01], AXIAL)]
)
def test_edges_must_rise(radial: list[float], axial: list[float]) -> None:
    with pytest.raises(InputError, match="edges must rise"):
        CylinderGrid(np.array(radial), np.array(axial))
