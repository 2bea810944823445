# SPDX-License-Identifier: GPL-3.0-or-later
"""Heat that a wound ring gives off: natural and forced convection, and radiation.

Air:   film_air, FilmAir
Parts: plate_coefficient, wall_coefficient, mantle_coefficient, forced_coefficients, mixed
Whole: ring_heat_flow, HeatFlow; conductor_coefficient of bars and cables

The correlations are those of the `ht` library and the air that of `fluids` (US Standard Atmosphere 1976), both loaded
when first called. One isothermal body is meant; a ring standing close to other hot parts gets less air and warmer air.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from heatsim.constants import ZERO_CELSIUS
from heatsim.errors import InputError
from heatsim.physics.heat import radiated_flux
from heatsim.physics.numeric import require_not_negative, require_positive
from heatsim.physics.ringcore import RingSize

Orientation = Literal["flat", "standing"]

SPECIFIC_HEAT = 1006.0
"""Of air at constant pressure [J/(kg*K)], 0 to 100 °C within 1 %; handbooks (memory)."""

BORE_SHARE = 0.5
"""Share of the free convection of an open wall that the wall of the bore has; an estimate, no source."""


class FilmAir(NamedTuple):
    """Air at one atmosphere: conductivity [W/(m*K)], kinematic viscosity [m2/s], Prandtl number [1]."""

    conductivity: float
    viscosity: float
    prandtl: float


class HeatFlow(NamedTuple):
    """Heat [W] given off by convection and by radiation."""

    convection: float
    radiation: float

    @property
    def total(self) -> float:
        """Both together [W]."""
        return self.convection + self.radiation


def film_air(film_c: float) -> FilmAir:
    """Properties of air at a film temperature [°C]; US Standard Atmosphere 1976 by way of `fluids`.

    film_c: mean of surface and ambient [°C]
    """
    from fluids.atmosphere import ATMOSPHERE_1976

    kelvin = film_c + ZERO_CELSIUS
    require_positive("film_air", kelvin=kelvin)
    viscosity, conductivity = ATMOSPHERE_1976.viscosity(kelvin), ATMOSPHERE_1976.thermal_conductivity(kelvin)
    density = ATMOSPHERE_1976.density(kelvin, 101325.0)
    return FilmAir(conductivity, viscosity / density, SPECIFIC_HEAT * viscosity / conductivity)


def _grashof(size: float, surface_c: float, ambient_c: float, air: FilmAir) -> float:
    from fluids.core import Grashof

    film_k = (surface_c + ambient_c) / 2.0 + ZERO_CELSIUS
    return float(Grashof(L=size, beta=1.0 / film_k, T1=surface_c, T2=ambient_c, nu=air.viscosity))


def plate_coefficient(diameter: float, surface_c: float, ambient_c: float, upwards: bool) -> float:
    """Natural convection [W/(m2*K)] of a hot horizontal disc of a diameter [m], facing up or down.

    diameter: [m]; surface_c: [°C]; ambient_c: [°C]; upwards: whether it faces up [1]

    0.54 Ra^0.25 facing up, 0.27 Ra^0.25 facing down, length area over circumference, diameter/4; meant for Ra 1e4 to 1e7,
    below it some 20 % low. Source: McAdams 1954, by way of `ht.Nu_horizontal_plate_McAdams`. The library's other forms
    for a plate facing up (VDI, Rohsenow, in release 1.2.0) differ from print in a sign and a constant: not used.
    """
    from ht import Nu_horizontal_plate_McAdams

    air, length = film_air((surface_c + ambient_c) / 2.0), diameter / 4.0
    grashof = abs(_grashof(length, surface_c, ambient_c, air))
    above = upwards if surface_c >= ambient_c else not upwards
    return float(Nu_horizontal_plate_McAdams(air.prandtl, grashof, buoyancy=above)) * air.conductivity / length


def wall_coefficient(height: float, surface_c: float, ambient_c: float) -> float:
    """Natural convection [W/(m2*K)] of a vertical wall of a height [m].

    height: [m]; surface_c: [°C]; ambient_c: [°C]

    Source: Churchill & Chu 1975, by way of `ht.Nu_vertical_plate_Churchill`.
    """
    from ht import Nu_vertical_plate_Churchill

    air = film_air((surface_c + ambient_c) / 2.0)
    grashof = abs(_grashof(height, surface_c, ambient_c, air))
    return float(Nu_vertical_plate_Churchill(air.prandtl, grashof)) * air.conductivity / height


def mantle_coefficient(diameter: float, surface_c: float, ambient_c: float) -> float:
    """Natural convection [W/(m2*K)] of the mantle of a horizontal cylinder of a diameter [m].

    diameter: [m]; surface_c: [°C]; ambient_c: [°C]

    Source: Churchill & Chu 1975, by way of `ht.Nu_horizontal_cylinder_Churchill_Chu`.
    """
    from ht import Nu_horizontal_cylinder_Churchill_Chu

    air = film_air((surface_c + ambient_c) / 2.0)
    grashof = abs(_grashof(diameter, surface_c, ambient_c, air))
    return float(Nu_horizontal_cylinder_Churchill_Chu(air.prandtl, grashof)) * air.conductivity / diameter


def forced_coefficients(diameter: float, speed: float, film_c: float) -> tuple[float, float]:
    """Forced convection [W/(m2*K)] of mantle and faces of a cylinder of a diameter [m] across air of a speed [m/s].

    diameter: of the ring [m]; speed: of the air [m/s]; film_c: mean of surface and ambient [°C]

    Mantle: Churchill & Bernstein 1977; faces: laminar flow along a plate as long as the diameter (Baehr & Stephan);
    by way of `ht`. Both zero in still air.
    """
    from fluids.core import Reynolds
    from ht import Nu_cylinder_Churchill_Bernstein, Nu_horizontal_plate_laminar_Baehr

    require_positive("forced_coefficients", diameter=diameter)
    require_not_negative("forced_coefficients", speed=speed)
    if speed == 0.0:
        return 0.0, 0.0
    air = film_air(film_c)
    reynolds = Reynolds(V=speed, D=diameter, nu=air.viscosity)
    scale = air.conductivity / diameter
    return (
        float(Nu_cylinder_Churchill_Bernstein(reynolds, air.prandtl)) * scale,
        float(Nu_horizontal_plate_laminar_Baehr(reynolds, air.prandtl)) * scale,
    )


def mixed(natural: float, forced: float) -> float:
    """Coefficient [W/(m2*K)] of natural and forced convection together: cube root of the sum of cubes.

    natural: coefficient [W/(m2*K)]; forced: coefficient [W/(m2*K)]

    For flows that help or cross one another. Source: Churchill 1977, AIChE J. 23, p. 10 (memory).
    """
    return float((natural**3 + forced**3) ** (1.0 / 3.0))


def _natural(size: RingSize, surface_c: float, ambient_c: float, orientation: Orientation) -> tuple[float, float, float]:
    """Coefficients [W/(m2*K)] of outer mantle, faces (mean of both) and bore."""
    if orientation == "flat":
        wall = wall_coefficient(size.height, surface_c, ambient_c)
        faces = [plate_coefficient(size.outer_diameter, surface_c, ambient_c, up) for up in (True, False)]
        return wall, sum(faces) / 2.0, BORE_SHARE * wall
    if orientation == "standing":
        mantle = mantle_coefficient(size.outer_diameter, surface_c, ambient_c)
        return mantle, wall_coefficient(size.outer_diameter, surface_c, ambient_c), BORE_SHARE * mantle
    raise InputError.single("ring_heat_flow", "unknown orientation", orientation, "flat, standing")


def ring_heat_flow(
    size: RingSize,
    surface_c: float,
    ambient_c: float,
    speed: float = 0.0,
    emissivity: float = 0.85,
    orientation: Orientation = "flat",
) -> HeatFlow:
    """Heat [W] that a wound ring of one surface temperature [°C] gives to still or moving air and to its surroundings.

    size: of the wound ring, its inner diameter the hole that is left [m]
    surface_c: [°C]; ambient_c: of air and surroundings [°C]; speed: of the air across the ring [m/s]; emissivity: [1]
    orientation: lying with all sides free ("flat"), or "standing" on its rim [1]

    Convection from outer mantle, both faces and, at `BORE_SHARE` and in natural convection only, the bore; radiation
    from the convex hull (mantle and two full discs), because what the bore radiates leaves through its openings.
    Within some 25 %: correlations of single plates and cylinders put together.
    """
    d1, d2, height = size
    require_positive("ring_heat_flow", outer_diameter=d1, height=height)
    require_not_negative("ring_heat_flow", inner_diameter=d2, emissivity=emissivity)
    mantle, faces, bore = math.pi * d1 * height, math.pi / 2.0 * (d1**2 - d2**2), math.pi * d2 * height
    hull = mantle + math.pi / 2.0 * d1**2
    radiated = float(radiated_flux(surface_c + ZERO_CELSIUS, ambient_c + ZERO_CELSIUS, emissivity)) * hull
    if surface_c == ambient_c:
        return HeatFlow(0.0, radiated)
    natural = _natural(size, surface_c, ambient_c, orientation)
    forced = forced_coefficients(d1, speed, (surface_c + ambient_c) / 2.0)
    conductance = mantle * mixed(natural[0], forced[0]) + faces * mixed(natural[1], forced[1]) + bore * natural[2]
    return HeatFlow(conductance * (surface_c - ambient_c), radiated)


def conductor_coefficient(perimeter: float, surface_c: float, ambient_c: float, speed: float, emissivity: float) -> float:
    """Heat transfer [W/(m2*K)] of a long horizontal conductor of any section, convection and radiation together.

    perimeter: of its section [m]; surface_c: [°C]; ambient_c: of air and surroundings [°C]; speed: of the air across it [m/s]
    emissivity: of its surface [1]

    Taken as a horizontal cylinder of the same perimeter, free all round: natural convection after Churchill & Chu, forced
    after Churchill & Bernstein, mixed by cubes; Rayleigh number up to 1e12. A strip on edge has some 10 % more, one lying flat
    up to 20 % less. Surface and ambient must differ.
    """
    require_positive("conductor_coefficient", perimeter=perimeter)
    diameter = perimeter / math.pi
    natural = mantle_coefficient(diameter, surface_c, ambient_c)
    forced = forced_coefficients(diameter, speed, (surface_c + ambient_c) / 2.0)[0]
    radiated = float(radiated_flux(surface_c + ZERO_CELSIUS, ambient_c + ZERO_CELSIUS, emissivity))
    return mixed(natural, forced) + radiated / (surface_c - ambient_c)
