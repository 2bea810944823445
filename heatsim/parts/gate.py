# SPDX-License-Identifier: GPL-3.0-or-later
"""The gate network of a bank: pull-up, clamp, pull-down, coupling diode, and a push-pull driver where there is one."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class TotemPole:
    """Complementary emitter followers between the driver's input and the gate node.

    source_resistance, sink_resistance: of the emitters, with all that is in series [ohm]; source_current, sink_current: at
    which the gain has halved [A]; input_capacitance [F]; gain: of the current, at small currents [1]
    """

    source_resistance: float
    sink_resistance: float
    source_current: float
    sink_current: float
    input_capacitance: float
    gain: float


@dataclass(frozen=True)
class IntegratedDriver:
    """A driver whose output switches when its input passes one of two thresholds.

    source_resistance, sink_resistance: of the output [ohm]; source_current, sink_current: peak [A]; input_capacitance [F];
    low, high: input at which the output goes low and high [V]; delay: from input to output [s]
    """

    source_resistance: float
    sink_resistance: float
    source_current: float
    sink_current: float
    input_capacitance: float
    low: float
    high: float
    delay: float


@dataclass(frozen=True)
class GateRatings:
    """What the parts of a gate network stand, None where it is not known: heat of pull-up, clamp, pull-down, each gate
    resistor, diode and driver [W], reverse voltage of the diode and supply voltage of the driver [V].
    """

    pull_up: float | None = None
    clamp: float | None = None
    pull_down: float | None = None
    resistor: float | None = None
    diode: float | None = None
    driver: float | None = None
    diode_voltage: float | None = None
    driver_voltage: float | None = None


@dataclass(frozen=True)
class GateDrive:
    """Gate network of one bank: pull-up and diode to the other drain meet at the gate node, or at the input of a driver whose
    output is the gate node; clamp and pull_down are at the gate node.

    supply_voltage [V] through pull_up [ohm], 0 if they hang on the main supply (from_main); supply_delay, supply_rise [s];
    pull_down [ohm]; clamp_voltage of the zener [V]; resistor: of each device [ohm]; inductance: of each device's gate
    loop [H]; diode_drop [V] at 1 A, diode_capacitance [F], diode_recovery [s], diode_rating [V]; driver: None without one.
    """

    supply_voltage: float
    supply_delay: float
    supply_rise: float
    pull_up: float
    pull_down: float
    clamp_voltage: float
    clamp_capacitance: float
    resistor: float
    inductance: float
    diode_drop: float
    diode_capacitance: float
    diode_recovery: float
    diode_rating: float
    from_main: bool = False
    driver: TotemPole | IntegratedDriver | None = None
    ratings: GateRatings = GateRatings()
