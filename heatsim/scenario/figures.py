# SPDX-License-Identifier: GPL-3.0-or-later
"""Datasheet figures out of a validated table: of [switch] and of [device.NAME] alike."""

from __future__ import annotations

from heatsim.parts.switch import DatasheetCurves
from heatsim.scenario.schema.datasheet import CurvesTable, DatasheetTable


def figures_of(table: DatasheetTable) -> dict[str, float]:
    """The figures that a table gives, by field [SI]."""
    named = {name: getattr(table, name) for name in DatasheetTable.model_fields if name != "curves"}
    return {name: value for name, value in named.items() if value is not None}


def curves_of(table: CurvesTable | None) -> DatasheetCurves:
    """The points that a table gives."""
    return DatasheetCurves(tuple(table.capacitance), tuple(table.transfer)) if table else DatasheetCurves()
