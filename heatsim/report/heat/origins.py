# SPDX-License-Identifier: GPL-3.0-or-later
"""What the numbers of a heat rest on: where the material's properties come from, and how the limits are known."""

from __future__ import annotations

from heatsim.errors import InputError, printable
from heatsim.parts.materials import Metal
from heatsim.report.base.words import BASES, family
from heatsim.scenario.catalogue import catalogue_with
from heatsim.studies.heat import HeatResult

BANDS = {"resistivity over temperature": "resistivity", "thermal conductivity": "conductivity", "specific heat": "specific_heat"}


def metals(result: HeatResult) -> list[Metal]:
    """The metals of the piece in the catalogue: its own and that of what lies in it; none where it is given otherwise."""
    tables = result.scenario.tables
    table = tables.case[result.case].workpiece if result.case in tables.case else None
    names = [] if table is None else [table.material, table.charge.material if table.charge else None]
    try:
        where = result.scenario.where("heater", "catalogue")
        known = catalogue_with(tables.heater.catalogue, result.scenario.folder, where)
        return [known.metal(name, where) for name in names if name is not None]
    except InputError:  # the catalogue file is gone meanwhile
        return []


def curie(result: HeatResult) -> float | None:
    """Curie point [°C] of the piece, None where it has none or is above it from the start."""
    found = metals(result)
    point = found[0].hot.curie_c if found and found[0].hot is not None else None
    return point if point is not None and float(result.series["surface_c"][0]) < point else None


def material_rows(result: HeatResult) -> list[tuple[str, str]]:
    """(property of a metal, what it rests on and by how much it may differ)."""
    rows = []
    for metal in metals(result):
        rows.append((f"{metal.name}, cold", f"{BASES.get(metal.provenance, metal.provenance)}: {metal.source}"))
        if metal.hot is None:
            continue
        bands = metal.hot.bands
        for what, provenance, source in metal.hot.origins:
            band = bands.get(BANDS.get(what, "emissivity" if what.startswith("emissivity") else what))
            counts = not what.startswith("emissivity, ") or what == f"emissivity, {metal.hot.condition}"
            if counts:
                within = f", within {100 * band:.0f} % either way" if band else ""
                rows.append((f"{metal.name}: {what}", f"{BASES.get(provenance, provenance)}{within}: {source}"))
    return [(printable(what), printable(text)) for what, text in rows]


def limit_rows(result: HeatResult) -> list[tuple[str, str]]:
    """(basis in words, limits that rest on it)."""
    found: dict[str, list[str]] = {}
    for each in result.limits:
        found.setdefault(each.worst.basis, []).append(f"{family(each.worst.part)}: {each.worst.limit}")
    return [(BASES.get(basis, basis), printable("; ".join(dict.fromkeys(names)))) for basis, names in found.items()]
