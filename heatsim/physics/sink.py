# SPDX-License-Identifier: GPL-3.0-or-later
"""Heat sinks and what lies between them and a case: layers of pad or paste, finned sinks in moving air, plain plates.

Layer: layer_resistance
Sinks: moving_air_conductance, plate_heat
"""

from __future__ import annotations

from heatsim.constants import ZERO_CELSIUS
from heatsim.physics.convection import forced_coefficients, mixed, wall_coefficient
from heatsim.physics.heat import radiated_flux, rod_heat
from heatsim.physics.numeric import Numeric, Result, require_not_negative, require_positive

LAMINAR, TURBULENT = 0.5, 0.8
"""Exponents of the air's speed in the forced convection of plates, laminar and turbulent; Incropera & DeWitt (memory)."""


def layer_resistance(thickness: Numeric, conductivity: Numeric, area: Numeric) -> Result:
    """Thermal resistance [K/W] through a layer: t/(k A).

    thickness: [m]; conductivity: thermal [W/(m*K)]; area: that the heat crosses [m2]

    Contacts left out, which with a dry pad may be as much again. Fourier's law.
    """
    require_positive("layer_resistance", thickness=thickness, conductivity=conductivity, area=area)
    return thickness / (conductivity * area)


def moving_air_conductance(still: float, moving: float, given_speed: float, speed: float, exponent: float = LAMINAR) -> float:
    """Heat that a sink gives off per kelvin [W/K] at a speed of the air [m/s], from its values in still air and at one speed.

    still: in still air [W/K]; moving: at given_speed [W/K]; given_speed: [m/s]; speed: [m/s]; exponent: of the speed [1]

    moving (v/v0)^m, not below that of still air; m from 0.5 (laminar) to 0.8 (turbulent).
    """
    require_positive("moving_air_conductance", still=still, moving=moving, given_speed=given_speed)
    require_not_negative("moving_air_conductance", speed=speed)
    return max(still, float(moving * (speed / given_speed) ** exponent))


def plate_heat(
    width: float,
    height: float,
    thickness: float,
    conductivity: float,
    root_c: float,
    ambient_c: float,
    speed: float = 0.0,
    emissivity: float = 0.1,
) -> float:
    """Heat [W] that a plate standing upright gives off from both faces, heated along a line across its middle.

    width: [m]; height: [m]; thickness: [m]; conductivity: thermal [W/(m*K)]; root_c: temperature at that line [°C]
    ambient_c: of air and surroundings [°C]; speed: of the air along it [m/s]; emissivity: [1]

    Two fins of half the height (`heatsim.physics.heat.rod_heat`) with the convection of a vertical wall at the line's temperature,
    laminar forced convection over the height, and radiation as a coefficient there. Within some 25 %, as the convection.
    """
    require_positive("plate_heat", width=width, height=height, thickness=thickness)
    rise = root_c - ambient_c
    if rise <= 0.0:
        return 0.0
    film = (root_c + ambient_c) / 2.0
    air = mixed(wall_coefficient(height, root_c, ambient_c), forced_coefficients(height, speed, film)[1])
    radiated = float(radiated_flux(root_c + ZERO_CELSIUS, ambient_c + ZERO_CELSIUS, emissivity)) / rise
    half = rod_heat(2.0 * (width + thickness), width * thickness, height / 2.0, conductivity, air + radiated, rise)
    return 2.0 * float(half)
