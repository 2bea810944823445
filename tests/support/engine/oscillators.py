# SPDX-License-Identifier: GPL-3.0-or-later
"""Oscillators of one tank whose amplitude, and how fast it comes back to it, are known in closed form."""

from __future__ import annotations

import math

from heatsim.netlist.deck import Deck, SettleRule, SlowState, State, Transient
from heatsim.waves import Signal

INDUCTANCE, CAPACITANCE = 10e-6, 1e-6
IMPEDANCE = math.sqrt(INDUCTANCE / CAPACITANCE)
PERIOD = 2 * math.pi * math.sqrt(INDUCTANCE * CAPACITANCE)
SCALE = 10.0
"""Amplitude [V] of the driven ones."""

SIGNALS = (Signal("tank.voltage", "V", ((1.0, "v(a)"),)), Signal("coil.current", "A", ((1.0, "i(l1)"),)))
RULE = SettleRule("tank.voltage", ("tank.voltage",), 1e-3, 10, 100 * PERIOD, 20 * PERIOD, 200 * PERIOD, 0.1)
OPTIONS = {"method": "gear", "maxord": "2", "reltol": "1e-3"}


def oscillator(drawn: str, volts: float, steps: int = 200) -> Deck:
    """A tank charged to some volts, with its coil's current at zero; drawn: current [A] the drive takes out of node a."""
    circuit = f"l1 a 0 {INDUCTANCE:g}\nc1 a 0 {CAPACITANCE:g}\nbdrive a 0 i={drawn}\niperturb 0 a dc 0\n"
    tank = SlowState("tank", ((1.0, "v(a)"),), SCALE, "iperturb", 1 / CAPACITANCE, 0.04, rotates=True)
    return Deck(
        "oscillator",
        circuit,
        Transient(1000 * PERIOD, PERIOD / steps, PERIOD / steps),
        RULE,
        SIGNALS,
        options=OPTIONS,
        period=PERIOD,
        slow=(tank,),
        every=True,
        start=State({"a": volts}, {"l1": 0.0}),
    )


def resistive(quality: float, volts: float = SCALE) -> Deck:
    """A tank left to ring down."""
    return oscillator(f"v(a)/{quality * IMPEDANCE:.9g}", volts)


def relay(quality: float, volts: float) -> Deck:
    """Switched drive: +-I with the sign of the voltage, into a tank with a resistance R across it.

    The fundamental of the square wave, 4 I/pi, keeps the amplitude at 4 I R/pi, here SCALE. A change of it decays as
    exp(-pi/Q) a period: divergence -1/(R C) over a period, -2 pi/Q, and at each crossing a step of 2 I at the slope w A
    of the voltage, together +pi/Q (Abel's formula; own derivation).
    """
    resistance = quality * IMPEDANCE
    current = math.pi * SCALE / (4 * resistance)
    return oscillator(f"v(a)/{resistance:.9g}-{current:.9g}*tanh(v(a)/0.05)", volts)


def cubic(strength: float, volts: float) -> Deck:
    """Van der Pol's oscillator, x'' - eps (1 - x^2) x' + x = 0 with x = 2 v/SCALE: amplitude 2, multiplier exp(-2 pi eps)
    to first order (B. van der Pol, Phil. Mag. 2, 1926, p. 978). With eps below zero the same orbit repels.
    """
    conductance = strength / IMPEDANCE
    return oscillator(f"{conductance:.9g}*(4*v(a)*v(a)*v(a)/{3 * SCALE**2:g}-v(a))", volts)
