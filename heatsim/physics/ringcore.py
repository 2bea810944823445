# SPDX-License-Identifier: GPL-3.0-or-later
"""Ring cores: effective dimensions, inductance, and the winding that goes round them.

Core:     ring_constants, ring_path_length, stacked
Coil:     ring_inductance, exact_ring_inductance, air_core_inductance
Winding:  wires_in_layer, fill_bore, mean_turn_length, wound_size, ring_surface

Three conventions for the magnetic path length of one ring are in print; they differ by 3 to 8 %, and a
catalogue's DC-bias curve is plotted against the field of its own convention, so the convention travels with
the data:
  "iec"          pi ln(d1/d2)/(1/d2 - 1/d1), IEC 60205; ferrite makers
  "logarithmic"  pi (d1 - d2)/ln(d1/d2); the Fe-Si-Al, MPP and Ni-Fe powder catalogue
  "mean"         pi (d1 + d2)/2; the iron-powder catalogue
A stack of n rings is one ring of n times the height (`stacked`); glue gaps between rings do not cross the
flux.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics.numeric import Numeric, Result, require_positive

PathConvention = Literal["iec", "logarithmic", "mean"]


class RingSize(NamedTuple):
    """Outer diameter, inner diameter and height of a ring [m]."""

    outer_diameter: float
    inner_diameter: float
    height: float


class RingConstants(NamedTuple):
    """Core factors c1 [1/m] and c2 [1/m3], effective path [m], area [m2] and volume [m3]."""

    c1: float
    c2: float
    path: float
    area: float
    volume: float


class BoreFill(NamedTuple):
    """How wires sit in the bore: wires per layer (innermost against the core), and the bore left free [m]."""

    layers: tuple[int, ...]
    free_diameter: float


def _check(size: RingSize) -> None:
    require_positive("ring core", **size._asdict())
    if size.inner_diameter >= size.outer_diameter:
        allowed = f"below the outer diameter, {size.outer_diameter:.6g} m"
        raise InputError.single("ring core", "inner diameter too large", size.inner_diameter, allowed)


def stacked(size: RingSize, rings: int) -> RingSize:
    """The size of `rings` rings stacked on one winding: height times the number of rings [1]."""
    if rings < 1 or rings != int(rings):
        raise InputError.single("stacked", "number of rings", rings, "a whole number, 1 or more")
    return size._replace(height=size.height * rings)


def ring_constants(size: RingSize) -> RingConstants:
    """Effective dimensions of a ring of rectangular section.

    size: of the ring, three lengths [m]

    C1 = 2 pi/(h ln(d1/d2)), C2 = 4 pi (1/d2 - 1/d1)/(h^2 ln^3(d1/d2)), le = C1^2/C2, Ae = C1/C2, Ve =
    C1^3/C2^2. Source: IEC 60205.
    """
    _check(size)
    d1, d2, height = size
    log = np.log(d1 / d2)
    c1 = 2.0 * np.pi / (height * log)
    c2 = 4.0 * np.pi * (1.0 / d2 - 1.0 / d1) / (height**2 * log**3)
    return RingConstants(*(float(x) for x in (c1, c2, c1**2 / c2, c1 / c2, c1**3 / c2**2)))


def ring_path_length(size: RingSize, convention: PathConvention = "iec") -> float:
    """Magnetic path length [m] of a ring by one of the three conventions named in the module's head.

    size: of the ring, three lengths [m]; convention: name of it [1]
    """
    _check(size)
    d1, d2, _ = size
    lengths = {
        "iec": np.pi * np.log(d1 / d2) / (1.0 / d2 - 1.0 / d1),
        "logarithmic": np.pi * (d1 - d2) / np.log(d1 / d2),
        "mean": np.pi * (d1 + d2) / 2.0,
    }
    if convention not in lengths:
        raise InputError.single("ring_path_length", "unknown convention", convention, ", ".join(lengths))
    return float(lengths[convention])


def ring_inductance(turns: Numeric, mu_r: Numeric, area: Numeric, path: Numeric) -> Result:
    """Inductance [H] of turns [1] on a core of relative permeability [1], area [m2] and path [m].

    turns: number of them [1]; mu_r: relative permeability [1]; area: [m2]; path: [m]

    L = mu0 mu_r N^2 Ae/le. Source: IEC 60205 (definition of the effective dimensions).
    """
    return MU_0 * mu_r * np.square(turns) * np.divide(area, path)


def exact_ring_inductance(turns: float, mu_r: float, size: RingSize) -> float:
    """Inductance [H] of a closely wound ring of constant permeability: mu0 mu_r N^2 h ln(d1/d2)/(2 pi) (Ampere).

    turns: number of them [1]; mu_r: relative permeability [1]; size: of the ring, three lengths [m]
    """
    _check(size)
    logarithm = np.log(size.outer_diameter / size.inner_diameter)
    return float(MU_0 * mu_r * turns**2 * size.height * logarithm / (2.0 * np.pi))


def air_core_inductance(turns: float, size: RingSize, wire_diameter: float = 0.0) -> float:
    """Inductance [H] that is left when the core saturates fully: the same winding on nothing.

    turns: number of them [1]; size: of the ring, three lengths [m]; wire_diameter: over the enamel [m]

    The ring through the centres of the wires of the first layer (core outline grown by one overall wire
    diameter [m] in height and outer diameter, shrunk in the bore), with mu_r = 1. A lower bound: it takes the
    winding as spread evenly round the ring; stray flux of a part-wound ring and the one turn round the ring's
    axis add to it. Raises InputError if the wire closes the bore. Common practice, no source.
    """
    require_positive("air_core_inductance", turns=turns)
    d1, d2, height = size
    grown = RingSize(d1 + wire_diameter, d2 - wire_diameter, height + wire_diameter)
    return exact_ring_inductance(turns, 1.0, grown)


def wires_in_layer(bore_diameter: float, wire_diameter: float) -> int:
    """Number of round wires [1] that lie side by side on the inside of a bore, both diameters [m].

    bore_diameter: [m]; wire_diameter: over the enamel [m]

    n = floor(pi/asin(d/(D - d))): touching circles on the circle through their centres. Geometry.
    """
    require_positive("wires_in_layer", bore_diameter=bore_diameter, wire_diameter=wire_diameter)
    reach = bore_diameter - wire_diameter
    if reach <= 0.0:
        return 0
    if wire_diameter > reach:
        return 1
    return int(np.floor(np.pi / np.arcsin(wire_diameter / reach) * (1.0 + 1e-12)))


@lru_cache(maxsize=256)
def fill_bore(inner_diameter: float, wire_diameter: float, wires: int) -> BoreFill:
    """Lay `wires` wires (turns times strands) [1] of an overall diameter [m] into a bore [m], layer upon layer.

    inner_diameter: of the bore [m]; wire_diameter: over the enamel [m]; wires: turns times strands [1]

    Layers are not nested into each other, as a hand-wound ring is at best. `free_diameter` is the hole left
    for the shuttle. Raises InputError when they do not fit. Geometry; layers that do not nest: common
    practice, no source.
    """
    if wires < 1:
        raise InputError.single("fill_bore", "number of wires", wires, "1 or more")
    layers: list[int] = []
    free = inner_diameter
    while sum(layers) < wires:
        room = wires_in_layer(free, wire_diameter) if free > wire_diameter else 0
        if room == 0:
            allowed = f"at most {sum(layers)} wires, a thinner wire or a larger ring"
            raise InputError.single("fill_bore", "the winding does not fit the bore", wires, allowed)
        layers.append(min(room, wires - sum(layers)))
        free -= 2.0 * wire_diameter
    return BoreFill(tuple(layers), max(free, 0.0))


@lru_cache(maxsize=256)
def mean_turn_length(size: RingSize, wire_diameter: float, wires: int) -> float:
    """Mean length [m] of one turn on a ring; overall wire diameter [m], wires in all (turns times strands) [1].

    size: of the ring, three lengths [m]; wire_diameter: over the enamel [m]; wires: turns times strands [1]

    A turn of layer j runs round the core section at a distance s = (j - 1/2) d from it: (d1 - d2) + 2 h + 2
    pi s (four straight sides and quarter circles), averaged over the wires of each layer in the bore. Outside
    the bore the layers are thinner than that, so a many-layer turn comes out a little long. Geometry.
    """
    _check(size)
    layers = np.array(fill_bore(size.inner_diameter, wire_diameter, wires).layers)
    distance = (np.arange(len(layers)) + 0.5) * wire_diameter
    section = size.outer_diameter - size.inner_diameter + 2.0 * size.height
    return float(section + 2.0 * np.pi * np.average(distance, weights=layers))


@lru_cache(maxsize=256)
def wound_size(size: RingSize, wire_diameter: float, wires: int) -> RingSize:
    """Outer diameter, free hole and height [m] of the wound ring.

    size: of the ring, three lengths [m]; wire_diameter: over the enamel [m]; wires: turns times strands [1]

    On the outside the same wires need fewer layers (they are laid like in the bore, but on the larger
    circle); on the flat faces the build is taken as that of the bore, where they crowd. Geometry, an
    estimate.
    """
    fill = fill_bore(size.inner_diameter, wire_diameter, wires)
    per_layer = max(1, int(np.pi * (size.outer_diameter + wire_diameter) / wire_diameter))
    outside_layers = int(np.ceil(wires / per_layer))
    return RingSize(
        size.outer_diameter + 2.0 * wire_diameter * outside_layers,
        fill.free_diameter,
        size.height + 2.0 * wire_diameter * len(fill.layers),
    )


def ring_surface(size: RingSize) -> float:
    """Surface [m2] of a (wound) ring that gives off heat: outer and inner mantle and both faces. Geometry.

    size: of the ring, three lengths [m]
    """
    d1, d2, height = size
    return float(np.pi * (d1 + d2) * height + np.pi / 2.0 * (d1**2 - d2**2))
