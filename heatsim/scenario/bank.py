# SPDX-License-Identifier: GPL-3.0-or-later
"""From [capacitors.rails] to a part, with the checks that need more than one field. No physics."""

from __future__ import annotations

from itertools import pairwise

from heatsim.parts.rails import FacingBars, MeasuredSegment, Rails
from heatsim.physics.bars import THICKEST
from heatsim.scenario.problems import refuse
from heatsim.scenario.schema import CapacitorsTable, RailsTable
from heatsim.scenario.source import Where

MEASURED, GEOMETRY = ("segment_inductance", "segment_resistance"), ("pitch", "width", "thickness", "spacing")
HERE = ("capacitors", "rails")
EITHER = f"either {' and '.join(MEASURED)}, or {', '.join(GEOMETRY[:-1])} and {GEOMETRY[-1]}"


def rails_of(capacitors: CapacitorsTable, where: Where) -> Rails | None:
    """The bars of the bank, None where the scenario has none; InputError when fields contradict one another."""
    table = capacitors.rails
    if table is None:
        return None
    given = {name for name in (*MEASURED, *GEOMETRY) if getattr(table, name) is not None}
    whole = given in (set(MEASURED), set(GEOMETRY))
    falling = any(one[0] >= other[0] for one, other in pairwise(table.rating or ()))
    twice = table.rating is not None and capacitors.current_rating is not None
    rising = "frequencies that rise, each named once"
    faults = (
        (not whole, HERE, "does not give the bars' segment in one way", ", ".join(sorted(given)), EITHER),
        (falling, (*HERE, "rating"), "is not in order", "", rising),
        (twice, (*HERE, "rating"), "goes without capacitors.current_rating", "", "either of them"),
    )
    refuse(where, faults)
    return Rails(
        table.coil_connection,
        table.drain_connection,
        _segment(table, where),
        table.own_inductance,
        table.in_series,
        table.tolerance,
        tuple(table.rating or ()),
        table.thermal_resistance,
        table.temperature_limit,
    )


def _segment(table: RailsTable, where: Where) -> MeasuredSegment | FacingBars:
    if table.segment_inductance is not None and table.segment_resistance is not None:
        return MeasuredSegment(table.segment_inductance, table.segment_resistance)
    pitch, width, thickness, spacing = (getattr(table, name) for name in GEOMETRY)
    most = min(width, THICKEST * spacing)
    fault, allowed = "is too much for the formula of the bars", f"up to width and {THICKEST:g} times spacing, {1e3 * most:.4g} mm"
    refuse(where, [(thickness > most, (*HERE, "thickness"), fault, f"{1e3 * thickness:.4g} mm", allowed)])
    return FacingBars(pitch, width, thickness, spacing, table.temperature)
