# SPDX-License-Identifier: GPL-3.0-or-later
"""MOSFET banks that are not heatsim's: other laws of the channel and of the gate-drain capacitance, drawn about the datasheet.

They meet the datasheet: at 25 V the gate-drain capacitance is the reverse capacitance, and what a gate-charge test would count is
the gate-drain charge. Values for the bench heater's switch: 60 pF, 24 nC (a device).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy.optimize import brentq

from heatsim.parts.heater import Heater
from heatsim.parts.switch import Switch
from tests.support.independent.circuit import Bank
from tests.support.independent.devices import channel_law

BankOf = Callable[[Heater, str], Bank]
"""The bank of a heater's side."""


def swing(switch: Switch) -> tuple[float, float]:
    """Drain over gate [V] at both ends of a gate-charge test: the gate on its plateau, Vt + 2 I/g of a square law, while the drain
    falls from the test's voltage to I Rds(on)."""
    current, start = switch.transconductance_current, switch.gate_drain_charge_voltage
    plateau_voltage = switch.threshold + 2 * current / switch.transconductance
    return current * switch.on_resistance - plateau_voltage, start - plateau_voltage


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
        figures = n * switch.reverse_capacitance, n * switch.gate_drain_charge, switch.capacitance_voltage
        miller = gate_drain(*figures, swing(switch))
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


def plateau(at_25: float, charge: float, voltage: float, ends: tuple[float, float]) -> Callable[[float], float]:
    """Gate-drain capacitance [F] at vgd [V] with a plateau: C = c + (C0 - c)/(1 + (v/v0)^4), c two thirds of that at `voltage`.

    C0 follows from C(voltage), v0 from the charge between the ends of its test (integral of 1/(1+x^4) is pi/(2 sqrt 2)).
    """
    least, (low, high) = at_25 * 2 / 3, ends

    def step(width: float) -> float:
        return (at_25 - least) * (1 + (voltage / width) ** 4)

    def excess(width: float) -> float:
        return step(width) * (width * math.pi / (2 * math.sqrt(2)) - low) + least * (high - low) - charge

    width = float(brentq(excess, 0.5, voltage))
    height = step(width)

    def law(v: float) -> float:
        return least + (height if v >= 0 else height / (1 + (v / width) ** 4))

    return law


def junction(at_25: float, charge: float, voltage: float, ends: tuple[float, float]) -> Callable[[float], float]:
    """An abrupt junction, C sqrt((V + vj)/(v + vj)) with vj = 0.7 V, beside an accumulation layer of 2.4 nF a 60 pF device,
    (1 + (v/v0)^6)^-1 of it, whose width follows from the rest of the charge (integral of 1/(1+x^6) is pi/3)."""
    potential, most, (low, high) = 0.7, 40 * at_25, ends
    scale = at_25 * math.sqrt(voltage + potential)
    tail = 2 * scale * (math.sqrt(high + potential) - math.sqrt(potential))
    above = -low * (scale / math.sqrt(potential) + most)
    width = (charge - tail - above) / (most * math.pi / 3)

    def law(v: float) -> float:
        size = max(-v, 0.0)
        return scale / math.sqrt(size + potential) + most / (1 + (size / width) ** 6)

    return law
