# SPDX-License-Identifier: GPL-3.0-or-later
"""Shells and slices of a round workpiece for finite volumes, and the conduction paths between them.

Grid: CylinderGrid
Mesh: Mesh, unrolled (what `conduction` integrates on)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from heatsim.errors import InputError
from heatsim.physics.numeric import FloatArray


@dataclass(frozen=True, eq=False)
class CylinderGrid:
    """Shells and slices of a round workpiece: radial edges (nr + 1,) [m] from 0 or a bore, axial edges (nz + 1,) [m].

    One slice (nz = 1) is a piece of a long bar: its ends give nothing off.
    """

    radial: FloatArray
    axial: FloatArray

    def __post_init__(self) -> None:
        for name, edges in (("radial", self.radial), ("axial", self.axial)):
            array = np.asarray(edges, dtype=float)
            rising = array.ndim == 1 and len(array) >= 2 and bool(np.all(np.isfinite(array)) and np.all(np.diff(array) > 0.0))
            if not rising or (name == "radial" and array[0] < 0.0):
                raise InputError.single("CylinderGrid", f"{name} edges must rise", edges, "at least two, rising; radii from 0")
            object.__setattr__(self, name, array)

    @property
    def shape(self) -> tuple[int, int]:
        """Slices nz and shells nr [1]."""
        return len(self.axial) - 1, len(self.radial) - 1

    @cached_property
    def middles(self) -> FloatArray:
        """Radius (nr,) [m] that halves the volume of each shell: where a temperature that goes with r^2 has its mean."""
        return np.sqrt((self.radial[:-1] ** 2 + self.radial[1:] ** 2) / 2.0)

    @cached_property
    def end_areas(self) -> FloatArray:
        """Area (nr,) [m2] of each shell across the axis."""
        return math.pi * np.diff(self.radial**2)

    @cached_property
    def volumes(self) -> FloatArray:
        """Volume (nz, nr) [m3] of each cell."""
        return np.outer(np.diff(self.axial), self.end_areas)

    @cached_property
    def shell_areas(self) -> FloatArray:
        """Area (nz, nr + 1) [m2] of each slice at each radial edge."""
        return 2.0 * math.pi * np.outer(np.diff(self.axial), self.radial)

    @property
    def mantle_areas(self) -> FloatArray:
        """Outer surface (nz,) [m2] of each slice."""
        return self.shell_areas[:, -1]

    @property
    def bore_areas(self) -> FloatArray:
        """Surface of the bore (nz,) [m2] of each slice; 0 without a bore."""
        return self.shell_areas[:, 0]

    @cached_property
    def mesh(self) -> Mesh:
        """The grid unrolled: cells [m3] and the paths between them [1/m]."""
        return unrolled(self)


class Mesh(NamedTuple):
    """A grid unrolled so that neighbours lie close: cells, faces between them, faces to the outside.

    Resistances are those of a conductivity of 1: [1/m].
    """

    number: Any
    """Place (nz, nr) of each cell in the unrolled order."""
    band: int
    volumes: FloatArray
    first: Any
    second: Any
    first_resistance: FloatArray
    second_resistance: FloatArray
    cell: Any
    """Cell behind each outer face: mantle (nz), bore (nz), start (nr), end (nr)."""
    areas: FloatArray
    depth: FloatArray
    """From the middle of the cell to the face, in flat terms: resistance times area [m]."""
    parts: tuple[slice, slice, slice, slice]


def unrolled(grid: CylinderGrid) -> Mesh:
    """Cells [m3] in an order that keeps neighbours close, and the paths between them [1/m].

    grid: edges [m]

    Series of half cells: shells by their logarithm, slices by their length; exact for steady flow along r or along z.
    """
    nz, nr = grid.shape
    number = np.arange(nz * nr).reshape(nr, nz).T if nz <= nr else np.arange(nz * nr).reshape(nz, nr)
    lengths, around = np.diff(grid.axial)[:, None], 2.0 * math.pi * np.diff(grid.axial)[:, None]
    outwards = np.log(grid.radial[1:] / grid.middles) / around
    inner = np.where(grid.radial[:-1] > 0.0, grid.radial[:-1], grid.middles)
    inwards = np.log(grid.middles / inner) / around
    along = lengths / 2.0 / grid.end_areas
    ends = grid.end_areas * (1.0 if nz > 1 else 0.0)
    areas = [grid.mantle_areas, grid.bore_areas, ends, ends]
    halves = [outwards[:, -1] * grid.mantle_areas, inwards[:, 0] * grid.bore_areas, along[0] * ends, along[-1] * ends]
    depth = np.concatenate(halves)
    flat = np.empty(nz * nr)
    flat[number] = grid.volumes

    def joined(radial: Any, axial: Any) -> Any:
        return np.concatenate([radial.ravel(), axial.ravel()])

    return Mesh(
        number,
        min(nz, nr),
        flat,
        joined(number[:, :-1], number[:-1]),
        joined(number[:, 1:], number[1:]),
        joined(outwards[:, :-1], along[:-1]),
        joined(inwards[:, 1:], along[1:]),
        np.concatenate([number[:, -1], number[:, 0], number[0], number[-1]]),
        np.concatenate(areas),
        np.where(depth > 0.0, depth, 1.0),
        (slice(0, nz), slice(nz, 2 * nz), slice(2 * nz, 2 * nz + nr), slice(2 * nz + nr, 2 * (nz + nr))),
    )
