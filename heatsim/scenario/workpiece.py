# SPDX-License-Identifier: GPL-3.0-or-later
"""The workpiece of a case from its table, at the frequency and the current it will work at. No physics."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from heatsim.errors import InputError
from heatsim.parts.catalogue import Catalogue
from heatsim.parts.heater import Heater
from heatsim.parts.materials import Metal
from heatsim.parts.piece import Correction, Piece, PieceField, PieceShape, Substance, cut
from heatsim.parts.tank import Workpiece
from heatsim.physics.angle import EquivalentBar, equal_leg_angle
from heatsim.physics.saturable import loss_permeability, surface_permeability
from heatsim.scenario.problems import told_at
from heatsim.scenario.schema import CoilTable, WorkpieceTable
from heatsim.scenario.source import Where

MODEL_BAND, CURVE_BAND = 0.06, 0.15
"""By how much the resistance that a piece brings in may be off [1]: by the model of a piece in a coil (1.2 % against finite
volumes, 3.5 % for turns a third of the coil's diameter apart, the rest for what the slices leave out), and by the curve of steel
(5 % from its linearisation, the rest between the three published curves)."""

ANGLE_BAND = 0.21
"""The same by an angle taken as a round bar, for legs of 1.5 skin depths and more (`heatsim.physics.angle`)."""

EXACT, MOST_ROUNDS = 1e-7, 200
"""Share by which the field at the surface may still move where a heater is built, and rounds until piece and tank agree at most;
some ten are usual."""

CHECK_SLICES, CHECK_CELLS = 12, 40
"""As a piece of one temperature is cut."""


@dataclass(frozen=True)
class GivenPiece:
    """A piece as its table gives it.

    shape; layers: substances from the axis outwards, each with its outer radius [m]; celsius: temperature [°C]; words: on what its
    material rests; band: by how much its resistance may be off [1], None where that is not known; doubt: why what it does to the
    coil cannot be told, empty where it can;
    surface: factor on the area that gives heat off [1]; name: what it stands for, empty for itself
    """

    shape: PieceShape
    layers: tuple[tuple[Substance, float], ...]
    celsius: float
    words: str
    band: float | None
    doubt: str
    surface: float = 1.0
    name: str = ""

    def cut(self, frequency: float, slices: int = CHECK_SLICES, cells: int = CHECK_CELLS) -> Piece:
        """Cut for calculation at a frequency [Hz]."""
        return cut(self.shape, self.layers, frequency, slices, cells)


def build_workpiece(
    table: WorkpieceTable | None, coil: CoilTable, heater: Heater, known: Catalogue, where: Where
) -> Workpiece | None:
    """The share of the workpiece that is present; None when nothing of it is.

    heater: without it; where: turns a field of the workpiece into its place
    """
    if table is None:
        return None
    if table.measured:
        whole = Workpiece(table.measured.inductance, table.measured.resistance, "measured")
    else:
        whole = _settled(given_piece(table, coil, known, where), heater, where)
    if whole.resistance <= heater.coil.resistance:
        given, allowed = f"{1e3 * whole.resistance:.4g} mohm", f"above {1e3 * heater.coil.resistance:.4g} mohm"
        fault = "the coil must have more resistance with the workpiece in than without it"
        raise InputError.single(where(), fault, given, allowed)
    return whole.share(heater.coil, table.share) if table.share > 0 else None


def given_piece(table: WorkpieceTable, coil: CoilTable, known: Catalogue, where: Where) -> GivenPiece:
    """A round piece, or an angle as one, in a coil given by geometry; InputError where something is missing or does not fit."""
    metal = known.metal(table.material, where("material")) if table.material is not None else None
    resistivity = table.resistivity or (metal.resistivity if metal else None)
    angle = _angle(table, coil, where)
    diameter = angle.diameter if angle else table.diameter
    sizes = (diameter, table.length, coil.diameter, coil.length, coil.turns)
    if None in sizes or resistivity is None:
        allowed = (
            "[.measured], or diameter (or leg and thickness), length and material (or resistivity and permeability) of the "
            "piece and turns, diameter and length of the coil"
        )
        raise InputError.single(where(), "is given neither by measurement nor by geometry", allowed=allowed)
    diameter, length, *helix = cast(tuple[float, ...], sizes)
    if angle is None:
        _check_fit(table, diameter, helix[0] - (coil.tube_diameter or 0.0), where)
    _check_place(table, length, helix[1], where)
    shape = PieceShape(diameter / 2, (table.bore or 0.0) / 2, length, table.offset, cast(tuple[float, float, float], tuple(helix)))
    own = _substance(metal, resistivity, table.permeability, angle.diffusion if angle else 1.0)
    layers: tuple[tuple[Substance, float], ...] = ((own, diameter / 2),)
    if table.charge is not None and table.bore is not None:
        filling = known.metal(table.charge.material, where("charge", "material"))
        shape, layers = replace(shape, bore=0.0), ((_substance(filling, filling.resistivity, None), table.bore / 2), *layers)
    _check_temperature(table, [layer for layer, _ in layers], where)
    words = f"{metal.name} ({metal.provenance}: {metal.source})" if metal else "resistivity as given"
    doubt = _doubt(diameter / 2, length, helix[0] / 2, table.permeability is None and metal is None)
    band = None if doubt else _band(metal, table) + (ANGLE_BAND if angle else 0.0)
    name = f"an angle of {1e3 * (table.leg or 0):g} mm x {1e3 * (table.thickness or 0):g} mm, taken as a round bar" if angle else ""
    return GivenPiece(shape, layers, table.temperature, words, band, doubt, angle.surface if angle else 1.0, name)


def _angle(table: WorkpieceTable, coil: CoilTable, where: Where) -> EquivalentBar | None:
    """The bar that stands for an angle; None where the piece is none."""
    if table.leg is None and table.thickness is None:
        return None
    if table.leg is None or table.thickness is None:
        raise InputError.single(where("leg"), "goes together with thickness", allowed="both or neither")
    if table.diameter is not None or table.bore is not None or table.charge is not None:
        raise InputError.single(where("leg"), "goes without diameter, bore and charge", allowed="either an angle or a round piece")
    inside = (coil.diameter or math.inf) - (coil.tube_diameter or 0.0)
    if math.sqrt(2) * table.leg >= inside:
        given, allowed = f"{1e3 * table.leg:g} mm", f"below {1e3 * inside / math.sqrt(2):.4g} mm: its hypotenuse must go through"
        raise InputError.single(where("leg"), "does not fit the coil", given, allowed)
    with told_at(where("thickness")):
        return equal_leg_angle(table.leg, table.thickness)


def _substance(metal: Metal | None, resistivity: float, permeability: float | None, diffusion: float = 1.0) -> Substance:
    curve = metal.curve if metal and permeability is None else None
    mu = permeability or (metal.permeability if metal else None)
    return Substance(diffusion * resistivity, mu or (None if curve else 1.0), curve, metal.hot if metal else None, diffusion)


def _check_fit(table: WorkpieceTable, diameter: float, inside: float, where: Where) -> None:
    if diameter >= inside:
        raise InputError.single(
            where("diameter"), "does not fit the coil", f"{1e3 * diameter:g} mm", f"below {1e3 * inside:.4g} mm"
        )
    if table.bore is not None and table.bore >= 0.98 * diameter:
        given, allowed = f"{1e3 * table.bore:g} mm", f"up to {980 * diameter:.4g} mm, 0.98 of the diameter"
        raise InputError.single(where("bore"), "leaves no wall", given, allowed)
    if table.charge is not None and table.bore is None:
        raise InputError.single(where("charge"), "has nothing to lie in", allowed="a bore beside it")


def _check_place(table: WorkpieceTable, length: float, coil: float, where: Where) -> None:
    """Whether some of it is in the coil."""
    if abs(table.offset) >= (length + coil) / 2:
        allowed = f"below {500 * (length + coil):.4g} mm either way: half of bar and coil together"
        raise InputError.single(where("offset"), "leaves nothing of it in the coil", f"{1e3 * table.offset:g} mm", allowed)


def _check_temperature(table: WorkpieceTable, layers: list[Substance], where: Where) -> None:
    for each in layers:
        if table.temperature == 20.0:
            return
        if each.hot is None:
            fault = "needs a material whose course over temperature is known"
            raise InputError.single(where("temperature"), fault, f"{table.temperature:g} °C", "20 °C, or such a material")
        each.hot.state(table.temperature, where("temperature"))


def _band(metal: Metal | None, table: WorkpieceTable) -> float:
    """By how much its resistance may be off: the model's, half of the resistivity's (skin), and the curve's."""
    own = metal.resistivity_band / 2 if metal and table.resistivity is None else 0.0
    curve = metal is not None and metal.curve is not None and table.permeability is None
    magnetic = metal.permeability_band / 2 if metal and table.permeability is None else 0.0
    return MODEL_BAND + own + magnetic + (CURVE_BAND if curve else 0.0)


def _doubt(radius: float, length: float, coil: float, unstated: bool) -> str:
    """Why what the bar does to the coil cannot be told; empty when it can."""
    if unstated:
        return (
            "neither material nor permeability of the workpiece is given; it is taken as not magnetic, and steel would draw up to "
            "ten times the power"
        )
    if radius > 0.8 * coil:
        return "the bar is thicker than 0.8 of the coil, beyond the range of the model"
    return "the bar is shorter than half its thickness, beyond the range of the model" if length < radius else ""


def _settled(given: GivenPiece, heater: Heater, where: Where) -> Workpiece:
    """The piece at the frequency and in the current of the tank that has it in: iterated until both stand.

    Where it goes to and fro, half a step is taken at a time. What a field in two dimensions corrects is
    computed twice and then kept.
    """
    piece = given.cut(heater.frequency)
    celsius, found, held, seen = np.full(piece.volumes.shape, given.celsius), None, Correction.none(len(piece.cuts) - 1), heater
    step = 0.0
    for number in range(MOST_ROUNDS):
        current = seen.coil_current
        plain = piece.electric(celsius, seen.frequency, current, found, EXACT)
        if number in (0, 3):
            held = piece.even_correction(given.celsius, plain, seen.frequency)
        found, field = plain, piece.corrected(plain, current, held)
        inductance = heater.coil.inductance + field.reflection.inductance_change
        resistance = heater.coil.resistance + field.reflection.resistance
        before = seen.workpiece
        if before is not None and number > 3 and abs(resistance - before.resistance) < 1e-6 * resistance:
            return _told(given, piece, field, current, (inductance, resistance))
        if before is not None:
            last, step = step, resistance - before.resistance
            if number > 20 and step * last < 0:
                inductance, resistance = (inductance + before.inductance) / 2, (resistance + before.resistance) / 2
        seen = replace(heater, workpiece=Workpiece(inductance, resistance, "estimate"))
    raise InputError.single(where(), "has no settled state in this tank", allowed="another coil or capacitance, or a permeability")


def _told(given: GivenPiece, piece: Piece, found: PieceField, current: float, seen: tuple[float, float]) -> Workpiece:
    """The piece with what its values rest on; seen: inductance [H] and resistance [ohm] of the coil with it in."""
    if piece.curve is None:
        mu, field = given.layers[-1][0].permeability or 1.0, None
        words = f"permeability {mu:.4g}"
    else:
        heat = np.sum(found.loss * piece.volumes, axis=1)
        field = float(np.sqrt(np.sum(heat * found.surface**2) / np.sum(heat)))
        mu = _loss_permeability(given, field, piece.curve)
        words = f"permeability {mu:.3g} in {field / 1e3:.3g} kA/m (peak) at its surface, after the curve of {piece.curve}"
    band = "by an amount that is not known" if given.band is None else f"by up to {100 * given.band:.0f} %"
    hot = f" at {given.celsius:g} °C" if given.celsius != 20.0 else ""
    shape = f" ({given.name})" if given.name else ""
    taken = f"computed from its geometry{shape}{hot}: {given.words}; {words}"
    origin = f"{taken}; its resistance, and the power with it, may be off {band}"
    of_field = (field, None if field is None else current)
    return Workpiece(*seen, "unknown" if given.doubt else "estimate", origin, mu, *of_field, given.band, given.doubt)


def _loss_permeability(given: GivenPiece, field: float, curve: str) -> float:
    """Of a half-space that takes in the same power; 1 above the Curie point."""
    at = np.array([given.celsius])
    share = float(given.layers[-1][0].share(at - 1.0, at + 1.0)[0])
    cold = loss_permeability(surface_permeability(field, curve))
    return 1.0 + (cold - 1.0) * share
