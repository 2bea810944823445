# SPDX-License-Identifier: GPL-3.0-or-later
"""Rings that never existed and their bench tests, by integrations of their own: SciPy's solve_ivp, quad and plain formulas
only, nothing of heatsim's physics."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.integrate import quad, solve_ivp

MU_0 = 4e-7 * np.pi


@dataclass(frozen=True)
class TrueRing:
    """What the test has to find. half: current of half the core's inductance (soft) or knee flux over L0 (gapped)."""

    outer: float
    inner: float
    height: float
    turns: int
    permeability: float
    kind: str
    half: float
    steepness: float
    resistance: float
    air_factor: float = 1.0

    @property
    def zero(self) -> float:
        return MU_0 * self.permeability * self.turns**2 * self.height * np.log(self.outer / self.inner) / (2 * np.pi)

    @property
    def air(self) -> float:
        return self.zero / self.permeability * self.air_factor

    def rate(self, flux: float) -> float:
        """d(current)/d(flux) of the gapped ring."""
        k, w = self.half * self.zero, self.steepness * self.half * self.zero
        share = 1 - 0.5 * (np.tanh((flux + k) / w) - np.tanh((flux - k) / w))
        inside = np.tanh(1 / self.steepness)
        straight = inside / (1 / self.zero - (1 - inside) / self.air)
        return 1 / straight + (1 / self.air - 1 / straight) * share

    def inductance(self, current: float) -> float:
        """Differential inductance of the soft ring."""
        return self.air + (self.zero - self.air) / (1 + (abs(current) / self.half) ** self.steepness)

    @property
    def half_current(self) -> float:
        """Current at which half of the inductance at zero is left."""
        if self.kind == "soft":
            return self.half * ((self.zero - self.air) / (self.zero / 2 - self.air) - 1) ** (1 / self.steepness)
        flux = np.linspace(0, 3 * self.half * self.zero, 300001)
        stop = flux[np.argmax([self.rate(y) >= 2 / self.zero for y in flux[::100]]) * 100]
        near = np.linspace(stop - flux[100], stop, 2001)
        stop = near[np.argmax([self.rate(y) >= 2 / self.zero for y in near])]
        return quad(self.rate, 0, stop, limit=200, points=[0.9 * stop])[0]


def ramp(ring: TrueRing, voltage, length: float, most: float):
    """Time and true current of the response to a voltage (a number, or a function of time) until `length` or `most`."""
    drive = voltage if callable(voltage) else lambda t: voltage

    def slope(t, state):
        current, flux = state
        push = drive(t) - ring.resistance * current
        return [push / ring.inductance(current) if ring.kind == "soft" else push * ring.rate(flux), push]

    def enough(t, state):
        return state[0] - most

    enough.terminal = True
    return solve_ivp(
        slope,
        (0, length),
        [0.0, 0.0],
        method="LSODA",
        rtol=1e-9,
        atol=1e-12,
        events=enough,
        dense_output=True,
        max_step=length / 200,
    )


def quantised(values, lsb: float):
    return np.round(values / lsb) * lsb


def random_ring(rng: np.random.Generator, kind: str) -> TrueRing:
    outer = rng.uniform(15e-3, 50e-3)
    inner, height, turns = outer * rng.uniform(0.5, 0.65), outer * rng.uniform(0.3, 0.6), int(rng.integers(12, 60))
    mu = rng.uniform(20, 130)
    path = np.pi * (outer - inner) / np.log(outer / inner)
    half = 3000.0 * 60 / mu * rng.uniform(0.6, 1.6) * path / turns
    steep = rng.uniform(1.4, 2.2) if kind == "soft" else rng.uniform(0.05, 0.25)
    return TrueRing(outer, inner, height, turns, mu, kind, half, steep, 0.0, float(np.exp(0.2 * rng.standard_normal())))


def bench_text(ring: TrueRing, voltage: float | None, extra: str = "", ramp_lines: str = "") -> str:
    volts = f'voltage = "{voltage!r} V"\n' if voltage else ""
    return (
        f'[ring]\nname = "made"\nouter_diameter = "{ring.outer * 1e3!r} mm"\ninner_diameter = "{ring.inner * 1e3!r} mm"\n'
        f'height = "{ring.height * 1e3!r} mm"\naccuracy = "0 mm"\n[winding]\nturns = {ring.turns}\n'
        f"{extra}\n[ramp]\n{volts}{ramp_lines}"
    )


def captured(
    ring: TrueRing,
    rng: np.random.Generator,
    voltage: float,
    noise: float,
    bits: int,
    count: int,
    reach: float,
    flat: float,
    uneven: bool,
    inside: float = 1.0,
):
    """Time, recorded current and, where less than all of the resistance lies `inside` the ring's terminals, the recorded
    voltage across them (else None): a capture that fills the screen, with noise, offsets and a trigger delay."""
    found = ramp(ring, voltage, 50 * ring.zero * reach * ring.half / voltage, reach * ring.half)
    length = found.t[-1]
    time = np.linspace(-flat * length, length, count)
    if uneven:
        time = np.sort(rng.uniform(-flat * length, length, count))
    true = np.where(time > 0, found.sol(np.maximum(time, 0))[0], 0.0)
    offset = rng.uniform(-0.02, 0.02) * true[-1]
    current = quantised(true + offset + noise * true[-1] * rng.standard_normal(count), true[-1] * 1.25 / 2**bits)
    across = None
    if inside < 1.0:
        across = np.where(time > 0, voltage - (1 - inside) * ring.resistance * true, 0.0)
        spoilt = across + voltage * (rng.uniform(-0.02, 0.02) + 0.005 * rng.standard_normal(count))
        across = quantised(spoilt, 1.25 * voltage / 256)
    return time + rng.uniform(-0.3, 0.3) * length, current, across
