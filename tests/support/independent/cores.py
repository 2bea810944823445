# SPDX-License-Identifier: GPL-3.0-or-later
"""Chokes of every kind for `nodal`: current against flux linkage from what the scenario says of them, and cores that remember."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.interpolate import PchipInterpolator

from heatsim.parts.choke import Choke
from heatsim.parts.curves import GappedCurve, LinearCurve
from heatsim.parts.heater import Heater
from heatsim.parts.hysteresis import HystereticCurve
from heatsim.scenario.schema import ChokeTable
from tests.support.independent.circuit import core_stress
from tests.support.independent.devices import MU0, Law, choke_law, inverse, soft_inverse
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
        return soft_inverse(zero, air, half, SOFT, 30 * half)
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


def core_resistance(heater: Heater, choke: Choke) -> float:
    """Resistance [ohm] that takes the core's loss in the ideal stage."""
    loss = choke.core.material.loss if choke.core else None
    if choke.core is None or loss is None or isinstance(choke.curve, HystereticCurve):
        return 1e6
    ring, turns = choke.core.ring, choke.core.winding.turns
    rms, swing, frequency = core_stress(heater)
    section = ring.area * ring.stack
    dense = core_loss(loss.form, loss.coefficients, swing / 2 / (turns * section), frequency)
    return min(rms**2 / (dense * section * ring.path_length), 1e6)
