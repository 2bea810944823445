# SPDX-License-Identifier: GPL-3.0-or-later
"""What a heat starts from: the piece in its coil, what surrounds it, and what is asked. No physics."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from heatsim.errors import InputError
from heatsim.parts.heater import Heater
from heatsim.parts.hot_metal import HotMetal
from heatsim.parts.piece import CELLS, SLICES, Piece
from heatsim.physics.hot_surface import Emissivity, HotSurface, Lining, Surroundings, hot_surface
from heatsim.physics.numeric import FloatArray as Array
from heatsim.scenario.catalogue import catalogue_with
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.schema import ScenarioTables
from heatsim.scenario.schema.heat import HeatTable
from heatsim.scenario.source import Where
from heatsim.scenario.workpiece import GivenPiece, given_piece

HIGHEST_SURFACE = 1800.0
"""Hottest surface [°C] whose losses can be told: of the air's properties."""


@dataclass(frozen=True)
class HeatPlan:
    """scenario, case: heated; heater: of the case, without its piece; piece; losses: what its surface gives off; words: the piece
    in words; start, wanted, depth_above [°C]; at: surface or core; longest [s]; price: per kWh, None without; efficiency: of the
    supply from the mains [1], None where it is not counted; band: by how
    much the piece's resistance may be off [1], None where that is not known; cautions: what the numbers leave out, in sentences.
    """

    scenario: Scenario
    case: str
    heater: Heater
    piece: Piece
    losses: HotSurface
    words: str
    start: float
    wanted: float
    depth_above: float
    at: str
    longest: float
    price: float | None
    efficiency: float | None
    band: float | None
    cautions: tuple[str, ...]


def heat_plan(scenario: Scenario, slices: int = SLICES, cells: int = CELLS, shine: float = 0.0) -> HeatPlan:
    """What a scenario's [heat] asks for.

    slices, cells: into which the piece is cut; shine: by how much of its band the emissivity is off [1], -1 to 1. Raises
    InputError where the case has no piece by geometry and material, or what is asked is out of reach.
    """
    asked, where = scenario.tables.heat, scenario.where
    case = _case(scenario, asked, where)
    chosen = scenario.case(case)
    given = _given(chosen, case)
    heater = replace(scenario.heater(case), workpiece=None)
    piece = given.cut(heater.frequency, slices, cells)
    start = heater.ambient if asked.start is None else asked.start
    _check_reach(asked, piece, start, where)
    metal = piece.heat.metals[-1]
    around = _surroundings(chosen.tables, given, heater, metal, shine, where)
    losses = hot_surface(around, piece.cuts, highest_c=_hottest(piece), area=given.surface)
    return HeatPlan(
        scenario,
        case,
        heater,
        piece,
        losses,
        _words(given, chosen.tables, case),
        start,
        asked.wanted,
        asked.wanted if asked.depth_above is None else asked.depth_above,
        asked.at,
        asked.longest,
        asked.price_per_kwh,
        asked.supply_efficiency,
        given.band,
        tuple(_cautions(given, asked, metal)),
    )


def _hottest(piece: Piece) -> float:
    """Surface temperature [°C] that losses are told up to: somewhat more than the data of its material."""
    return float(min(piece.highest_c + 200.0, HIGHEST_SURFACE))


def _case(scenario: Scenario, asked: HeatTable, where: Where) -> str:
    if asked.case in scenario.cases:
        return asked.case
    raise InputError.single(where("heat", "case"), "has no such case", asked.case, ", ".join(scenario.cases))


def _given(scenario: Scenario, case: str) -> GivenPiece:
    """The piece of the case; InputError where it is not given by geometry, or known cold only."""
    at = partial(scenario.where, "case", case, "workpiece")
    table = scenario.tables.case[case].workpiece
    allowed = f"diameter, length and material of the piece under [case.{case}.workpiece], and turns, diameter and length of [coil]"
    if table is None:
        raise InputError.single(at(), "has nothing to be heated", allowed=allowed)
    if table.measured is not None:
        fault = "is known by what the coil measures with it in, and not by its size and material"
        raise InputError.single(at("measured"), fault, allowed=allowed)
    known = catalogue_with(scenario.tables.heater.catalogue, scenario.folder, scenario.where("heater", "catalogue"))
    given = given_piece(table, scenario.tables.coil, known, at)
    if any(layer.hot is None for layer, _ in given.layers):
        fault = "has no course over temperature: resistivity, specific heat, conductivity"
        raise InputError.single(at("material"), fault, allowed="a material of the catalogue, or [metal.NAME.hot] in your own")
    return given


