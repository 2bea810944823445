# SPDX-License-Identifier: GPL-3.0-or-later
"""Ring cores, alone or stacked, and the winding on them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from heatsim.constants import COPPER_RESISTIVITY_20C, COPPER_TEMPERATURE_COEFFICIENT, MU_0


@dataclass(frozen=True)
class Ring:
    """`stack` equal rings under one winding.

    outer, inner, height: of one ring [m]; path_length [m]; area: of one ring [m2]. Both may be the maker's printed
    values, else `from_size` takes them from the size by the convention of the material's catalogue.
    """

    outer: float
    inner: float
    height: float
    stack: int
    path_length: float
    area: float

    @classmethod
    def from_size(cls, outer: float, inner: float, height: float, stack: int, rule: str,
                  path_length: float | None = None, area: float | None = None) -> Ring:
        """Path length and area where not given.

        rule "ring": pi*(d1+d2)/2, area h*(d1-d2)/2; "log": pi*(d1-d2)/ln(d1/d2), same area; "iec": IEC 60205,
        le = pi*ln(d1/d2)/(1/d2-1/d1), Ae = C1/C2.
        """
        log = math.log(outer / inner)
        plain = height * (outer - inner) / 2
        path, section = {
            "ring": (math.pi * (outer + inner) / 2, plain),
            "log": (math.pi * (outer - inner) / log, plain),
            "iec": (math.pi * log / (1 / inner - 1 / outer), height * log**2 / (2 * (1 / inner - 1 / outer))),
        }[rule]
        return cls(outer, inner, height, stack, path_length or path, area or section)

    @property
    def total_area(self) -> float:
        """Magnetic cross-section of the stack [m2]."""
        return self.area * self.stack

    @property
    def volume(self) -> float:
        """Magnetic volume of the stack [m3]."""
        return self.total_area * self.path_length

    @property
    def window(self) -> float:
        """Area of the hole [m2]."""
        return math.pi * self.inner**2 / 4

    @property
    def surface(self) -> float:
        """Bare surface of the stack [m2]: two faces, outside and bore."""
        sides = math.pi * (self.outer + self.inner) * self.height * self.stack
        return sides + math.pi / 2 * (self.outer**2 - self.inner**2)


@dataclass(frozen=True)
class Winding:
    """`turns` of `strands` parallel round wires, bare `diameter` and `overall` diameter with enamel [m]."""

    turns: int
    strands: int
    diameter: float
    overall: float

    @property
    def copper_area(self) -> float:
        """Copper cross-section of one turn [m2]."""
        return self.strands * math.pi * self.diameter**2 / 4

    def fill(self, ring: Ring) -> float:
        """Share of the hole taken by wire, each wire counted as its square; above about 0.8 it cannot be wound."""
        return self.turns * self.strands * self.overall**2 / ring.window

    def layers(self, ring: Ring) -> int | None:
        """Layers on the inside of the ring, None when the wire does not fit at all.

        Layer k lies on a circle of diameter inner-(2k-1)*overall and holds floor(pi/asin(overall/diameter)) wires.
        """
        left, layer = self.turns * self.strands, 0
        while left > 0:
            layer += 1
            circle = ring.inner - (2 * layer - 1) * self.overall
            if circle < 2 * self.overall:
                return None
            left -= int(math.pi / math.asin(self.overall / circle))
        return layer

    def mean_turn(self, ring: Ring) -> float:
        """Mean length of a turn [m]: round the rectangle h*stack by (d1-d2)/2 on the middle of the layers."""
        layers = self.layers(ring) or 1
        return 2 * ring.height * ring.stack + (ring.outer - ring.inner) + math.pi * self.overall * layers

    def resistance(self, ring: Ring, temperature: float) -> float:
        """DC resistance [ohm] at a copper temperature [°C]; IEC 60028."""
        warm = 1 + COPPER_TEMPERATURE_COEFFICIENT * (temperature - 20)
        return COPPER_RESISTIVITY_20C * warm * self.turns * self.mean_turn(ring) / self.copper_area

    def air_inductance(self, ring: Ring) -> float:
        """Inductance [H] with the core gone: the exact ring formula mu0 N^2 h ln(d1/d2)/(2 pi) on the wire's middle."""
        build = self.overall * (self.layers(ring) or 1)
        height, outer = ring.height * ring.stack + build, ring.outer + build
        return MU_0 * self.turns**2 * height * math.log(outer / (ring.inner - build)) / (2 * math.pi)


def core_inductance(turns: int, permeability: float, ring: Ring) -> float:
    """Zero-current inductance [H] of a closed core, mu0*mu*N^2*A/l; IEC 60205 effective dimensions."""
    return MU_0 * permeability * turns**2 * ring.total_area / ring.path_length


def gapped_inductance(turns: int, permeability: float, ring: Ring, gap: float) -> float:
    """Zero-current inductance [H] with an air gap [m] in the ring, fringing left out (true value some % higher)."""
    return MU_0 * turns**2 * ring.total_area / ((ring.path_length - gap) / permeability + gap)
