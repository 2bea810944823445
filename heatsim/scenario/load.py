# SPDX-License-Identifier: GPL-3.0-or-later
"""The work coil from its table, at the frequency it will work at. No physics."""

from __future__ import annotations

from typing import cast

from heatsim.errors import InputError
from heatsim.parts.tank import Helix, WorkCoil, tube_resistance
from heatsim.physics.coil import parallel_leads_crowding, parallel_leads_inductance
from heatsim.physics.inductance import solenoid_inductance
from heatsim.physics.stage import resonant_frequency
from heatsim.quantity import format_quantity
from heatsim.scenario.schema import CoilTable
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
