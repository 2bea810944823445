# SPDX-License-Identifier: GPL-3.0-or-later
"""Metals of workpieces from their tables in a catalogue file, and what such tables may not hold."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.errors import known_names
from heatsim.parts.hot_metal import COLD_C, LAWS, LOWEST_C, Constant, HotMetal, Trend
from heatsim.parts.materials import Metal
from heatsim.quantity import format_quantity
from heatsim.scenario.schema.metal import HotTable, MetalTable, TrendTable

FIRST_C = 25.0
"""Temperature [°C] at or below which tables over temperature begin."""

SAME = 0.01
"""Share [1] by which a metal's resistivity may miss that of its table at 20 °C: room for rounding, not for another value."""

MetalFault = tuple[tuple[str, ...], str, str, str]
"""Path of a field within the metal, what is wrong, given, allowed."""


def metal_of(name: str, table: MetalTable) -> Metal:
    """A metal from its table, which has no faults."""
    return Metal(name, **table.model_dump(exclude={"hot"}), hot=_hot(table.hot) if table.hot else None)


def _hot(table: HotTable) -> HotMetal:
    highest, curie = table.highest, table.curie
    return HotMetal(
        _trend("resistivity", table.resistivity),
        _trend("conductivity", table.conductivity),
        _trend("specific_heat", table.specific_heat),
        Constant(**table.density.model_dump()),
        tuple((name, _trend("emissivity", each)) for name, each in table.emissivity.items()),
        table.condition,
        Constant(**highest.model_dump(exclude={"ends"})),
        highest.ends,
        Constant(**curie.model_dump()) if curie else None,
    )


def _trend(name: str, table: TrendTable) -> Trend:
    given = table.model_dump()
    law = given.get("law")
    return Trend(table.band, table.provenance, table.source, tuple(given["points"] or ()), LAWS[name, law] if law else None)


def metal_faults(table: MetalTable) -> Iterator[MetalFault]:
    """What is wrong with a metal as a whole."""
    if (table.permeability is None) == (table.curve is None):
        yield (), "needs either permeability or curve", "", 'permeability = 1.0, or curve = "AISI 1008"'
    if table.hot is None:
        return
    found = list(_hot_faults(table.hot))
    yield from found
    if table.curve and table.hot.curie is None:
        yield ("hot", "curie"), "is missing", "", "the Curie point of what has a magnetisation curve"
    if not any(path[:2] == ("hot", "resistivity") for path, *_ in found):
        at_cold = float(_trend("resistivity", table.hot.resistivity).at(COLD_C))
        if abs(at_cold - table.resistivity) > SAME * at_cold:
            given, allowed = (format_quantity(value, "ohm*m") for value in (table.resistivity, at_cold))
            yield ("resistivity",), "is not that of hot.resistivity at 20 °C", given, allowed


def _hot_faults(hot: HotTable) -> Iterator[MetalFault]:
    named: dict[tuple[str, ...], TrendTable] = {
        ("resistivity",): hot.resistivity,
        ("specific_heat",): hot.specific_heat,
        ("conductivity",): hot.conductivity,
    }
    named |= {("emissivity", name): each for name, each in hot.emissivity.items()}
    for path, table in named.items():
        for key, *fault in _trend_faults(path[0], table, hot.highest.value):
            yield ("hot", *path, *key), fault[0], fault[1], fault[2]
    if hot.condition not in hot.emissivity:
        allowed = known_names(hot.condition, hot.emissivity) or "a condition that has a table [.emissivity.CONDITION]"
        yield ("hot", "condition"), "has no table of emissivity", repr(hot.condition), allowed


def _trend_faults(name: str, table: TrendTable, highest: float) -> Iterator[MetalFault]:
    """What is wrong with one property: points or a law, rising, over the whole range, above zero down to the lowest."""
    given = table.model_dump()
    points, law = given["points"], given.get("law")
    if (points is None) == (law is None):
        yield (), "needs either points or a law", "", f"points, or law = {next(each for of, each in LAWS if of == name)!r}"
        return
    if points is not None and not (len(points) > 1 and all(a[0] < b[0] for a, b in zip(points, points[1:], strict=False))):
        yield ("points",), "must be points of rising temperature", f"{len(points)} points", "two or more, each warmer than the last"
        return
    trend = _trend(name, table)
    first, last = trend.range_c
    key = ("points",) if points is not None else ("law",)
    if first > FIRST_C:
        yield key, "begins too hot", f"{first:g} °C", f"a first point at {FIRST_C:g} °C or below"
    if last < highest:
        yield key, "ends below highest", f"{last:g} °C", f"data up to {highest:g} °C, or a lower highest"
    cold, most = float(trend.at(LOWEST_C)), 1.0 if name == "emissivity" else float("inf")
    if not 0.0 < cold <= most:
        allowed = "above 0" if cold <= 0.0 else "at most 1"
        yield key, f"continued straight to {LOWEST_C:g} °C leaves what is possible", f"{cold:.4g} there", allowed
