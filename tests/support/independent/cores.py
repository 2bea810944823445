# SPDX-License-Identifier: GPL-3.0-or-later
"""Chokes of every kind for `nodal`: current against flux linkage from what the scenario says of them, and cores that remember."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.interpolate import PchipInterpolator

from heatsim.parts.choke import Choke
from heatsim.parts.curves import GappedCurve, LinearCurve
from heatsim.parts.hysteresis import HystereticCurve
from heatsim.scenario.schema import ChokeTable
from tests.support.independent.devices import MU0, Law, choke_law, soft_flux
from tests.support.independent.laws import Answer, core_loss, langevin

SOFT = 1.8
"""Exponent of a powder of which only the half current is known, as heatsim states it."""

TIMID = 0.01
"""Voltage [V] of a winding below which the direction of its core is undecided."""


def flux_law(choke: Choke, table: ChokeTable) -> Law:
    """Flux linkage [Wb] -> current [A] and 1/L [1/H]."""
    bench, air = table.measured, choke.curve.inductance_air
    if isinstance(choke.curve, GappedCurve | LinearCurve):
        return choke_law(choke)
    if bench is not None and bench.table:
        currents, inductances = (np.array(column) for column in zip(*bench.table, strict=True))
        return through(currents, inductances, air)
    if bench is not None:
        assert bench.inductance and bench.saturation_current
        zero, half = bench.inductance, bench.saturation_current

        def slope(i: np.ndarray) -> np.ndarray:
            return air + (zero - air) / (1 + (i / half) ** SOFT)

        return inverse(lambda i: soft_flux(i, zero, air, half, SOFT), slope, 30 * half, air)
    assert choke.core is not None and choke.core.material.bias is not None
    points = choke.core.material.bias.points
    if not points:
        return choke_law(choke)
    ring, turns = choke.core.ring, choke.core.winding.turns
    core = MU0 * choke.core.material.permeability * turns**2 * ring.area * ring.stack / ring.path_length - air
    fields, shares = (np.array(column) for column in zip(*points, strict=True))
    return through(fields * ring.path_length / turns, air + core * shares, air)


def through(currents: np.ndarray, inductances: np.ndarray, air: float) -> Law:
    """By a monotone cubic through points of L(i) and on along its last straight line down to the air core."""
    fall = (inductances[-1] - inductances[-2]) / (currents[-1] - currents[-2])
    last = inductances[-1]
    if fall < 0 and last > air:
        currents = np.append(currents, currents[-1] + (air - last) / fall)
        inductances, last = np.append(inductances, air), air
    curve = PchipInterpolator(currents, inductances)
    return inverse(curve.antiderivative(), curve, float(currents[-1]), float(last))


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


def core_law(law: Law, unit: float) -> Callable[[float], Answer]:
    """Of a flux in units [Wb]."""

    def of(phi: float) -> Answer:
        i, g = law(phi * unit)
        return (i,), (g * unit,), (), ()

    return of


class Walls:
    """Jiles and Atherton's core with its effective field x = (H + alpha M)/a and the magnetisation m of its pinned walls as states.

    M/Ms = c L(x) + (1-c) m;  i = (a x - alpha M) l/N;  flux = La i + mu0 N A M;  dm/dx = |L(x) - m| a/k in the direction in which m
    nears L(x), else nil. Of a voltage u: dx/dt = u/(dflux/dx).
    """

    def __init__(self, curve: HystereticCurve) -> None:
        self.ms, self.a, self.k, self.alpha, self.c = curve.parameters
        self.length, self.air = curve.path / curve.turns, curve.inductance_air
        self.core = MU0 * curve.turns * curve.area * self.ms

    def current(self, x: float, m: float) -> Answer:
        """Flow of the winding at (x, m)."""
        bend, slope = langevin(x)
        whole, pull = self.c * bend + (1 - self.c) * m, self.alpha * self.ms
        by_x, by_m = self.length * (self.a - pull * self.c * slope), -self.length * pull * (1 - self.c)
        return (self.length * (self.a * x - pull * whole),), (by_x, by_m), (), ()

    def rates(self, x: float, m: float, u: float) -> tuple[float, float]:
        """Of x and m [1/s] at a voltage [V]."""
        bend, slope = langevin(x)
        walls = max((bend - m) * math.tanh(u / TIMID), 0.0) * self.a / self.k
        rise = self.c * slope + (1 - self.c) * walls
        flux = self.air * self.length * (self.a - self.alpha * self.ms * rise) + self.core * rise
        return u / flux, walls * u / flux

    def flow(self, x: float, m: float, u: float) -> Answer:
        """The rates, for the other side of the equation, with slopes by small differences."""
        here = self.rates(x, m, u)
        steps = (1e-6, 1e-6, 1e-5)
        moved = [self.rates(x + (k == 0) * steps[0], m + (k == 1) * steps[1], u + (k == 2) * steps[2]) for k in range(3)]
        slopes = [-(moved[k][out] - here[out]) / steps[k] for out in range(2) for k in range(3)]
        return (-here[0], -here[1]), tuple(slopes), (), ()

    def field_at(self, current: float) -> float:
        """x at which the core without pinning carries a current [A]."""
        x = current / (self.length * self.a)
        for _ in range(50):
            bend, slope = langevin(x)
            pull = self.alpha * self.ms / self.a
            x -= (x - pull * bend - current / (self.length * self.a)) / (1 - pull * slope)
        return x


def core_resistance(choke: Choke, volts: float, frequency: float, tapped: bool) -> float:
    """Resistance [ohm] that takes the core's loss in the ideal stage: see `circuit.core_resistance` for voltage and swing."""
    loss = choke.core.material.loss if choke.core else None
    if choke.core is None or loss is None or isinstance(choke.curve, HystereticCurve):
        return 1e6
    ring, turns = choke.core.ring, choke.core.winding.turns
    rms = volts * math.sqrt(math.pi**2 / 8 - 1 if tapped else math.pi**2 / 4 - 1)
    swing, frequency = (0.105256831 * volts / frequency, 2 * frequency) if tapped else (0.551101966 * volts / frequency, frequency)
    section = ring.area * ring.stack
    dense = core_loss(loss.form, loss.coefficients, swing / 2 / (turns * section), frequency)
    return min(rms**2 / (dense * section * ring.path_length), 1e6)
