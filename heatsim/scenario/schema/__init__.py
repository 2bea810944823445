# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables of a scenario file, one file a group of parts. What a field means is its description; editors get them through
`heatsim schema`.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from heatsim.scenario.schema.bank import RailsTable
from heatsim.scenario.schema.choke import ChokeTable, CoreTable, HysteresisTable, MeasuredChokeTable, WireTable
from heatsim.scenario.schema.cooling import SwitchCoolingTable
from heatsim.scenario.schema.copper import ConductorTable, CoolingTable
from heatsim.scenario.schema.datasheet import CurvesTable, DatasheetTable
from heatsim.scenario.schema.fields import CASE_PATTERN, Table
from heatsim.scenario.schema.gate import DriverTable, GateTable
from heatsim.scenario.schema.heat import HeatTable
from heatsim.scenario.schema.heater import HeaterTable, SupplyTable
from heatsim.scenario.schema.source import SourceTable
from heatsim.scenario.schema.study import DrawerRingTable, DrawerWireTable, LimitsTable, SimulateTable, WindTable
from heatsim.scenario.schema.switch import SwitchTable
from heatsim.scenario.schema.tank import CapacitorsTable, CaseTable, ChargeTable, CoilTable, MeasuredCoilTable, WorkpieceTable

__all__ = [
    "HeaterTable",
    "SupplyTable",
    "SourceTable",
    "HysteresisTable",
    "CoreTable",
    "WireTable",
    "MeasuredChokeTable",
    "ChokeTable",
    "CurvesTable",
    "DatasheetTable",
    "SwitchCoolingTable",
    "SwitchTable",
    "DriverTable",
    "GateTable",
    "CapacitorsTable",
    "RailsTable",
    "MeasuredCoilTable",
    "CoilTable",
    "ConductorTable",
    "CoolingTable",
    "WorkpieceTable",
    "ChargeTable",
    "CaseTable",
    "LimitsTable",
    "DrawerRingTable",
    "DrawerWireTable",
    "WindTable",
    "HeatTable",
    "SimulateTable",
    "ScenarioTables",
]


class ScenarioTables(Table):
    """A whole scenario file."""

    heater: HeaterTable
    supply: SupplyTable
    choke: dict[str, ChokeTable] = Field(description="left and right, or centre; common keys stand directly in [choke]")
    switch: SwitchTable
    gate: GateTable
    capacitors: CapacitorsTable
    coil: CoilTable
    case: Annotated[dict[Annotated[str, Field(pattern=CASE_PATTERN)], CaseTable], Field(min_length=1)]
    conductor: Annotated[list[ConductorTable], Field(max_length=40)] = Field(default_factory=list)
    wind: WindTable | None = None
    heat: HeatTable = Field(default_factory=lambda: HeatTable.model_validate({}))
    limits: LimitsTable = Field(default_factory=lambda: LimitsTable.model_validate({}))
    simulate: SimulateTable = Field(default_factory=lambda: SimulateTable.model_validate({}))
