# SPDX-License-Identifier: GPL-3.0-or-later
"""The table of the switches."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from heatsim.scenario.schema.cooling import SwitchCoolingTable
from heatsim.scenario.schema.datasheet import DatasheetTable
from heatsim.scenario.schema.fields import MODEL_PATTERN, Count, FileName, Name, Unit


class SwitchTable(DatasheetTable):
    """[switch]: one MOSFET's datasheet figures and how many stand in parallel on each side."""

    count: Count = 1
    device: Name | None = Field(None, description="name of a device in the catalogue; figures given here win over its own")
    pulse_current: Annotated[float, Unit("A", 1, 5000)] | None = Field(None, description="single pulse, of one device")
    i2t: Annotated[float, Unit("A2s", 1e-3, 1e6)] | None = Field(
        None, description="that one device stands once, where its maker prints it; for a fuse that is to save it in a latch"
    )
    threshold_spread: Annotated[float, Unit("V", -3, 3)] = Field(
        0.1, description="left bank minus right; no two banks are equal, and the oscillation starts from it"
    )
    drain_inductance: Annotated[float, Unit("H", 1e-10, 1e-6)] = Field(5e-9, description="of the drain leads of one bank")
    source_inductance: Annotated[float, Unit("H", 0, 1e-7)] = Field(
        0.0, description="of one device's source lead, through which its drain and its gate current pass; 0 leaves it out"
    )
    model_file: FileName | None = Field(
        None, description="the user's own model file, read for .model and .subckt lines; stands in for all but ratings"
    )
    model: Annotated[str, Field(pattern=MODEL_PATTERN)] | None = Field(None, description="name of the model in that file")
    cooling: SwitchCoolingTable | None = Field(None, description="how they are cooled; without it their temperature is not judged")
