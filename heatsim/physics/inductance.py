# SPDX-License-Identifier: GPL-3.0-or-later
"""Inductance of air-core coils: single-layer solenoids and coaxial circular loops.

Sheet:  nagaoka_coefficient, solenoid_sheet_inductance, and the approximations lundin_inductance,
        wheeler_1982_inductance, wheeler_1928_inductance
Wire:   rosa_wire_term, rosa_turns_term, solenoid_inductance
Loops:  loop_mutual_inductance, loop_self_inductance
Field:  solenoid_axis_field

Diameters are measured between wire centres; a solenoid's length is turns times pitch.
"""

from __future__ import annotations

import numpy as np

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics.numeric import FloatArray, Numeric, Result, require_positive, scalar_or_array


def nagaoka_coefficient(diameter_over_length: Numeric) -> Result:
    """Inductance of a cylindrical current sheet over that of an equal piece of an endless one [1].

    diameter_over_length: [1]

    K = 4/(3 pi k1) [(k1/k)^2 (K(k) - E(k)) + E(k) - k], k = D/sqrt(D^2 + l^2), k1 = l/sqrt(D^2 + l^2), with
    complete elliptic integrals of modulus k; series outside 1e-3 < D/l < 1e3, where the closed form cancels.
    Source: Lorenz 1879; Nagaoka 1909; Rosa & Grover 1912, Table 21.
    """
    require_positive("nagaoka_coefficient", diameter_over_length=diameter_over_length)
    ratio = np.asarray(diameter_over_length, dtype=float)
    inverse = 1.0 / ratio
    slim = 1.0 - 4.0 / (3.0 * np.pi) * ratio + ratio**2 / 8.0 - ratio**4 / 64.0
    with np.errstate(over="ignore"):
        flat = 2.0 / np.pi * inverse * ((np.log(4.0 * ratio) - 0.5) * (1.0 + inverse**2 / 8.0) + inverse**2 * 3.0 / 32.0)
    exact = _lorenz(np.clip(ratio, 1e-3, 1e3))
    return scalar_or_array(np.where(ratio < 1e-3, slim, np.where(ratio > 1e3, flat, exact)))


def _lorenz(ratio: FloatArray) -> FloatArray:
    """The closed form of `nagaoka_coefficient`."""
    from scipy.special import ellipe, ellipkm1

    modulus_square, rest_square = ratio**2 / (ratio**2 + 1.0), 1.0 / (ratio**2 + 1.0)
    first, second = ellipkm1(rest_square), ellipe(modulus_square)
    bracket = rest_square / modulus_square * (first - second) + second - np.sqrt(modulus_square)
    return np.asarray(4.0 / (3.0 * np.pi * np.sqrt(rest_square)) * bracket)


def solenoid_sheet_inductance(diameter: Numeric, length: Numeric, turns: Numeric) -> Result:
    """Inductance [H] of a current sheet of a diameter [m], a length [m] and a number of turns [1].

    L = mu0 pi D^2/4 N^2/l K(D/l). Source: Nagaoka 1909.
    """
    require_positive("solenoid_sheet_inductance", diameter=diameter, length=length, turns=turns)
    long_coil = MU_0 * np.pi / 4.0 * np.square(diameter) * np.square(turns) / length
    return long_coil * nagaoka_coefficient(np.divide(diameter, length))


def lundin_inductance(diameter: Numeric, length: Numeric, turns: Numeric) -> Result:
    """Current-sheet inductance [H] by Lundin's formula, within 3e-6 of the exact one; arguments as the sheet's.

    diameter: [m]; length: [m]; turns: number of them [1]

    Source: R. Lundin, Proc. IEEE 73, 1985, p. 1428 (constants from memory, confirmed against the exact
    sheet).
    """
    require_positive("lundin_inductance", diameter=diameter, length=length, turns=turns)
    ratio = np.divide(diameter, length)
    slim = np.minimum(ratio, 1.0)
    flat = 1.0 / np.maximum(ratio, 1.0)
    long_form = np.pi / 2.0 * slim * (_lundin_f1(slim**2) - 4.0 / (3.0 * np.pi) * slim)
    short_form = (np.log(4.0 / flat) - 0.5) * _lundin_f1(flat**2) + _lundin_f2(flat**2)
    return scalar_or_array(MU_0 * np.square(turns) * np.divide(diameter, 2.0) * np.where(ratio <= 1.0, long_form, short_form))


