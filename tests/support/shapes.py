# SPDX-License-Identifier: GPL-3.0-or-later
"""Analytic waveforms at uneven instants, for the tests of the measures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatsim.physics.stage import choke_flux_waveform
from heatsim.waves import Array, Waveforms


def uneven_time(stop: float, points: int, seed: int = 0, kinks: Array | None = None) -> Array:
    """About `points` instants from 0 to `stop` [s] with steps that vary by a factor of five, `kinks` [s] among them."""
    steps = np.random.default_rng(seed).uniform(0.3, 1.7, points - 1)
    inner = np.concatenate(([0.0], np.cumsum(steps)))
    return np.unique(np.concatenate((inner / inner[-1] * stop, [] if kinks is None else kinks)))


@dataclass(frozen=True)
class Stage:
    """The ideal two-choke stage of section 8 of the reference file: lossless, pure sine between the drains."""

    supply: float = 24.0
    resistance: float = 10.0
    frequency: float = 100e3
    choke: float = 100e-6
    coil: float = 1.2e-6

    @property
    def supply_current(self) -> float:
        """Mean supply current [A], pi^2 Vdc/(2 R)."""
        return float(np.pi**2 * self.supply / (2.0 * self.resistance))

    def waveforms(self, periods: int = 12, points: int = 200, seed: int = 0) -> Waveforms:
        """Steady state, `points` samples a period; ends lie inside a period, switching instants are sampled."""
        kinks = np.arange(1, 2 * periods) * 0.5 / self.frequency
        return self.at(uneven_time((periods + 0.3) / self.frequency, periods * points, seed, kinks))

    def at(self, time: Array) -> Waveforms:
        """Signals at given instants [s]; the right drain carries the positive half of -sin."""
        angle = 2.0 * np.pi * self.frequency * time
        sine = np.sin(angle)
        peak = np.pi * self.supply
        drains = {"left": peak * np.maximum(sine, 0.0), "right": peak * np.maximum(-sine, 0.0)}
        fluxes = {
            "left": choke_flux_waveform(self.supply, self.frequency, time),
            "right": choke_flux_waveform(self.supply, self.frequency, time + 0.5 / self.frequency),
        }
        signals = {"tank.voltage": peak * sine, "supply.voltage": np.full_like(time, self.supply)}
        signals["coil.current"] = -peak / (2.0 * np.pi * self.frequency * self.coil) * np.cos(angle)
        for side, flux in fluxes.items():
            signals[f"drain.{side}.voltage"] = drains[side]
            signals[f"gate.{side}.voltage"] = np.where(drains[side] > 0, 0.0, 12.0)
            signals[f"choke.{side}.flux"] = flux
            signals[f"choke.{side}.current"] = 0.5 * self.supply_current + flux / self.choke
            signals[f"switch.{side}.current"] = np.where(drains[side] > 0, 0.0, self.supply_current)
        signals["supply.current"] = signals["choke.left.current"] + signals["choke.right.current"]
        return Waveforms(time, signals)


def rlc_ring(time: Array, resistance: float, inductance: float, capacitance: float) -> tuple[Array, float, float]:
    """Capacitor voltage [V] of a series RLC after a step of 1 V at t = 0, its frequency [Hz] and its decay time [s].

    v = 1 - exp(-a t) (cos wt + a/w sin wt), a = R/(2L), w^2 = 1/(LC) - a^2; any circuits text.
    """
    rate = resistance / (2.0 * inductance)
    omega = np.sqrt(1.0 / (inductance * capacitance) - rate**2)
    t = np.maximum(time, 0.0)
    voltage = 1.0 - np.exp(-rate * t) * (np.cos(omega * t) + rate / omega * np.sin(omega * t))
    return np.where(time > 0, voltage, 0.0), float(omega / (2.0 * np.pi)), 1.0 / rate
