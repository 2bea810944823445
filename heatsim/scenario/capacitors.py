# SPDX-License-Identifier: GPL-3.0-or-later
"""A capacitor of the catalogue in [capacitors]: its figures where the scenario gives none of its own. No physics."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from heatsim.quantity import exact_quantity
from heatsim.scenario.catalogue import catalogue_with
from heatsim.scenario.source import Where

FIGURES = {"capacitance": "F", "dissipation_factor": "%", "voltage_rating": "V", "current_rating": "A"}
"""Fields of [capacitors] that a part has, and their units."""


def with_capacitor(raw: dict[str, Any], folder: Path, where: Where) -> dict[str, Any]:
    """The tables as written, with what [capacitors] leaves to its part filled in.

    folder: where relative file names start. What is not in order stays for the tables' own check.
    Raises InputError for a part that the catalogue does not have.
    """
    table, heater = raw.get("capacitors"), raw.get("heater")
    name = table.get("part") if isinstance(table, dict) else None
    file = heater.get("catalogue") if isinstance(heater, Mapping) else None
    if not isinstance(table, dict) or not isinstance(name, str) or not isinstance(file, str | None):
        return raw
    part = catalogue_with(file, folder, where("heater", "catalogue")).capacitor(name, where("capacitors", "part"))
    rails = table.get("rails")
    by_frequency = isinstance(rails, Mapping) and "rating" in rails
    taken = {
        field: exact_quantity(value, unit)
        for field, unit in FIGURES.items()
        if (value := getattr(part, field)) is not None and not (field == "current_rating" and by_frequency)
    }
    return raw | {"capacitors": taken | table}
