# SPDX-License-Identifier: GPL-3.0-or-later
"""A work coil of round wire or tube at its working frequency, where the current crowds to the inside of the turns.

Impedance:  crowded_coil, with the distribution of the current over each turn's surface
Leads:      parallel_leads_inductance
"""

from __future__ import annotations

import math
from functools import lru_cache, partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics.conductor import skin_depth
from heatsim.physics.inductance import loop_mutual_inductance
from heatsim.physics.numeric import FloatArray, require_positive

IntArray = NDArray[np.int_]

SEGMENTS = 32
"""Strips round the surface of each turn; twice as many change inductance by less than 0.4 % and resistance by 1.2 %."""

MANY_TURNS = 24
"""Turns above which half as many strips must do."""


class CoilImpedance(NamedTuple):
    """Inductance [H] and resistance [ohm] of a coil, and the share of each strip's current in that of its turn [1], turns by
    strips, the first strip at the outermost point of the turn, the middle one at the innermost."""

    inductance: float
    resistance: float
    shares: FloatArray


def crowded_coil(
    diameter: float, length: float, turns: float, tube_diameter: float, wall: float, resistivity: float, frequency: float
) -> CoilImpedance:
    """Inductance [H] and resistance [ohm] of a single-layer coil of round tube at a frequency.

    diameter: of the coil, between tube centres [m]
    length: turns times pitch [m]
    turns: number of turns [1]; a broken number is interpolated between whole ones
    tube_diameter: outer diameter of the tube [m], below the pitch
    wall: thickness of its wall [m]; half the tube's diameter for solid wire
    resistivity: of the tube's metal [ohm*m]
    frequency: [Hz]
    Returns inductance, resistance and how the current is spread. Turns are taken as closed rings in series; leads are not
    included. Raises InputError when the tube is thicker than the pitch, the wall thicker than half the tube, or the skin
    depth more than a third of the tube's radius, where a surface current is no picture of the current any more.
    Source: method of moments on the tubes' surfaces. Each strip i carries a ring current with its own surface impedance,
    Zs = (1 + j) rho/delta coth((1 + j) wall/delta) (Ramo, Whinnery & Van Duzer, Fields and Waves, plane conductor of finite
    thickness; memory), mutual inductances are Maxwell's for coaxial rings (1873, art. 701), a strip's own inductance is that
    of a wire whose radius is a quarter of the strip's width (geometric mean distance, Grover 1946).
    """
    require_positive("crowded_coil", diameter=diameter, length=length, turns=turns, tube_diameter=tube_diameter, wall=wall)
    depth = float(skin_depth(resistivity, frequency))
    _check(length / turns, tube_diameter, wall, depth)
    strips = SEGMENTS if turns <= MANY_TURNS else SEGMENTS // 2
    rings = partial(_rings, diameter, length / turns, tube_diameter, strips, wall, resistivity, frequency)
    if turns <= 1.0:
        one = rings(1)
        return CoilImpedance(one.inductance * turns**2, one.resistance * turns, one.shares)
    below, share = int(math.floor(turns)), turns - math.floor(turns)
    low = rings(below)
    if share < 1e-9:
        return low
    high = rings(below + 1)
    mixed = [(1.0 - share) * a + share * b for a, b in zip(low[:2], high[:2], strict=True)]
    return CoilImpedance(mixed[0], mixed[1], high.shares)


def _check(pitch: float, tube: float, wall: float, depth: float) -> None:
    """InputError for what the surface currents do not describe."""
    name = "crowded_coil"
    if tube >= pitch:
        raise InputError.single(name, "tube thicker than the winding pitch", f"{tube:.6g} m", f"below {pitch:.6g} m, the pitch")
    if wall > tube / 2.0:
        raise InputError.single(name, "wall thicker than half the tube", f"{wall:.6g} m", f"at most {tube / 2:.6g} m")
    if depth > tube / 6.0:
        raise InputError.single(
            name,
            "frequency too low for a surface current",
            f"skin depth {depth:.3g} m",
            f"a skin depth of at most {tube / 6:.3g} m",
        )


