# SPDX-License-Identifier: GPL-3.0-or-later
"""Water through the tube of a work coil: properties, pressure drop, heat transfer, boiling, and what happens without it.

Water: water_properties, WaterProperties, saturation_temperature
Tube:  tube_pressure_drop, tube_coefficient
Dry:   dry_time, tube_mass

Friction factors and heat transfer are those of the `fluids` and `ht` libraries, loaded when first called. Clean tube and water;
lime of a tenth of a millimetre costs as much again as the water's film.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from heatsim.constants import COPPER_DENSITY, COPPER_SPECIFIC_HEAT, COPPER_TEMPERATURE_COEFFICIENT, ZERO_CELSIUS
from heatsim.errors import InputError
from heatsim.physics.numeric import Numeric, Result, require_not_negative, require_positive, scalar_or_array

ROUGHNESS = 1.5e-6
"""Of drawn copper tube [m]; handbooks (memory)."""

ATMOSPHERE = 101325.0
"""Standard atmosphere [Pa]."""


class WaterProperties(NamedTuple):
    """Density [kg/m3], dynamic viscosity [Pa*s], conductivity [W/(m*K)], specific heat [J/(kg*K)], Prandtl number [1]."""

    density: float
    viscosity: float
    conductivity: float
    specific_heat: float
    prandtl: float


def water_properties(temperature_c: float) -> WaterProperties:
    """Liquid water near atmospheric pressure at a temperature [°C]; beyond 0 to 110 °C that of the nearer end.

    temperature_c: [°C]

    Density after Kell 1975; viscosity and conductivity by IAPWS SR6-08 of 2011 (liquid water at 0.1 MPa), within 1 and 2 %;
    specific heat 4190 J/(kg*K), within 1 %. Coefficients from memory, held by printed values in the tests.
    """
    t = min(max(temperature_c, 0.0), 110.0)
    top = 999.83952 + t * (16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12))))
    star = (t + ZERO_CELSIUS) / 300.0
    viscosity = 1e-6 * (280.68 * star**-1.9 + 511.45 * star**-7.7 + 61.131 * star**-19.6 + 0.45903 * star**-40.0)
    conductivity = 1.6630 * star**-1.15 - 1.7781 * star**-3.4 + 1.1567 * star**-6.0 - 0.432115 * star**-7.6
    return WaterProperties(top / (1.0 + 16.879850e-3 * t), viscosity, conductivity, 4190.0, 4190.0 * viscosity / conductivity)


_SATURATION = (1167.0521452767, -724213.16703206, -17.073846940092, 12020.82470247, -3232555.0322333, 14.91510861353,
               -4823.2657361591, 405113.40542057, -0.23855557567849, 650.17534844798)  # fmt: skip


def saturation_temperature(pressure: float) -> float:
    """Temperature [°C] at which water boils at an absolute pressure [Pa], 611 Pa to 22 MPa.

    pressure: absolute [Pa]

    Source: IAPWS-IF97, region 4, backward equation (coefficients from memory, held by printed values in the tests).
    """
    if not 611.0 <= pressure <= 22.064e6:
        raise InputError.single("saturation_temperature", "pressure out of range", pressure, "611 Pa to 22.064 MPa")
    n, beta = _SATURATION, (pressure / 1e6) ** 0.25
    e, f, g = beta**2 + n[2] * beta + n[5], n[0] * beta**2 + n[3] * beta + n[6], n[1] * beta**2 + n[4] * beta + n[7]
    d = 2.0 * g / (-f - math.sqrt(f**2 - 4.0 * e * g))
    return float((n[9] + d - math.sqrt((n[9] + d) ** 2 - 4.0 * (n[8] + n[9] * d))) / 2.0 - ZERO_CELSIUS)


def _reynolds(flow: float, bore: float, water: WaterProperties) -> float:
    return 4.0 * flow * water.density / (math.pi * bore * water.viscosity)


def _friction(reynolds: float, bore: float, bend: float | None) -> float:
    """Darcy friction factor [1] of a straight tube, or of one wound to a diameter."""
    from fluids.friction import friction_factor, friction_factor_curved

    if bend is None:
        return float(friction_factor(Re=reynolds, eD=ROUGHNESS / bore))
    return float(friction_factor_curved(Re=reynolds, Di=bore, Dc=bend, roughness=ROUGHNESS))


def tube_pressure_drop(flow: float, bore: float, length: float, celsius: float, bend: float | None = None) -> float:
    """Pressure drop [Pa] of water through a drawn tube, without its ends.

    flow: [m3/s]; bore: inner diameter [m]; length: [m]; celsius: of the water [°C]
    bend: diameter to which the tube is wound, between tube centres [m], None for a straight one

    f l/d rho v^2/2; straight: 64/Re below Re 2040, else Clamond's solution of Colebrook's equation; wound: Schmidt 1967, laminar
    up to a higher Reynolds number and turbulent above it; by way of `fluids`.
    """
    require_positive("tube_pressure_drop", bore=bore)
    require_not_negative("tube_pressure_drop", flow=flow, length=length)
    if flow == 0.0 or length == 0.0:
        return 0.0
    water, speed = water_properties(celsius), 4.0 * flow / (math.pi * bore**2)
    return _friction(_reynolds(flow, bore, water), bore, bend) * length / bore * water.density * speed**2 / 2.0


def tube_coefficient(flow: float, bore: float, celsius: float, bend: float | None = None) -> float:
    """Heat transfer [W/(m2*K)] from a tube's wall to water that flows in it.

    flow: [m3/s]; bore: inner diameter [m]; celsius: of the water [°C]
    bend: diameter to which the tube is wound [m], None for a straight one

    Straight: Nu 3.66 below Re 2300, Gnielinski 1976 above. Wound: laminar, 3.65 + 0.08 [1 + 0.8 (d/D)^0.9] Re^(0.5 + 0.2903
    (d/D)^0.194) Pr^(1/3) (Schmidt 1967; memory) up to the Reynolds number of Schmidt at which it turns turbulent, above
    Gnielinski with the friction of the wound tube, as in the VDI Heat Atlas (memory). By way of `ht` and `fluids`; within
    20 %. No entry effects, which add.
    """
    from fluids.friction import helical_Re_crit
    from ht.conv_internal import laminar_T_const, turbulent_Gnielinski

    require_positive("tube_coefficient", flow=flow, bore=bore)
    water = water_properties(celsius)
    reynolds = _reynolds(flow, bore, water)
    turns_at = 2300.0 if bend is None else float(helical_Re_crit(Di=bore, Dc=bend))
    if reynolds > turns_at:
        nusselt = float(turbulent_Gnielinski(reynolds, water.prandtl, _friction(reynolds, bore, bend)))
    elif bend is None:
        nusselt = float(laminar_T_const())
    else:
        curve = bore / bend
        power = 0.5 + 0.2903 * curve**0.194
        nusselt = 3.65 + 0.08 * (1.0 + 0.8 * curve**0.9) * reynolds**power * water.prandtl ** (1.0 / 3.0)
    return nusselt * water.conductivity / bore


def dry_time(power: Numeric, mass: Numeric, start_c: Numeric, end_c: Numeric) -> Result:
    """Time [s] in which copper without cooling warms from one temperature to another; infinite without power.

    power: that it takes up at the first temperature [W]; mass: of copper [kg]; start_c: [°C]; end_c: [°C]

    Adiabatic, one temperature, the loss rising with the resistance: m c/(a P) ln(1 + a (T - T0)), a = alpha/(1 + alpha
    (T0 - 20)). Skin effect makes the loss rise by less, so that it takes up to a tenth longer. Source: energy balance, copper
    after IEC 60028.
    """
    require_positive("dry_time", mass=mass)
    rise = np.subtract(end_c, start_c)
    slope = COPPER_TEMPERATURE_COEFFICIENT / (1.0 + COPPER_TEMPERATURE_COEFFICIENT * np.subtract(start_c, 20.0))
    heat = np.multiply(mass, COPPER_SPECIFIC_HEAT) * np.log1p(slope * np.maximum(rise, 0.0)) / slope
    with np.errstate(divide="ignore"):
        return scalar_or_array(np.divide(heat, power))


def tube_mass(outer: Numeric, bore: Numeric, length: Numeric) -> Result:
    """Mass [kg] of a copper tube.

    outer: outer diameter [m]; bore: inner diameter [m]; length: [m]
    """
    return COPPER_DENSITY * np.pi / 4.0 * (np.square(outer) - np.square(bore)) * length
