# SPDX-License-Identifier: GPL-3.0-or-later
"""[metal.NAME] of catalogue files: what workpieces are made of, cold and over temperature."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.scenario.schema.fields import Name, Table, Unit
from heatsim.scenario.schema.origin import OriginTable

Celsius = Annotated[float, Unit("°C", -60.0, 3500.0)]
Resistivity = Annotated[float, Unit("ohm*m", 1e-9, 1e-4)]
SpecificHeat = Annotated[float, Unit("J/(kg*K)", 50.0, 2e4)]
Conductivity = Annotated[float, Unit("W/(m*K)", 0.5, 1000.0)]
Emissivity = Annotated[float, Field(strict=True, ge=0.01, le=1.0)]
Band = Annotated[float, Unit("%", 0.0, 0.9)]


class TrendTable(OriginTable):
    """A property over temperature."""

    band: Band


class ResistivityTable(TrendTable):
    """[metal.NAME.hot.resistivity]."""

    points: list[tuple[Celsius, Resistivity]] | None = None
    law: Literal["steel 0.2 % C"] | None = None


class SpecificHeatTable(TrendTable):
    """[metal.NAME.hot.specific_heat]."""

    points: list[tuple[Celsius, SpecificHeat]] | None = None
    law: Literal["EN 1993-1-2"] | None = None


class ConductivityTable(TrendTable):
    """[metal.NAME.hot.conductivity]."""

    points: list[tuple[Celsius, Conductivity]] | None = None
    law: Literal["EN 1993-1-2"] | None = None


class EmissivityTable(TrendTable):
    """[metal.NAME.hot.emissivity.CONDITION]."""

    points: list[tuple[Celsius, Emissivity]]


class DensityTable(OriginTable):
    """[metal.NAME.hot.density]."""

    value: Annotated[float, Unit("kg/m3", 500.0, 25e3)]
    band: Band


class CurieTable(OriginTable):
    """[metal.NAME.hot.curie]."""

    value: Annotated[float, Unit("°C", 20.0, 1200.0)]
    band: Annotated[float, Unit("K", 0.0, 300.0)]


class HighestTable(OriginTable):
    """[metal.NAME.hot.highest]."""

    value: Annotated[float, Unit("°C", 100.0, 3500.0)]
    band: Annotated[float, Unit("K", 0.0, 300.0)]
    ends: Literal["solidus", "data"]


class HotTable(Table):
    """[metal.NAME.hot]: the metal over temperature."""

    resistivity: ResistivityTable
    specific_heat: SpecificHeatTable
    conductivity: ConductivityTable
    density: DensityTable
    emissivity: dict[Name, EmissivityTable]
    condition: Name
    curie: CurieTable | None = None
    highest: HighestTable


class MetalTable(OriginTable):
    """[metal.NAME]: what a workpiece is made of, cold; either a permeability or the curve of a steel."""

    resistivity: Resistivity
    resistivity_band: Band = 0.1
    permeability: Annotated[float, Field(strict=True, ge=1.0, le=5000.0)] | None = None
    curve: Literal["AISI 1008", "DC01", "9SMn28k"] | None = None
    permeability_band: Band = 0.0
    hot: HotTable | None = None
