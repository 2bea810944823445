# SPDX-License-Identifier: GPL-3.0-or-later
"""From validated tables to parts, with the checks that need more than one field. No physics."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import cast

from heatsim.errors import InputError
from heatsim.parts.bank import rails_resistance
from heatsim.parts.catalogue import Catalogue
from heatsim.parts.choke import Choke, Core, ShortedTurn, winding_capacitance, wound_choke
from heatsim.parts.curves import SOFT_EXPONENT, Curve, LinearCurve, gapped_curve, soft_curve, table_curve
from heatsim.parts.gauge import wire_diameter
from heatsim.parts.heater import Heater
from heatsim.parts.hysteresis import HystereticCurve
from heatsim.parts.ring import RingCore
from heatsim.parts.switch import Switch
from heatsim.parts.tank import CapacitorBank
from heatsim.parts.winding import Winding
from heatsim.physics.capacitor import series_resistance
from heatsim.physics.conductor import enamelled_diameter
from heatsim.physics.magnetisation import JilesAtherton
from heatsim.physics.ringcore import PathConvention, RingSize
from heatsim.scenario.bank import rails_of
from heatsim.scenario.catalogue import catalogue_with
from heatsim.scenario.cooling import thermal_path
from heatsim.scenario.copper import build_conductors, build_water
from heatsim.scenario.gate import build_gate, gate_faults
from heatsim.scenario.load import work_coil
from heatsim.scenario.problems import refuse, told_at
from heatsim.scenario.schema import ChokeTable, CoreTable, MeasuredChokeTable, ScenarioTables, WireTable, WorkpieceTable
from heatsim.scenario.source import Where
from heatsim.scenario.supply import build_supply
from heatsim.scenario.switch import build_switch
from heatsim.scenario.workpiece import build_workpiece


def build_heater(tables: ScenarioTables, case: str, folder: Path, where: Where) -> Heater:
    """The parts of one case.

    tables: of the scenario, the case's own settings applied
    folder: where relative file names start
    where: turns the path of a field into its place
    Raises InputError when fields contradict one another.
    """
    known = catalogue_with(tables.heater.catalogue, folder, where("heater", "catalogue"))
    switch = build_switch(tables.switch, known, folder, where)
    _check_gate(tables, switch, where)
    capacitors, load = tables.capacitors, tables.case[case].workpiece
    capacitance = capacitors.capacitance * capacitors.count
    with told_at(where("coil")):
        coil, frequency = work_coil(tables.coil, capacitance, capacitors.inductance, where)
    heater = Heater(
        supply=build_supply(tables.supply, where),
        chokes=tuple(_choke(table, side, known, where) for side, table in tables.choke.items()),
        switch=switch,
        gate=build_gate(tables.gate),
        capacitors=CapacitorBank(
            capacitors.capacitance,
            capacitors.count,
            float(series_resistance(capacitance, frequency, capacitors.dissipation_factor)),
            capacitors.inductance,
            capacitors.voltage_rating,
            capacitors.current_rating,
            rails_of(capacitors, where),
            part=known.capacitor(capacitors.part, where("capacitors", "part")) if capacitors.part else None,
        ),
        coil=coil,
        workpiece=None,
        bus_inductance=tables.heater.bus_inductance,
        stray_corner=tables.heater.stray_corner,
        half_coupling=tables.coil.half_coupling,
        ambient=tables.heater.ambient,
        air_speed=tables.heater.air_speed,
        conductors=build_conductors(tables.conductor, tuple(tables.choke), tables.heater.ambient, where),
        water=build_water(tables.coil.cooling, tables.coil, tables.heater.ambient, where),
        silicon=thermal_path(tables, where),
    )
    bank = heater.capacitors
    if bank.rails:
        lossy = rails_resistance(bank, bank.rails, heater.frequency)
        heater = replace(heater, capacitors=replace(bank, rails_resistance=lossy))
    of_load = partial(where, "case", case, "workpiece")
    with told_at(of_load()):
        heater = replace(heater, workpiece=build_workpiece(load, tables.coil, heater, known, of_load))
    _check_coupling(heater, load, of_load())
    _check_shorts(heater, where)
    with told_at(where("supply", "source")):
        return replace(heater, supply=heater.supply.under_load(heater.supply_current / heater.supply.voltage))


SHORT_PERIODS = 45
"""Longest time constant of a shorted turn in tank periods. Measured: up to here its current has settled to 3e-4 when a run is
judged; at 90 it is 0.6 % off, at 180 4.5 %. Copper comes to some ten (estimate)."""


def _check_shorts(heater: Heater, where: Where) -> None:
    longest = SHORT_PERIODS / heater.frequency
    for choke in heater.chokes:
        if choke.short and choke.short.time_constant > longest:
            fault = "over short_resistance is too long a time: the turn's current would not settle within a run"
            allowed = f"up to {longest * 1e6:.3g} us, {SHORT_PERIODS} periods of the tank"
            place = where("choke", choke.side, "short_inductance")
            raise InputError.single(place, fault, f"{choke.short.time_constant * 1e6:.3g} us", allowed)


def _check_gate(tables: ScenarioTables, switch: Switch, where: Where) -> None:
    """Whether the gates reach the threshold; one that is but estimated, beside a model of the user's, says nothing of that."""
    refuse(where, gate_faults(tables, switch.threshold if switch.origin("threshold") not in switch.estimated else 0.0))


