# SPDX-License-Identifier: GPL-3.0-or-later
"""Copper and wire, and the resistance of conductors that carry alternating current.

Copper:      copper_resistivity
Wire:        awg_diameter, wire_area, enamelled_diameter
Skin effect: skin_depth, round_wire_resistance_ratio, round_wire_internal_inductance_ratio,
             tube_resistance_ratio, slab_resistance_ratio
Proximity:   layer_porosity, dowell_round_wire_xi, dowell_factor, transverse_field_coefficient,
             transverse_field_loss, medhurst_factor

The ratios are to the resistance at zero frequency. Lengths enter only as quotients, so any one unit will do
there.
"""

from __future__ import annotations

import numpy as np

from heatsim.constants import COPPER_RESISTIVITY_20C, COPPER_TEMPERATURE_COEFFICIENT, MU_0
from heatsim.errors import InputError
from heatsim.physics.numeric import Numeric, Result, require_not_negative, require_positive, scalar_or_array

_LARGE = 1e5  # radius over skin depth beyond which a tube is a flat slab to better than 1e-5


def copper_resistivity(temperature_c: Numeric) -> Result:
    """Resistivity of annealed copper [ohm*m] at a temperature [°C].

    temperature_c: [°C]

    rho = rho20 * (1 + alpha20 * (T - 20)); linear, good to about 1 % from -50 to 200 °C. Source: IEC 60028.
    Raises InputError below -230 °C, where the line would reach zero.
    """
    if np.any(np.asarray(temperature_c) < -230.0):
        raise InputError.single("copper_resistivity", "temperature too low", temperature_c, "-230 °C and above")
    return COPPER_RESISTIVITY_20C * (1.0 + COPPER_TEMPERATURE_COEFFICIENT * (temperature_c - 20.0))


def awg_diameter(gauge: Numeric) -> Result:
    """Bare diameter [m] of a wire of American wire gauge [1]; 0, -1, -2, -3 stand for 1/0 to 4/0.

    d = 0.127 mm * 92**((36 - n) / 39). Range: -3 to 56. Source: ASTM B258 (formula from memory).
    """
    if np.any((np.asarray(gauge) < -3) | (np.asarray(gauge) > 56)):
        raise InputError.single("awg_diameter", "gauge out of range", gauge, "-3 (4/0) to 56")
    return 0.127e-3 * 92.0 ** ((36.0 - gauge) / 39.0)


def wire_area(diameter: Numeric) -> Result:
    """Cross-section [m2] of a round wire of a bare diameter [m]."""
    return np.pi / 4.0 * diameter**2


# Nominal bare diameter, largest overall diameter of grade 1 and grade 2 [mm]; IEC 60317-0-1, Table 1
# (memory).
_ENAMEL_MM = np.array(
    [
        (0.100, 0.117, 0.125), (0.200, 0.226, 0.239), (0.315, 0.349, 0.367), (0.400, 0.439, 0.459),
        (0.500, 0.544, 0.566), (0.630, 0.679, 0.704), (0.800, 0.855, 0.884), (1.000, 1.062, 1.094),
        (1.250, 1.316, 1.349), (1.600, 1.670, 1.706), (2.000, 2.074, 2.112), (2.500, 2.578, 2.618),
        (3.150, 3.233, 3.276), (4.000, 4.088, 4.133), (5.000, 5.093, 5.140),
    ]
)  # fmt: skip


def enamelled_diameter(bare: Numeric, grade: int = 2) -> Result:
    """Largest overall diameter [m] of an enamelled round copper wire of a bare diameter [m] and a grade [1],
    1 or 2.

    The increase over bare is interpolated in the logarithm of the diameter between standard sizes. Range: 0.1
    to 5 mm. Source: IEC 60317-0-1, Table 1 (memory): good to about 0.01 mm; measure the wire where it
    matters.
    """
    if grade not in (1, 2):
        raise InputError.single("enamelled_diameter", "unknown enamel grade", grade, "1 or 2")
    millimetres = np.asarray(bare) * 1e3
    sizes = _ENAMEL_MM[:, 0]
    if not np.all((millimetres >= sizes[0] * 0.999) & (millimetres <= sizes[-1] * 1.001)):
        raise InputError.single("enamelled_diameter", "bare diameter out of range", bare, "0.1 mm to 5 mm")
    increase = np.interp(np.log(millimetres), np.log(sizes), _ENAMEL_MM[:, grade] - sizes)
    return scalar_or_array((millimetres + increase) * 1e-3)


