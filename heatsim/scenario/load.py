# SPDX-License-Identifier: GPL-3.0-or-later
"""Work coil and workpiece of a case from their tables, at the frequency and the current they will work at. No physics."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import cast

from heatsim.errors import InputError
from heatsim.parts.catalogue import Catalogue
from heatsim.parts.heater import Heater
from heatsim.parts.tank import Helix, WorkCoil, Workpiece, tube_resistance
from heatsim.physics.coil import parallel_leads_crowding, parallel_leads_inductance
from heatsim.physics.eddy import steel_reflection, workpiece_reflection
from heatsim.physics.inductance import solenoid_inductance
from heatsim.physics.saturable import loss_permeability
from heatsim.physics.stage import resonant_frequency
from heatsim.quantity import format_quantity
from heatsim.scenario.schema import CoilTable, WorkpieceTable
from heatsim.scenario.source import Where


def work_coil(table: CoilTable, capacitance: float, bank_inductance: float, where: Where) -> tuple[WorkCoil, float]:
    """The empty coil with its leads, and the frequency [Hz] it resonates at, where its values are taken.

    capacitance [F] and bank_inductance [H]: of the capacitor bank
    """
    _check_leads(table, where)
    if table.measured:
        frequency = float(resonant_frequency(table.measured.inductance, capacitance))
        leads = _leads(table, frequency)
        return WorkCoil(table.measured.inductance, table.measured.resistance, *leads, "measured", _lead_words(table)), frequency
    coil, inductance, frequency = _helix(table, where), 0.0, 0.0
    found = solenoid_inductance(coil.diameter, coil.length, coil.turns, coil.tube), 0.0, ""
    for _ in range(20):
        if abs(found[0] - inductance) <= 1e-6 * found[0]:
            break
        inductance = found[0]
        loop = inductance + _leads(table, frequency or 1e5)[0] + bank_inductance
        frequency = float(resonant_frequency(loop, capacitance))
        found = coil.impedance(frequency, table.temperature)
    of_leads, words = _lead_words(table), "its current crowding to the inside of the turns"
    cautions = [f"Of the work coil, {of_leads}."] if "not given" in of_leads else []
    if found[2]:
        words = f"as if its current filled the tube ({found[2]})"
        cautions += [
            f"The work coil is computed {words}: its inductance may be 20 % too high, its resistance off by half. Measure the coil."
        ]
    origin = f"computed from its geometry at {format_quantity(frequency, 'Hz', 3)}, {words}; {of_leads}"
    return WorkCoil(found[0], found[1], *_leads(table, frequency), "estimate", origin, tuple(cautions)), frequency


def _helix(table: CoilTable, where: Where) -> Helix:
    parts = (table.turns, table.diameter, table.length, table.tube_diameter, table.tube_wall)
    if None in parts:
        allowed = "either [coil.measured] or all of turns, diameter, length, tube_diameter and tube_wall"
        raise InputError.single(where("coil"), "is given neither by measurement nor by geometry", allowed=allowed)
    coil = Helix(*cast(tuple[float, float, float, float, float], parts))
    if coil.tube > min(coil.length / coil.turns, coil.diameter) or 2 * coil.wall >= coil.tube:
        low, high = 2e3 * coil.wall, 1e3 * min(coil.length / coil.turns, coil.diameter)
        allowed = f"above {low:.3g} mm, twice tube_wall, up to {high:.3g} mm, the lesser of length/turns and diameter"
        raise InputError.single(where("coil", "tube_diameter"), "does not fit", f"{1e3 * coil.tube:g} mm", allowed)
    return coil


def _check_leads(table: CoilTable, where: Where) -> None:
    length, spacing, tube, wall = table.lead_length, table.lead_spacing, table.tube_diameter, table.tube_wall
    if length is None and spacing is None:
        return
    if length is None or spacing is None:
        raise InputError.single(where("coil", "lead_length"), "goes together with lead_spacing", allowed="both or neither")
    if "lead_inductance" in table.model_fields_set:
        fault = "goes without lead_length and lead_spacing, from which it is computed"
        raise InputError.single(where("coil", "lead_inductance"), fault, allowed="either of them")
    if tube is None or wall is None or 2 * wall >= tube:
        fault = "needs tube_diameter and tube_wall, of which the leads are"
        raise InputError.single(where("coil", "lead_length"), fault, allowed="both, tube_wall below half of tube_diameter")
    if not tube < spacing <= length:
        allowed = f"above tube_diameter, {1e3 * tube:.4g} mm, up to lead_length, {1e3 * length:.4g} mm"
        raise InputError.single(where("coil", "lead_spacing"), "does not fit", f"{1e3 * spacing:.4g} mm", allowed)


def _leads(table: CoilTable, frequency: float) -> tuple[float, float]:
    """Inductance [H] and resistance [ohm] of the leads: given, or from their dimensions, or the defaults."""
    if table.lead_length is None or table.lead_spacing is None or table.tube_diameter is None or table.tube_wall is None:
        return table.lead_inductance, table.lead_resistance
    tube, spacing = table.tube_diameter, table.lead_spacing
    inductance = parallel_leads_inductance(table.lead_length, spacing, tube)
    if "lead_resistance" in table.model_fields_set:
        return inductance, table.lead_resistance
    each = table.lead_length * tube_resistance(tube, table.tube_wall, frequency, table.temperature)
    return inductance, 2 * each * parallel_leads_crowding(spacing, tube)


def _lead_words(table: CoilTable) -> str:
    if table.lead_length is not None:
        return "leads computed from their length and spacing, joints not counted"
    inductance, resistance = format_quantity(table.lead_inductance, "H", 3), format_quantity(table.lead_resistance, "ohm", 3)
    values = {"lead_inductance": inductance, "lead_resistance": resistance}
    assumed = [text for name, text in values.items() if name not in table.model_fields_set]
    return f"leads not given, {' and '.join(assumed)} assumed" if assumed else "leads as given"


MODEL_BAND, SHORT_BAND, CURVE_BAND = 0.14, 0.40, 0.15
"""By how much the resistance that a bar brings in may be off [1]: by the model of a bar in a coil, more for one shorter than
thick and whose permeability does not follow the field; and by the curve of steel (5 % from its linearisation, the rest between
the three published curves)."""


@dataclass(frozen=True)
class _Bar:
    """A bar as the tables give it, with its material's values where the table has none; mu: None for a steel with a curve."""

    size: tuple[float, float]
    coil: tuple[float, float, float]
    resistivity: float
    mu: float | None
    curve: str
    words: str
    band: float | None
    doubt: str


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
        whole = _settled(_bar(table, coil, known, where), heater)
    if whole.resistance <= heater.coil.resistance:
        given, allowed = f"{1e3 * whole.resistance:.4g} mohm", f"above {1e3 * heater.coil.resistance:.4g} mohm"
        fault = "the coil must have more resistance with the workpiece in than without it"
        raise InputError.single(where(), fault, given, allowed)
    return whole.share(heater.coil, table.share) if table.share > 0 else None


