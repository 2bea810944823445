# SPDX-License-Identifier: GPL-3.0-or-later
"""From validated tables to parts, with the checks that need more than one field."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import cast

from heatsim.errors import InputError, Problem
from heatsim.parts.catalogue import Catalogue
from heatsim.parts.choke import KNEE_SHARE, Choke, Core, ShortedTurn, wound_curve
from heatsim.parts.curves import Curve, GappedCurve, LinearCurve, soft_curve, table_curve
from heatsim.parts.heater import Heater
from heatsim.parts.hysteresis import HystereticCurve
from heatsim.parts.ring import RingCore
from heatsim.parts.switch import GateDrive, Supply, Switch
from heatsim.parts.tank import CapacitorBank, WorkCoil, Workpiece
from heatsim.parts.winding import Winding, wire_diameter
from heatsim.physics.conductor import copper_resistivity, enamelled_diameter, skin_depth, tube_resistance_ratio
from heatsim.physics.inductance import solenoid_inductance
from heatsim.physics.magnetisation import JilesAtherton
from heatsim.physics.ringcore import PathConvention, RingSize
from heatsim.scenario.catalogue import catalogue_with
from heatsim.scenario.models import UserModel, read_user_model
from heatsim.scenario.schema import (
    ChokeTable,
    CoilTable,
    CoreTable,
    GateTable,
    HysteresisTable,
    MeasuredChokeTable,
    ScenarioTables,
    SwitchTable,
    WireTable,
    WorkpieceTable,
)

Where = Callable[..., str]
"""Turns a field path into `file:line: field`."""


def build_heater(tables: ScenarioTables, case: str, folder: Path, where: Where) -> Heater:
    """The parts of one case; InputError when fields contradict one another."""
    _check_switch(tables.switch, tables.gate, where)
    capacitors = tables.capacitors
    bank = CapacitorBank(
        capacitors.capacitance, capacitors.count, 0.0, capacitors.inductance, capacitors.voltage_rating, capacitors.current_rating
    )
    guess = 1 / (2 * math.pi * math.sqrt(_coil(tables.coil, 1e5, where).inductance * bank.capacitance))
    resistance = capacitors.dissipation_factor / (2 * math.pi * guess * bank.capacitance)
    coil = _coil(tables.coil, guess, where)
    workpiece = _workpiece(tables.case[case].workpiece, tables.coil, coil, guess, case, where)
    sides = ("left", "right") if tables.heater.topology == "two-choke" else ("centre",)
    known = catalogue_with(tables.heater.catalogue, folder, where("heater", "catalogue"))
    heater = Heater(
        supply=Supply(**tables.supply.model_dump()),
        chokes=tuple(_choke(tables.choke, side, known, where) for side in sides),
        switch=_switch(tables.switch, folder, where),
        gate=GateDrive(**tables.gate.model_dump()),
        capacitors=CapacitorBank(bank.unit, bank.count, resistance, bank.inductance, bank.voltage_rating, bank.current_rating),
        coil=coil,
        workpiece=workpiece,
        bus_inductance=tables.heater.bus_inductance,
        stray_corner=tables.heater.stray_corner,
        half_coupling=tables.coil.half_coupling,
        ambient=tables.heater.ambient,
        air_speed=tables.heater.air_speed,
    )
    _check_coupling(heater, tables.case[case].workpiece, where("case", case, "workpiece"))
    _check_shorts(heater, where)
    return heater


SHORT_PERIODS = 45
"""Longest time constant of a shorted turn in tank periods. Measured: up to here its current has settled to 3e-4 when a run is
judged; at 90 it is 0.6 % off, at 180 4.5 %. Copper comes to some ten (estimate)."""


def _check_shorts(heater: Heater, where: Where) -> None:
    for choke in heater.chokes:
        if choke.short is None:
            continue
        longest = SHORT_PERIODS / heater.frequency
        if choke.short.inductance > longest * choke.short.resistance:
            raise InputError.single(
                where("choke", choke.side, "short_inductance"),
                "over short_resistance is too long a time: the turn's current would not settle within a run",
                f"{choke.short.inductance / choke.short.resistance * 1e6:.3g} us",
                f"up to {longest * 1e6:.3g} us, {SHORT_PERIODS} periods of the tank",
            )


def _check_switch(switch: SwitchTable, gate: GateTable, where: Where) -> None:
    rules = [
        (
            switch.reverse_capacitance < switch.output_capacitance,
            ("switch", "reverse_capacitance"),
            "must be smaller than output_capacitance",
        ),
        (
            switch.reverse_capacitance < switch.input_capacitance,
            ("switch", "reverse_capacitance"),
            "must be smaller than input_capacitance",
        ),
        (switch.threshold < switch.on_gate_voltage, ("switch", "threshold"), "must be below on_gate_voltage"),
        (gate.supply_voltage > switch.threshold, ("gate", "supply_voltage"), "must be above the switch threshold"),
        (gate.clamp_voltage > switch.threshold, ("gate", "clamp_voltage"), "must be above the switch threshold"),
        (gate.pull_down > gate.pull_up, ("gate", "pull_down"), "must be larger than pull_up, or the gate never rises"),
        ((switch.model_file is None) == (switch.model is None), ("switch", "model"), "goes together with model_file"),
    ]
    problems = [Problem(where(*field), what) for holds, field, what in rules if not holds]
    if problems:
        raise InputError(*problems)


def _switch(table: SwitchTable, folder: Path, where: Where) -> Switch:
    user = UserModel()
    if table.model_file is not None and table.model is not None:
        user = read_user_model(folder / table.model_file, table.model, where("switch", "model_file"))
    fields = table.model_dump(exclude={"model_file", "model"})
    return Switch(**fields, user_model=user.text, user_name=user.name, user_subcircuit=user.subcircuit)


MEASURED_CAPACITANCE = 30e-12
"""Winding capacitance [F] of a choke whose winding is not told; common practice, no source, and without effect here."""


def winding_capacitance(table: ChokeTable, core: Core | None) -> float:
    """Capacitance of a winding [F]: as given, else estimated from the winding."""
    if table.capacitance is not None:
        return table.capacitance
    return core.winding.self_capacitance(core.ring).value if core else MEASURED_CAPACITANCE


def _choke(chokes: dict[str, ChokeTable], side: str, known: Catalogue, where: Where) -> Choke:
    table = chokes[side]
    choke = _whole_choke(table, side, known, where)
    resistance, inductance = table.short_resistance, table.short_inductance
    if (resistance is None) != (inductance is None):
        raise InputError.single(where("choke", side, "short_resistance"), "goes together with short_inductance")
    if resistance is None or inductance is None:
        return choke
    return replace(choke, short=ShortedTurn(resistance, inductance))


def _whole_choke(table: ChokeTable, side: str, known: Catalogue, where: Where) -> Choke:
    core = _core(table, side, known, where)
    if table.measured is not None:
        return _measured_choke(table, table.measured, core, side, where)
    if core is None or table.core is None:
        raise InputError.single(
            where("choke", side), "needs either [choke.measured] or all of turns, [choke.core] and [choke.wire]"
        )
    if table.core.hysteresis is not None:
        return _hysteretic_choke(table, table.core, table.core.hysteresis, core, side, where)
    if core.material.half_field is None and table.core.gap is None:
        raise InputError.single(
            where("choke", side, "core", "gap"),
            "is missing: a ferrite ring without a gap saturates at once",
            allowed="the total air gap in the ring, such as 1.5 mm",
        )
    curve = wound_curve(core)
    basis = "unknown" if isinstance(curve, LinearCurve) else core.material.saturation_basis
    return _wound_choke(table, core, side, curve, basis)


def _wound_choke(table: ChokeTable, core: Core, side: str, curve: Curve, basis: str) -> Choke:
    """A choke given by geometry, with the flux curve that its core has."""
    resistance = core.winding.resistance(core.ring, table.temperature)
    capacitance = winding_capacitance(table, core)
    return Choke(side, curve, resistance, capacitance, table.temperature, core.winding.copper_area, core, basis)


def _hysteretic_choke(table: ChokeTable, shape: CoreTable, model: HysteresisTable, core: Core, side: str, where: Where) -> Choke:
    place = where("choke", side, "core", "hysteresis")
    if shape.gap is not None:
        raise InputError.single(place, "goes without gap: its figures are those of the core as it stands, gap included")
    parameters = JilesAtherton(model.saturation, model.shape, model.pinning, model.coupling, model.reversible)
    air, ring = core.winding.air_inductance(core.ring), core.ring
    try:
        curve = HystereticCurve(parameters, core.winding.turns, ring.path_length, ring.total_area, air)
    except InputError as error:
        raise InputError(*(Problem(place, p.what, p.given, p.allowed) for p in error.problems)) from None
    return _wound_choke(table, core, side, curve, model.provenance)


def _core(table: ChokeTable, side: str, known: Catalogue, where: Where) -> Core | None:
    if table.core is None or table.wire is None or table.turns is None:
        return None
    material = known.material(table.core.material, where("choke", side, "core", "material"))
    ring = _ring(table.core, material.path_rule, side, known, where)
    winding = _winding(table.turns, table.wire, where("choke", side, "wire"))
    try:
        winding.fill(ring)
    except InputError as error:
        raise InputError(*(Problem(where("choke", side, "wire"), p.what, p.given, p.allowed) for p in error.problems)) from None
    return Core(ring, winding, material, table.core.gap or 0.0)


def _ring(core: CoreTable, rule: PathConvention, side: str, known: Catalogue, where: Where) -> RingCore:
    sizes = (core.outer_diameter, core.inner_diameter, core.height)
    if core.ring is not None:
        if any(size is not None for size in sizes):
            raise InputError.single(
                where("choke", side, "core", "ring"),
                "goes without outer_diameter, inner_diameter and height: the catalogue has them",
            )
        ring = RingCore.from_entry(known.ring(core.ring, where("choke", side, "core", "ring")), core.stack, rule)
        return replace(ring, path_length=core.path_length or ring.path_length, area=core.area or ring.area)
    if None in sizes:
        raise InputError.single(
            where("choke", side, "core"),
            "needs either ring, a name in the catalogue, or all of outer_diameter, inner_diameter and height",
        )
    size = RingSize(*cast(tuple[float, float, float], sizes))
    if size.inner_diameter >= size.outer_diameter:
        raise InputError.single(where("choke", side, "core", "inner_diameter"), "must be smaller than outer_diameter")
    return RingCore.from_size(size, core.stack, rule, core.path_length, core.area)


def _winding(turns: int, wire: WireTable, place: str) -> Winding:
    if (wire.diameter is None) == (wire.gauge is None):
        raise InputError.single(place, "needs either diameter or gauge", allowed='diameter = "1.6 mm" or gauge = "AWG 14"')
    if wire.diameter is not None:
        bare = wire.diameter
    else:
        try:
            bare = wire_diameter(str(wire.gauge))
        except InputError as error:
            raise InputError(*(Problem(place, p.what, p.given, p.allowed) for p in error.problems)) from None
    overall = wire.overall_diameter or float(enamelled_diameter(bare, wire.grade))
    return Winding(turns, wire.strands, bare, max(overall, bare), wire.lay, wire.looseness)


def _measured_choke(table: ChokeTable, bench: MeasuredChokeTable, core: Core | None, side: str, where: Where) -> Choke:
    curve = _measured_curve(bench, core, side, where)
    basis = "unknown" if isinstance(curve, LinearCurve) else "measured"
    area = bench.copper_area or (core.winding.copper_area if core else None)
    return Choke(side, curve, bench.resistance, winding_capacitance(table, core), table.temperature, area, core, basis)


AIR_SHARE = 1 / 60
"""Air-core inductance of a measured choke as a share of its inductance when nothing better is known; a ring of 60 mu."""


def _measured_curve(bench: MeasuredChokeTable, core: Core | None, side: str, where: Where) -> Curve:
    first = bench.table[0][1] if bench.table else bench.inductance
    if first is None:
        raise InputError.single(where("choke", side, "measured"), "needs inductance or table")
    wound = core.winding.air_inductance(core.ring) if core else None
    air = bench.air_inductance or wound or AIR_SHARE * first
    if air >= first:
        raise InputError.single(where("choke", side, "measured", "air_inductance"), "must be below the inductance")
    if bench.table:
        try:
            return table_curve([i for i, _ in bench.table], [value for _, value in bench.table], air)
        except ValueError as error:
            raise InputError.single(where("choke", side, "measured", "table"), str(error)) from None
    if bench.saturation_current is None:
        return LinearCurve(first, air)
    if bench.knee == "soft":
        return soft_curve(first, air, bench.saturation_current, 1.8)
    flux = first * bench.saturation_current
    return GappedCurve(first, air, flux, KNEE_SHARE * flux)


def _coil(table: CoilTable, frequency: float, where: Where) -> WorkCoil:
    leads = (table.lead_inductance, table.lead_resistance)
    if table.measured:
        return WorkCoil(table.measured.inductance, table.measured.resistance, *leads)
    parts = (table.turns, table.diameter, table.length, table.tube_diameter, table.tube_wall)
    if None in parts:
        raise InputError.single(
            where("coil"), "needs either [coil.measured] or all of turns, diameter, length, tube_diameter and tube_wall"
        )
    turns, diameter, length, tube, wall = cast(tuple[float, float, float, float, float], parts)
    if tube > length / turns or 2 * wall >= tube:
        raise InputError.single(
            where("coil", "tube_diameter"),
            "does not fit: must be below length/turns and above twice tube_wall",
            f"{tube * 1e3:g} mm",
            f"up to {1e3 * length / turns:.3g} mm",
        )
    rho = float(copper_resistivity(table.temperature))
    section = math.pi * (tube - wall) * wall
    ratio = float(tube_resistance_ratio(tube / 2, wall, float(skin_depth(rho, frequency))))
    metres = turns * math.hypot(math.pi * diameter, length / turns)
    resistance = COIL_CROWDING * rho * metres / section * ratio
    return WorkCoil(solenoid_inductance(diameter, length, turns, tube), resistance, *leads)


COIL_CROWDING = 1.5
"""Factor on the lone straight tube's resistance for the crowding of current in neighbouring turns; an estimate, 1.2 to
2 for coils wound with gaps of a third to one tube diameter. Measure the coil to be rid of it."""


def _workpiece(
    table: WorkpieceTable | None, coil_table: CoilTable, coil: WorkCoil, frequency: float, case: str, where: Where
) -> Workpiece | None:
    """The share of the workpiece that is present; None when nothing of it is."""
    if table is None:
        return None
    place = where("case", case, "workpiece")
    if table.measured:
        whole = Workpiece(table.measured.inductance, table.measured.resistance, "measured")
    else:
        whole = _bar(table, coil_table, coil, frequency, place)
    if whole.resistance <= coil.resistance:
        raise InputError.single(place, "the coil must have more resistance with the workpiece in than without it")
    return _part(whole, coil, table.share) if table.share > 0 else None


def _part(whole: Workpiece, coil: WorkCoil, share: float) -> Workpiece:
    """A workpiece that changes the coil's inductance and resistance by `share` [1] of what the whole one does."""
    return Workpiece(
        coil.inductance + share * (whole.inductance - coil.inductance),
        coil.resistance + share * (whole.resistance - coil.resistance),
        whole.basis,
    )


