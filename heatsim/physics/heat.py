# SPDX-License-Identifier: GPL-3.0-or-later
"""Heat: carbon steel as it warms, what air and radiation carry off, and simple temperature rises.

Steel:     steel_specific_heat, steel_conductivity, steel_enthalpy, steel_resistivity, CURIE_IRON_C
Air:       air_properties, grashof_number, churchill_chu_horizontal, mcadams_horizontal, natural_convection
Radiation: radiated_flux
Rods:      rod_heat
Rises:     lumped_temperature_rise, surface_to_centre

CAUTION: a workpiece stays hot enough to burn long after it stops glowing.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from heatsim.constants import STEFAN_BOLTZMANN, ZERO_CELSIUS
from heatsim.errors import InputError
from heatsim.physics.numeric import Numeric, Result, require_not_negative, require_positive, scalar_or_array

CURIE_IRON_C = 770.0
"""Curie point of iron [°C]; handbooks (memory). Plain carbon steels lie within a few kelvin."""

EMISSIVITY_STEEL_FIRE = 0.7
"""Emissivity of carbon steel in fire design [1]; EN 1993-1-2 (memory)."""

EMISSIVITY_STEEL_OXIDISED = 0.8
"""Emissivity of oxidised steel [1]; handbooks (memory). Polished steel 0.07 to 0.1."""

GRAVITY = 9.80665
"""Standard gravity [m/s2]."""


def _steel_range(temperature_c: Numeric, where: str) -> None:
    t = np.asarray(temperature_c)
    if not np.all((t >= 20.0 - 1e-9) & (t <= 1200.0)):
        raise InputError.single(where, "temperature out of range", temperature_c, "20 to 1200 °C")


def steel_specific_heat(temperature_c: Numeric) -> Result:
    """Specific heat [J/(kg*K)] of carbon steel at a temperature [°C], 20 to 1200 °C.

    temperature_c: [°C]

    425 + 0.773 T - 1.69e-3 T^2 + 2.22e-6 T^3 below 600; 666 + 13002/(738 - T) below 735; 545 + 17820/(T -
    731) below 900; 650. Peaks at 5000 at 735 °C: use `steel_enthalpy` for heating. Source: EN 1993-1-2:2005,
    3.4.1.2.
    """
    _steel_range(temperature_c, "steel_specific_heat")
    t = np.asarray(temperature_c, dtype=float)
    cold = 425.0 + 0.773 * t - 1.69e-3 * t**2 + 2.22e-6 * t**3
    rising = 666.0 + 13002.0 / (738.0 - np.minimum(t, 735.0))
    falling = 545.0 + 17820.0 / (np.maximum(t, 735.0) - 731.0)
    return scalar_or_array(np.select([t < 600.0, t < 735.0, t < 900.0], [cold, rising, falling], 650.0))


def steel_conductivity(temperature_c: Numeric) -> Result:
    """Thermal conductivity [W/(m*K)] of carbon steel at a temperature [°C], 20 to 1200 °C.

    temperature_c: [°C]

    54 - 3.33e-2 T below 800, then 27.3. Source: EN 1993-1-2:2005, 3.4.1.3.
    """
    _steel_range(temperature_c, "steel_conductivity")
    t = np.asarray(temperature_c, dtype=float)
    return scalar_or_array(np.where(t < 800.0, 54.0 - 3.33e-2 * t, 27.3))


def steel_enthalpy(temperature_c: Numeric) -> Result:
    """Heat [J/kg] to bring carbon steel from 20 °C to a temperature [°C], 20 to 1200 °C.

    temperature_c: [°C]

    Exact integral of `steel_specific_heat`, piece by piece; continuous and rising. Source: EN 1993-1-2:2005,
    3.4.1.2.
    """
    _steel_range(temperature_c, "steel_enthalpy")
    t = np.asarray(temperature_c, dtype=float)
    cold = _cold_heat(np.minimum(t, 600.0)) - _cold_heat(20.0)
    to_735 = np.clip(t, 600.0, 735.0)
    rising = 666.0 * (to_735 - 600.0) - 13002.0 * np.log((738.0 - to_735) / 138.0)
    to_900 = np.clip(t, 735.0, 900.0)
    falling = 545.0 * (to_900 - 735.0) + 17820.0 * np.log((to_900 - 731.0) / 4.0)
    return scalar_or_array(cold + rising + falling + 650.0 * np.maximum(t - 900.0, 0.0))


def _cold_heat(t: Numeric) -> Result:
    return 425.0 * t + 0.773 / 2.0 * t**2 - 1.69e-3 / 3.0 * t**3 + 2.22e-6 / 4.0 * t**4


# Temperature [°C] and resistivity [ohm*m] of 0.2 % carbon steel. 100 and 300 °C published (tables of the
# grade GOST 20); 20, 600 and 800 °C from memory (BISRA/Smithells 0.23 % C series).
_STEEL_RESISTIVITY = np.array([(20.0, 1.69e-7), (100.0, 2.19e-7), (300.0, 3.81e-7), (600.0, 7.58e-7), (800.0, 1.094e-6)])


def steel_resistivity(temperature_c: Numeric) -> Result:
    """Electrical resistivity [ohm*m] of 0.2 % carbon steel at a temperature [°C], 20 to 1200 °C.

    temperature_c: [°C]

    Straight between 20, 100, 300, 600 and 800 °C (published tables and memory, see the source text); above,
    rising by 2.5e-10 ohm*m per kelvin (memory). About 5 % between grades of plain carbon steel, far more for
    alloys.
    """
    _steel_range(temperature_c, "steel_resistivity")
    t = np.asarray(temperature_c, dtype=float)
    inside = np.interp(t, _STEEL_RESISTIVITY[:, 0], _STEEL_RESISTIVITY[:, 1])
    return scalar_or_array(inside + 2.5e-10 * np.maximum(t - 800.0, 0.0))


class AirProperties(NamedTuple):
    """Dry air at one atmosphere: kinematic viscosity [m2/s], conductivity [W/(m*K)], Prandtl number [1]."""

    viscosity: Result
    conductivity: Result
    prandtl: Result


def air_properties(temperature_c: Numeric) -> AirProperties:
    """Properties of air at one atmosphere at a film temperature [°C], -50 to 1000 °C; within some 4 %.

    temperature_c: [°C]

    Sutherland's law for viscosity (1.716e-5 Pa*s at 273 K, 111 K) and conductivity (0.0241 W/(m*K), 194 K),
    ideal gas, specific heat 1003 J/(kg*K), rising by 0.21 per kelvin above 350 K. White, Viscous Fluid Flow
    (memory).
    """
    kelvin = np.add(temperature_c, ZERO_CELSIUS)
    if not np.all((kelvin >= 223.0) & (kelvin <= 1274.0)):
        raise InputError.single("air_properties", "temperature out of range", temperature_c, "-50 to 1000 °C")
    growth = (kelvin / 273.0) ** 1.5
    viscosity = 1.716e-5 * growth * (273.0 + 111.0) / (kelvin + 111.0)
    conductivity = 0.0241 * growth * (273.0 + 194.0) / (kelvin + 194.0)
    specific_heat = 1003.0 + 0.21 * np.maximum(kelvin - 350.0, 0.0)
    density = 101325.0 / (287.05 * kelvin)
    return AirProperties(viscosity / density, conductivity, specific_heat * viscosity / conductivity)


def grashof_number(size: Numeric, surface_c: Numeric, ambient_c: Numeric, viscosity: Numeric, expansion: Numeric) -> Result:
    """Grashof number [1]: g beta |Ts - Ta| D^3/nu^2.

    size: [m]; surface_c: [°C]; ambient_c: [°C]; viscosity: kinematic [m2/s]
    expansion: thermal expansion coefficient [1/K]

    size D [m], temperatures [°C], kinematic viscosity nu [m2/s], expansion beta [1/K] (ideal gas: 1/T_film).
    """
    difference = np.abs(np.subtract(surface_c, ambient_c))
    return GRAVITY * expansion * difference * np.power(size, 3) / np.square(viscosity)


def churchill_chu_horizontal(rayleigh: Numeric, prandtl: Numeric) -> Result:
    """Nusselt number [1] of natural convection round a long horizontal cylinder, Rayleigh number up to 1e12.

    rayleigh: [1]; prandtl: [1]

    {0.60 + 0.387 Ra^(1/6)/[1 + (0.559/Pr)^(9/16)]^(8/27)}^2. Source: Churchill & Chu, Int. J. Heat Mass
    Transfer 18, 1975, p. 1049.
    """
    require_not_negative("churchill_chu_horizontal", rayleigh=rayleigh)
    spread = (1.0 + np.power(np.divide(0.559, prandtl), 9.0 / 16.0)) ** (8.0 / 27.0)
    return np.square(0.60 + 0.387 * np.power(rayleigh, 1.0 / 6.0) / spread)


def mcadams_horizontal(rayleigh: Numeric) -> Result:
    """Nusselt number [1] of a horizontal cylinder, Rayleigh number 1e4 to 1e9: 0.53 Ra^0.25. Source: McAdams 1954.

    rayleigh: [1]
    """
    return 0.53 * np.power(rayleigh, 0.25)


def natural_convection(diameter: Numeric, surface_c: Numeric, ambient_c: Numeric) -> Result:
    """Heat-transfer coefficient [W/(m2*K)] of a horizontal cylinder of a diameter [m] in still air.

    diameter: [m]; surface_c: [°C]; ambient_c: [°C]

    Churchill & Chu with the properties of air at the mean of surface and ambient temperature [°C].
    """
    require_positive("natural_convection", diameter=diameter)
    film_c = np.add(surface_c, ambient_c) / 2.0
    air = air_properties(film_c)
    grashof = grashof_number(diameter, surface_c, ambient_c, air.viscosity, 1.0 / (film_c + ZERO_CELSIUS))
    return churchill_chu_horizontal(grashof * air.prandtl, air.prandtl) * air.conductivity / diameter


def radiated_flux(surface_k: Numeric, ambient_k: Numeric, emissivity: Numeric) -> Result:
    """Net heat radiated [W/m2] by a grey convex surface into large surroundings, temperatures [K], emissivity [1].

    surface_k: [K]; ambient_k: [K]; emissivity: [1]

    sigma eps (T^4 - Ta^4); inside a work coil the coil's own reflection lowers it. Stefan-Boltzmann law.
    """
    return STEFAN_BOLTZMANN * emissivity * (np.power(surface_k, 4.0) - np.power(ambient_k, 4.0))


def rod_heat(
    perimeter: Numeric,
    area: Numeric,
    length: Numeric,
    conductivity: Numeric,
    coefficient: Numeric,
    rise: Numeric,
    generation: Numeric = 0.0,
) -> Result:
    """Heat [W] that flows into a rod from a body of a temperature rise [K] above the air, the rod's far end insulated.

    perimeter: [m]; area: section [m2]; length: [m]; conductivity: thermal [W/(m*K)]
    coefficient: heat transfer from the rod's side [W/(m2*K)]; rise: of the body above the air [K]
    generation: heat made in the rod per length [W/m]

    sqrt(h P k A) tanh(m L) (rise - q/(h P)), m = sqrt(h P/(k A)): the rod far from the body settles at q/(h P) by itself.
    Below zero when it is warmer than the body. Source: Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, 3.6
    (memory); the generation by superposition.
    """
    require_positive("rod_heat", perimeter=perimeter, area=area, conductivity=conductivity, coefficient=coefficient)
    require_not_negative("rod_heat", length=length, generation=generation)
    side, along = np.multiply(coefficient, perimeter), np.multiply(conductivity, area)
    own = np.subtract(rise, np.divide(generation, side))
    return scalar_or_array(np.sqrt(side * along) * np.tanh(np.sqrt(side / along) * length) * own)


def lumped_temperature_rise(power: Numeric, heat_capacity: Numeric, loss_conductance: Numeric, time: Numeric) -> Result:
    """Temperature rise [K] of a body of one temperature a time [s] after a constant power [W] sets in.

    power: [W]; heat_capacity: [J/K]; loss_conductance: [W/K]; time: [s]

    (P/G)(1 - exp(-t G/C)), heat capacity C [J/K], loss conductance G = h A [W/K], zero allowed (P t/C). Biot
    number below 0.1.
    """
    require_positive("lumped_temperature_rise", heat_capacity=heat_capacity)
    require_not_negative("lumped_temperature_rise", loss_conductance=loss_conductance, time=time)
    exponent = np.multiply(time, loss_conductance) / heat_capacity
    safe = np.maximum(exponent, 1e-12)
    return scalar_or_array(np.multiply(power, time) / heat_capacity * (-np.expm1(-safe) / safe))


def surface_to_centre(surface_flux: Numeric, radius: Numeric, conductivity: Numeric) -> Result:
    """Temperature difference [K] from surface to centre of a long cylinder heated at its surface [W/m2] steadily.

    surface_flux: [W/m2]; radius: [m]; conductivity: thermal [W/(m*K)]

    q a/(2k) after the initial transient (about 0.4 a^2/diffusivity); radius [m], conductivity [W/(m*K)].
    Source: Carslaw & Jaeger, Conduction of Heat in Solids, 7.8.
    """
    return np.multiply(surface_flux, radius) / (2.0 * np.asarray(conductivity)[()])
