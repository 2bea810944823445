# SPDX-License-Identifier: GPL-3.0-or-later
"""The table of a capacitor bank along two bars."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.scenario.schema.fields import Table, Unit


class RailsTable(Table):
    """[capacitors.rails]: the capacitors side by side along two bars, and where the coil connects to these."""

    coil_connection: Literal["same end", "opposite ends", "middle"] = Field(
        description="both ends of the coil at the first capacitor, one at the first and one at the last, or both in the middle"
    )
    drain_connection: Literal["same end", "far end", "opposite ends", "middle"] | None = Field(
        None, description="of the drains to the bars, far end being the last capacitor; else where the coil connects"
    )
    segment_inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] | None = Field(
        None, description="measured, of both bars from one capacitor to the next, as go and return"
    )
    segment_resistance: Annotated[float, Unit("ohm", 1e-7, 1)] | None = Field(None, description="likewise, near the tank frequency")
    pitch: Annotated[float, Unit("m", 1e-3, 0.5)] | None = Field(
        None, description="from one capacitor to the next; with width, thickness and spacing instead of the measured segment"
    )
    width: Annotated[float, Unit("m", 1e-3, 0.3)] | None = Field(None, description="of each copper bar, broad sides facing")
    thickness: Annotated[float, Unit("m", 2e-5, 0.02)] | None = Field(None, description="of each bar")
    spacing: Annotated[float, Unit("m", 2e-4, 0.5)] | None = Field(None, description="between the sides that face each other")
    temperature: Annotated[float, Unit("°C", 0, 150)] = Field(60.0, description="of the bars, for their resistance")
    own_inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] = Field(
        20e-9, description="in series with each capacitor, its leads included; assumed where not given"
    )
    in_series: Annotated[int, Field(strict=True, ge=1, le=20)] = Field(
        1, description="equal capacitors one behind the other at each place; capacitance is that of the string, ratings are of one"
    )
    tolerance: Annotated[float, Unit("%", 0, 0.3)] = Field(0.05, description="of each capacitance; assumed where not given")
    rating: (
        Annotated[list[tuple[Annotated[float, Unit("Hz", 1e2, 1e8)], Annotated[float, Unit("A", 0.01, 1000)]]], Field(min_length=1)]
        | None
    ) = Field(None, description='[["50 kHz", "30 A"], ["100 kHz", "24 A"]]: rms of one by frequency, instead of current_rating')
    thermal_resistance: Annotated[float, Unit("K/W", 0.1, 1000)] | None = Field(
        None, description="of one capacitor, from its hottest spot to the air"
    )
    temperature_limit: Annotated[float, Unit("°C", 40, 200)] | None = Field(None, description="of one, often 85 or 105 °C")
