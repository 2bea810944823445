# SPDX-License-Identifier: GPL-3.0-or-later
"""An angle (L-section) in an axial field as a round bar that is heated alike.

equal_leg_angle  legs and thickness -> the bar's diameter and what is scaled in it
"""

from __future__ import annotations

import math
from typing import NamedTuple

from heatsim.errors import InputError
from heatsim.physics.numeric import require_positive


class EquivalentBar(NamedTuple):
    """diameter of the bar [m]; diffusion: factor on its resistivity and its thermal conductivity [1]; surface: factor on the area
    that radiates and that air passes [1]."""

    diameter: float
    diffusion: float
    surface: float


def equal_leg_angle(leg: float, thickness: float) -> EquivalentBar:
    """The round bar that stands for an angle of equal legs: an ESTIMATE.

    leg: outside, of each [m]; thickness: of each [m]

    It has the angle's section A = t (2 a - t), and with it mass and, where the skin is thin, the flux that is kept out. Current
    runs round the perimeter P = 4 a, so that the bar's resistivity is scaled by (P/(2 pi r))^2: loss of a thin skin goes with
    sqrt(rho) times the perimeter, and the bar's radius over its skin depth becomes 2 A/(P delta), that of a wall heated from both
    sides. The same factor on the thermal conductivity lets heat reach the middle of the bar as soon as that of the wall. Radiation
    leaves through the convex hull, (2 + sqrt 2) a round, for the inner faces see each other. In the tests, against finite
    differences over L-sections of five and ten thicknesses: loss within 21 % where the thickness is 1.5 to 20 skin depths (16 to
    20 % low at three), up to 36 % too high at half a skin depth.
    """
    require_positive("equal_leg_angle", leg=leg, thickness=thickness)
    if thickness >= 0.5 * leg:
        raise InputError.single(
            "equal_leg_angle", "is too thick for an angle", thickness, f"below half of the leg, {leg / 2:.4g} m"
        )
    area = thickness * (2.0 * leg - thickness)
    radius = math.sqrt(area / math.pi)
    round_it = 2.0 * math.pi * radius
    return EquivalentBar(2.0 * radius, (4.0 * leg / round_it) ** 2, (2.0 + math.sqrt(2.0)) * leg / round_it)
