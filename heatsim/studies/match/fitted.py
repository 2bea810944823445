# SPDX-License-Identifier: GPL-3.0-or-later
"""The fitted heater as a scenario file that carries its errors."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from heatsim.errors import InputError
from heatsim.parts.damage import SIDES
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.written import with_fields
from heatsim.studies.match.cure import fitted_fields
from heatsim.studies.match.estimates import ripple_of
from heatsim.studies.match.fit import HypothesisFit
from heatsim.studies.match.hypothesis import Dataset
from heatsim.studies.match.refinement import fitted_heater
from heatsim.studies.match.result import CauseCandidate, CorrelatedPair, FittedQuantity

INTERVALS = (
    "Fitted values with their 95 % intervals, and whether the {} the value: yes, partly, or no, where it is what the scenario and "
    "the usual spread of parts say."
)
"""Over the fitted values; "capture tells" or "readings tell"."""

ONLY_NEAREST = "No intervals are given: this heater does not explain the capture."


def fitted_text(
    scenario: Scenario,
    case: str,
    datasets: Sequence[Dataset],
    best: HypothesisFit,
    candidate: CauseCandidate,
    heading: str,
    known: bool,
) -> str:
    """The fitted scenario's file, with the errors of what was fitted as comments on top.

    candidate: whose estimates these are; known: whether it explains the captures
    """
    heater = fitted_heater(datasets, best, 0)
    fields = fitted_fields(scenario, case, heater)
    for each in ripple_of(datasets, best):
        name = "supply.ripple" if each.unit == "V" else "supply.ripple_frequency"
        fields[name] = format_quantity(each.value, each.unit, 4)
    errors = (
        [INTERVALS.format("capture tells"), *interval_lines(candidate.estimates, candidate.tied)]
        if known and candidate.estimates
        else [ONLY_NEAREST]
    )
    return with_fields(scenario, fields, "\n".join([heading, *errors, *not_in_the_file(heater)]))


WITHOUT = "Not in this file, since a scenario has no field for it, and so not in a check of it:"


def not_in_the_file(heater: Heater) -> tuple[str, ...]:
    """Lines on the damage that a scenario file cannot hold, none where there is none."""
    damage, found = heater.damage, []
    for side, gone, drain, clamp in zip(SIDES, damage.open_devices, damage.drain_leakage, damage.clamp_leakage, strict=True):
        found += [f"{gone} of {heater.switch.count} devices of the {side} bank open"] if gone else []
        found += [f"a leak of {format_quantity(1 / drain, 'ohm', 3)} from the {side} drain to ground"] if drain else []
        found += [f"a leak of {format_quantity(1 / clamp, 'ohm', 3)} in the clamp of the {side} gates"] if clamp else []
    found += [] if damage.clamps else ["no clamps at the gates"]
    if damage.contact_drop:
        found.append(f"an oxide film in the tank's leads that drops {format_quantity(damage.contact_drop, 'V', 3)}")
    if damage.voltage_coefficient:
        lost = 1 - 1 / damage.stiffness(math.pi * heater.supply.voltage)
        found.append(f"a bank that loses {100 * lost:.3g} % of its capacitance at the tank's peak")
    if damage.coil_capacitance:
        found.append(f"{format_quantity(damage.coil_capacitance, 'F', 3)} across the coil, behind its leads")
    if damage.steel is not None:
        found.append(f"a workpiece whose flux gives way at some {format_quantity(damage.steel.knee, 'A', 3)}")
    if damage.choke_coupling:
        way = "adding" if damage.choke_coupling > 0 else "opposing"
        found.append(f"feed chokes that couple by {100 * abs(damage.choke_coupling):.3g} %, {way}")
    return (WITHOUT, *(f"  {each}" for each in found)) if found else ()


def interval_lines(estimates: Sequence[FittedQuantity], tied_pairs: Sequence[CorrelatedPair]) -> Iterator[str]:
    """One line a fitted quantity, then those that are tied together."""
    for each in estimates:
        yield f"  {each.label}: {_interval(each)}, {each.told}"
    labels = {each.key: each.label for each in estimates}
    for tied in tied_pairs:
        names = " and ".join(f"({labels.get(key, key)})" for key in tied.keys)
        yield f"  Only a combination of {names} is known: correlation {tied.correlation:+.2f}."


def _interval(each: FittedQuantity) -> str:
    value, low, high = (format_quantity(x, each.unit, 4).strip() for x in (each.value, each.low, each.high))
    return f"{value} ({low} to {high})"


def built(scenario: Scenario, text: str) -> Scenario | None:
    """A fitted scenario of its text; None where it cannot be built in every case, or lacks what is wrong."""
    if WITHOUT in text:
        return None
    try:
        found = Scenario.from_text(text, scenario.label, scenario.folder)
        for case in found.cases:
            found.heater(case)
    except InputError:
        return None
    return found
