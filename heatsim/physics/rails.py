# SPDX-License-Identifier: GPL-3.0-or-later
"""Two flat bars with their broad sides facing each other, as go and return of a current whose skin depth is small beside them."""

from __future__ import annotations

import math

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics.conductor import skin_depth
from heatsim.physics.numeric import require_positive

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
