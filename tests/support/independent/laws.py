# SPDX-License-Identifier: GPL-3.0-or-later
"""Junctions, channels, transistors and cores as flows and charges with their slopes, for `nodal`.

Each maker returns a law of the controls: (flows, their slopes, charges, their slopes). Forms: Shockley's junction with depletion
and diffusion charge; the square law with a tail below threshold; Gummel and Poon's transistor. All as textbooks of circuit
simulation have them (Antognetti & Massobrio, Semiconductor Device Modeling with SPICE; memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable

from tests.support.independent.devices import THERMAL

Answer = tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...], tuple[float, ...]]
Pair = tuple[float, float]

STEEP = 60.0
"""Exponent beyond which an exponential goes on along its tangent."""


def growth(x: float) -> Pair:
    """exp and its slope, straight beyond STEEP."""
    if x < STEEP:
        e = math.exp(max(x, -200.0))
        return e, e
    e = math.exp(STEEP)
    return e * (1 + x - STEEP), e


def depletion(zero: float, potential: float, grading: float) -> Callable[[float], Pair]:
    """Charge and capacitance at a forward voltage; beyond half the potential the capacitance goes on along its tangent."""
    edge = 0.5 * potential
    steep = 0.5**-grading
    held = zero * potential / (1 - grading) * (1 - 0.5 ** (1 - grading))

    def law(v: float) -> Pair:
        if v < edge:
            share = 1 - v / potential
            power = share**-grading
            return zero * potential / (1 - grading) * (1 - share * power), zero * power
        over = (v - edge) / edge
        return held + zero * steep * edge * (over + grading * over * over / 2), zero * steep * (1 + grading * over)

    return law


def junction(
    saturation: float, emission: float, capacitance: tuple[float, float, float], transit: float = 0.0, breakdown: Pair | None = None
) -> Callable[[float], Answer]:
    """A diode without series resistance.

    capacitance: at no voltage [F], potential [V], grading; transit [s]; breakdown: voltage [V] and the current [A] there
    """
    scale, stored = emission * THERMAL, depletion(*capacitance)

    def law(v: float) -> Answer:
        e, slope = growth(v / scale)
        i, g = saturation * (e - 1), saturation * slope / scale
        q, c = stored(v)
        q, c = q + transit * i, c + transit * g
        if breakdown is not None and -v > breakdown[0] - 1.5:
            e, slope = growth((-v - breakdown[0]) / THERMAL)
            i, g = i - breakdown[1] * e, g + breakdown[1] * slope / THERMAL
        return (i,), (g,), (q,), (c,)

    return law


def softplus(x: float) -> Pair:
    """ln(1 + exp x) and its slope."""
    if x > 40:
        return x, 1.0
    e = math.exp(max(x, -300.0))
    return math.log1p(e), e / (1 + e)


def channel(stiffness: float, threshold: float, modulation: float, triode: float, tail: float) -> Callable[[float, float], Answer]:
    """Current from drain to source at voltages gate to source and drain to source, at the ends of the channel.

    Saturated: K u^2/2 (1 + m v); below: K (u w - w^2/2)(1 + m v), w = triode v; u = tail ln(1 + exp((vgs - Vt)/tail)).
    """

    def forward(gate: float, drain: float) -> tuple[float, float, float]:
        soft, slope = softplus((gate - threshold) / tail)
        u, w, lift = tail * soft, triode * drain, 1 + modulation * drain
        if w >= u:
            bare, by_gate, by_drain = 0.5 * stiffness * u * u, stiffness * u * slope, 0.0
        else:
            bare, by_gate = stiffness * w * (u - w / 2), stiffness * w * slope
            by_drain = stiffness * triode * (u - w)
        return bare * lift, by_gate * lift, by_drain * lift + bare * modulation

    def law(gate: float, drain: float) -> Answer:
        if drain >= 0:
            i, by_gate, by_drain = forward(gate, drain)
            return (i,), (by_gate, by_drain), (), ()
        i, by_gate, by_drain = forward(gate - drain, -drain)
        return (-i,), (-by_gate, by_gate + by_drain), (), ()

    return law


def gate_drain(least: float, most: float, steepness: float) -> Callable[[float], Answer]:
    """Charge between gate and drain: the integral of y + s tanh(a v) above nil, of y + s atan(a v) below."""
    s = (most - least) / (1 + math.pi / 2)
    y = most - s

    def law(v: float) -> Answer:
        x = steepness * v
        if x > 0:
            area, shape = x + math.log1p(math.exp(-2 * x)) - math.log(2), math.tanh(x)
        else:
            area, shape = x * math.atan(x) - 0.5 * math.log1p(x * x), math.atan(x)
        return (), (), (y * v + s / steepness * area,), (y + s * shape,)

    return law


def transistor(
    saturation: float, gain: float, reverse: float, knee: float, emitter: float, collector: float, times: Pair
) -> Callable[[float, float], Answer]:
    """Base and collector current and the charges of both junctions, at base to emitter and base to collector.

    gain, reverse: current gains forwards and backwards; knee [A]: where the gain has halved; emitter, collector [F]: junctions at
    no voltage, 0.75 V and grading 0.33; times: transit, forwards and backwards [s].
    """
    of_emitter, of_collector = depletion(emitter, 0.75, 0.33), depletion(collector, 0.75, 0.33)

    def law(forward: float, backward: float) -> Answer:
        (e, de), (c, dc) = growth(forward / THERMAL), growth(backward / THERMAL)
        f, r = saturation * (e - 1), saturation * (c - 1)
        df, dr = saturation * de / THERMAL, saturation * dc / THERMAL
        root = math.sqrt(max(1 + 4 * f / knee, 1e-12))
        base = (1 + root) / 2
        by_f = df / (knee * root)  # slope of the base charge
        through, by_r = (f - r) / base, -dr / base
        slope = (df - through * by_f) / base
        qe, ce = of_emitter(forward)
        qc, cc = of_collector(backward)
        carried = f / base
        flows = (f / gain + r / reverse, through - r / reverse)
        slopes = (df / gain, dr / reverse, slope, by_r - dr / reverse)
        charges = (times[0] * carried + qe, times[1] * r + qc)
        return flows, slopes, charges, (times[0] * (df - carried * by_f) / base + ce, 0.0, 0.0, times[1] * dr + cc)

    return law


def langevin(x: float) -> tuple[float, float]:
    """coth x - 1/x and its slope."""
    if abs(x) < 1e-2:
        return x / 3 - x**3 / 45, 1 / 3 - x * x / 15
    t = 1 / math.tanh(x)
    return t - 1 / x, 1 / (x * x) - (t * t - 1)


def core_loss(form: str, k: tuple[float, ...], density: float, frequency: float) -> float:
    """Loss [W/m3] at a peak flux density [T] and a frequency [Hz], by the printed forms of core makers."""
    if form == "a":  # mW/cm3 of T and kHz
        return 1e3 * k[0] * density ** k[1] * (frequency / 1e3) ** k[2]
    if form == "b":  # mW/cm3 of gauss and Hz
        b = 1e4 * density
        return 1e3 * (frequency / (k[0] / b**3 + k[1] / b**2.3 + k[2] / b**1.65) + k[3] * frequency**2 * b**2)
    return k[0] * frequency ** k[1] * density ** k[2]