def _choke(table: ChokeTable, side: str, known: Catalogue, where: Where) -> Choke:
    at = partial(where, "choke", side)
    core = _core(table, known, at)
    if table.measured is not None:
        choke = _measured_choke(table, table.measured, core, side, at)
    elif core is not None and table.core is not None:
        with told_at(at("core")):
            choke = _wound_choke(table, table.core, core, side, at)
    else:
        allowed = "[choke.measured], or all of turns, [choke.core] and [choke.wire]"
        raise InputError.single(at(), "is given neither by measurement nor by geometry", allowed=allowed)
    resistance, inductance = table.short_resistance, table.short_inductance
    if (resistance is None) != (inductance is None):
        raise InputError.single(at("short_resistance"), "goes together with short_inductance", allowed="both or neither")
    return choke if resistance is None or inductance is None else replace(choke, short=ShortedTurn(resistance, inductance))


def _wound_choke(table: ChokeTable, shape: CoreTable, core: Core, side: str, at: Where) -> Choke:
    """A choke given by geometry."""
    if shape.hysteresis is not None:
        with told_at(at("core", "hysteresis")):
            choke = wound_choke(side, core, table.temperature, table.capacitance, _hysteretic_curve(shape, core, at))
        return replace(choke, saturation_basis=shape.hysteresis.provenance)
    if core.material.bias is None and shape.gap is None:
        fault = f"is missing: a ring of {core.material.alloy.split(',')[0]} without a gap saturates at once"
        raise InputError.single(at("core", "gap"), fault, allowed="the total air gap in the ring, such as 1.5 mm")
    return wound_choke(side, core, table.temperature, table.capacitance)


def _hysteretic_curve(shape: CoreTable, core: Core, at: Where) -> Curve:
    if shape.gap is not None:
        fault = "goes without gap: its figures are those of the core as it stands, gap included"
        raise InputError.single(at("core", "hysteresis"), fault, allowed="either [choke.core.hysteresis] or gap")
    figures = shape.hysteresis.model_dump(exclude={"provenance"}) if shape.hysteresis else {}
    air = core.winding.air_inductance(core.ring)
    return HystereticCurve(JilesAtherton(**figures), core.winding.turns, core.ring.path_length, core.ring.total_area, air)


def _core(table: ChokeTable, known: Catalogue, at: Where) -> Core | None:
    if table.core is None or table.wire is None or table.turns is None:
        return None
    material = known.material(table.core.material, at("core", "material"))
    with told_at(at("core")):
        ring = _ring(table.core, material.path_rule, known, partial(at, "core"))
    with told_at(at("wire")):
        winding = _winding(table.turns, table.wire)
        winding.fill(ring)
    return Core(ring, winding, material, table.core.gap or 0.0)


