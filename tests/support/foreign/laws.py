# SPDX-License-Identifier: GPL-3.0-or-later
"""Laws of channels, junctions, charges and chokes, each for a batch: arrays in, value and slopes out.

Every law is smooth enough for Newton's rule and holds for any voltage or current of either sign.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.special import gamma, gammainc, hyp2f1, wrightomega

Array = np.ndarray

SQUARE, SHEET, TABLE = "square law", "charge sheet", "table"
RATIONAL, STRETCHED, FROEHLICH, LADDER = "rational", "stretched exponential", "Froehlich", "rational with a loss ladder"
DEVICES, CHOKES = (SQUARE, SHEET, TABLE), (RATIONAL, STRETCHED, FROEHLICH, LADDER)

SLOPE_FACTOR = 1.3
"""n of the charge sheet: change of gate voltage over that of pinch-off voltage (memory: 1.2 to 1.6)."""

READ_OFF = ((-0.6, 0.0), (-0.15, 0.0), (0.0, 0.05), (0.2, 2.0), (0.4, 8.0), (0.6, 16.0), (0.8, 27.0), (1.0, 40.0), (1.3, 63.0))
READ_OFF += ((1.7, 100.0), (2.2, 155.0), (3.0, 250.0), (4.0, 380.0), (6.0, 600.0), (10.0, 800.0), (20.0, 1000.0))
"""Overdrive [V] and saturated current [A] of one device of 70 S at 40 A, as one reads them off a plot. Invented."""


def _positive(x: Array, width: Array | float) -> tuple[Array, Array]:
    """Softly max(x, 0), and its slope."""
    y = np.clip(x / width, -60.0, 60.0)
    soft = width * np.log1p(np.exp(y))
    return np.where(y < 60.0, soft, x) + 1e-7, 1 / (1 + np.exp(-y))


def square(over: Array, v: Array, strength: Array, bend: Array, ohms: Array, _thermal: Array) -> tuple[Array, Array, Array]:
    """Current [A] and its slopes [S] in gate and drain voltage: k u^2/2/(1 + bend u), mobility reduction and velocity saturation
    in one (textbook, memory); below a knee at which current and slope meet, a parabola whose slope at zero is that of body and
    channel."""
    u, du = _positive(over, 0.03)
    top = strength * u**2 / 2 / (1 + bend * u)
    dtop = strength * u * (1 + bend * u / 2) / (1 + bend * u) ** 2
    knee, dknee = top * ohms + u / 2, dtop * ohms + 0.5
    y = np.clip(v / knee, -2.0, 2.0)
    h, dh = y - y * np.abs(y) / 4, 1 - np.abs(y) / 2
    return top * h, (dtop * h - top * dh * y * dknee / knee) * du, top * dh / knee


def sheet(over: Array, v: Array, strength: Array, _bend: Array, ohms: Array, thermal: Array) -> tuple[Array, Array, Array]:
    """The interpolation between weak and strong inversion of Enz, Krummenacher and Vittoz (Analog Integrated Circuits and Signal
    Processing 8, 1995, p. 83; memory): i = 2 n k t^2 (F(vp/t) - F((vp-v)/t)), F(x) = ln^2(1 + exp(x/2)); the body's resistance in
    series as i/(1 + R i/v), exact at small v and without effect in saturation."""

    def part(x: Array) -> tuple[Array, Array]:
        log = np.where(x > 60.0, x / 2, np.log1p(np.exp(np.clip(x, -200.0, 60.0) / 2)))
        return log**2, log / (1 + np.exp(-np.clip(x, -200.0, 200.0) / 2))

    scale, pinch = 2 * SLOPE_FACTOR * strength * thermal**2, over / SLOPE_FACTOR
    (source, dsource), (drain, ddrain) = part(pinch / thermal), part((pinch - v) / thermal)
    i = scale * (source - drain)
    by_gate, by_drain = scale * (dsource - ddrain) / thermal / SLOPE_FACTOR, scale * ddrain / thermal
    small = np.abs(v) < 1e-9
    ratio = np.where(small, by_drain, i / np.where(small, 1.0, v))
    share = 1 / (1 + ohms * ratio)
    return i * share, by_gate * share**2, by_drain * share**2 + ohms * ratio**2 * share**2


@cache
def _transfer() -> tuple[PchipInterpolator, PchipInterpolator]:
    """Monotone cubic through `READ_OFF`, and its slope (Fritsch & Carlson, SIAM J. Numer. Anal. 17, 1980, p. 238; memory)."""
    curve = PchipInterpolator(*np.array(READ_OFF).T)
    return curve, curve.derivative()


def table(over: Array, v: Array, strength: Array, _bend: Array, ohms: Array, _thermal: Array) -> tuple[Array, Array, Array]:
    """`READ_OFF` by monotone interpolation, scaled by strength (1 is 70 S at 40 A), under a knee y/(1+|y|^m)^(1/m), m = 2.4,
    whose slope at zero is that of body and channel."""
    curve, slope = _transfer()
    inside = np.clip(over, -0.6, 20.0)
    top, dtop = strength * curve(inside) + 1e-9, strength * slope(inside)
    u, du = _positive(over, 0.05)
    knee, dknee = top * ohms + 0.55 * u, dtop * ohms + 0.55 * du
    y, m = np.clip(v / knee, -1e4, 1e4), 2.4
    base = 1 + np.abs(y) ** m
    h, dh = y * base ** (-1 / m), base ** (-1 / m - 1)
    return top * h, dtop * h - top * dh * y * dknee / knee, top * dh / knee


CHANNELS = {SQUARE: square, SHEET: sheet, TABLE: table}


def junction(v: Array, saturation: Array, scale: Array, series: Array) -> tuple[Array, Array]:
    """Current and conductance of an exponential junction with resistance in series, by Wright's function (memory)."""
    start = saturation * series / scale
    omega = np.real(wrightomega(np.maximum(np.log(start) + start + v / scale, -300.0)))
    return scale / series * omega - saturation, omega / (1 + omega) / series