def _bar(table: WorkpieceTable, coil: CoilTable, known: Catalogue, where: Where) -> _Bar:
    """A round bar in a coil given by geometry."""
    metal = known.metal(table.material, where("material")) if table.material is not None else None
    resistivity = table.resistivity or (metal.resistivity if metal else None)
    sizes = (table.diameter, table.length, coil.diameter, coil.length, coil.turns)
    if None in sizes or resistivity is None:
        allowed = (
            "[.measured], or diameter, length and material (or resistivity and permeability) of the bar and turns, diameter and "
            "length of the coil"
        )
        raise InputError.single(where(), "is given neither by measurement nor by geometry", allowed=allowed)
    diameter, length, *helix = cast(tuple[float, ...], sizes)
    inside = helix[0] - (coil.tube_diameter or 0.0)
    if diameter >= inside:
        raise InputError.single(
            where("diameter"), "does not fit the coil", f"{1e3 * diameter:g} mm", f"below {1e3 * inside:.4g} mm"
        )
    curve = metal.curve if metal and table.permeability is None else None
    mu = table.permeability or (metal.permeability if metal else None)
    band = MODEL_BAND + (CURVE_BAND if curve else 0.0)
    band += metal.resistivity_band / 2 if metal and table.resistivity is None else 0.0
    band += metal.permeability_band / 2 if metal and table.permeability is None else 0.0
    words = f"{metal.name} ({metal.provenance}: {metal.source})" if metal else "resistivity as given"
    doubt = _doubt(diameter / 2, length, helix[0] / 2, table.permeability is None and metal is None)
    size, shape = (diameter / 2, length), cast(tuple[float, float, float], tuple(helix))
    return _Bar(size, shape, resistivity, mu or (None if curve else 1.0), curve or "", words, None if doubt else band, doubt)


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