def skin_depth(resistivity: Numeric, frequency: Numeric, mu_r: Numeric = 1.0) -> Result:
    """Skin (reference) depth [m] for a resistivity [ohm*m], a frequency [Hz] and a relative permeability [1].

    resistivity: [ohm*m]; frequency: [Hz]; mu_r: relative permeability [1]

    delta = sqrt(rho / (pi f mu0 mu_r)); linear material, plane surface. Infinite at zero frequency.
    """
    require_positive("skin_depth", resistivity=resistivity, mu_r=mu_r)
    require_not_negative("skin_depth", frequency=frequency)
    with np.errstate(divide="ignore"):
        return scalar_or_array(np.sqrt(np.divide(resistivity, np.pi * MU_0 * np.multiply(frequency, mu_r))))


def _round_wire_impedance_ratio(ratio: Numeric) -> Result:
    """Complex internal impedance over direct-current resistance [1] of a round wire; `ratio` = radius / skin
    depth."""
    from scipy.special import jve

    z = (1.0 - 1.0j) * np.maximum(ratio, 1e-8)
    return z / 2.0 * jve(0, z) / jve(1, z)


def round_wire_resistance_ratio(radius: Numeric, delta: Numeric) -> Result:
    """AC over DC resistance [1] of a lone straight round wire of a radius [m] at a skin depth `delta` [m].

    R/Rdc = Re[(z/2) J0(z)/J1(z)], z = (1 - j) radius/delta: exact for an isolated wire, sinusoidal current.
    Source: Rosa & Grover 1912, Table 22; NBS Circular 74, Table 18.
    """
    require_positive("round_wire_resistance_ratio", radius=radius)
    return scalar_or_array(np.real(_round_wire_impedance_ratio(np.divide(radius, delta))))


def round_wire_internal_inductance_ratio(radius: Numeric, delta: Numeric) -> Result:
    """Internal inductance of a lone round wire over its value mu0/(8 pi) per length at zero frequency [1].

    radius: [m]; delta: skin depth [m]

    4 Im[...] / (radius/delta)^2 of the impedance in `round_wire_resistance_ratio`. Same source.
    """
    require_positive("round_wire_internal_inductance_ratio", radius=radius)
    ratio = np.maximum(np.divide(radius, delta), 1e-3)  # below, the quotient is 1 to 1e-13 but cancels
    return scalar_or_array(4.0 * np.abs(np.imag(_round_wire_impedance_ratio(ratio))) / ratio**2)


def slab_resistance_ratio(thickness_ratio: Numeric) -> Result:
    """AC over DC resistance [1] of a flat sheet with the field on one side; `thickness_ratio` = thickness / skin depth.

    thickness_ratio: thickness over skin depth [1]

    F = x (sinh 2x + sin 2x)/(cosh 2x - cos 2x), written so that it neither overflows nor cancels; the limit
    of Dwight's tube for a large radius, and Dowell's first layer.
    """
    x = np.asarray(thickness_ratio, dtype=float)
    safe = np.maximum(x, 1e-3)
    decay = np.exp(-2.0 * safe)
    top = -np.expm1(-4.0 * safe) + 2.0 * decay * np.sin(2.0 * safe)
    bottom = np.expm1(-2.0 * safe) ** 2 + 4.0 * decay * np.sin(safe) ** 2
    return scalar_or_array(np.where(x < 1e-3, 1.0 + 4.0 / 45.0 * x**4, safe * top / bottom))


