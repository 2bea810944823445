# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables of the gates: what drives them, from which supply, and with which driver."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.scenario.schema.fields import Table, Unit

Watts = Annotated[float, Unit("W", 1e-3, 1000)]


class DriverTable(Table):
    """[gate.driver]: the push-pull driver of each side. Resistances and currents are those of its output stage."""

    kind: Literal["totem-pole", "integrated"] = Field(
        description="totem-pole: complementary emitter followers; integrated: input with two thresholds and a delay"
    )
    source_resistance: Annotated[float, Unit("ohm", 0.05, 100)] = Field(description="of the output when it pulls up")
    sink_resistance: Annotated[float, Unit("ohm", 0.05, 100)] = Field(description="of the output when it pulls down")
    source_current: Annotated[float, Unit("A", 0.01, 100)] = Field(description="peak; of a totem pole, where its gain has halved")
    sink_current: Annotated[float, Unit("A", 0.01, 100)] = Field(description="peak; of a totem pole, where its gain has halved")
    input_capacitance: Annotated[float, Unit("F", 1e-13, 1e-8)] = Field(30e-12, description="estimate if not given")
    input_low: Annotated[float, Unit("V", 0.1, 20)] | None = Field(
        None, description="integrated: input at which the output goes low; else 1.0 V, an estimate"
    )
    input_high: Annotated[float, Unit("V", 0.2, 25)] | None = Field(
        None, description="integrated: input at which the output goes high; else 2.0 V, an estimate"
    )
    delay: Annotated[float, Unit("s", 1e-9, 5e-6)] | None = Field(
        None, description="integrated: from input to output, either way; else 30 ns, an estimate"
    )
    current_gain: Annotated[float, Field(ge=10, le=1000)] | None = Field(
        None, description="totem-pole: of the transistors at small currents; else 100, an estimate"
    )
    voltage_rating: Annotated[float, Unit("V", 3, 100)] | None = Field(None, description="of its supply")
    loss_rating: Watts | None = Field(None, description="heat that it may turn out as built")


class GateTable(Table):
    """[gate]: supply, pull-up, clamp, pull-down and cross-coupling diode of each side, and a driver where there is one."""

    drive: Literal["pull-up", "push-pull"] = Field(
        "pull-up", description="push-pull: [gate.driver] between the node that pull-up and diode share and the gates"
    )
    supply: Literal["regulated", "main"] = Field("regulated", description="main: pull-up and driver hang on the main supply's bus")
    supply_voltage: Annotated[float, Unit("V", 3, 30)] | None = Field(None, description="of a regulated gate supply")
    supply_delay: Annotated[float, Unit("s", 0, 0.05)] = Field(0.0, description="after the main supply")
    supply_rise: Annotated[float, Unit("s", 1e-7, 0.05)] = 20e-6
    pull_up: Annotated[float, Unit("ohm", 1, 1e5)] = Field(description="to the gate node; with a driver, to its input")
    pull_up_rating: Watts | None = None
    pull_down: Annotated[float, Unit("ohm", 10, 1e6)] = 1e4
    pull_down_rating: Watts | None = None
    clamp_voltage: Annotated[float, Unit("V", 3, 30)]
    clamp_capacitance: Annotated[float, Unit("F", 1e-12, 1e-8)] = 200e-12
    clamp_rating: Watts | None = None
    resistor: Annotated[float, Unit("ohm", 0.1, 200)] = Field(description="in series with each gate")
    resistor_rating: Watts | None = Field(None, description="of each of them")
    inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] = Field(15e-9, description="of each device's gate loop")
    diode_drop: Annotated[float, Unit("V", 0.2, 3)] = Field(1.0, description="at 1 A")
    diode_capacitance: Annotated[float, Unit("F", 1e-13, 1e-8)] = 60e-12
    diode_recovery: Annotated[float, Unit("s", 1e-10, 1e-5)] = 30e-9
    diode_rating: Annotated[float, Unit("V", 20, 2000)] | None = Field(None, description="reverse; else 600 V, an assumption")
    diode_loss_rating: Watts | None = None
    driver: DriverTable | None = Field(None, description="of each side, for drive = push-pull")
