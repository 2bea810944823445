# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables of conductors and of the work coil's water."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.scenario.schema.fields import Count, Line, Name, Table, Unit, WireUnit

ConductorKind = Literal["trace", "soldered trace", "strip", "bar", "cable", "joint"]
Carried = Literal["supply", "left choke", "right choke", "centre choke", "left switch", "right switch", "tank"]


class ConductorTable(Table):
    """[[conductor]]: a trace, strip, bar, cable or bolted joint that carries one of the heater's currents."""

    name: Name
    kind: ConductorKind
    carries: Carried = Field(description='which current; "tank" is the coil\'s, "left switch" that of the whole left bank')
    temperature_limit: Annotated[float, Unit("°C", 30, 250)] = Field(description="of the conductor, or of what touches it")
    length: Annotated[float, Unit("m", 1e-3, 20)] | None = Field(
        None, description="of the copper, there and back if both are meant"
    )
    count: Count = Field(1, description="equal ones that share the current evenly")
    width: Annotated[float, Unit("m", 1e-4, 0.3)] | None = Field(None, description="of trace, strip or bar; of the bars of a joint")
    thickness: Annotated[float, Unit("m", 1e-5, 0.05)] | None = Field(
        None, description="of strip or bar, or of the bars of a joint"
    )
    return_gap: Annotated[float, Unit("m", 1e-5, 0.1)] | None = Field(
        None,
        description="to the return of a strip or bar that lies face to face with it; without it the return is taken as far away",
    )
    copper: Line | None = Field(None, description='of a trace: "2 oz" or "70 um"')
    layer: Literal["outer", "inner"] = "outer"
    board_thickness: Annotated[float, Unit("m", 2e-4, 0.01)] = 1.6e-3
    bare_board: Annotated[float, Unit("m", 0, 0.3)] = Field(
        20e-3, description="on each side of a trace, which carries heat off without getting any of its own"
    )
    wire_diameter: Annotated[float, WireUnit("m", 2e-4, 0.01)] | None = Field(
        None, description="bare, or a gauge, soldered along the trace"
    )
    solder_fill: Annotated[float, Unit("%", 0, 3)] = Field(0.5, description="section of the solder over the wire's; an estimate")
    section: Annotated[float, Unit("m2", 1e-7, 2e-3)] | None = Field(None, description="of a cable's copper")
    gauge: Name | None = Field(None, description='of a cable, such as "AWG 8", instead of the section')
    insulation: Annotated[float, Unit("m", 0, 0.01)] = Field(0.0, description="thickness of a cable's; 0 mm is bare")
    emissivity: Annotated[float, Field(ge=0, le=1)] | None = Field(
        None, description="else 0.9 of boards and insulation, 0.2 of copper as it tarnishes"
    )
    air_speed: Annotated[float, Unit("m/s", 0, 20)] = Field(0.0, description="across it; 0 m/s is still air")
    resistance: Annotated[float, Unit("ohm", 1e-7, 0.1)] | None = Field(
        None, description="of a joint, measured; else 20 uohm, within a factor of 4, are assumed"
    )


class CoolingTable(Table):
    """[coil.cooling]: water through the work coil's tube."""

    outlet_limit: Annotated[float, Unit("°C", 20, 150)] = Field(description="of the water where it leaves the coil")
    flow: Annotated[float, Unit("m3/s", 1e-7, 5e-3)] | None = Field(None, description="of the water, or pump_pressure")
    pump_pressure: Annotated[float, Unit("Pa", 100, 5e6)] | None = Field(None, description="that the pump keeps up at any flow")
    inlet: Annotated[float, Unit("°C", 1, 95)] | None = Field(None, description="of the water, or radiator")
    radiator: Annotated[float, Unit("K/W", 1e-4, 1)] | None = Field(
        None, description="mean water temperature above ambient for each watt, its fan running"
    )
    radiator_still: Annotated[float, Unit("K/W", 1e-4, 5)] | None = Field(None, description="the same with the fan standing")
    fan: Literal["running", "standing"] = "running"
    tube_length: Annotated[float, Unit("m", 0.05, 50)] | None = Field(
        None, description="of the tube in coil and leads; else from turns, diameter, length and lead_length"
    )
    bore: Annotated[float, Unit("m", 5e-4, 0.05)] | None = Field(None, description="of the tube; else from tube_diameter and wall")
    bend: Annotated[float, Unit("m", 5e-3, 1)] | None = Field(None, description="diameter of the coil; else coil.diameter")
    hose_bore: Annotated[float, Unit("m", 1e-3, 0.05)] | None = None
    hose_length: Annotated[float, Unit("m", 0, 100)] = Field(0.0, description="there and back")
    fittings: Annotated[float, Field(ge=0, le=200)] = Field(
        3.0,
        description="loss coefficient of all fittings, on the dynamic pressure in the tube; an estimate: entry 0.5, exit 1, bends",
    )
    outlet_pressure: Annotated[float, Unit("Pa", 2e4, 2e6)] = Field(
        101325.0, description="absolute, where the water leaves the coil"
    )
    wanted_rise: Annotated[float, Unit("K", 0.5, 80)] = Field(10.0, description="of the water, for which the flow is told")
    workpiece_share: Annotated[float, Unit("%", 0, 1)] = Field(
        0.10,
        description="of the workpiece's heat that the coil catches; an estimate, little when cold or lagged, a third when glowing",
    )
    hottest_flux: Annotated[float, Field(ge=1, le=5)] = Field(
        2.0, description="heat flux at the hottest place of the bore over its mean; an estimate for current that crowds inwards"
    )
    dry_temperature: Annotated[float, Unit("°C", 60, 400)] = Field(150.0, description="to which the time without water is told")
    stops_within: Annotated[float, Unit("s", 0.01, 600)] | None = Field(
        None, description="in which a flow switch has stopped the heater once the water no longer flows"
    )