def tube_resistance_ratio(outer_radius: Numeric, wall: Numeric, delta: Numeric) -> Result:
    """AC over DC resistance [1] of a round tube; outer radius, wall thickness and skin depth `delta` [m].

    outer_radius: [m]; wall: thickness [m]; delta: skin depth [m]

    Current flows in the tube and returns outside, coaxially: a lone straight tube. Exact modified Bessel
    solution with k = (1 + j)/delta, bore a, outside b; scaled functions keep it finite at any size; a tube
    much larger than the skin depth is taken as a flat slab. Source: Dwight 1918 (solution as given in
    Dwight's papers on tubes). Raises InputError when the wall exceeds the radius.
    """
    require_positive("tube_resistance_ratio", outer_radius=outer_radius, wall=wall, delta=delta)
    if np.any(np.asarray(wall) > outer_radius):
        raise InputError.single("tube_resistance_ratio", "wall thicker than the outer radius", wall, "<= outer radius")
    outside, thickness = np.broadcast_arrays(np.divide(outer_radius, delta), np.divide(wall, delta))
    bore = outside - thickness
    solid = _round_wire_impedance_ratio(outside).real
    slab = slab_resistance_ratio(thickness) * (1.0 - thickness / (2.0 * outside))
    hollow = (bore > 1e-9 * outside) & (outside < _LARGE)
    exact = _dwight_ratio(np.where(hollow, outside, 2.0), np.where(hollow, bore, 1.0))
    rest = np.where(bore > 1e-9 * outside, slab, solid)
    return scalar_or_array(np.where(hollow, exact, rest))


def _dwight_ratio(outside: Numeric, bore: Numeric) -> Result:
    """R/Rdc [1] of a tube from its radii over the skin depth [1], by exponentially scaled Bessel
    functions."""
    from scipy.special import ive, kve

    kb, ka = (1.0 + 1.0j) * outside, (1.0 + 1.0j) * bore
    fade = np.exp(-(kb - ka) - (kb - ka).real)
    top = ive(0, kb) * kve(1, ka) + kve(0, kb) * ive(1, ka) * fade
    bottom = ive(1, kb) * kve(1, ka) - kve(1, kb) * ive(1, ka) * fade
    return np.real((1.0 + 1.0j) * (outside**2 - bore**2) / (2.0 * outside) * top / bottom)


def layer_porosity(diameter: Numeric, pitch: Numeric) -> Result:
    """Porosity eta [1] of a layer of round wire: (sqrt(pi)/2) * diameter / pitch, both [m]. Source: Dowell
    1966."""
    return np.sqrt(np.pi) / 2.0 * np.divide(diameter, pitch)


def dowell_round_wire_xi(diameter: Numeric, pitch: Numeric, delta: Numeric) -> Result:
    """Equivalent foil thickness over skin depth, xi [1], of a layer of round wire; diameter, pitch, delta [m].

    diameter: of the wire [m]; pitch: [m]; delta: skin depth [m]

    xi = (sqrt(pi)/2) (d/delta) sqrt(eta): square of equal area, stretched by the porosity. Source: Dowell
    1966.
    """
    return np.sqrt(np.pi) / 2.0 * np.divide(diameter, delta) * np.sqrt(layer_porosity(diameter, pitch))


def dowell_factor(xi: Numeric, layers: Numeric) -> Result:
    """AC over DC resistance [1] of a winding portion of `layers` layers whose field rises from zero; `xi` [1].

    xi: foil thickness over skin depth [1]; layers: number of them [1]

    F = xi [(sinh 2xi + sin 2xi)/(cosh 2xi - cos 2xi) + (2/3)(m^2 - 1)(sinh xi - sin xi)/(cosh xi + cos xi)].
    One-dimensional field: layers that fill the window's breadth (porosity near 1), no gap nearby; it already
    contains the skin effect. Source: P. L. Dowell, Proc. IEE 113, 1966, p. 1387.
    """
    require_not_negative("dowell_factor", xi=xi)
    x = np.asarray(xi, dtype=float)
    safe = np.maximum(x, 1e-3)
    decay = np.exp(-safe)
    stack = safe * (-np.expm1(-2.0 * safe) - 2.0 * decay * np.sin(safe)) / (1.0 + decay**2 + 2.0 * decay * np.cos(safe))
    proximity = np.where(x < 1e-3, x**4 / 6.0, stack)
    return scalar_or_array(slab_resistance_ratio(x) + 2.0 / 3.0 * (np.asarray(layers) ** 2 - 1.0) * proximity)


