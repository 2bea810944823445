# SPDX-License-Identifier: GPL-3.0-or-later
"""MOSFET banks that are not heatsim's: other laws of the channel and of the gate-drain capacitance, drawn about the datasheet.

They meet the datasheet where heatsim's own law does not: at 25 V the gate-drain capacitance is the reverse capacitance, and the
charge up to 100 V the gate-drain charge. Values for the bench heater's switch: 60 pF, 24 nC (a device).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from heatsim.parts.heater import Heater
from tests.support.independent.circuit import Bank
from tests.support.independent.devices import channel_law

BankOf = Callable[[Heater, str], Bank]
"""The bank of a heater's side."""

SWING = 100.0
"""Drain swing over which the gate-drain charge is meant [V]; common practice, no source."""

OWN, PLATEAU, JUNCTION = "own", "plateau", "junction"
LAWS = (PLATEAU, JUNCTION)


def foreign(law: str, generator: np.random.Generator) -> BankOf:
    """Banks of another law, on-resistance within 15 %, input and output capacitance within 8 and 15 % of the datasheet (even),
    transconductance 0.7 to 1.6 times its (even)."""
    ohms, gain, into, out = (float(generator.uniform(*ends)) for ends in ((0.85, 1.15), (0.7, 1.6), (0.92, 1.08), (0.85, 1.15)))

    def bank(heater: Heater, side: str) -> Bank:
        own, switch, n = Bank.of(heater, side), heater.switch, heater.switch.count
        stiffness = n * gain * switch.transconductance**2 / (2 * switch.transconductance_current)
        resistance, over = ohms * switch.on_resistance / n, switch.on_gate_voltage - switch.threshold
        rest = max(resistance - 1 / (stiffness * over), 0.3 * resistance)
        channel = channel_law(stiffness, 5e-3, 0.6 * rest, 0.4 * rest) if law == PLATEAU else saturating_channel(stiffness, rest)
        depletion, gate_drain = own.depletion, {PLATEAU: plateau, JUNCTION: junction}[law]
        miller = gate_drain(n * switch.reverse_capacitance, n * switch.gate_drain_charge, switch.capacitance_voltage)
        return replace(
            own,
            channel=channel,
            miller=miller,
            gate_source=n * (into * switch.input_capacitance - switch.reverse_capacitance),
            depletion=lambda v: out * depletion(v),
        )

    return bank


def saturating_channel(stiffness: float, rest: float) -> Callable[[float, float], float]:
    """Drain current [A] at overdrive and drain voltage [V], with carriers that reach their end velocity.

    i_sat = k u^2/2 / (1 + u/12 V), u = w ln(1 + exp(x/w)) with w = 80 mV, so that it fades below threshold; up to there
    i = i_sat v/sqrt(v^2 + v_s^2) with v_s = i_sat (R + 1/(k u)). Coined for these tests: the knee of no particular device.
    """
    width, end = 0.08, 12.0

    def forward(x: float, v: float) -> float:
        u = x if x > 30 * width else width * math.log1p(math.exp(max(x / width, -60.0)))
        most = 0.5 * stiffness * u * u / (1 + u / end)
        knee = most * (rest + 1 / (stiffness * u))
        return most * v / math.hypot(v, knee)

    return lambda x, v: forward(x, v) if v >= 0 else -forward(x - v, -v)


def plateau(at_25: float, charge: float, voltage: float) -> Callable[[float], float]:
    """Gate-drain capacitance [F] at vgd [V] with a plateau: C = c + (C0 - c)/(1 + (v/v0)^4), c two thirds of that at `voltage`.

    The plateau's width follows from the charge (integral of 1/(1+x^4) is pi/(2 sqrt 2)), its height from C(voltage).
    """
    least = at_25 * 2 / 3
    area = (charge - least * SWING) / (math.pi / (2 * math.sqrt(2)))  # (C0 - c) v0
    width = (voltage**4 * (at_25 - least) / area) ** (1 / 3)  # (C0 - c) (v0/V)^4 = C(V) - c
    height = area / width

    def law(v: float) -> float:
        return least + (height if v >= 0 else height / (1 + (v / width) ** 4))

    return law


def junction(at_25: float, charge: float, voltage: float) -> Callable[[float], float]:
    """An abrupt junction, C sqrt((V + vj)/(v + vj)) with vj = 0.7 V, beside an accumulation layer of 2.4 nF a 60 pF device,
    (1 + (v/v0)^6)^-1 of it, whose width follows from the rest of the charge (integral of 1/(1+x^6) is pi/3)."""
    potential, high = 0.7, 40 * at_25
    tail = 2 * at_25 * math.sqrt(voltage + potential) * (math.sqrt(SWING + potential) - math.sqrt(potential))
    width = (charge - tail) / (high * math.pi / 3)

    def law(v: float) -> float:
        size = max(-v, 0.0)
        return at_25 * math.sqrt((voltage + potential) / (size + potential)) + high / (1 + (size / width) ** 6)

    return law
