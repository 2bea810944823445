# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables of the feed chokes."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.scenario.schema.fields import Count, Name, Table, Unit, WireUnit


class HysteresisTable(Table):
    """[choke.core.hysteresis]: the core as Jiles and Atherton describe it, loss included, instead of the material's curve."""

    saturation: Annotated[float, Unit("A/m", 1e4, 3e6)] = Field(description="saturation magnetisation Ms")
    shape: Annotated[float, Unit("A/m", 0.1, 1e6)] = Field(description="a, of the anhysteretic curve")
    pinning: Annotated[float, Unit("A/m", 1e-3, 1e6)] = Field(description="k")
    coupling: Annotated[float, Field(ge=0, le=1)] = Field(0.0, description="alpha; alpha*Ms below 3*a")
    reversible: Annotated[float, Unit("%", 0, 1)] = Field(description="c")
    provenance: Literal["published", "measured", "common practice", "memory"] = "memory"


class CoreTable(Table):
    """[choke.core]: the ring, by catalogue name or by its dimensions, and its material."""

    material: Name
    ring: Name | None = Field(None, description="name in the catalogue, instead of dimensions")
    outer_diameter: Annotated[float, Unit("m", 5e-3, 0.3)] | None = None
    inner_diameter: Annotated[float, Unit("m", 2e-3, 0.25)] | None = None
    height: Annotated[float, Unit("m", 1e-3, 0.1)] | None = None
    stack: Annotated[int, Field(strict=True, ge=1, le=4)] = 1
    path_length: Annotated[float, Unit("m", 5e-3, 1)] | None = Field(None, description="as printed; else computed")
    area: Annotated[float, Unit("m2", 1e-6, 1e-2)] | None = Field(None, description="of one ring, as printed")
    gap: Annotated[float, Unit("m", 1e-5, 0.02)] | None = Field(None, description="needed with ferrite")
    hysteresis: HysteresisTable | None = None


class WireTable(Table):
    """[choke.wire]: round enamelled wire, by bare diameter or by gauge."""

    diameter: Annotated[float, WireUnit("m", 5e-5, 6e-3)] | None = Field(None, description="bare copper, or a gauge")
    gauge: Name | None = Field(None, description='such as "AWG 14", instead of the diameter')
    overall_diameter: Annotated[float, Unit("m", 5e-5, 7e-3)] | None = Field(None, description="else from the grade")
    grade: Literal[1, 2] = Field(2, description="of the enamel, IEC 60317-0-1")
    strands: Count = 1
    lay: Literal["side by side", "twisted"] = Field("side by side", description="how parallel strands lie")
    looseness: Annotated[float, Unit("m", 0, 5e-3)] = Field(0.0, description="how far the turns stand off the core")
    lead_length: Annotated[float, Unit("m", 0, 1)] = Field(
        0.0, description="of each end in free air, which carries heat off; 0 m reckons with none"
    )


class MeasuredChokeTable(Table):
    """[choke.measured]: a choke known from the bench; wins over geometry."""

    inductance: Annotated[float, Unit("H", 1e-6, 0.1)] | None = Field(None, description="at small signal")
    resistance: Annotated[float, Unit("ohm", 1e-5, 5)]
    saturation_current: Annotated[float, Unit("A", 0.1, 2000)] | None = Field(
        None, description="where half of the inductance is left"
    )
    knee: Literal["soft", "sharp"] = Field("soft", description="soft: powder core; sharp: gapped ferrite")
    table: list[tuple[Annotated[float, Unit("A", 0, 2000)], Annotated[float, Unit("H", 1e-8, 0.1)]]] | None = Field(
        None, description='[["0 A", "65 uH"], ["10 A", "60 uH"], ...]: inductance against direct current'
    )
    air_inductance: Annotated[float, Unit("H", 1e-8, 0.01)] | None = None
    copper_area: Annotated[float, Unit("m2", 1e-9, 1e-3)] | None = None


class ChokeTable(Table):
    """[choke], with [choke.left] and [choke.right] overriding single keys of it."""

    turns: Annotated[int, Field(strict=True, ge=1, le=1000)] | None = None
    core: CoreTable | None = None
    wire: WireTable | None = None
    measured: MeasuredChokeTable | None = None
    capacitance: Annotated[float, Unit("F", 1e-13, 1e-8)] | None = Field(
        None, description="of the winding; else estimated from it, 30 pF for a choke known by measurement only"
    )
    temperature: Annotated[float, Unit("°C", -20, 200)] = Field(60.0, description="of the copper, for its resistance")
    short_resistance: Annotated[float, Unit("ohm", 1e-3, 1e4)] | None = Field(
        None, description="a turn shorted to itself, as the whole winding sees it: its resistance times the square of the turns"
    )
    short_inductance: Annotated[float, Unit("H", 1e-9, 1e-2)] | None = Field(
        None, description="its leakage inductance likewise; both or none"
    )
