# SPDX-License-Identifier: GPL-3.0-or-later
"""Eddy-current heating of a long cylinder or tube along an alternating field, and the flux of a coil through rings in it.

Long pieces: cylinder_factors, cylinder_power, tube_factor, tube_screening, tube_power, mean_permeability
Coil:        sheet_flux

Linear material: a constant permeability. Pieces of any length in their coil are in `sheets` and `slices`, steel whose permeability
follows the field in `bar_field`. The letters P and Q of the factors are swapped in some books; F (surface loss) is not.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics.conductor import skin_depth
from heatsim.physics.inductance import loop_mutual_inductance
from heatsim.physics.numeric import FloatArray, Numeric, Result, require_positive, scalar_or_array


class CylinderFactors(NamedTuple):
    """Dimensionless: f surface loss, p loss, q flux; q - j p is the mean flux density over mu H0."""

    f: Result
    p: Result
    q: Result


class Reflection(NamedTuple):
    """What a workpiece adds to its coil: series resistance [ohm] and change of inductance [H] (negative:
    less)."""

    resistance: float
    inductance_change: float


def cylinder_factors(ratio: Numeric) -> CylinderFactors:
    """Factors F, P, Q [1] of a long solid cylinder; `ratio` = radius / skin depth [1].

    2 I1(ka)/(ka I0(ka)) = Q - jP, k = (1 + j)/delta, F = ratio * P. F tends to ratio^3/4 below 0.5 and to
    1 - 1/(2 ratio) above; P is greatest, 0.37745, at 1.77837. Source: Baker 1944/57; Davies & Simpson 1979.
    """
    from scipy.special import ive

    require_positive("cylinder_factors", ratio=ratio)
    x = np.asarray(ratio, dtype=float)
    z = (1.0 + 1.0j) * np.maximum(x, 0.02)
    mean = 2.0 * ive(1, z) / (z * ive(0, z))
    p = np.where(x < 0.02, x**2 / 4.0 * (1.0 - 11.0 / 96.0 * x**4), -mean.imag)
    q = np.where(x < 0.02, 1.0 - x**4 / 12.0, mean.real)
    return CylinderFactors(scalar_or_array(x * p), scalar_or_array(p), scalar_or_array(q))


def cylinder_power(
    radius: Numeric, length: Numeric, resistivity: Numeric, mu_r: Numeric, frequency: Numeric, field_rms: Numeric
) -> Result:
    """Power [W] in a solid cylinder of radius and length [m] in an axial field at its surface [A/m, rms].

    radius: [m]; length: [m]; resistivity: [ohm*m]; mu_r: relative permeability [1]; frequency: [Hz]
    field_rms: at the surface [A/m]

    resistivity [ohm*m], permeability [1], frequency [Hz]. Hrms^2 (rho/delta) F times the mantle 2 pi a l; end
    faces and end effects left out: length well above the diameter.
    """
    delta = skin_depth(resistivity, frequency, mu_r)
    surface_loss = np.square(field_rms) * resistivity / delta * cylinder_factors(np.divide(radius, delta)).f
    return surface_loss * 2.0 * np.pi * np.multiply(radius, length)


def _tube_fields(outer: float, bore: float, delta: float, mu_r: float) -> tuple[complex, float]:
    """Surface E/H in units of rho/delta, and |H in the bore/H outside|, from scaled Bessel functions.

    H = A I0(kr) + B K0(kr), k = (1 + j)/delta, E = -rho H'; the bore's flux asks E(b) = -j w mu0 (b/2) H(b),
    and with w mu0 mu_r = 2 rho/delta^2 this is H'(b) = k (kb/(2 mu_r)) H(b).
    """
    from scipy.special import ive, kve

    kb, ka = (1.0 + 1.0j) * bore / delta, (1.0 + 1.0j) * outer / delta
    edge = kb / (2.0 * mu_r)  # H'/(k H) at the bore
    # growing part scaled by exp(-Re kb), decaying part by exp(kb), both taken at the bore
    grow = kve(1, kb) + edge * kve(0, kb)
    decay = ive(1, kb) - edge * ive(0, kb)
    rise = np.exp((ka - kb).real)
    fall = np.exp(-(ka - kb))
    field_outside = grow * ive(0, ka) * rise + decay * kve(0, ka) * fall
    slope_outside = grow * ive(1, ka) * rise - decay * kve(1, ka) * fall
    field_bore = grow * ive(0, kb) + decay * kve(0, kb)
    return complex((1.0 + 1.0j) * slope_outside / field_outside), float(abs(field_bore / field_outside))


def _check_tube(outer_radius: float, bore_radius: float, delta: float, mu_r: float) -> None:
    require_positive("tube", outer_radius=outer_radius, bore_radius=bore_radius, delta=delta, mu_r=mu_r)
    if bore_radius >= outer_radius:
        raise InputError.single("tube", "bore radius", bore_radius, f"below the outer radius, {outer_radius:.6g} m")


def tube_factor(outer_radius: float, bore_radius: float, delta: float, mu_r: float = 1.0) -> float:
    """Surface-loss factor F [1] of a long tube in an axial field applied outside, air in the bore.

    outer_radius: [m]; bore_radius: [m]; delta: skin depth [m]; mu_r: relative permeability [1]

    Power per outer surface = Hrms^2 (rho/delta) F; radii and skin depth [m], permeability [1]. Exact modified
    Bessel solution with E(b) = -j w mu0 (b/2) H(b) at the bore. A wall about one skin depth or less can take
    more than a solid cylinder.
    """
    _check_tube(outer_radius, bore_radius, delta, mu_r)
    if outer_radius - bore_radius > 300.0 * delta:
        return float(cylinder_factors(outer_radius / delta).f)
    return _tube_fields(outer_radius, bore_radius, delta, mu_r)[0].real


def tube_screening(outer_radius: float, bore_radius: float, delta: float, mu_r: float = 1.0) -> float:
    """Field in the bore over the field outside [1], magnitudes; arguments as in `tube_factor`.

    outer_radius: [m]; bore_radius: [m]; delta: skin depth [m]; mu_r: relative permeability [1]

    Thin walls of mu_r = 1: 1/|1 + j w mu0 b t sigma/2|.
    """
    _check_tube(outer_radius, bore_radius, delta, mu_r)
    if outer_radius - bore_radius > 300.0 * delta:
        return 0.0
    return _tube_fields(outer_radius, bore_radius, delta, mu_r)[1]


def tube_power(
    radii: tuple[float, float], length: float, resistivity: float, mu_r: float, frequency: float, field_rms: float
) -> float:
    """Power [W] in a long tube (outer, bore radius [m]) of a length [m]; other arguments as in `cylinder_power`.

    radii: (outer radius, bore radius) [m]; length: [m]; resistivity: [ohm*m]; mu_r: relative permeability [1]
    frequency: [Hz]; field_rms: at the outer surface [A/m]
    """
    delta = float(skin_depth(resistivity, frequency, mu_r))
    factor = tube_factor(radii[0], radii[1], delta, mu_r)
    return field_rms**2 * resistivity / delta * factor * 2.0 * np.pi * radii[0] * length


def sheet_flux(coil: tuple[float, float, float], radius: float, place: FloatArray) -> FloatArray:
    """Mutual inductance [H] of a current-sheet coil and loops of a radius [m] at places on its axis [m].

    coil: (diameter [m], length [m], turns [1]); radius: of the loops [m]; place: from the coil's middle [m]

    Gauss rule over the sheet in s, distance = clearance * sinh(s): fine near the loop, coarse far away.
    """
    diameter, length, turns = coil
    clearance = diameter / 2.0 - radius
    node, weight = np.polynomial.legendre.leggauss(96)
    low, high = (np.arcsinh((place + side * length / 2.0) / clearance)[:, None] for side in (-1.0, 1.0))
    s = (high + low) / 2.0 + (high - low) / 2.0 * node
    mutual = loop_mutual_inductance(radius, diameter / 2.0, clearance * np.sinh(s)) * clearance * np.cosh(s)
    return np.asarray(turns / length * np.sum(mutual * weight * (high - low) / 2.0, axis=1))


def mean_permeability(radius: float, resistivity: float, mu_r: complex, frequency: float) -> complex:
    """Mean flux density of a long solid cylinder over mu0 and the field at its surface [1]: mu_r (Q - jP) of `cylinder_factors`.

    radius: [m]; resistivity: [ohm*m]; mu_r: relative permeability [1], complex for steel (`surface_permeability`)
    frequency: [Hz]
    mu_r 2 I1(ka)/(ka I0(ka)), k^2 = j w mu0 mu_r/resistivity.
    """
    from scipy.special import ive

    require_positive("mean_permeability", radius=radius, resistivity=resistivity, frequency=frequency)
    z = radius * np.sqrt(2.0j * np.pi * frequency * MU_0 * mu_r / resistivity)
    return complex(mu_r if abs(z) < 1e-3 else mu_r * 2.0 * ive(1, z) / (z * ive(0, z)))