def charge(v: Array, law: Array) -> tuple[Array, Array]:
    """Charge and capacitance at a reverse voltage of J (1+v/p)^-m + S (1 - tanh((v-a)/w))/2 + K, law: J, p, m, S, a, w, K on the
    last axis.

    The junction's capacitance stays below zero what it is there: an oxide bounds it, or a diode beside it conducts.
    """
    zero, potential, grading, step, at, width, floor = np.moveaxis(law, -1, 0)
    base = 1 + np.maximum(v, 0.0) / potential
    cap = zero * base**-grading
    q = zero * potential / (1 - grading) * (base ** (1 - grading) - 1) + zero * np.minimum(v, 0.0)
    y, origin = (v - at) / width, -at / width
    q = q + step * (v - width * (_log_cosh(y) - _log_cosh(origin))) / 2 + floor * v
    return q, cap + step * (1 - np.tanh(y)) / 2 + floor


def _log_cosh(x: Array) -> Array:
    return np.abs(x) + np.log1p(np.exp(-2 * np.abs(x))) - np.log(2.0)


def rational(i: Array, zero: Array, air: Array, at: Array, power: Array) -> tuple[Array, Array]:
    """Flux linkage and inductance of La + (L0-La)/(1+(i/ih)^c); integral by DLMF 15.6.1."""
    x = np.abs(i) / at
    flux = air * i + (zero - air) * i * hyp2f1(1, 1 / power, 1 + 1 / power, -(x**power))
    return flux, air + (zero - air) / (1 + x**power)


def stretched(i: Array, zero: Array, air: Array, at: Array, power: Array) -> tuple[Array, Array]:
    """Flux linkage and inductance of La + (L0-La) exp(-(i/i0)^p); integral by the incomplete gamma function (DLMF 8.2.1)."""
    x = np.abs(i) / at
    whole = at * gamma(1 + 1 / power)
    return air * i + (zero - air) * np.sign(i) * whole * gammainc(1 / power, x**power), air + (zero - air) * np.exp(-(x**power))


def froehlich(i: Array, zero: Array, air: Array, at: Array, _power: Array) -> tuple[Array, Array]:
    """Flux linkage and inductance of Froehlich's magnetisation, flux ~ i/(1+|i|/i0), beside air."""
    x = 1 + np.abs(i) / at
    return air * i + (zero - air) * i / x, air + (zero - air) / x**2


FLUXES = {RATIONAL: rational, STRETCHED: stretched, FROEHLICH: froehlich, LADDER: rational}


def scale_of(law: str, left: float, current: float, power: float, air: float) -> float:
    """The law's own current [A] with which it keeps a share `left` of its inductance at a current [A]; air: share of L0 that
    always stays."""
    share = (left - air) / (1 - air)
    x = {
        RATIONAL: (1 / share - 1) ** (1 / power),
        LADDER: (1 / share - 1) ** (1 / power),
        STRETCHED: (-np.log(share)) ** (1 / power),
        FROEHLICH: share**-0.5 - 1,
    }[law]
    return float(current / x)
