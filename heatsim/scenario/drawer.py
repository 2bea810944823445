# SPDX-License-Identifier: GPL-3.0-or-later
"""Rings and wire on hand made into chokes, and into the fields of a scenario that say so."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from heatsim.parts.choke import Choke, Core, wound_choke
from heatsim.parts.materials import Material
from heatsim.parts.ring import RingCore
from heatsim.parts.winding import Winding
from heatsim.physics.conductor import enamelled_diameter
from heatsim.physics.ringcore import RingSize, wires_in_layer
from heatsim.scenario.schema import ChokeTable, CoreTable, DrawerRingTable, DrawerWireTable


def overall(wire: DrawerWireTable) -> float:
    """Diameter with enamel [m]."""
    return wire.overall_diameter or float(enamelled_diameter(wire.diameter, 2))


def most_turns(bore: float, wire: DrawerWireTable, strands: int, free_bore: float) -> int:
    """Turns that fit a bore [m] with a hole of `free_bore` [m] left, by layers of touching wires."""
    thick, left, total = overall(wire), bore, 0
    while left - 2 * thick >= free_bore:
        total += wires_in_layer(left, thick)
        left -= 2 * thick
    return total // strands


def core_of(ring: DrawerRingTable, material: Material, stack: int, turns: int, wire: DrawerWireTable, strands: int) -> Core:
    """A winding on rings of the drawer."""
    size = RingSize(ring.outer_diameter, ring.inner_diameter, ring.height)
    whole = RingCore.from_size(size, stack, material.path_rule, ring.path_length, ring.area)
    return Core(whole, Winding(turns, strands, wire.diameter, overall(wire)), material, ring.gap or 0.0)


def choke_on(core: Core, tables: Mapping[str, ChokeTable]) -> Choke:
    """The choke on a core; temperature and capacitance are the scenario's."""
    common = next(iter(tables.values()))
    return wound_choke("centre" if "centre" in tables else "left", core, common.temperature, common.capacitance)


def ring_fields(ring: DrawerRingTable | CoreTable) -> dict[str, Any]:
    """The fields of [choke.core] that say which ring it is; the stack is left out."""
    found: dict[str, Any] = {"material": ring.material}
    if isinstance(ring, CoreTable) and ring.ring is not None:
        found["ring"] = ring.ring
    lengths = ("outer_diameter", "inner_diameter", "height", "path_length", "gap")
    found |= {name: _millimetres(value) for name in lengths if (value := getattr(ring, name)) is not None}
    return found | ({"area": f"{ring.area * 1e6:.6g} mm2"} if ring.area is not None else {})


def wire_fields(wire: DrawerWireTable, strands: int) -> dict[str, Any]:
    """The fields of [choke.wire]."""
    found = {"diameter": _millimetres(wire.diameter), "strands": strands}
    return found | ({"overall_diameter": _millimetres(wire.overall_diameter)} if wire.overall_diameter else {})


def wound_fields(ring: DrawerRingTable, wire: DrawerWireTable, stack: int, turns: int, strands: int) -> dict[str, Any]:
    """Dotted fields that turn the chokes of a scenario into such a winding."""
    return {"choke.turns": turns, "choke.core": {**ring_fields(ring), "stack": stack}, "choke.wire": wire_fields(wire, strands)}


def _millimetres(length: float) -> str:
    return f"{length * 1e3:.6g} mm"
