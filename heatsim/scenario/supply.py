# SPDX-License-Identifier: GPL-3.0-or-later
"""The supply from its tables: which fields belong to which kind of source, and how they become a part."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from heatsim.errors import InputError
from heatsim.parts.source import Bridge, CurrentLimit, Source
from heatsim.parts.switch import Supply
from heatsim.quantity import QuantityError, format_quantity, parse_quantity
from heatsim.scenario.problems import Fault, refuse
from heatsim.scenario.schema import SourceTable, SupplyTable
from heatsim.scenario.source import Where

BATTERY_RISE = 1e-6
"""Time in which a battery's voltage is there once its contact is made [s]: the shortest rise that a scenario can have."""

OF_KIND = {
    "battery": ("internal_resistance",),
    "rectifier": ("secondary_voltage", "transformer_resistance", "transformer_leakage", "bridge_drop", "mains_frequency"),
    "switch mode": ("limit", "current_limit", "foldback_voltage", "short_circuit_current", "trip_delay", "retry_time"),
}
"""Fields of one kind only."""

OF_LIMIT = {"foldback": ("foldback_voltage", "short_circuit_current"), "hiccup": ("trip_delay", "retry_time")}
"""Fields of one form of limit only."""


def with_voltage(raw: dict[str, Any], where: Where) -> dict[str, Any]:
    """The tables as written, with supply.voltage filled in for a rectifier that is given by its secondary: sqrt 2 times that, less
    the drop of the diodes.

    Raises InputError when both are given. What is not in order stays for the tables' own check.
    """
    supply = raw.get("supply")
    source = supply.get("source") if isinstance(supply, Mapping) else None
    if not isinstance(supply, dict) or not isinstance(source, Mapping) or "secondary_voltage" not in source:
        return raw
    if "voltage" in supply:
        allowed = "either supply.voltage, without load, or supply.source.secondary_voltage"
        raise InputError.single(where("supply", "voltage"), "goes without supply.source.secondary_voltage", "", allowed)
    try:
        secondary = parse_quantity(source["secondary_voltage"], "V")
        usual = SourceTable.model_fields["bridge_drop"].default
        drop = parse_quantity(source["bridge_drop"], "V") if "bridge_drop" in source else usual
    except QuantityError:
        return raw
    return raw | {"supply": supply | {"voltage": f"{math.sqrt(2) * secondary - drop:.9g} V"}}


def build_supply(table: SupplyTable, where: Where) -> Supply:
    """The supply as a part; a rectifier's resistance and ripple come with the load (`Supply.under_load`).

    Raises InputError when fields do not go together.
    """
    plain = table.model_dump(exclude={"source"})
    source = table.source
    if source is None:
        return Supply(**plain)
    refuse(where, _faults(table, source))
    if source.kind == "battery":
        plain["resistance"] += source.internal_resistance or 0.0
        if "rise_time" not in table.model_fields_set:
            plain["rise_time"] = BATTERY_RISE
    bridge = None
    if source.kind == "rectifier":
        mains = float(source.mains_frequency.split()[0])
        bridge = Bridge(source.transformer_resistance or 0.0, source.transformer_leakage, mains)
        if "rise_time" not in table.model_fields_set:
            plain["rise_time"] = 0.25 / mains
    made = Source(source.kind, _limit(table, source), bridge, tuple(source.bounce or ()), source.fuse_i2t, source.fuse_rating)
    return Supply(**plain, source=made)


def _limit(table: SupplyTable, source: SourceTable) -> CurrentLimit | None:
    if source.limit is None or source.current_limit is None:
        return None
    short = source.short_circuit_current if source.limit == "foldback" else source.current_limit
    knee = source.foldback_voltage or table.voltage
    timing = (source.trip_delay, source.retry_time) if source.limit == "hiccup" else (0.0, 0.0)
    return CurrentLimit(source.limit, source.current_limit, short or source.current_limit, knee, *timing)


def _faults(table: SupplyTable, source: SourceTable) -> Iterator[Fault]:
    given = source.model_fields_set

    def at(field: str) -> tuple[str, ...]:
        return ("supply", "source", field)

    for kind, fields in OF_KIND.items():
        for field in fields:
            yield field in given and kind != source.kind, at(field), f"does not belong to a {source.kind}", "", f'kind = "{kind}"'
    for form, fields in OF_LIMIT.items():
        for field in fields:
            wrong = field in given and source.kind == "switch mode" and source.limit != form
            yield wrong, at(field), "does not belong to this limit", "", f'limit = "{form}"'
    missing: tuple[str, ...] = {
        "battery": ("internal_resistance",),
        "rectifier": ("transformer_resistance",),
        "switch mode": ("current_limit",) if source.limit else (),
    }[source.kind]
    if source.limit == "foldback":
        missing += ("short_circuit_current",)
    for field in missing:
        yield getattr(source, field) is None, at(field), "is missing", "", f"needed of a {source.limit or source.kind}"
    alone = source.kind == "switch mode" and source.limit is None and source.current_limit is not None
    yield alone, at("limit"), "is missing: what does it do at its current_limit?", "", '"constant", "foldback" or "hiccup"'
    most, short = source.current_limit, source.short_circuit_current
    if source.limit == "foldback" and most is not None and short is not None:
        above = f"up to {format_quantity(most, 'A')}"
        yield short > most, at("short_circuit_current"), "is above current_limit", format_quantity(short, "A"), above
    knee, full = source.foldback_voltage, format_quantity(table.voltage, "V")
    yield knee is not None and knee > table.voltage, at("foldback_voltage"), "is above supply.voltage", "", f"up to {full}"
    ripple = source.kind == "rectifier" and "ripple" in table.model_fields_set
    yield ripple, ("supply", "ripple"), "goes without a rectifier: its own is computed", "", "no supply.ripple"
    phases = [made for made, _ in source.bounce or ()]
    repeated = any(one == other for one, other in zip(phases, phases[1:], strict=False))
    yield repeated, at("bounce"), "does not change from one entry to the next", "", '"on" and "off" by turns'
    yield bool(phases) and phases[-1], at("bounce"), 'ends with "on"', "", '"off" last: after it the contact is made for good'
    yield source.fuse_rating is not None and source.fuse_i2t is None, at("fuse_i2t"), "is missing", "", "needed with fuse_rating"
