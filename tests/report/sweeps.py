# SPDX-License-Identifier: GPL-3.0-or-later
"""Sweeps made up for tests of pictures and tables: a plan's mapping and a frame of known shape."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from heatsim.quantity import parse_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.plan import SweepPlan
from heatsim.studies.sweep import described

HEATER = Scenario.from_file(Path(__file__).parents[2] / "scenarios" / "bench-heater.toml")


def made(headroom: Callable[[dict[str, float], str], float | None], vary: Sequence[str] = (),
         tolerance: Sequence[str] = (), **options: Any) -> tuple[dict[str, Any], pd.DataFrame]:
    """Plan mapping and frame of a sweep whose least headroom follows the function of fields [SI] and case.

    None from the function is a point that latches.
    """
    plan = SweepPlan.read(HEATER, vary, tolerance, **options)
    told = [axis.field for axis in plan.axes] + ([band.field for band in plan.samples.bands] if plan.samples else [])
    rows = []
    for point in plan.points():
        fields = {field.path: value if field.kind in ("word", "count") else parse_quantity(value, field.unit)
                  for field, (_, value) in zip(told, point.fields, strict=True)}
        found = headroom(fields, point.case)
        volts = float(fields.get("supply.voltage", 42.0))
        rows.append({"case": point.case, **fields, "outcome": "latched" if found is None else "settled",
                     "outcome_detail": "", "grade": "fails" if found is None or found < 0 else "holds",
                     "headroom": found, "ends": "choke.left: temperature" if found is not None and found < 0.5 else
                     "oscillator: starts and settles", "tank.peak_voltage_v": 3.1 * volts, "tank.frequency_hz": 87e3,
                     "choke.left.peak_current_a": volts / 3, "choke.right.peak_current_a": volts / 4,
                     "tank.thd_ratio": 0.02, "method": "cold start", "wall_s": 1.0})
    return described(HEATER, plan), pd.DataFrame(rows)
