# SPDX-License-Identifier: GPL-3.0-or-later
"""Ring cores, alone or stacked, and the winding on them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from heatsim.physics.conductor import copper_resistivity
from heatsim.physics.ringcore import (
    BoreFill,
    PathConvention,
    RingSize,
    air_core_inductance,
    fill_bore,
    mean_turn_length,
    ring_constants,
    ring_path_length,
    ring_surface,
    stacked,
    wound_size,
)


@dataclass(frozen=True)
class Ring:
    """`stack` equal rings under one winding.

    size: of one ring [m]; path_length [m]; area: of one ring [m2].
    """

    size: RingSize
    stack: int
    path_length: float
    area: float

    @classmethod
    def from_size(cls, size: RingSize, stack: int, convention: PathConvention,
                  path_length: float | None = None, area: float | None = None) -> Ring:
        """Path length by the convention of the material's catalogue, area, each where not given as printed.

        The area is IEC 60205's for "iec", else the plain section h*(d1-d2)/2, within a few per cent of what powder
        catalogues print (they take the rounded corners off).
        """
        plain = size.height * (size.outer_diameter - size.inner_diameter) / 2
        section = ring_constants(size).area if convention == "iec" else plain
        return cls(size, stack, path_length or ring_path_length(size, convention), area or section)

    @property
    def total_area(self) -> float:
        """Magnetic cross-section of the stack [m2]."""
        return self.area * self.stack

    @property
    def volume(self) -> float:
        """Magnetic volume of the stack [m3]."""
        return self.total_area * self.path_length

    @property
    def whole(self) -> RingSize:
        """Size of the stack [m]."""
        return stacked(self.size, self.stack)


@dataclass(frozen=True)
class Winding:
    """`turns` of `strands` parallel round wires, bare `diameter` and `overall` diameter with enamel [m]."""

    turns: int
    strands: int
    diameter: float
    overall: float

    @property
    def wires(self) -> int:
        """Wires through the hole."""
        return self.turns * self.strands

    @property
    def copper_area(self) -> float:
        """Copper cross-section of one turn [m2]."""
        return self.strands * math.pi * self.diameter**2 / 4

    def fill(self, ring: Ring) -> BoreFill:
        """How the wires lie in the hole; InputError when they do not fit."""
        return fill_bore(ring.size.inner_diameter, self.overall, self.wires)

    def mean_turn(self, ring: Ring) -> float:
        """Mean length of a turn [m]."""
        return mean_turn_length(ring.whole, self.overall, self.wires)

    def resistance(self, ring: Ring, temperature: float) -> float:
        """DC resistance [ohm] at a copper temperature [°C]; IEC 60028."""
        return float(copper_resistivity(temperature)) * self.turns * self.mean_turn(ring) / self.copper_area

    def air_inductance(self, ring: Ring) -> float:
        """Inductance [H] with the core gone."""
        return air_core_inductance(self.turns, ring.whole, self.overall)

    def surface(self, ring: Ring) -> float:
        """Outer surface of the wound stack [m2]; it gives off the heat."""
        return ring_surface(wound_size(ring.whole, self.overall, self.wires))