def _check_coupling(heater: Heater, table: WorkpieceTable | None, place: str) -> None:
    """InputError, naming the highest share in whole percent if there is one, when no coupling gives the workpiece."""
    told = _coupling_problem(heater, 1.0)
    if told is None or table is None:
        return
    shares = [percent for percent in range(1, 201) if _coupling_problem(heater, percent / 100 / table.share) is None]
    raise InputError.single(place, told, allowed=f"a share up to {max(shares)} %" if shares else "")


def _coupling_problem(heater: Heater, times: float) -> str | None:
    """What is wrong with so many times [1] the heater's workpiece."""
    if heater.workpiece is None:
        return None
    try:
        _ = replace(heater, workpiece=_part(heater.workpiece, heater.coil, times)).branch
    except ValueError as error:
        return str(error)
    return None


def _bar(table: WorkpieceTable, coil_table: CoilTable, coil: WorkCoil, frequency: float, place: str) -> Workpiece:
    """A round bar in a coil given by geometry; an estimate."""
    from heatsim.physics.eddy import workpiece_reflection

    bar, shape = ((table.diameter, table.length, table.resistivity), (coil_table.turns, coil_table.diameter, coil_table.length))
    if None in bar or None in shape:
        raise InputError.single(
            place,
            "needs either [.measured], or diameter, length and resistivity of the bar and turns, diameter and length of the coil",
        )
    diameter, length, rho = cast(tuple[float, float, float], bar)
    turns, bore, coil_length = cast(tuple[float, float, float], shape)
    if diameter >= bore:
        raise InputError.single(place, "does not fit the coil", f"{diameter * 1e3:g} mm", f"below {bore * 1e3:g} mm")
    added = workpiece_reflection((bore, coil_length, turns), (diameter / 2, length), rho, table.permeability, frequency)
    return Workpiece(coil.inductance + added.inductance_change, coil.resistance + added.resistance, "estimate")
