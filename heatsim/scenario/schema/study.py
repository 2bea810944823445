# SPDX-License-Identifier: GPL-3.0-or-later
"""The tables of limits, of the drawer that `heatsim wind` chooses from, and of the simulation."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from heatsim.scenario.schema.fields import Count, Name, Table, Unit, WireUnit


class LimitsTable(Table):
    """[limits]: the builder's own; ratings of parts stand with the parts."""

    choke_inductance_remaining: Annotated[float, Unit("%", 0.05, 1)] = Field(
        0.5, description="lowest share of the zero-current inductance a choke may fall to"
    )
    copper_current_density: Annotated[float, Unit("A/m2", 1e5, 1e8)] = 6e6
    thd: Annotated[float, Unit("%", 0.001, 1)] = 0.05
    drain_voltage_use: Annotated[float, Unit("%", 0.1, 1)] = Field(1.0, description="usable share of the rating")
    choke_temperature: Annotated[float, Unit("°C", 40, 250)] = 120.0
    choke_copper_fill: Annotated[float, Unit("%", 0.05, 0.9)] = Field(
        0.40, description="largest share of a choke's hole that bare copper may take (common practice, no source)"
    )
    core_life: Annotated[float, Unit("s", 3600, 1e10)] | None = Field(
        None, description='hours of running that a powder core\'s binder must last, such as "2000 h"; without it a caution only'
    )


class DrawerRingTable(Table):
    """[[wind.ring]]: rings on hand."""

    name: Name
    material: Name
    outer_diameter: Annotated[float, Unit("m", 5e-3, 0.3)]
    inner_diameter: Annotated[float, Unit("m", 2e-3, 0.25)]
    height: Annotated[float, Unit("m", 1e-3, 0.1)]
    path_length: Annotated[float, Unit("m", 5e-3, 1)] | None = None
    area: Annotated[float, Unit("m2", 1e-6, 1e-2)] | None = None
    gap: Annotated[float, Unit("m", 1e-5, 0.02)] | None = None
    on_hand: Count = Field(description="how many there are, for both chokes together")
    price: Annotated[float, Field(ge=0)] | None = Field(None, description="of one, in any currency")


class DrawerWireTable(Table):
    """[[wind.wire]]: wire on hand."""

    name: Name
    diameter: Annotated[float, WireUnit("m", 5e-5, 6e-3)] = Field(description="bare copper, or a gauge")
    overall_diameter: Annotated[float, Unit("m", 5e-5, 7e-3)] | None = None
    on_hand: Annotated[float, Unit("m", 0.1, 10_000)]
    price_per_metre: Annotated[float, Field(ge=0)] | None = None


class WindTable(Table):
    """[wind]: what `heatsim wind` may choose from, and for which supply and load."""

    case: str = Field("loaded", description="the case whose load the chokes must carry")
    highest_supply: Annotated[float, Unit("V", 5, 400)] | None = Field(None, description="else the scenario's voltage")
    most_strands: Annotated[int, Field(strict=True, ge=1, le=20)] = 4
    free_bore: Annotated[float, Unit("m", 0, 0.1)] = Field(4e-3, description="hole to be left for the last turn")
    tail: Annotated[float, Unit("m", 0, 2)] = Field(0.15, description="length of each end of the winding")
    al_tolerance: Annotated[float, Unit("%", 0, 0.5)] = Field(0.08, description="of the rings' inductance")
    confirm: Annotated[int, Field(strict=True, ge=1, le=20)] = Field(4, description="candidates to simulate in full")
    ring: Annotated[list[DrawerRingTable], Field(min_length=1)]
    wire: Annotated[list[DrawerWireTable], Field(min_length=1)]


class SimulateTable(Table):
    """[simulate]: rarely needed."""

    steps_per_period: Annotated[int, Field(strict=True, ge=60, le=4000)] = 200
    longest: Annotated[float, Unit("s", 1e-4, 0.2)] = Field(
        25e-3, description="end of a run that does not settle, after everything is switched on; a slow supply may extend it"
    )
    time_limit: Annotated[float, Unit("s", 1, 3600)] = Field(
        600.0, description="of the wall clock, for each case: a last guard, after which nothing is known of the circuit"
    )
