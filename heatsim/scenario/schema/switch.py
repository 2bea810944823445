# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables of the switches and their gates."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from heatsim.scenario.schema.cooling import SwitchCoolingTable
from heatsim.scenario.schema.datasheet import DatasheetTable
from heatsim.scenario.schema.fields import MODEL_PATTERN, Count, FileName, Name, Table, Unit


class SwitchTable(DatasheetTable):
    """[switch]: one MOSFET's datasheet figures and how many stand in parallel on each side."""

    count: Count = 1
    device: Name | None = Field(None, description="name of a device in the catalogue; figures given here win over its own")
    threshold_spread: Annotated[float, Unit("V", -3, 3)] = Field(
        0.1, description="left bank minus right; no two banks are equal, and the oscillation starts from it"
    )
    drain_inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] = 5e-9
    model_file: FileName | None = Field(
        None, description="the user's own model file, read for .model and .subckt lines; stands in for all but ratings"
    )
    model: Annotated[str, Field(pattern=MODEL_PATTERN)] | None = Field(None, description="name of the model in that file")
    cooling: SwitchCoolingTable | None = Field(None, description="how they are cooled; without it their temperature is not judged")


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
