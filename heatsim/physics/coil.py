# SPDX-License-Identifier: GPL-3.0-or-later
"""A work coil of round wire or tube at its working frequency, where the current crowds to the inside of the turns.

Impedance:  crowded_coil, with the distribution of the current over each turn's surface
Leads:      parallel_leads_inductance
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics.conductor import skin_depth
from heatsim.physics.inductance import loop_mutual_inductance
from heatsim.physics.numeric import FloatArray, require_positive

SEGMENTS = 32
"""Strips round the surface of each turn; twice as many change inductance and resistance by less than 0.3 %."""


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
    if turns <= 1.0:
        one = _rings(diameter, length / turns, 1, tube_diameter, wall, resistivity, frequency)
        return CoilImpedance(one.inductance * turns**2, one.resistance * turns, one.shares)
    below, share = int(math.floor(turns)), turns - math.floor(turns)
    low = _rings(diameter, length / turns, below, tube_diameter, wall, resistivity, frequency)
    if share < 1e-9:
        return low
    high = _rings(diameter, length / turns, below + 1, tube_diameter, wall, resistivity, frequency)
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


def _rings(
    diameter: float, pitch: float, turns: int, tube: float, wall: float, resistivity: float, frequency: float
) -> CoilImpedance:
    """The same for a whole number of turns, each a ring."""
    angle = np.arange(SEGMENTS) * 2.0 * np.pi / SEGMENTS
    # Where the current is on average: half a skin depth below the surface, which the surface impedance's reactance stands for.
    radius = diameter / 2.0 + tube / 2.0 * np.tile(np.cos(angle), turns)
    height = np.repeat(np.arange(turns) * pitch, SEGMENTS) + tube / 2.0 * np.tile(np.sin(angle), turns)
    width = np.pi * tube / SEGMENTS
    mutual = np.asarray(
        loop_mutual_inductance(
            radius[:, None], radius[None, :], height[:, None] - height[None, :] + np.eye(radius.size) * width / 4.0
        )
    )
    omega = 2.0 * np.pi * frequency
    depth = float(skin_depth(resistivity, frequency))
    thick = (1.0 + 1.0j) * wall / depth
    surface = (1.0 + 1.0j) * resistivity / depth / np.tanh(thick)
    impedance = 1.0j * omega * mutual + np.diag(surface * 2.0 * np.pi * radius / width)
    member = np.repeat(np.eye(turns), SEGMENTS, axis=0)
    spread = np.linalg.solve(impedance, member)
    volts = np.linalg.solve(member.T @ spread, np.ones(turns))
    total = volts.sum()
    return CoilImpedance(
        float(total.imag / omega), float(total.real), np.abs(spread @ volts).reshape(turns, SEGMENTS).astype(float)
    )


def parallel_leads_inductance(length: float, spacing: float, diameter: float) -> float:
    """Inductance [H] of two parallel round leads, current on their surface.

    length: of each lead [m], well above the spacing
    spacing: between their centres [m]
    diameter: of each [m], below the spacing
    L = mu0/pi l arcosh(s/d), which contains the proximity of the two. Source: two-wire line with surface currents, any
    textbook of transmission lines (memory).
    """
    require_positive("parallel_leads_inductance", length=length, spacing=spacing, diameter=diameter)
    if spacing <= diameter:
        raise InputError.single(
            "parallel_leads_inductance", "leads overlap", f"{spacing:.6g} m", f"above {diameter:.6g} m, the diameter"
        )
    return MU_0 / math.pi * length * math.acosh(spacing / diameter)
