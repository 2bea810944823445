# SPDX-License-Identifier: GPL-3.0-or-later
"""The table of what feeds the heater: a battery, a rectifier, a switch-mode supply, and the contact and fuse behind it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from heatsim.scenario.schema.fields import Table, Unit


class Phase:
    """Marks a field as a time for which a contact is made or broken, such as "2 ms on"; read as (made, seconds)."""

    time = Unit("s", 5e-5, 0.05)
    allowed = f'a time with "on" or "off", such as "2 ms on", {time.allowed}'

    def read(self, value: Any) -> tuple[bool, float]:
        """Whether the contact is made, and for how long [s]; raises PydanticCustomError with what is allowed."""
        words = value.rsplit(maxsplit=1) if isinstance(value, str) else []
        if len(words) != 2 or words[1] not in ("on", "off"):
            raise PydanticCustomError("quantity", "does not say on or off after its time", {"allowed": self.allowed})
        return words[1] == "on", self.time.read(words[0])

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"type": "string", "description": self.allowed, "examples": ["2 ms on"]}


class SourceTable(Table):
    """[supply.source]: what the supply is. supply.voltage is its voltage without load, supply.rise_time its soft start."""

    kind: Literal["battery", "rectifier", "switch mode"]
    internal_resistance: Annotated[float, Unit("ohm", 1e-5, 5)] | None = Field(
        None, description="battery only: of all its cells, beside supply.resistance, which is that of the leads"
    )
    secondary_voltage: Annotated[float, Unit("V", 4, 300)] | None = Field(
        None, description="rectifier only: rms of the transformer's secondary without load, instead of supply.voltage"
    )
    transformer_resistance: Annotated[float, Unit("ohm", 1e-4, 5)] | None = Field(
        None, description="rectifier only: of both windings, as the secondary sees them; supply.resistance is that of the leads"
    )
    transformer_leakage: Annotated[float, Unit("H", 0, 0.01)] = Field(
        0.0, description="rectifier only: leakage inductance, as the secondary sees it"
    )
    bridge_drop: Annotated[float, Unit("V", 0, 4)] = Field(
        2.0, description="rectifier only: of the two diodes that conduct at a time (common practice, no source)"
    )
    mains_frequency: Literal["50 Hz", "60 Hz"] = "50 Hz"
    limit: Literal["constant", "foldback", "hiccup"] | None = Field(
        None, description="switch mode only: what it does at current_limit; without, it has none"
    )
    current_limit: Annotated[float, Unit("A", 0.1, 1000)] | None = Field(None, description="of the limit, at full voltage")
    foldback_voltage: Annotated[float, Unit("V", 1, 400)] | None = Field(
        None, description="foldback only: output voltage below which the limit falls with it; else supply.voltage"
    )
    short_circuit_current: Annotated[float, Unit("A", 0.05, 1000)] | None = Field(
        None, description="foldback only: what is left of the limit at no voltage"
    )
    trip_delay: Annotated[float, Unit("s", 1e-5, 0.05)] = Field(
        1e-3, description="hiccup only: how long it stands its limit before it switches off (common practice, no source)"
    )
    retry_time: Annotated[float, Unit("s", 1e-4, 100)] = Field(
        0.1, description="hiccup only: how long it stays off before it starts anew (common practice, no source)"
    )
    bounce: Annotated[list[Annotated[tuple[bool, float], Phase()]], Field(min_length=2, max_length=20)] | None = Field(
        None, description='times of a bouncing contact between supply and heater: ["2 ms on", "1 ms off"]; made for good after them'
    )
    fuse_i2t: Annotated[float, Unit("A2s", 1e-2, 1e7)] | None = Field(
        None, description="of the fuse in the lead from the supply: what it lets through until it has cleared, as printed"
    )
    fuse_rating: Annotated[float, Unit("A", 0.1, 1000)] | None = Field(None, description="current that fuse carries for ever")
