# SPDX-License-Identifier: GPL-3.0-or-later
"""Datasheet figures out of a validated table: of [switch] and of [device.NAME] alike."""

from __future__ import annotations

import math

from heatsim.parts.mosfet_estimates import USUAL
from heatsim.parts.switch import DatasheetCurves
from heatsim.scenario.schema.datasheet import CurvesTable, DatasheetTable

CAPACITANCES = ("capacitance_voltage", "input_capacitance", "output_capacitance", "reverse_capacitance")
"""The fields that a row of curves.capacitance stands for."""

LEAST, MOST = 1.0, 400.0
"""Drain voltages [V] of rows that may stand for them; those of capacitance_voltage."""


def figures_of(table: DatasheetTable) -> dict[str, float]:
    """The figures that a table gives, by field [SI]; capacitances given by a curve alone are those of its row next to 25 V."""
    named = {name: getattr(table, name) for name in DatasheetTable.model_fields if name != "curves"}
    found = {name: value for name, value in named.items() if value is not None}
    rows = [row for row in curves_of(table.curves).capacitance if LEAST <= row[0] <= MOST]
    if rows and not found.keys() & set(CAPACITANCES):
        usual = USUAL["capacitance_voltage"][0]
        nearest = sorted(rows, key=lambda row: abs(math.log(row[0] / usual)))[0]
        found |= dict(zip(CAPACITANCES, nearest, strict=True))
    return found


def curves_of(table: CurvesTable | None) -> DatasheetCurves:
    """The points that a table gives."""
    return DatasheetCurves(tuple(table.capacitance), tuple(table.transfer)) if table else DatasheetCurves()