def _lundin_f1(x: Numeric) -> Result:
    return (1.0 + 0.383901 * x + 0.017108 * x**2) / (1.0 + 0.258952 * x)


def _lundin_f2(x: Numeric) -> Result:
    return 0.093842 * x + 0.002029 * x**2 - 0.000801 * x**3


def wheeler_1982_inductance(diameter: Numeric, length: Numeric, turns: Numeric) -> Result:
    """Current-sheet inductance [H] by Wheeler's later formula, about 0.1 % at any shape; arguments as the sheet's.

    diameter: [m]; length: [m]; turns: number of them [1]

    L = mu0 N^2 a [ln(1 + pi a/b) + 1/(2.3004 + 1.6 b/a + 0.44 (b/a)^2)], a radius, b length.
    Source: H. A. Wheeler, Proc. IEEE 70, 1982, p. 1449 (memory).
    """
    require_positive("wheeler_1982_inductance", diameter=diameter, length=length, turns=turns)
    radius = np.divide(diameter, 2.0)
    shape = np.divide(length, radius)
    return MU_0 * np.square(turns) * radius * (
        np.log1p(np.pi / shape) + 1.0 / (2.3004 + 1.6 * shape + 0.44 * shape**2)
    )  # fmt: skip


def wheeler_1928_inductance(diameter: Numeric, length: Numeric, turns: Numeric) -> Result:
    """Current-sheet inductance [H] by Wheeler's first formula, about 1 % for length > 0.8 radius; arguments as above.

    diameter: [m]; length: [m]; turns: number of them [1]

    L[uH] = r^2 N^2/(9 r + 10 l), inches. Source: H. A. Wheeler, Proc. IRE 16, 1928, p. 1398 (memory).
    """
    require_positive("wheeler_1928_inductance", diameter=diameter, length=length, turns=turns)
    radius_inch, length_inch = np.divide(diameter, 2.0 * 0.0254), np.divide(length, 0.0254)
    return 1e-6 * radius_inch**2 * np.square(turns) / (9.0 * radius_inch + 10.0 * length_inch)


def rosa_wire_term(pitch: Numeric, wire_diameter: Numeric) -> Result:
    """Rosa's term A [1] for round wire in place of a sheet: 5/4 - ln(2 pitch/wire diameter), both [m].

    pitch: [m]; wire_diameter: bare [m]

    Uniform current in the wire. Source: Rosa, NBS Bulletin 2, 1906; Rosa & Grover 1912.
    """
    return 1.25 - np.log(2.0 * np.divide(pitch, wire_diameter))


def rosa_turns_term(turns: float) -> float:
    """Rosa's term B [1] for the mutual inductances of `turns` turns [1]; 0 for one, ln(2 pi) - 3/2 for
    endless.

    B = (2/N) sum_{m=1}^{N-1} (N - m)(ln m - ln R_m), R_m the geometric mean distance of two strips m pitches
    apart; linear between whole numbers of turns. Source: Rosa 1906, from its defining sum.
    """
    require_positive("rosa_turns_term", turns=turns)
    if turns <= 1.0:
        return 0.0
    below = int(np.floor(turns))
    share = turns - below
    return (1.0 - share) * _rosa_sum(below) + (share * _rosa_sum(below + 1) if share else 0.0)


def _rosa_sum(turns: int) -> float:
    m = np.arange(1, turns, dtype=float)
    neighbour = np.where(m > 1, (m - 1) ** 2 * np.log(np.maximum(m - 1, 1)), 0.0)
    log_distance = ((m + 1) ** 2 * np.log(m + 1) - 2 * m**2 * np.log(m) + neighbour) / 2 - 1.5
    return float(2.0 / turns * np.sum((turns - m) * (np.log(m) - log_distance)))