def transverse_field_coefficient(ratio: Numeric) -> Result:
    """Loss of a round wire across an alternating field, as P sigma/(length H0^2) [1]; `ratio` = radius / skin depth.

    ratio: radius over skin depth [1]

    -2 pi g [ber2(g) ber'(g) + bei2(g) bei'(g)]/[ber(g)^2 + bei(g)^2], g = sqrt(2) ratio. Limits: (pi/2)
    ratio^4 small, 2 pi ratio large. Source: J. A. Ferreira, IEEE Trans. Power Electronics 9, 1994.
    """
    from scipy.special import jve

    g = np.sqrt(2.0) * np.maximum(ratio, 1e-30)
    turn = np.exp(0.75j * np.pi)
    kelvin2, slope0 = jve(2, g * turn), -turn * jve(1, g * turn)
    return scalar_or_array(-2.0 * np.pi * g * np.real(kelvin2 * np.conj(slope0)) / np.abs(jve(0, g * turn)) ** 2)


def transverse_field_loss(radius: Numeric, delta: Numeric, resistivity: Numeric, field_peak: Numeric) -> Result:
    """Eddy loss per length [W/m] of a round wire in a uniform transverse field.

    radius and skin depth `delta` [m], resistivity [ohm*m], `field_peak` the peak applied field [A/m]. The
    wire must not disturb its neighbours' field: spacing of a diameter or more, else an estimate. Source as
    the coefficient's.
    """
    return transverse_field_coefficient(np.divide(radius, delta)) * resistivity * np.square(field_peak)


# Columns: wire diameter over pitch 1.0, 0.9 … 0.1; rows: coil length over diameter. R. G. Medhurst, Wireless
# Engineer 24, 1947, pp. 35 and 80, Table VIII (memory, not verified).
_MEDHURST_LENGTH = np.array([0.0, 0.4, 0.8, 2.0, 6.0, np.inf])
_MEDHURST = np.array(
    [
        (5.31, 3.73, 2.74, 2.12, 1.74, 1.44, 1.26, 1.16, 1.07, 1.02),
        (5.65, 3.99, 2.97, 2.28, 1.83, 1.54, 1.33, 1.21, 1.08, 1.03),
        (5.80, 4.17, 3.20, 2.44, 1.92, 1.64, 1.42, 1.23, 1.10, 1.03),
        (4.10, 3.36, 2.74, 2.32, 1.98, 1.74, 1.50, 1.28, 1.13, 1.04),
        (3.31, 2.92, 2.60, 2.29, 2.03, 1.80, 1.56, 1.34, 1.16, 1.04),
        (3.41, 3.11, 2.815, 2.51, 2.22, 1.93, 1.65, 1.395, 1.19, 1.05),
    ]
)


def medhurst_factor(length_over_diameter: float, wire_over_pitch: float) -> float:
    """Resistance of a single-layer coil over that of its wire laid straight [1], both at high frequency.

    `length_over_diameter` of the coil and `wire_over_pitch` (wire diameter over winding pitch, 0 to 1) [1].
    Interpolated in l/(l + D) and in d/s from a table measured on coils of 30 to 50 turns, wire much thicker
    than the skin depth; few turns lie lower. Source: Medhurst 1947, Table VIII (memory, not verified): a few
    per cent at best.
    """
    if not (length_over_diameter >= 0.0 and 0.0 <= wire_over_pitch <= 1.0):
        given = (length_over_diameter, wire_over_pitch)
        raise InputError.single("medhurst_factor", "shape out of range", given, "length/diameter >= 0, 0 <= wire/pitch <= 1")
    pitches = np.linspace(0.0, 1.0, 11)
    by_length = [np.interp(wire_over_pitch, pitches, np.append(1.0, row[::-1])) for row in _MEDHURST]
    squeeze = 1.0 / (1.0 + 1.0 / np.maximum(_MEDHURST_LENGTH, 1e-12))
    wanted = 1.0 / (1.0 + 1.0 / max(length_over_diameter, 1e-12))
    return float(np.interp(wanted, squeeze, by_length))