@lru_cache(maxsize=64)
def _rings(
    diameter: float, pitch: float, tube: float, strips: int, wall: float, resistivity: float, frequency: float, turns: int
) -> CoilImpedance:
    """The same for a whole number of turns, each a ring.

    The coil is the same seen from either end, so the currents of a strip and of its mirror image are equal, and half of them
    are unknown.
    """
    coil = _mirrored(diameter, pitch, turns, tube, strips)
    omega, depth = 2.0 * np.pi * frequency, float(skin_depth(resistivity, frequency))
    surface = (1.0 + 1.0j) * resistivity / depth / np.tanh((1.0 + 1.0j) * wall / depth)
    impedance = 1.0j * omega * coil.mutual + np.diag(surface * 2.0 * np.pi * coil.radius / coil.width)
    pairs = (turns + 1) // 2
    member = np.zeros((coil.kept.size, pairs))
    turn = coil.kept // strips
    member[np.arange(coil.kept.size), np.minimum(turn, turns - 1 - turn)] = 1.0
    spread = np.linalg.solve(impedance, member)
    # Each turn carries one ampere; the kept strips are those of a pair of turns together, so a middle turn stands for itself.
    currents = (coil.weight[:, None] * member).T @ spread
    amperes = np.where(2 * np.arange(pairs) == turns - 1, 1.0, 2.0)
    volts = np.linalg.solve(currents, amperes)
    total = amperes @ volts
    each = np.empty(turns * strips)
    each[coil.kept] = each[coil.image] = np.abs(spread @ volts)
    each.setflags(write=False)
    return CoilImpedance(float(total.imag / omega), float(total.real), each.reshape(turns, strips))


class _Mirrored(NamedTuple):
    """The strips of a coil that are not the mirror image of another one: places among all strips, kept and image; weight: 2 for
    one with an image, 1 for one on the mirror plane; radius [m]; width of a strip [m]; mutual: with a strip and its image
    together [H]."""

    kept: IntArray
    image: IntArray
    weight: FloatArray
    radius: FloatArray
    width: float
    mutual: FloatArray


@lru_cache(maxsize=8)
def _mirrored(diameter: float, pitch: float, turns: int, tube: float, strips: int) -> _Mirrored:
    """The strips and their mutual inductances, which no frequency changes."""
    angle = np.arange(strips) * 2.0 * np.pi / strips
    radius, height = diameter / 2.0 + tube / 2.0 * np.cos(angle), tube / 2.0 * np.sin(angle)
    width = np.pi * tube / strips
    # Only the distance in turns counts: one block of strips by strips for each.
    apart = np.arange(1 - turns, turns) * pitch
    gap = height[:, None, None] - height[None, :, None] + apart
    gap += np.where(apart == 0.0, np.eye(strips)[:, :, None] * width / 4.0, 0.0)
    blocks = np.asarray(loop_mutual_inductance(radius[:, None, None], radius[None, :, None], gap))
    index = np.arange(turns * strips)
    turn, strip = np.divmod(index, strips)
    image = (turns - 1 - turn) * strips + (-strip) % strips
    kept = index[image >= index]

    def among(others: IntArray) -> FloatArray:
        lag = turn[kept][:, None] - turn[others][None, :] + turns - 1
        return np.asarray(blocks[strip[kept][:, None], strip[others][None, :], lag])

    weight = np.where(image[kept] == kept, 1.0, 2.0)
    mutual = among(kept) + among(image[kept]) * (weight - 1.0)
    return _Mirrored(kept, image[kept], weight, radius[strip[kept]], width, mutual)


def parallel_leads_inductance(length: float, spacing: float, diameter: float) -> float:
    """Inductance [H] of two parallel round leads, current on their surface.

    length: of each lead [m], well above the spacing
    spacing: between their centres [m]
    diameter: of each [m], below the spacing
    L = mu0/pi l arcosh(s/d), which contains the proximity of the two. Source: two-wire line with surface currents, any
    textbook of transmission lines (memory).
    """
    _check_leads("parallel_leads_inductance", length, spacing, diameter)
    return MU_0 / math.pi * length * math.acosh(spacing / diameter)


def parallel_leads_crowding(spacing: float, diameter: float) -> float:
    """Resistance of two parallel round leads over that of the same leads far apart [1], current on their surface.

    spacing: between their centres [m]
    diameter: of each [m], below the spacing
    1/sqrt(1 - (d/s)^2). Source: as `parallel_leads_inductance`.
    """
    _check_leads("parallel_leads_crowding", 1.0, spacing, diameter)
    return 1.0 / math.sqrt(1.0 - (diameter / spacing) ** 2)


def _check_leads(name: str, length: float, spacing: float, diameter: float) -> None:
    require_positive(name, length=length, spacing=spacing, diameter=diameter)
    if spacing <= diameter:
        raise InputError.single(name, "leads overlap", f"{spacing:.6g} m", f"above {diameter:.6g} m, the diameter")