def solenoid_inductance(diameter: float, length: float, turns: float, wire_diameter: float) -> float:
    """Low-frequency inductance [H] of a single-layer coil of round wire.

    diameter: [m]; length: [m]; turns: number of them [1]; wire_diameter: bare [m]

    diameter between wire centres [m], length = turns * pitch [m], turns [1], wire_diameter of the bare wire
    [m]. L = L_sheet - mu0 (D/2) N (A + B); leads not included; at high frequency the current crowds inwards
    and the value falls by some per cent for thick wire or tube. Raises InputError if the wire is thicker than
    the pitch. Source: Rosa 1906; Rosa & Grover 1912.
    """
    require_positive("solenoid_inductance", wire_diameter=wire_diameter)
    sheet = solenoid_sheet_inductance(diameter, length, turns)
    pitch = length / turns
    if wire_diameter > pitch * (1.0 + 1e-9):
        allowed = f"<= {pitch:.6g} m, the pitch"
        raise InputError.single("solenoid_inductance", "wire thicker than the winding pitch", wire_diameter, allowed)
    correction = rosa_wire_term(pitch, wire_diameter) + rosa_turns_term(turns)
    return float(sheet - MU_0 * diameter / 2.0 * turns * correction)


def loop_mutual_inductance(radius_1: Numeric, radius_2: Numeric, gap: Numeric) -> Result:
    """Mutual inductance [H] of two coaxial circular filaments of radii [m], their planes `gap` apart [m].

    radius_1: [m]; radius_2: [m]; gap: [m]

    M = mu0 sqrt(ab) [(2/k - k) K(k) - (2/k) E(k)], k^2 = 4ab/((a + b)^2 + z^2).
    Source: Maxwell 1873, art. 701; Grover 1946, ch. 11.
    """
    from scipy.special import ellipe, ellipkm1

    require_positive("loop_mutual_inductance", radius_1=radius_1, radius_2=radius_2)
    product = np.multiply(radius_1, radius_2)
    far_square = np.square(np.add(radius_1, radius_2)) + np.square(gap)
    near_square = np.square(np.subtract(radius_1, radius_2)) + np.square(gap)
    k_square = 4.0 * product / far_square
    k = np.sqrt(k_square)
    value = (2.0 / k - k) * ellipkm1(near_square / far_square) - 2.0 / k * ellipe(k_square)
    return scalar_or_array(MU_0 * np.sqrt(product) * value)


def loop_self_inductance(radius: Numeric, wire_radius: Numeric, internal: Numeric = 0.5) -> Result:
    """Self-inductance [H] of a circular loop of round wire; radius to the wire's centre and wire radius [m].

    radius: [m]; wire_radius: [m]; internal: internal inductance of the wire over its value at zero frequency [1]

    L = mu0 R [ln(8R/a) - 2 + Y/2]; `internal` is Y: 0.5 for uniform current, 0 for current on the
    surface. Wire radius below a tenth of the loop's. Source: Grover 1946.
    """
    require_positive("loop_self_inductance", radius=radius, wire_radius=wire_radius)
    return MU_0 * radius * (np.log(8.0 * np.divide(radius, wire_radius)) - 2.0 + np.divide(internal, 2.0))


def solenoid_axis_field(diameter: float, length: float, turns: float, position: Numeric) -> Result:
    """Field on the axis per ampere [1/m] of a current-sheet solenoid, at a distance `position` [m] from its middle.

    diameter: [m]; length: [m]; turns: number of them [1]; position: distance from the middle [m]

    h = (N/2l) [(z + l/2)/sqrt((z + l/2)^2 + R^2) - (z - l/2)/sqrt((z - l/2)^2 + R^2)]; textbook Biot-Savart.
    """
    require_positive("solenoid_axis_field", diameter=diameter, length=length, turns=turns)
    radius = diameter / 2.0
    ahead, behind = np.add(position, length / 2.0), np.subtract(position, length / 2.0)
    return turns / (2.0 * length) * (ahead / np.hypot(ahead, radius) - behind / np.hypot(behind, radius))