def _check_reach(asked: HeatTable, piece: Piece, start: float, where: Where) -> None:
    """Whether what is wanted lies between where it starts and where the data end."""
    high = piece.highest_c
    for name, value in (("wanted", asked.wanted), ("depth_above", asked.depth_above)):
        if value is not None and not start < value <= high:
            allowed = f"above {start:g} °C, where it starts, up to {high:g} °C, where the data of its material end"
            raise InputError.single(where("heat", name), "is out of reach", f"{value:g} °C", allowed)


def _surroundings(
    tables: ScenarioTables, given: GivenPiece, heater: Heater, metal: HotMetal, shine: float, where: Where
) -> Surroundings:
    coil, asked = tables.coil, tables.heat
    diameter, length, _ = given.shape.coil
    own = asked.emissivity
    emissivity: Emissivity = (
        partial(_shining, metal, 1.0 + shine * metal.bands["emissivity"]) if own is None else partial(_even, own)
    )
    inside = (diameter - (coil.tube_diameter or 0.0)) / 2
    return Surroundings(
        given.shape.outer,
        inside,
        -length / 2,
        length / 2,
        coil.temperature,
        heater.ambient,
        asked.coil_emissivity,
        emissivity,
        _sleeve(asked, 2 * given.shape.outer, 2 * inside, where),
    )


def _sleeve(asked: HeatTable, piece: float, coil: float, where: Where) -> Lining | None:
    """The sleeve that is asked for, None without; InputError unless it fits between the diameters [m] of piece and coil."""
    inner, outer = asked.sleeve_inner, asked.sleeve_outer
    if inner is None and outer is None:
        return None
    if inner is None or outer is None:
        raise InputError.single(where("heat", "sleeve_inner"), "goes together with sleeve_outer", allowed="both or neither")
    for name, value, low, high in (("sleeve_outer", outer, piece, coil), ("sleeve_inner", inner, piece, outer)):
        if not low < value < high:
            allowed = f"above {1e3 * low:.4g} mm and below {1e3 * high:.4g} mm: between piece and coil, inner below outer"
            raise InputError.single(where("heat", name), "does not fit", f"{1e3 * value:.4g} mm", allowed)
    return Lining(inner / 2, outer / 2, asked.sleeve_conductivity)


def _shining(metal: HotMetal, factor: float, celsius: Array) -> Array:
    """Emissivity [1] of a metal, more or less of it, 1 at most."""
    return np.minimum(factor * np.asarray(metal.emissivity(celsius)), 1.0)


def _even(value: float, celsius: Array) -> Array:
    return np.full_like(np.asarray(celsius, dtype=float), value)


def _words(given: GivenPiece, tables: ScenarioTables, case: str) -> str:
    """The piece in words: what it is of, its sizes, how it fills the coil."""
    table = tables.case[case].workpiece
    assert table is not None
    shape = given.shape
    size = f"{2e3 * shape.outer:.4g} mm x {1e3 * shape.length:g} mm"
    what = f"{table.material or 'bar'} {'tube' if table.bore else 'bar'}, {size}"
    if given.name:
        what = f"{table.material or 'bar'}, {given.name} of {size}"
    if table.charge is not None:
        what = f"{table.material} crucible, {size}, bore {1e3 * (table.bore or 0):g} mm, filled with {table.charge.material}"
    elif table.bore:
        what += f", bore {1e3 * table.bore:g} mm"
    off = f", {1e3 * abs(shape.offset):g} mm off the coil's middle" if shape.offset else ""
    return f"{what}, in a coil of {1e3 * shape.coil[0]:g} mm x {1e3 * shape.coil[1]:g} mm{off}"


def _cautions(given: GivenPiece, asked: HeatTable, metal: HotMetal) -> list[str]:
    """What the numbers leave out."""
    told = [
        "The resistance of the piece, and the power with it, may be off "
        + ("by an amount that is not known." if given.band is None else f"by up to {100 * given.band:.0f} %."),
        "Scale, expansion and heat of melting are left out; nothing touches the piece.",
    ]
    if given.name:
        told.append(
            "An angle heats at its edges and its root otherwise than a round bar; only its whole is told. Legs thinner than 1.5 "
            "skin depths, as of hot steel, take up to a quarter less than that."
        )
    told += [f"{given.doubt[0].upper()}{given.doubt[1:]}."] if given.doubt else []
    if asked.emissivity is None:
        told.append(
            f"Emissivity as of {metal.condition} {given.words.split(' (')[0]} (heat.emissivity); it decides the end of a heat."
        )
    return told
