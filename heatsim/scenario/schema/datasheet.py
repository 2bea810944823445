# SPDX-License-Identifier: GPL-3.0-or-later
"""The figures of a MOSFET's datasheet, as [switch] and [device.NAME] of a catalogue file take them."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from heatsim.scenario.schema.fields import Table, Unit

Voltage = Annotated[float, Unit("V", 0, 2000)]
Capacitance = Annotated[float, Unit("F", 1e-13, 1e-7)]
CapacitanceRow = tuple[Voltage, Capacitance, Capacitance, Capacitance]
TransferRow = tuple[Annotated[float, Unit("V", 0.5, 20)], Annotated[float, Unit("A", 1e-3, 1000)]]


class CurvesTable(Table):
    """[switch.curves]: points read off the datasheet's curves; the model is compared with them.

    Where no capacitance is given beside it, the row next to 25 V stands for the three; otherwise nothing is fitted to them.
    """

    capacitance: list[CapacitanceRow] = Field(
        default_factory=list, description="rows of drain voltage and input, output and reverse capacitance"
    )
    transfer: list[TransferRow] = Field(
        default_factory=list, description="rows of gate voltage and drain current, the channel saturated (drain at some 10 V)"
    )


class DatasheetTable(Table):
    """Figures of one MOSFET. What is not given is estimated where the others allow it, and told as an estimate with its band."""

    voltage_rating: Annotated[float, Unit("V", 10, 2000)] | None = None
    current_rating: Annotated[float, Unit("A", 0.5, 1000)] | None = None
    gate_rating: Annotated[float, Unit("V", 5, 40)] | None = Field(None, description="else 20 V")
    on_resistance: Annotated[float, Unit("ohm", 1e-4, 20)] | None = Field(None, description="hot, as it will run")
    on_gate_voltage: Annotated[float, Unit("V", 2, 20)] | None = Field(None, description="at which it is given; else 10 V")
    threshold: Annotated[float, Unit("V", 0.5, 8)] | None = None
    threshold_current: Annotated[float, Unit("A", 1e-6, 10)] | None = Field(
        None, description="drain current at which the threshold is given; else it is that of the square law, some 0.3 V higher"
    )
    transconductance: Annotated[float, Unit("S", 0.1, 2000)] | None = Field(
        None, description="else estimated from plateau_voltage, or from its current alone"
    )
    transconductance_current: Annotated[float, Unit("A", 0.1, 500)] | None = Field(
        None, description="of the transconductance and of the gate-charge test; else 60 % of the current rating"
    )
    plateau_voltage: Annotated[float, Unit("V", 1, 15)] | None = Field(
        None, description="of the gate in a gate-charge test at transconductance_current"
    )
    input_capacitance: Annotated[float, Unit("F", 1e-11, 1e-7)] | None = None
    output_capacitance: Annotated[float, Unit("F", 1e-12, 1e-7)] | None = Field(
        None, description="else estimated from the input capacitance"
    )
    reverse_capacitance: Annotated[float, Unit("F", 1e-13, 1e-8)] | None = Field(
        None, description="else estimated from the gate-drain charge"
    )
    capacitance_voltage: Annotated[float, Unit("V", 1, 400)] | None = Field(
        None, description="of the drain, at which the three are given; else 25 V"
    )
    gate_drain_charge: Annotated[float, Unit("C", 1e-10, 1e-6)] | None = Field(
        None,
        description="gate current times the plateau's time in a gate-charge test at transconductance_current; else estimated from "
        "gate_charge or the reverse capacitance",
    )
    gate_drain_charge_voltage: Annotated[float, Unit("V", 5, 2000)] | None = Field(
        None, description="from which the drain falls in that test; else half the voltage rating"
    )
    gate_charge: Annotated[float, Unit("C", 1e-10, 5e-6)] | None = Field(
        None, description="in all, up to on_gate_voltage in that test"
    )
    gate_resistance: Annotated[float, Unit("ohm", 0.05, 20)] | None = Field(None, description="inside the chip; else 1.5 ohm")
    diode_drop: Annotated[float, Unit("V", 0.3, 3)] | None = Field(None, description="else 1 V")
    diode_current: Annotated[float, Unit("A", 0.1, 500)] | None = Field(None, description="at which it is given; else 20 A")
    recovery_time: Annotated[float, Unit("s", 1e-9, 1e-5)] | None = Field(None, description="of the diode; else 150 ns")
    miller_voltage: Annotated[float, Unit("V", 0.01, 50)] | None = Field(
        None, description="drain over gate at which the reverse capacitance has left its plateau; else from the datasheet's points"
    )
    curves: CurvesTable | None = None
