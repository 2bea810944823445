# SPDX-License-Identifier: GPL-3.0-or-later
"""Physical constants, SI, with their sources."""

from __future__ import annotations

import math

MU_0 = 4e-7 * math.pi
"""Magnetic constant [H/m], the value of SI before 2019; CODATA 2018 differs by 5e-10, far below any part's tolerance."""

EPSILON_0 = 8.8541878128e-12
"""Electric constant [F/m]; CODATA 2018."""

COPPER_RESISTIVITY_20C = 1.0 / 58e6
"""Resistivity of annealed copper at 20 °C [ohm*m]; IEC 60028 (conductivity 58 MS/m)."""

COPPER_TEMPERATURE_COEFFICIENT = 3.93e-3
"""Constant-mass temperature coefficient of copper resistance at 20 °C [1/K]; IEC 60028."""

COPPER_DENSITY = 8890.0
"""Density of copper at 20 °C [kg/m3]; IEC 60028."""

COPPER_CONDUCTIVITY = 390.0
"""Thermal conductivity of annealed copper [W/(m*K)] between 0 and 250 °C; handbooks (memory), 400 falling to 385."""

COPPER_SPECIFIC_HEAT = 385.0
"""Specific heat of copper [J/(kg*K)] at 20 °C, some 5 % more at 250 °C; handbooks (memory)."""

STEFAN_BOLTZMANN = 5.670374419e-8
"""Stefan-Boltzmann constant [W/(m2*K4)]; CODATA 2018."""

THERMAL_VOLTAGE = 1.380649e-23 * 300.15 / 1.602176634e-19
"""kT/q [V] at 27 °C, where ngspice evaluates its models; SI of 2019."""

ZERO_CELSIUS = 273.15
"""0 °C [K]."""

OERSTED = 1000.0 / (4.0 * math.pi)
"""One oersted [A/m]."""

E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
"""Standard values of a decade; IEC 60063, from memory."""
