# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables of the switches and their gates."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from heatsim.scenario.schema.fields import MODEL_PATTERN, Count, FileName, Table, Unit


class SwitchTable(Table):
    """[switch]: one MOSFET's datasheet figures and how many stand in parallel on each side."""

    count: Count = 1
    voltage_rating: Annotated[float, Unit("V", 10, 2000)]
    current_rating: Annotated[float, Unit("A", 0.5, 1000)] | None = None
    gate_rating: Annotated[float, Unit("V", 5, 40)] = 20.0
    on_resistance: Annotated[float, Unit("ohm", 1e-4, 20)] = Field(description="hot, as it will run")
    on_gate_voltage: Annotated[float, Unit("V", 2, 20)] = 10.0
    threshold: Annotated[float, Unit("V", 0.5, 8)]
    threshold_current: Annotated[float, Unit("A", 1e-6, 10)] | None = Field(
        None, description="drain current at which the threshold is given; else it is that of the square law, some 0.3 V higher"
    )
    threshold_spread: Annotated[float, Unit("V", -3, 3)] = Field(
        0.1, description="left bank minus right; no two banks are equal, and the oscillation starts from it"
    )
    transconductance: Annotated[float, Unit("S", 0.1, 2000)]
    transconductance_current: Annotated[float, Unit("A", 0.1, 500)]
    input_capacitance: Annotated[float, Unit("F", 1e-11, 1e-7)]
    output_capacitance: Annotated[float, Unit("F", 1e-12, 1e-7)]
    reverse_capacitance: Annotated[float, Unit("F", 1e-13, 1e-8)]
    capacitance_voltage: Annotated[float, Unit("V", 1, 400)] = 25.0
    gate_drain_charge: Annotated[float, Unit("C", 1e-10, 1e-6)] = Field(
        description="gate current times the plateau's time in a gate-charge test at transconductance_current"
    )
    gate_drain_charge_voltage: Annotated[float, Unit("V", 5, 2000)] | None = Field(
        None, description="from which the drain falls in that test; else half the voltage rating"
    )
    gate_resistance: Annotated[float, Unit("ohm", 0.05, 20)] = 1.5
    diode_drop: Annotated[float, Unit("V", 0.3, 3)] = 1.0
    diode_current: Annotated[float, Unit("A", 0.1, 500)] = 20.0
    recovery_time: Annotated[float, Unit("s", 1e-9, 1e-5)] = 150e-9
    drain_inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] = 5e-9
    miller_voltage: Annotated[float, Unit("V", 0.01, 50)] | None = Field(
        None, description="drain over gate at which the reverse capacitance has left its plateau; else from the datasheet's points"
    )
    model_file: FileName | None = Field(None, description="the user's own model file, read for .model and .subckt lines")
    model: Annotated[str, Field(pattern=MODEL_PATTERN)] | None = Field(None, description="name of the model in that file")


class GateTable(Table):
    """[gate]: supply, pull-up, clamp, pull-down and cross-coupling diode of each side."""

    supply_voltage: Annotated[float, Unit("V", 3, 30)]
    supply_delay: Annotated[float, Unit("s", 0, 0.05)] = Field(0.0, description="after the main supply")
    supply_rise: Annotated[float, Unit("s", 1e-7, 0.05)] = 20e-6
    pull_up: Annotated[float, Unit("ohm", 1, 1e5)]
    pull_down: Annotated[float, Unit("ohm", 10, 1e6)] = 1e4
    clamp_voltage: Annotated[float, Unit("V", 3, 30)]
    clamp_capacitance: Annotated[float, Unit("F", 1e-12, 1e-8)] = 200e-12
    resistor: Annotated[float, Unit("ohm", 0.1, 200)] = Field(description="in series with each gate")
    inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] = Field(15e-9, description="of each device's gate loop")
    diode_drop: Annotated[float, Unit("V", 0.2, 3)] = Field(1.0, description="at 1 A")
    diode_capacitance: Annotated[float, Unit("F", 1e-13, 1e-8)] = 60e-12
    diode_recovery: Annotated[float, Unit("s", 1e-10, 1e-5)] = 30e-9
    diode_rating: Annotated[float, Unit("V", 20, 2000)] = 600.0
