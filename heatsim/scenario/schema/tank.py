# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables of capacitors, work coil and workpiece, and of the cases."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from heatsim.scenario.schema.bank import RailsTable
from heatsim.scenario.schema.copper import CoolingTable
from heatsim.scenario.schema.fields import Count, Name, Table, Unit

UnitCapacitance = Annotated[float, Unit("F", 1e-10, 1e-3)]
DissipationFactor = Annotated[float, Unit("%", 1e-5, 0.1)]
PeakRating = Annotated[float, Unit("V", 10, 5000)]
RmsRating = Annotated[float, Unit("A", 0.1, 1000)]


class CapacitorsTable(Table):
    """[capacitors]: equal capacitors in parallel across the coil."""

    part: Name | None = Field(None, description="name of a capacitor in the catalogue; figures given here win over its own")
    capacitance: UnitCapacitance = Field(description="of one; else that of the part")
    count: Count
    dissipation_factor: DissipationFactor = Field(description="tan delta near the tank frequency; else that of the part")
    inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] = Field(10e-9, description="of the bank")
    voltage_rating: PeakRating | None = Field(None, description="peak")
    current_rating: RmsRating | None = Field(None, description="rms, of one")
    rails: RailsTable | None = None


class MeasuredCoilTable(Table):
    """[coil.measured] or [case.NAME.workpiece.measured]: LCR reading at the coil near the tank frequency."""

    inductance: Annotated[float, Unit("H", 1e-8, 1e-2)]
    resistance: Annotated[float, Unit("ohm", 1e-4, 5)]


class CoilTable(Table):
    """[coil]: the work coil, by geometry or measured, and its leads."""

    turns: Annotated[float, Field(gt=0.5, le=100)] | None = None
    diameter: Annotated[float, Unit("m", 5e-3, 1)] | None = Field(None, description="middle of the tube")
    length: Annotated[float, Unit("m", 2e-3, 2)] | None = None
    tube_diameter: Annotated[float, Unit("m", 1e-3, 0.03)] | None = None
    tube_wall: Annotated[float, Unit("m", 2e-4, 5e-3)] | None = None
    temperature: Annotated[float, Unit("°C", 0, 200)] = 40.0
    measured: MeasuredCoilTable | None = None
    lead_inductance: Annotated[float, Unit("H", 1e-10, 1e-5)] = Field(
        50e-9, description="of both leads together; else from lead_length and lead_spacing, else assumed"
    )
    lead_resistance: Annotated[float, Unit("ohm", 1e-5, 1)] = Field(1e-3, description="likewise")
    lead_length: Annotated[float, Unit("m", 5e-3, 5)] | None = Field(
        None, description="of each of two parallel leads of the coil's tube, from the coil to the capacitors"
    )
    lead_spacing: Annotated[float, Unit("m", 1e-3, 0.5)] | None = Field(None, description="between the middles of the two leads")
    current_density_rating: Annotated[float, Unit("A/m2", 1e5, 5e8)] | None = None
    half_coupling: Annotated[float, Unit("%", 0, 0.95)] = Field(
        0.3, description="between the halves of a tapped coil; one-choke circuit only"
    )
    cooling: CoolingTable | None = None


class ChargeTable(Table):
    """[case.NAME.workpiece.charge]: what fills the bore of a crucible, touching its wall."""

    material: Name = Field(description="as that of the workpiece")


class WorkpieceTable(Table):
    """[case.NAME.workpiece]: a round bar, tube or crucible in the coil, or the coil measured with the workpiece in."""

    diameter: Annotated[float, Unit("m", 1e-3, 0.5)] | None = None
    bore: Annotated[float, Unit("m", 1e-4, 0.5)] | None = Field(
        None, description="inner diameter of a tube or crucible; else it is solid"
    )
    length: Annotated[float, Unit("m", 1e-3, 2)] | None = None
    leg: Annotated[float, Unit("m", 5e-3, 0.3)] | None = Field(
        None, description="outside, of an angle of equal legs in place of a bar; taken as a round bar that is heated alike"
    )
    thickness: Annotated[float, Unit("m", 5e-4, 0.05)] | None = Field(None, description="of the angle's legs")
    offset: Annotated[float, Unit("m", -2, 2)] = Field(
        0.0, description="of its middle from the coil's along the axis; a bar that is partly in has one"
    )
    temperature: Annotated[float, Unit("°C", -20, 3000)] = Field(
        20.0, description="of the whole piece where it is checked; heatsim heat starts from heat.start"
    )
    charge: ChargeTable | None = None
    material: Name | None = Field(
        None,
        description='of the bar: "steel", "steel C45", "cast iron", "stainless 304", "copper", "aluminium", "brass", "graphite" or '
        "one of your catalogue",
    )
    resistivity: Annotated[float, Unit("ohm*m", 1e-9, 1e-4)] | None = Field(None, description="else that of the material, cold")
    permeability: Annotated[float, Field(ge=1, le=5000)] | None = Field(
        None, description="relative; else that of the material, which for steel follows the field at its surface"
    )
    measured: MeasuredCoilTable | None = None
    share: Annotated[float, Unit("%", 0, 2)] = Field(
        1.0, description="of its effect on the coil that is present: 0 % is the empty coil, 100 % as given"
    )


class CaseTable(Table):
    """[case.NAME]: one operating condition; `set` overrides single fields, "supply.voltage" = "38 V"."""

    workpiece: WorkpieceTable | None = None
    set: dict[str, str | int | float] = Field(default_factory=dict)
