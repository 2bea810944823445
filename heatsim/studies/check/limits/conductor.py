# SPDX-License-Identifier: GPL-3.0-or-later
"""The limit of each conductor: its temperature; and what is to be told of those that carry the tank's current."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.parts.conductor import Conductor, Joint
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.studies.check.limits.base import JudgedCase, Measures
from heatsim.verdict import Limit


def temperature(case: JudgedCase, each: Conductor | Joint) -> Limit:
    """Temperature in a steady state against the one allowed in the scenario."""
    part = f"conductor.{each.key}"
    if isinstance(each, Joint):
        cause = f"Its contact of {format_quantity(each.resistance, 'ohm')} heats it."
        remedy = "Clean the faces, use more or larger bolts and spring washers, and measure the joint under current."
        unknown = "" if each.bars else "the bars that carry the joint's heat away are not known"
        settle = "" if each.bars else f'Give width and thickness of conductor "{each.name}".'
    else:
        needed = case.measures.get(f"{part}.area_needed_m2")
        cause = f"{format_quantity(each.area, 'm2')} of copper is too little for {_amperes(case, part)}."
        remedy = "Use more copper, shorten it, or blow air over it."
        if isinstance(needed, float):
            what = "section" if each.kind == "cable" else "width at the same thickness"
            remedy = f"Use {format_quantity(needed, 'm2')} of copper or more, by its {what}, or blow air over it."
        unknown = settle = ""
    key, name = f"{part}.temperature_c", "temperature"
    basis = "unknown" if unknown else "estimate"
    allowed = None if unknown else each.limit
    return Limit(part, name, key, allowed, "°C", basis, cause=cause, remedy=remedy, unknown=unknown, settle=settle)


def _amperes(case: JudgedCase, part: str) -> str:
    return f"{format_quantity(case.number(f'{part}.rms_current_a'), 'A')} rms"


def conductor_cautions(heater: Heater, measures: Measures) -> Iterator[str]:
    """Temperatures that hold only by the middle of their band, and leads that are less than what they are made of."""
    for each in heater.conductors:
        warm, high = (measures.get(f"conductor.{each.key}.temperature{name}_c") for name in ("", "_high"))
        if isinstance(warm, float) and isinstance(high, float) and warm <= each.limit < high:
            yield (
                f"Conductor {each.name} holds only by the middle of what is known of its cooling and resistance: at worst it comes "
                f"to {format_quantity(high, '°C')}, above the {format_quantity(each.limit, '°C')} allowed."
            )
    parts = [f"conductor.{each.key}" for each in heater.conductors if each.carries == "tank"]
    tank = [measures.get(f"{part}.resistance_tank_ohm") for part in parts]
    together, given = sum(each for each in tank if isinstance(each, float)), heater.coil.lead_resistance
    if together > 1.05 * given:
        yield (
            f"The conductors that carry the tank current add up to {format_quantity(together, 'ohm')}, the leads were simulated "
            f"with {format_quantity(given, 'ohm')}: give coil.lead_resistance at least what they are made of."
        )
