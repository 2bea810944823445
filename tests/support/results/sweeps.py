# SPDX-License-Identifier: GPL-3.0-or-later
"""Sweeps made up for tests of pictures and tables: a plan's mapping and a frame of known shape."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from heatsim.quantity import parse_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import PointResult
from heatsim.studies.store.table import table, units_in
from heatsim.studies.sweep import SweepPlan, described

HEATER = Scenario.from_file(Path(__file__).parents[3] / "scenarios" / "bench-heater.toml")


def made(
    headroom: Callable[[dict[str, float], str], float | None],
    vary: Sequence[str] = (),
    tolerance: Sequence[str] = (),
    **options: Any,
) -> tuple[dict[str, Any], pd.DataFrame]:
    """Plan mapping and frame of a sweep whose least headroom follows the function of fields [SI] and case.

    None from the function is a point that latches.
    """
    plan = SweepPlan.read(HEATER, vary, tolerance, **options)
    told = [axis.field for axis in plan.axes] + ([band.field for band in plan.samples.bands] if plan.samples else [])
    rows = []
    for place, point in enumerate(plan.points()):
        fields = {
            field.path: value if field.kind in ("word", "count") else parse_quantity(value, field.unit)
            for field, (_, value) in zip(told, point.fields, strict=True)
        }
        rows.append((str(place), point, _result(headroom(fields, point.case), float(fields.get("supply.voltage", 42.0))), False))
    mapping = described(HEATER, plan)
    return mapping, table(rows, units_in(mapping))


def falling(fields: dict[str, float], case: str) -> float:
    """Least headroom: zero at 41 V loaded, at 52 V idle."""
    return (41.0 if case == "loaded" else 52.0) / fields["supply.voltage"] - 1.0


def _result(found: float | None, volts: float) -> PointResult:
    """A point with this headroom at this supply voltage."""
    measures: dict[str, Any] = {
        "tank.peak_voltage_v": 3.1 * volts,
        "tank.frequency_hz": 87e3,
        "tank.thd_ratio": 0.02,
        "choke.left.peak_current_a": volts / 3,
        "choke.right.peak_current_a": volts / 4,
    }
    short = found is None or found < 0
    ends = "choke.left: temperature" if found is not None else "oscillator: starts and settles"
    return PointResult(
        "latched" if found is None else "settled", "", "fails" if short else "holds", found, ends, measures, (), "cold start", 1.0
    )
