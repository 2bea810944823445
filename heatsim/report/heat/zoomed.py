# SPDX-License-Identifier: GPL-3.0-or-later
"""The course of a heat as a figure that can be zoomed and read with the pointer."""

from __future__ import annotations

import numpy as np

from heatsim.report.base.style import FAINT, HEAT, INK, SUPPLY
from heatsim.report.base.zoom import Axis, Level, Line, Panel, zoomable_traces
from heatsim.studies.heat import HeatResult

MINUTES, HOURS = 240.0, 4 * 3600.0
"""Lengths of a heat [s] from which its axis is in minutes, and in hours."""


def course(result: HeatResult, curie: float | None) -> str:
    """Temperatures, powers, supply current and frequency on one axis of time; curie: point of the piece [°C], None without one."""
    told, asked = result.series, result.wanted
    length = float(told["time_s"][-1])
    per, unit = (3600.0, "h") if length > HOURS else (60.0, "min") if length > MINUTES else (1.0, "s")

    def line(name: str, key: str, color: str, dash: str = "solid") -> list[Line]:
        known = key in told and bool(np.isfinite(told[key]).any())
        return [Line(name, told["time_s"] / per, told[key], color, dash)] if known else []

    levels = [Level(asked.celsius, f"wanted: {asked.at} at {asked.celsius:.4g} °C", INK)]
    levels += [] if curie is None else [Level(curie, f"Curie point {curie:.4g} °C", FAINT)]
    warm = line("surface", "surface_c", HEAT) + line("core", "core_c", INK, "dashed") + line("coldest place", "coldest_c", FAINT)
    power = line("from the supply", "supply.power_w", SUPPLY) + line("into the piece", "piece_power_w", HEAT)
    panels = [
        Panel("Temperature of the piece", "°C", warm, levels, height=230),
        Panel("Power", "W", power + line("given off", "given_off_w", INK, "dotted")),
        Panel("Supply current", "A", line("supply current", "supply.mean_current_a", SUPPLY), height=90),
        Panel("Frequency", "Hz", line("frequency", "tank.frequency_hz", INK), height=90),
    ]
    marks = {} if asked.reached is None else {"as warm as wanted": asked.reached / per}
    return zoomable_traces(panels, "Temperatures and powers of the heat over time", Axis("time", unit), marks=marks)
