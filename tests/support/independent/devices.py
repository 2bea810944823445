# SPDX-License-Identifier: GPL-3.0-or-later
"""Chokes, MOSFET banks and diodes as plain formulas of circuit theory, written for the SciPy integration.

Values come from heatsim.parts; no curve or netlist of heatsim is used. One number in, one number out, in SI units:
the integrator calls them tens of thousands of times, so they are closures over floats.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.special import hyp2f1, wrightomega

from heatsim.parts.choke import Choke
from heatsim.parts.curves import GappedCurve, LinearCurve

THERMAL = 1.380649e-23 * 300.15 / 1.602176634e-19
"""kT/q [V] at 27 degC, the temperature at which a simulator evaluates its models unless told otherwise."""

MU0 = 4e-7 * math.pi

Law = Callable[[float], tuple[float, float]]


def soft_flux(current: np.ndarray, zero: float, air: float, half: float, exponent: float) -> np.ndarray:
    """Flux linkage [Wb] of L(i) = La + (L0-La)/(1+(i/ih)^c) for i >= 0, in closed form.

    The integral of 1/(1+x^c) from 0 to x is x*2F1(1, 1/c; 1+1/c; -x^c) (DLMF 15.6.1, by substitution).
    """
    x = current / half
    return air * current + (zero - air) * current * hyp2f1(1, 1 / exponent, 1 + 1 / exponent, -(x**exponent))


def inverse(
    flux: Callable[[np.ndarray], np.ndarray],
    slope: Callable[[np.ndarray], np.ndarray],
    top: float,
    beyond: float,
    points: int = 3000,
) -> Law:
    """i(flux) of a rising flux(i) up to `top` [A], by Newton's rule on an even grid of flux; cubics between, `beyond` [H] after."""
    fluxes = np.linspace(0.0, float(flux(np.array(top))), points)
    dense = np.linspace(0.0, top, 20 * points)
    current = np.interp(fluxes, flux(dense), dense)
    for _ in range(4):
        current = np.clip(current - (flux(current) - fluxes) / slope(current), 0.0, top)
    assert np.allclose(flux(current), fluxes, rtol=1e-9, atol=1e-12)
    step, ends, gains = float(fluxes[1]), current.tolist(), (1 / slope(current)).tolist()

    def law(y: float) -> tuple[float, float]:
        x = abs(y) / step
        if x >= points - 1:
            i, g = ends[-1] + (abs(y) - step * (points - 1)) / beyond, 1 / beyond
        else:
            k = int(x)
            x -= k
            a, b, p, q = ends[k], ends[k + 1], step * gains[k], step * gains[k + 1]
            c2, c3 = 3 * (b - a) - 2 * p - q, 2 * (a - b) + p + q
            i, g = a + x * (p + x * (c2 + x * c3)), (p + x * (2 * c2 + x * 3 * c3)) / step
        return math.copysign(i, y), g

    return law


def soft_inverse(zero: float, air: float, half: float, exponent: float, top: float, points: int = 3000) -> Law:
    """Current and 1/L of L(i) = La + (L0-La)/(1+(i/ih)^c) at a flux linkage, from the closed form up to `top` [A]."""

    def slope(i: np.ndarray) -> np.ndarray:
        return air + (zero - air) / (1 + (i / half) ** exponent)

    return inverse(lambda i: soft_flux(i, zero, air, half, exponent), slope, top, air, points)


def soft_law(choke: Choke) -> Law:
    """Current and 1/L of a powder choke at a flux linkage, from ring, turns and the material's coefficients.

    L0 = mu0*mu*N^2*A/l; half current from H(half) = (100 b)^(-1/c) oersted, i = H*l/N.
    """
    assert choke.core is not None
    ring, turns, material = choke.core.ring, choke.core.winding.turns, choke.core.material
    area = ring.area * ring.stack
    zero = MU0 * material.permeability * turns**2 * area / ring.path_length
    half = material.bias.half_field * ring.path_length / turns
    return soft_inverse(zero, choke.curve.inductance_air, half, material.bias.exponent, 12 * half, 4000)


