# SPDX-License-Identifier: GPL-3.0-or-later
"""How much current conductors carry: printed-board tracks, wires that melt.

CAUTION: fusing formulas say when a wire melts, not what it may carry. Wiring of mains and of battery supplies
follows local codes and belongs to people licensed for it.
"""

from __future__ import annotations

import numpy as np

from heatsim.physics.numeric import Numeric, Result, require_positive

MIL = 25.4e-6
"""One thousandth of an inch [m]."""

CIRCULAR_MIL = np.pi / 4.0 * MIL**2
"""Area of a circle of one mil diameter [m2]."""

TRACK_EXTERNAL, TRACK_INTERNAL = 0.048, 0.024
"""Coefficient k of IPC-2221 for tracks on outer and inner layers (area in square mil)."""


def track_current(width: Numeric, thickness: Numeric, temperature_rise: Numeric, k: float = TRACK_EXTERNAL) -> Result:
    """Current [A] of a printed-board track of a width and a thickness [m] at a temperature rise [K].

    width: [m]; thickness: [m]; temperature_rise: [K]; k: 0.024 for inner layers, 0.048 for outer ones [1]

    I = k dT^0.44 A^0.725, A in square mil. Charts up to 35 A, 10 mm and 100 K; tracks of heaters often lie
    beyond: then an estimate. Source: IPC-2221.
    """
    require_positive("track_current", width=width, thickness=thickness, temperature_rise=temperature_rise)
    area = np.multiply(width, thickness) / MIL**2
    return k * np.power(temperature_rise, 0.44) * area**0.725


def track_rise(width: Numeric, thickness: Numeric, current: Numeric, k: float = TRACK_EXTERNAL) -> Result:
    """Temperature rise [K] at which `track_current` reaches a current [A]: its inverse, with its range and source.

    width: [m]; thickness: [m]; current: [A]; k: as there [1]
    """
    require_positive("track_rise", width=width, thickness=thickness)
    area = np.multiply(width, thickness) / MIL**2
    return np.power(np.divide(current, k * area**0.725), 1.0 / 0.44)


def melting_current(area: Numeric, time: Numeric, ambient_c: Numeric = 25.0, melting_c: Numeric = 1083.0) -> Result:
    """Current [A] that melts a copper conductor of an area [m2] in a time [s], from an ambient temperature [°C].

    area: [m2]; time: [s]; ambient_c: [°C]; melting_c: [°C]

    33 (I/A)^2 t = log10((T_melt - T_a)/(234 + T_a) + 1), A in circular mil: no heat leaves, so only below
    some 10 s. Source: Onderdonk's equation.
    """
    require_positive("melting_current", area=area, time=time)
    logarithm = np.log10(np.subtract(melting_c, ambient_c) / np.add(234.0, ambient_c) + 1.0)
    return np.divide(area, CIRCULAR_MIL) * np.sqrt(logarithm / (33.0 * np.asarray(time)[()]))


def fusing_current(diameter: Numeric) -> Result:
    """Steady current [A] that melts a lone copper wire of a diameter [m] in still air.

    a d^1.5 with a = 10244 and d in inches. Source: Preece 1884.
    """
    require_positive("fusing_current", diameter=diameter)
    return 10244.0 * np.power(np.divide(diameter, 0.0254), 1.5)
