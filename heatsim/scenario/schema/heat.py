# SPDX-License-Identifier: GPL-3.0-or-later
"""The table of a heat: what the workpiece is to come to, and what it loses its heat to."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatsim.scenario.schema.fields import Table, Unit


class HeatTable(Table):
    """[heat]: what `heatsim heat` is asked, and what surrounds the hot piece."""

    case: str = Field("loaded", description="the case whose workpiece is heated")
    wanted: Annotated[float, Unit("°C", 40, 3000)] = Field(850.0, description="temperature the piece is to come to")
    at: Literal["surface", "core"] = Field("core", description="where it is to be that warm, in the hottest section")
    depth_above: Annotated[float, Unit("°C", 40, 3000)] | None = Field(
        None, description="how deep the piece is warmer than this when it is done; else the wanted temperature"
    )
    start: Annotated[float, Unit("°C", -20, 1000)] | None = Field(
        None, description="temperature of the piece at first; else the ambient's"
    )
    longest: Annotated[float, Unit("s", 1, 86400)] = Field(
        3600.0, description="time after which a heat that has not settled is ended"
    )
    price_per_kwh: Annotated[float, Field(ge=0, le=100)] | None = Field(
        None, description="of the supply's energy, in your currency"
    )
    supply_efficiency: Annotated[float, Unit("%", 0.3, 1)] | None = Field(
        None, description="of the supply from the mains, for energy and cost; else both are counted from its output on"
    )
    emissivity: Annotated[float, Field(gt=0, le=1)] | None = Field(
        None, description="of the piece's surface; else that of its material"
    )
    coil_emissivity: Annotated[float, Field(gt=0, le=1)] = Field(0.5, description="of the coil's inside; tarnished copper (memory)")
    sleeve_inner: Annotated[float, Unit("m", 1e-3, 1)] | None = Field(
        None, description="inner diameter of a refractory sleeve between piece and coil; without one none"
    )
    sleeve_outer: Annotated[float, Unit("m", 1e-3, 1)] | None = None
    sleeve_conductivity: Annotated[float, Unit("W/(m*K)", 0.01, 10)] = Field(
        0.2, description="ceramic fibre or light brick (memory)"
    )
