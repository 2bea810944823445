# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables of the heater as a whole and of its supply."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.scenario.schema.fields import FileName, Name, Table, Unit
from heatsim.scenario.schema.source import SourceTable


class HeaterTable(Table):
    """[heater]: what is being built, and how careful to be."""

    name: Name
    topology: Literal["two-choke", "one-choke"] = "two-choke"
    ambient: Annotated[float, Unit("°C", -20, 60)] = 25.0
    air_speed: Annotated[float, Unit("m/s", 0, 20)] = Field(0.0, description="moved over the chokes; 0 m/s is still air")
    wanted_headroom: Annotated[float, Unit("%", 0, 0.9)] = 0.10
    catalogue: FileName | None = Field(
        None, description="file of your own materials, rings, metals, devices and capacitors; they win over the built-in ones"
    )
    run: Annotated[float, Unit("s", 1, 86400)] | None = Field(
        None, description="how long it runs from cold; the chokes are judged after that time instead of running for ever"
    )
    bus_inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] = Field(
        20e-9, description="stray inductance of the bars between one drain and the tank"
    )
    stray_corner: Annotated[float, Unit("Hz", 1e6, 1e9)] = Field(
        10e6, description="above this frequency skin effect makes strays lossy (common practice, no source)"
    )


class SupplyTable(Table):
    """[supply]: the DC source up to the chokes."""

    voltage: Annotated[float, Unit("V", 5, 400)]
    rise_time: Annotated[float, Unit("s", 1e-6, 0.05)] = 300e-6
    resistance: Annotated[float, Unit("ohm", 1e-4, 5)] = 0.02
    inductance: Annotated[float, Unit("H", 1e-9, 1e-3)] = 1e-6
    reservoir: Annotated[float, Unit("F", 1e-6, 0.5)] = 1e-3
    reservoir_resistance: Annotated[float, Unit("ohm", 1e-4, 5)] = 0.015
    ripple: Annotated[float, Unit("V", 0, 100)] = Field(0.0, description="peak to peak, of the source itself")
    ripple_frequency: Annotated[float, Unit("Hz", 10, 1e6)] = 100.0
    current_rating: Annotated[float, Unit("A", 0.1, 1000)] | None = None
    source: SourceTable | None = None