def _settled(bar: _Bar, heater: Heater) -> Workpiece:
    """The bar at the frequency and in the current of the tank that has it in: iterated until both stand.

    Where that does not come to rest of itself, half a step is taken at a time.
    """
    piece = _at(bar, heater)
    for number in range(60):
        found = _at(bar, replace(heater, workpiece=piece))
        if abs(found.resistance - piece.resistance) < 1e-7 * found.resistance:
            return found
        step = 1.0 if number < 20 else 0.5
        inductance = piece.inductance + step * (found.inductance - piece.inductance)
        piece = replace(found, inductance=inductance, resistance=piece.resistance + step * (found.resistance - piece.resistance))
    raise InputError.single("", "has no settled state in this tank", allowed="another coil or capacitance, or a permeability")


def _at(bar: _Bar, heater: Heater) -> Workpiece:
    """The bar at the frequency and in the current of a tank."""
    coil, frequency, field, current = heater.coil, heater.frequency, None, None
    if bar.mu is not None:
        mu, added = bar.mu, workpiece_reflection(bar.coil, bar.size, bar.resistivity, bar.mu, frequency)
        words = f"permeability {mu:.4g}"
    else:
        current = coil_current(heater)
        found = steel_reflection(bar.coil, bar.size, bar.resistivity, bar.curve, frequency, current)
        added, field, mu = found.reflection, found.field, loss_permeability(found.permeability)
        words = f"permeability {mu:.3g} in {field / 1e3:.3g} kA/m (peak) at its surface, after the curve of {bar.curve}"
    band = "by an amount that is not known" if bar.band is None else f"by up to {100 * bar.band:.0f} %"
    origin = f"computed from its geometry: {bar.words}; {words}; its resistance, and the power with it, may be off {band}"
    basis = "unknown" if bar.doubt else "estimate"
    shape = (coil.inductance + added.inductance_change, coil.resistance + added.resistance)
    return Workpiece(*shape, basis, origin, mu, field, current, bar.band, bar.doubt)


def coil_current(heater: Heater) -> float:
    """Amplitude of the coil's current [A] that a heater is expected to have.

    The ideal stage's pi Vdc across coil and leads, Vdc less the drop that its supply current leaves in supply, chokes and switches.
    """
    inductance, resistance = heater.loaded_inductance, heater.loaded_resistance
    across = inductance / (heater.capacitors.capacitance * resistance)
    chokes = sum(choke.resistance for choke in heater.chokes) / len(heater.chokes) ** 2
    drop = heater.supply.resistance + chokes + heater.switch.on_resistance / heater.switch.count
    voltage = heater.supply.voltage / (1 + drop * math.pi**2 / (2 * across))
    return math.pi * voltage / math.hypot(2 * math.pi * heater.frequency * inductance, resistance)