def gapped_law(curve: GappedCurve) -> Law:
    """Current and 1/L of a gapped ferrite choke: 1/L(y) = 1/L1 + (1/La-1/L1)*(1-[tanh((y+K)/w)-tanh((y-K)/w)]/2).

    Integrated by hand from 0 to y with int tanh(u/w) du = w ln cosh(u/w). L1 is such that L(0) is the stated one.
    """
    k, w, air = curve.saturation_flux, curve.knee, curve.inductance_air
    inside = math.tanh(k / w)
    extra = (1 / air - 1 / curve.inductance_zero) / inside

    def log_cosh(x: float) -> float:
        return abs(x) + math.log1p(math.exp(-2 * abs(x)))

    def law(flux: float) -> tuple[float, float]:
        p, m = (flux + k) / w, (flux - k) / w
        conductance = 1 / air - extra * 0.5 * (math.tanh(p) - math.tanh(m))
        return flux / air - extra * 0.5 * w * (log_cosh(p) - log_cosh(m)), conductance

    return law


def choke_law(choke: Choke) -> Law:
    """Flux linkage [Wb] -> current [A] and 1/L [1/H] of any of the three chokes."""
    if isinstance(choke.curve, GappedCurve):
        return gapped_law(choke.curve)
    if isinstance(choke.curve, LinearCurve):
        conductance = 1 / choke.curve.inductance_zero
        return lambda flux: (flux * conductance, conductance)
    return soft_law(choke)


def channel_law(kp: float, slope: float, drain: float, source: float, triode: float = 1.0) -> Callable[[float, float], float]:
    """Drain current [A] at (overdrive vgs-vto, vds), level 1 with drain and source resistance [ohm] in closed form.

    Saturated: i = k x^2/2 with x = u - i Rs. Triode: i = k (x y - y^2/2) with y = m (v - i (Rd+Rs)), a quadratic in i; m, `triode`,
    is 1 for level 1.
    k = kp (1 + lambda v), with the outer v: the drop across Rd and Rs is left out of this factor alone. The power-MOS
    model lets the channel fade below threshold over some 0.1 V; here it ends there, which is not felt in 0.01 %.
    """

    def forward(u: float, v: float, near: float, total: float) -> float:
        """v >= 0; near: resistance on the source's side of the channel."""
        if u <= 0:
            return 0.0
        k = kp * (1 + slope * v)
        x = (math.sqrt(1 + 2 * k * near * u) - 1) / (k * near)
        i = 0.5 * k * x * x
        if triode * (v - i * total) >= x:
            return i
        w, across = triode * v, triode * total
        c = k * w * (u - w / 2)
        b = k * (w * (across / 2 - near) - across * (u - w / 2)) - 1
        a = -k * across * (across / 2 - near)
        return 2 * c / (-b + math.sqrt(b * b - 4 * a * c))

    def law(u: float, v: float) -> float:
        return forward(u, v, source, drain + source) if v >= 0 else -forward(u - v, -v, drain, drain + source)

    return law


def diode_law(saturation: float, emission: float, series: float) -> Law:
    """Current [A] and conductance [S] of an exponential junction with series resistance, by Wright's omega function.

    I = (nVt/R) w(ln(Is R/nVt) + (v + Is R)/nVt) - Is (Banwell & Jayakumar, Electronics Letters 36, 2000, p. 291; memory).
    """
    scale = emission * THERMAL
    offset = math.log(saturation * series / scale) + saturation * series / scale

    def law(v: float) -> tuple[float, float]:
        if v < -10 * scale:
            return -saturation, 0.0
        omega = float(wrightomega(offset + v / scale))
        return scale / series * omega - saturation, omega / ((1 + omega) * series)

    return law


def junction_capacitance(zero: float, potential: float, grading: float) -> Callable[[float], float]:
    """Depletion capacitance [F] at a reverse voltage [V]; forward, beyond half the potential, along its tangent there."""
    edge = -0.5 * potential
    steep = 0.5 ** (-grading)

    def law(reverse: float) -> float:
        if reverse > edge:
            return zero * (1 + reverse / potential) ** -grading
        return zero * steep * (1 + grading * (edge - reverse) / (0.5 * potential))

    return law


def miller_law(largest: float, smallest: float, steepness: float) -> Callable[[float], float]:
    """Gate-drain capacitance [F] at vgd [V]: tanh above zero, atan below (reference file section 14)."""
    s = (largest - smallest) / (1 + math.pi / 2)
    y = largest - s
    return lambda v: s * (math.tanh(steepness * v) if v > 0 else math.atan(steepness * v)) + y