def _ring(core: CoreTable, rule: PathConvention, known: Catalogue, at: Where) -> RingCore:
    sizes = (core.outer_diameter, core.inner_diameter, core.height)
    if core.ring is not None and any(size is not None for size in sizes):
        fault = "goes without outer_diameter, inner_diameter and height: the catalogue has them"
        raise InputError.single(at("ring"), fault, allowed="either ring or dimensions")
    if core.ring is not None:
        ring = RingCore.from_entry(known.ring(core.ring, at("ring")), core.stack, rule)
        return replace(ring, path_length=core.path_length or ring.path_length, area=core.area or ring.area)
    if None in sizes:
        allowed = "either ring, a name in the catalogue, or all of outer_diameter, inner_diameter and height"
        raise InputError.single(at(), "has no size", allowed=allowed)
    size = RingSize(*cast(tuple[float, float, float], sizes))
    if size.inner_diameter >= size.outer_diameter:
        given, allowed = f"{1e3 * size.inner_diameter:.4g} mm", f"below {1e3 * size.outer_diameter:.4g} mm"
        raise InputError.single(at("inner_diameter"), "must be smaller than outer_diameter", given, allowed)
    return RingCore.from_size(size, core.stack, rule, core.path_length, core.area)


def _winding(turns: int, wire: WireTable) -> Winding:
    if (wire.diameter is None) == (wire.gauge is None):
        raise InputError.single("wire", "needs either diameter or gauge", allowed='diameter = "1.6 mm" or gauge = "AWG 14"')
    bare = wire.diameter if wire.diameter is not None else wire_diameter(str(wire.gauge))
    overall = wire.overall_diameter or float(enamelled_diameter(bare, wire.grade))
    return Winding(turns, wire.strands, bare, max(overall, bare), wire.lay, wire.looseness, lead=wire.lead_length)


AIR_SHARE = 1 / 60
"""Air-core inductance of a measured choke as a share of its inductance when nothing better is known; a ring of 60 mu."""


def _measured_choke(table: ChokeTable, bench: MeasuredChokeTable, core: Core | None, side: str, at: Where) -> Choke:
    first = bench.table[0][1] if bench.table else bench.inductance
    if first is None:
        allowed = "inductance, or table with inductances at several currents"
        raise InputError.single(at("measured"), "has no inductance", allowed=allowed)
    air = bench.air_inductance or (core.winding.air_inductance(core.ring) if core else AIR_SHARE * first)
    if air >= first:
        place, allowed = at("measured", "air_inductance"), f"below {1e6 * first:.4g} uH"
        raise InputError.single(place, "must be below the inductance", f"{1e6 * air:.4g} uH", allowed)
    with told_at(at("measured", *(["table"] if bench.table else []))):
        curve = _measured_curve(bench, first, air)
    basis = "unknown" if isinstance(curve, LinearCurve) else "measured"
    area = bench.copper_area or (core.winding.copper_area if core else None)
    return Choke(side, curve, bench.resistance, winding_capacitance(table.capacitance, core), table.temperature, area, core, basis)


def _measured_curve(bench: MeasuredChokeTable, first: float, air: float) -> Curve:
    if bench.table:
        return table_curve([i for i, _ in bench.table], [value for _, value in bench.table], air)
    if bench.saturation_current is None:
        return LinearCurve(first, air)
    if bench.knee == "soft":
        return soft_curve(first, air, bench.saturation_current, SOFT_EXPONENT)
    return gapped_curve(first, air, first * bench.saturation_current)


def _check_coupling(heater: Heater, table: WorkpieceTable | None, place: str) -> None:
    """InputError, naming the largest share in whole percent if there is one, when no coupling gives the workpiece."""
    try:
        _ = heater.branch
    except InputError as error:
        share = heater.largest_share(table.share) if table else 0
        told = error.problems[0]
        raise InputError.single(place, told.what, told.given, f"a share up to {share} %" if share else told.allowed) from None
