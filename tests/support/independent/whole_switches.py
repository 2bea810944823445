# SPDX-License-Identifier: GPL-3.0-or-later
"""Switch banks, gate networks and drivers of a heater for `nodal`, from the values of their parts."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial

from heatsim.parts.gate import IntegratedDriver, TotemPole
from heatsim.parts.heater import Heater
from tests.support.independent.circuit import diode_saturation
from tests.support.independent.datasheet import TAIL, Figures
from tests.support.independent.laws import Answer, channel, gate_drain, junction, transistor
from tests.support.independent.nodal import GROUND, Circuit, across
from tests.support.independent.wiring import Whole


def gate_supply(made: Whole, heater: Heater) -> int:
    """Node that the pull-ups and drivers hang on."""
    gate = heater.gate
    if gate.from_main:
        return made.node("bus")
    node = made.node("gate_supply")
    source = made.circuit.branch("gate_source", GROUND, node, size=1e6)  # its current follows slopes: nothing rests on it
    made.circuit.drive(source, lambda _: gate.supply_voltage)
    made.start["gate_supply"] = gate.supply_voltage
    return node


def add_bank(made: Whole, heater: Heater, side: str, p: Figures) -> None:
    """Devices in parallel as one: drain lead, gate loop and resistor, chip, source lead."""
    circuit, switch, n = made.circuit, heater.switch, heater.switch.count
    d, drain, inside = (made.node(f"{what}_{side}") for what in ("d", "drain", "channel_drain"))
    node, gate, chip, below = (made.node(f"{what}_{side}") for what in ("node", "gate", "chip", "channel_source"))
    source = made.node(f"source_{side}") if switch.source_inductance else GROUND
    if switch.source_inductance:
        circuit.stray(f"source_lead_{side}", source, GROUND, switch.source_inductance / n, heater.stray_corner)
    down = circuit.stray(f"down_{side}", d, drain, switch.drain_inductance, heater.stray_corner)
    loop = circuit.branch(f"loop_{side}", node, gate, heater.gate.resistor / n, heater.gate.inductance / n)
    circuit.resistor(gate, chip, switch.gate_resistance / n)
    circuit.resistor(drain, inside, p.drain / n)
    circuit.resistor(below, source, p.source / n)
    threshold = p.threshold + (0.5 if side == "left" else -0.5) * switch.threshold_spread
    law = channel(n * p.stiffness, threshold, p.modulation, p.triode, TAIL)
    circuit.element([across(chip, below), across(inside, below)], [across(inside, below)], [], law)
    circuit.capacitor(chip, below, n * p.gate_source)
    circuit.element([across(chip, inside)], [], [across(chip, inside)], gate_drain(n * p.least, n * p.most, p.steepness))
    anode = made.node(f"body_{side}")
    circuit.resistor(source, anode, p.bulk / n)
    body = junction(
        n * p.saturation, p.emission, (n * p.depletion, 0.8, 0.5), switch.recovery_time, (switch.voltage_rating, n * 250e-6)
    )
    two_terminals(circuit, anode, drain, body)
    lossy = 2 * math.pi * heater.stray_corner * switch.drain_inductance
    made.show(f"drain.{side}.voltage", across(drain, source))
    made.show(f"gate.{side}.voltage", across(gate, source))
    made.show(f"switch.{side}.current", {down: 1.0, d: 1 / lossy, drain: -1 / lossy})
    made.show(f"gate.{side}.current", {loop: 1.0})


def two_terminals(circuit: Circuit, a: int, b: int, law: Callable[[float], Answer]) -> None:
    """A junction from a to b."""
    circuit.element([across(a, b)], [across(a, b)], [across(a, b)], law)


def add_gate(made: Whole, heater: Heater, side: str, other: str, supply: int) -> None:
    """Pull-up, fast diode to the other drain, clamp and pull-down; a driver between, where there is one."""
    circuit, gate, node = made.circuit, heater.gate, made.node(f"node_{side}")
    shared = made.node(f"input_{side}") if gate.driver else node
    circuit.resistor(supply, shared, gate.pull_up)
    circuit.resistor(node, GROUND, gate.pull_down)
    fast, zener = made.node(f"fast_{side}"), made.node(f"zener_{side}")
    circuit.resistor(shared, fast, 0.05)
    law = junction(
        diode_saturation(gate), 1.6, (gate.diode_capacitance, 0.8, 0.45), gate.diode_recovery, (gate.diode_rating, 10e-6)
    )
    two_terminals(circuit, fast, made.node(f"d_{other}"), law)
    circuit.resistor(node, zener, 1.0)
    clamp = junction(1e-12, 1.0, (gate.clamp_capacitance, 0.8, 0.4), 0.0, (gate.clamp_voltage, 5e-3))
    two_terminals(circuit, GROUND, zener, clamp)
    made.show(f"gate_drive.{side}.voltage", {node: 1.0})
    if gate.driver is not None:
        circuit.capacitor(shared, GROUND, gate.driver.input_capacitance)
        add = _followers if isinstance(gate.driver, TotemPole) else _integrated
        add(made, gate.driver, side, (shared, node, supply))


def _followers(made: Whole, driver: TotemPole, side: str, pins: tuple[int, int, int]) -> None:
    """Complementary emitter followers from input to output."""
    base, out, supply = pins
    circuit, up, down = made.circuit, made.node(f"up_{side}"), made.node(f"sink_{side}")
    circuit.resistor(up, out, driver.source_resistance)
    circuit.resistor(down, out, driver.sink_resistance)
    for emitter, collector, knee, sign in ((up, supply, driver.source_current, 1.0), (down, GROUND, driver.sink_current, -1.0)):
        law = transistor(1e-13, driver.gain, 5.0, knee, 100e-12, 30e-12, (0.6e-9, 20e-9))
        to_emitter = {base: sign, emitter: -sign}
        to_collector = {base: sign, collector: -sign} if collector != GROUND else {base: sign}
        through = {collector: sign, emitter: -sign}
        circuit.element([to_emitter, to_collector], [to_emitter, through], [to_emitter, to_collector], law)


def _integrated(made: Whole, driver: IntegratedDriver, side: str, pins: tuple[int, int, int]) -> None:
    """Two thresholds, a lag of which half passes in `delay`, and an output of limited current on either side.

    The state s nears c = 1/2 + tanh(4.294 x)/2, x = (v - middle)/(high - low) + 1.863 (s - 1/2).
    """
    base, out, supply = pins
    circuit = made.circuit
    state = circuit.unknown(f"state_{side}", 0.1)
    lag, middle, width = driver.delay / math.log(2), (driver.high + driver.low) / 2, driver.high - driver.low
    circuit.dynamic(state, state, lag)

    def follow(v: float, s: float) -> Answer:
        t = math.tanh(4.294 * ((v - middle) / width + 1.863 * (s - 0.5)))
        slope = 0.5 * (1 - t * t) * 4.294
        return (s - 0.5 - 0.5 * t,), (-slope / width, 1 - slope * 1.863), (), ()

    circuit.element([{base: 1.0}, {state: 1.0}], [{state: 1.0}], [], follow)
    two_terminals(circuit, base, made.node(f"guard_{side}"), junction(1e-14, 1.0, (0.0, 1.0, 0.5)))
    circuit.resistor(made.node(f"guard_{side}"), supply, 5.0)
    pull = partial(_output, driver.source_current, driver.source_resistance, 1.0)
    sink = partial(_output, driver.sink_current, driver.sink_resistance, -1.0)
    circuit.element([{state: 1.0}, across(supply, out)], [across(supply, out)], [], pull)
    circuit.element([{state: 1.0}, across(out, GROUND)], [across(out, GROUND)], [], sink)
    made.start[f"state_{side}"] = float(side == "right")


def _output(most: float, ohms: float, sign: float, state: float, volts: float) -> Answer:
    """One side of an output: I e^2 tanh(v/(R I)), e its share, (1 +- tanh(6 (s - 1/2)))/2."""
    t, bend = math.tanh(6 * (state - 0.5)), math.tanh(volts / (ohms * most))
    share = 0.5 + sign * 0.5 * t
    by_state = most * 2 * share * sign * 3 * (1 - t * t) * bend
    return (most * share * share * bend,), (by_state, share * share * (1 - bend * bend) / ohms), (), ()
