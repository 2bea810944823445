# SPDX-License-Identifier: GPL-3.0-or-later
"""Straight conductors: bars, strips and traces of rectangular section, and the inductance of any straight piece.

Skin effect: rectangle_crowded_ratio, rectangle_resistance_ratio
Inductance:  bar_inductance, wire_inductance
Two bars with their broad sides facing each other, go and return: facing_bars_inductance, facing_bars_impedance

Ratios are to the resistance at zero frequency; width and thickness may be swapped.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics.conductor import skin_depth, slab_resistance_ratio
from heatsim.physics.numeric import Numeric, Result, require_positive, scalar_or_array

EDGE = 5.0
"""Width times thickness over the square of the skin depth [1] at which the current of a thin strip begins to crowd to its edges;
fitted to filaments, see `rectangle_resistance_ratio`."""


@lru_cache(maxsize=256)
def rectangle_crowded_ratio(width: float, thickness: float) -> float:
    """AC over DC resistance of a lone bar much thicker than the skin depth, times skin depth over thickness [1].

    width: the longer side [m]; thickness: the shorter side [m]

    w [K(m) + K(1 - m)]/(2 pi^2 A): surface current as the charge on a rectangular cylinder, by the mapping of its outside to
    that of a circle with corners at angles +-alpha, m = sin^2 alpha, t = 4 A [E(m) - (1 - m) K(m)], w likewise with 1 - m.
    Evenly spread over the whole surface it would be w/(2 (w + t)); the square has 4/pi times that. Source: the method of
    Cockcroft, Proc. R. Soc. A 122, 1929, p. 533 (memory); derived anew, held by a filament calculation in the tests.
    """
    from scipy.optimize import brentq
    from scipy.special import ellipe, ellipk, ellipkm1

    require_positive("rectangle_crowded_ratio", width=width, thickness=thickness)
    long, short = max(width, thickness), min(width, thickness)

    def side(m: float) -> float:
        """Length of a side over 4 A; its series where it cancels."""
        return float(ellipe(m) - (1.0 - m) * ellipk(m)) if m > 1e-6 else np.pi / 4.0 * m * (1.0 + m / 8.0)

    def other(m: float) -> float:
        return float(ellipe(1.0 - m) - m * ellipkm1(m))

    log_m = brentq(lambda x: side(np.exp(x)) * long - other(np.exp(x)) * short, np.log(1e-12), np.log(0.5) + 1e-9)
    m = float(np.exp(log_m))
    scale = long / (4.0 * other(m))
    return float(long * (ellipk(m) + ellipkm1(m)) / (2.0 * np.pi**2 * scale))


def rectangle_resistance_ratio(width: float, thickness: float, delta: Numeric) -> Result:
    """AC over DC resistance [1] of a lone straight bar or strip of rectangular section, its return far away.

    width: [m]; thickness: [m]; delta: skin depth [m]

    The larger of two: (1 + h^3)^(1/3), h = `rectangle_crowded_ratio` t/delta; and for thin strips the flat sheet with current
    on both faces, `slab_resistance_ratio` of t/(2 delta), times the crowding to the edges, 1 + ln(1 + (w t/(5 delta^2))^2)/pi^2
    (the logarithm of a sheet current 1/sqrt(1 - (2x/w)^2) cut off at its edges), at most what it is at high frequency. Own
    interpolation between exact limits: within -4 and +8 % of a filament calculation for w/t 1 to 430 and t/delta 0.3 to 10
    (tests). A return nearer than the width changes it: `slab_resistance_ratio` of t/delta for one that faces it closely.
    """
    long, short = max(width, thickness), min(width, thickness)
    crowded = rectangle_crowded_ratio(long, short)
    depths = np.divide(short, delta)
    blend = np.cbrt(1.0 + (crowded * depths) ** 3)
    edges = 1.0 + np.log1p((long / short * depths**2 / EDGE) ** 2) / np.pi**2
    sheet = np.asarray(slab_resistance_ratio(depths / 2.0)) * np.minimum(edges, 2.0 * crowded)
    return scalar_or_array(np.maximum(blend, sheet))


def bar_inductance(length: Numeric, width: Numeric, thickness: Numeric) -> Result:
    """Self-inductance [H] of a straight bar or strip by itself, its return far away.

    length: [m]; width: [m]; thickness: [m]

    mu0 l/(2 pi) [ln(2 l/(w + t)) + 1/2 + 0.2235 (w + t)/l]; uniform current, within some per cent for a length above twice
    w + t. A return beside it takes off most of it. Source: Grover 1946; Terman 1943 (memory).
    """
    require_positive("bar_inductance", length=length, width=width, thickness=thickness)
    around = np.add(width, thickness)
    shape = np.log(2.0 * np.divide(length, around)) + 0.5 + 0.2235 * np.divide(around, length)
    return scalar_or_array(MU_0 * np.multiply(length, np.maximum(shape, 0.0)) / (2.0 * np.pi))


def wire_inductance(length: Numeric, radius: Numeric, internal: Numeric = 1.0) -> Result:
    """Self-inductance [H] of a straight round wire by itself, its return far away.

    length: [m]; radius: [m]; internal: internal inductance over its value at zero frequency [1]

    mu0 l/(2 pi) [ln(2 l/r) - 1 + Y/4 + r/l], Y 1 for uniform current, 0 for current at the surface. Source: Rosa 1908; Grover
    1946 (memory).
    """
    require_positive("wire_inductance", length=length, radius=radius)
    shape = np.log(2.0 * np.divide(length, radius)) - 1.0 + np.divide(internal, 4.0) + np.divide(radius, length)
    return scalar_or_array(MU_0 * np.multiply(length, shape) / (2.0 * np.pi))


THICKEST = 5.0
"""Thickness over the distance of the bars up to which the formulas were compared with a numerical solution."""


def facing_bars_inductance(length: float, width: float, thickness: float, spacing: float) -> float:
    """External loop inductance [H] of a piece of two facing bars.

    length: of the piece [m]; width: [m], thickness: of each bar [m]; spacing: between the sides that face each other [m]

    (mu0 l/pi) ln[F/u + sqrt(1 + (2/u)^2)], F = 6 + (2 pi - 6) exp(-(30.666/u)^0.7528), u = 2 (w + dw)/s, twice a strip at half the
    distance above a plane; dw = (t/pi) ln[1 + 4 e/(T coth^2 sqrt(6.517 u0))], T = 2 t/s, u0 = 2 w/s. Source: E. Hammerstad and
    O. Jensen, IEEE MTT-S Digest 1980, p. 407 (memory); a numerical solution of the plane field agrees within 1.2 % for w/s from
    1/8 to 25, t up to w and to 5 s (tests). Current on the surfaces only, bars much longer than their distance. Raises
    InputError outside of that thickness.
    """
    require_positive("facing_bars_inductance", length=length, width=width, thickness=thickness, spacing=spacing)
    if thickness > min(width, THICKEST * spacing) * (1 + 1e-9):
        allowed = f"up to the width and {THICKEST:g} times the spacing"
        raise InputError.single("facing_bars_inductance", "bars too thick", f"{1e3 * thickness:.4g} mm", allowed)
    plain, thick = 2.0 * width / spacing, 2.0 * thickness / spacing
    widened = math.log1p(4.0 * math.e * math.tanh(math.sqrt(6.517 * plain)) ** 2 / thick)
    u = plain + thick / math.pi * widened
    form = 6.0 + (2.0 * math.pi - 6.0) * math.exp(-((30.666 / u) ** 0.7528))
    return MU_0 * length / math.pi * math.log(form / u + math.sqrt(1.0 + (2.0 / u) ** 2))


STEP = 1e-6
"""Recess of the surfaces over the least dimension, for the slope of the inductance."""


def facing_bars_impedance(
    length: float, width: float, thickness: float, spacing: float, resistivity: float, frequency: float
) -> complex:
    """Loop impedance [ohm] of a piece of two facing bars at a frequency.

    length: [m]; width: [m]; thickness: [m]; spacing: [m], as in `facing_bars_inductance`; resistivity: [ohm*m]; frequency: [Hz]

    R = (Rs/mu0) dL/dn with the surface resistance Rs = resistivity/depth, n the recess of every surface, and as much reactance on
    top of the external one: H. A. Wheeler, Proc. IRE 30, 1942, p. 412 (memory), for bars of four skin depths or more; a numerical
    solution agrees within 4 % (tests). Not below the direct-current value 2 rho l/(w t), where the inner inductance is
    (2/3) mu0 l t/w; between one and four depths an estimate, up to a fifth low.
    """
    depth, omega = float(skin_depth(resistivity, frequency)), 2.0 * math.pi * frequency
    step = STEP * min(width, thickness, spacing)
    external = facing_bars_inductance(length, width, thickness, spacing)
    receded = facing_bars_inductance(length, width - 2 * step, thickness - 2 * step, spacing + 2 * step)
    surface = resistivity / depth * (receded - external) / step / MU_0
    inner = min(surface, omega * MU_0 * length * thickness / width * 2.0 / 3.0)
    return complex(max(surface, 2.0 * resistivity * length / (width * thickness)), omega * external + inner)
