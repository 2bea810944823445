# SPDX-License-Identifier: GPL-3.0-or-later
"""Conductors and the coil's water from their tables, with the checks that need more than one field. No physics."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import partial

from heatsim.errors import InputError
from heatsim.parts.conductor import AC_BAND, JOINT, JOINT_BAND, Conductor, Joint
from heatsim.parts.gauge import wire_diameter
from heatsim.parts.section import SOLDER, Bar, Board, Surroundings, Wire, copper_thickness
from heatsim.parts.tank import Helix
from heatsim.parts.water import WaterCircuit
from heatsim.physics.conductor import wire_area
from heatsim.scenario.problems import Fault, refuse, told_at
from heatsim.scenario.schema import CoilTable, ConductorTable, CoolingTable
from heatsim.scenario.source import Where

_BOARD = ("copper", "layer", "board_thickness", "bare_board")
OF_A_KIND = {
    "trace": (("length", "width", "copper"), _BOARD),
    "soldered trace": (("length", "width", "copper", "wire_diameter"), (*_BOARD, "solder_fill")),
    "strip": (("length", "width", "thickness"), ("return_gap",)),
    "bar": (("length", "width", "thickness"), ("return_gap",)),
    "cable": (("length",), ("section", "gauge", "insulation")),
    "joint": ((), ("width", "thickness", "return_gap", "resistance")),
}
"""Kind -> fields that it needs, and others that it may have beside those of every conductor."""

COMMON = {"name", "kind", "carries", "temperature_limit", "count", "emissivity", "air_speed"}

BOARD_EMISSIVITY, INSULATION_EMISSIVITY, COPPER_EMISSIVITY = 0.9, 0.9, 0.2
"""Of solder resist and plastics, and of copper as it tarnishes [1]; handbooks (memory). Bright copper has 0.05, oxidised copper
0.6 to 0.8."""


def build_conductors(
    tables: Sequence[ConductorTable], chokes: Sequence[str], ambient: float, where: Where
) -> tuple[Conductor | Joint, ...]:
    """The conductors of a heater.

    chokes: sides of those there are; ambient [°C]. Raises InputError when fields contradict one another.
    """
    keys = [_key(table.name) for table in tables]
    for number, table in enumerate(tables):
        at = partial(where, "conductor", str(number))
        refuse(at, _faults(table, keys.index(keys[number]) < number, chokes))
    return tuple(
        _conductor(table, key, ambient, partial(where, "conductor", str(number)))
        for number, (table, key) in enumerate(zip(tables, keys, strict=True))
    )


def _key(name: str) -> str:
    """A name as it stands in the keys of measures: small letters, digits and _."""
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")


def _faults(table: ConductorTable, taken: bool, chokes: Sequence[str]) -> Iterator[Fault]:
    """As `refuse` wants them."""
    needed, more = OF_A_KIND[table.kind]
    kind, may = f"a {table.kind}", ", ".join(sorted({*needed, *more}))
    yield taken, ("name",), "differs from another conductor's in no letter or digit", repr(table.name), "another name"
    for field in needed:
        yield getattr(table, field) is None, (field,), f"is missing: {kind} needs it", "", ", ".join(needed)
    for field in sorted(table.model_fields_set - COMMON - {*needed, *more}):
        yield True, (field,), f"does not belong to {kind}", "", may
    side, what = (table.carries.split() + [""])[:2]
    there = ", ".join(f"'{each} choke'" for each in chokes)
    yield what == "choke" and side not in chokes, ("carries",), "is of a choke that the circuit has not", repr(table.carries), there
    if table.kind == "cable":
        both = (table.section is None) == (table.gauge is None)
        yield both, ("section",), "and gauge: exactly one of them is needed", "", "either of them"
    if table.kind == "joint":
        one = (table.width is None) != (table.thickness is None)
        yield one, ("width",), "goes together with thickness", "", "both or neither"
    gap, width = table.return_gap, table.width
    yield gap is not None and width is not None and gap > width, ("return_gap",), "must not be above width", "", "else leave it out"
    wire, wide = table.wire_diameter, table.width or 0.0
    yield wire is not None and wire > wide, ("wire_diameter",), "must not be above width", "", f"up to {1e3 * wide:.4g} mm"


def _conductor(table: ConductorTable, key: str, ambient: float, at: Where) -> Conductor | Joint:
    signal, board = _signal(table.carries), None
    section, band = _section(table, at)
    plain = COPPER_EMISSIVITY
    if table.kind.endswith("trace"):
        board, plain = Board(table.board_thickness, table.bare_board), BOARD_EMISSIVITY
    elif table.insulation:
        plain = INSULATION_EMISSIVITY
    air = Surroundings(plain if table.emissivity is None else table.emissivity, table.air_speed, ambient, board)
    limit, count = table.temperature_limit, table.count
    if table.kind == "joint" or table.length is None:
        bars = section if isinstance(section, Bar) else None
        measured = table.resistance is not None
        ohms, factor = table.resistance or JOINT, 1.0 if measured else JOINT_BAND
        return Joint(table.name, key, table.carries, signal, count, ohms, factor, bars, air, limit)
    if not isinstance(section, Bar | Wire):
        raise InputError.single(at(), "has no section")
    inner = table.layer == "inner"
    return Conductor(table.name, key, table.kind, table.carries, signal, count, table.length, section, air, limit, band, inner)


def _section(table: ConductorTable, at: Where) -> tuple[Bar | Wire | None, float]:
    """Section, and the band of its resistance beyond that of direct current."""
    if table.kind == "cable":
        area = table.section
        if area is None:
            with told_at(at("gauge")):
                area = float(wire_area(wire_diameter(str(table.gauge))))
        return Wire(area, table.insulation), AC_BAND["far"]
    if table.width is None:
        return None, AC_BAND["far"]
    if table.copper is None:
        band = AC_BAND["far" if table.return_gap is None else "face"]
        return Bar(table.width, table.thickness or 0.0, table.return_gap), band
    with told_at(at("copper")):
        thickness = copper_thickness(table.copper)
    if table.wire_diameter is None:
        return Bar(table.width, thickness), AC_BAND["far"]
    soldered = float(wire_area(table.wire_diameter)) * (1 + table.solder_fill * SOLDER)
    return Bar(table.width, thickness + soldered / table.width), AC_BAND["soldered"]


def _signal(carries: str) -> str:
    """Name of the current among the waveforms."""
    side, _, part = carries.partition(" ")
    return {"supply": "supply.current", "tank": "coil.current"}.get(carries, f"{part}.{side}.current")


def build_water(table: CoolingTable | None, coil: CoilTable, ambient: float, where: Where) -> WaterCircuit | None:
    """The coil's water; None without its table. Raises InputError when fields contradict one another."""
    if table is None:
        return None
    at = partial(where, "coil", "cooling")
    bore, length = table.bore or _bore(coil), table.tube_length or _length(coil)
    radiator = table.radiator if table.fan == "running" else table.radiator_still
    unstill = table.fan == "standing" and table.radiator is not None and radiator is None
    sizes = "bore, or coil.tube_diameter and coil.tube_wall"
    outer = coil.tube_diameter
    below = f"below coil.tube_diameter, {1e3 * (outer or 0):.4g} mm"
    lengths = "tube_length, or coil.turns, coil.diameter and coil.length"
    refuse(
        at,
        (
            ((table.flow is None) == (table.pump_pressure is None), ("flow",), "and pump_pressure: one is needed", "", "either"),
            ((table.inlet is None) == (table.radiator is None), ("inlet",), "and radiator: one is needed", "", "either of them"),
            (unstill, ("fan",), "needs radiator_still to stand", "'standing'", "radiator_still, the radiator without its fan"),
            (bore is None, ("bore",), "is missing", "", sizes),
            (bore is not None and outer is not None and bore >= outer, ("bore",), "does not fit", "", below),
            (length is None, ("tube_length",), "is missing", "", lengths),
            (table.hose_length > 0 and table.hose_bore is None, ("hose_bore",), "is missing", "", "the bore of the hose"),
        ),
    )
    if bore is None or length is None:
        raise InputError.single(at(), "has no tube")
    return WaterCircuit(
        flow=table.flow,
        pump=table.pump_pressure,
        inlet=table.inlet,
        radiator=radiator,
        outer=outer,
        bore=bore,
        length=length,
        bend=table.bend or coil.diameter,
        hose_bore=table.hose_bore or bore,
        ambient=ambient,
        **table.model_dump(
            include={
                "hose_length",
                "fittings",
                "outlet_pressure",
                "wanted_rise",
                "outlet_limit",
                "dry_temperature",
                "stops_within",
                "workpiece_share",
                "hottest_flux",
            }
        ),
    )


def _bore(coil: CoilTable) -> float | None:
    outer, wall = coil.tube_diameter, coil.tube_wall
    return outer - 2 * wall if outer is not None and wall is not None and outer > 2 * wall else None


def _length(coil: CoilTable) -> float | None:
    """Of the tube in coil and leads [m], None where the coil is not given by geometry."""
    if coil.turns is None or coil.diameter is None or coil.length is None:
        return None
    return Helix(coil.turns, coil.diameter, coil.length, 0.0, 0.0).metres + 2 * (coil.lead_length or 0.0)
