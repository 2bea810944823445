# SPDX-License-Identifier: GPL-3.0-or-later
"""The table of how the switches are cooled, and of what decides how warm they get."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.parts.sink import RESISTANCE_SPREAD
from heatsim.scenario.schema.fields import Table, Unit

Resistance = Annotated[float, Unit("K/W", 1e-3, 50)]


class SwitchCoolingTable(Table):
    """[switch.cooling]: from junction to air. Air and surroundings have the temperature heater.ambient."""

    junction_to_case: Resistance | None = Field(None, description="of one device, from its datasheet; else the sum of chain")
    chain: Annotated[list[tuple[Resistance, Annotated[float, Unit("s", 1e-9, 100)]]], Field(min_length=1, max_length=12)] | None = (
        Field(
            None, description='the datasheet\'s Foster rows, [["0.1 K/W", "1 ms"], ...]; the rest of junction_to_case acts at once'
        )
    )
    interface: Resistance | None = Field(None, description="case to sink, of one device; else of pad or from its thickness")
    pad: Literal["paste", "mica and paste", "silicone pad", "polyimide pad", "alumina and paste"] | None = Field(
        None, description="what lies under each case, over pad_area; usual values (common practice, no source)"
    )
    pad_area: Annotated[float, Unit("m2", 1e-6, 1e-2)] | None = Field(None, description="of the case's metal on the sink")
    pad_thickness: Annotated[float, Unit("m", 1e-6, 0.01)] | None = Field(None, description="in place of pad")
    pad_conductivity: Annotated[float, Unit("W/(m*K)", 0.05, 500)] | None = Field(None, description="in place of pad")
    sink_for: Literal["all", "side", "device"] = Field(
        "all", description="what one sink carries: all devices, those of a side, one"
    )
    sink_resistance: Resistance | None = Field(None, description="sink to air, in still air")
    sink_resistance_fan: Resistance | None = Field(None, description="the same in air of fan_speed")
    fan_speed: Annotated[float, Unit("m/s", 0.2, 20)] | None = Field(
        None, description="of the air for which sink_resistance_fan is given"
    )
    air_speed: Annotated[float, Unit("m/s", 0, 20)] = Field(
        0.0, description="of the air through the sink as it runs; 0 m/s is still air"
    )
    sink_mass: Annotated[float, Unit("kg", 1e-3, 100)] | None = Field(
        None, description="of aluminium, for how fast it warms up; a plate's follows from its size"
    )
    plate_width: Annotated[float, Unit("m", 5e-3, 2)] | None = Field(
        None, description="of an upright plate in place of sink_resistance"
    )
    plate_height: Annotated[float, Unit("m", 5e-3, 2)] | None = None
    plate_thickness: Annotated[float, Unit("m", 3e-4, 0.05)] | None = None
    plate_emissivity: Annotated[float, Field(ge=0, le=1)] = Field(
        0.1, description="bright aluminium 0.05 to 0.1, anodised or painted 0.8 to 0.9 (memory)"
    )
    junction_limit: Annotated[float, Unit("°C", 50, 250)] = Field(
        150.0, description="from the datasheet; many allow 175 °C, where nothing is given the lower of the usual two is taken"
    )
    sink_limit: Annotated[float, Unit("°C", 30, 200)] | None = Field(None, description="where people or other parts touch it")
    avalanche_energy: Annotated[float, Unit("J", 1e-6, 100)] | None = Field(None, description="single pulse, of one device")
    on_resistance_temperature: Annotated[float, Unit("°C", -40, 200)] = Field(
        25.0, description="junction temperature at which switch.on_resistance is given; 25 °C is the careful side of a hot value"
    )
    on_resistance_ratio: Annotated[float, Field(ge=1, le=5)] | None = Field(
        None,
        description="on-resistance at 150 °C over that at 25 °C, from the datasheet's curve; else 2.24, within 2.0 to 2.5 (memory)",
    )
    on_resistance_spread: Annotated[float, Unit("%", 0, 0.5)] = Field(
        RESISTANCE_SPREAD, description="between the devices of a bank, up and down (common practice, no source)"
    )
    threshold_mismatch: Annotated[float, Unit("V", 0, 2)] = Field(
        0.1, description="by how much one device of a bank turns on below the others (common practice, no source)"
    )
