# SPDX-License-Identifier: GPL-3.0-or-later
"""Fitted quantities of a heater that was read, and the scenario file with them in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.written import with_fields
from heatsim.studies.match.cure import fitted_fields
from heatsim.studies.match.estimates import Derived, Row, derived_quantities, row_of_logarithm, tied_pairs
from heatsim.studies.match.fitted import INTERVALS, interval_lines
from heatsim.studies.match.readings.unknowns import Bench
from heatsim.studies.match.result import CorrelatedPair, FittedQuantity
from heatsim.waves import Array

MOVED = 0.05
"""Step of an unknown, in standard deviations, by which slopes of quantities are taken; no simulation is needed."""

OF_A_CASE = ("tank.quality_ratio", "coil.inductance_h", "coil.resistance_ohm")
"""Quantities that differ between the cases."""

NO_INTERVALS = "No intervals are given: no heater of this scenario gives these readings."


def quantities(
    bench: Bench, scenario: Scenario, t: Array, covariance: Array
) -> tuple[tuple[FittedQuantity, ...], tuple[CorrelatedPair, ...]]:
    """Of the heater at unknowns t, those of the tank for each case that was read; and which are tied."""
    rows: list[Row] = []
    cases = list(dict.fromkeys(each.case for each in bench.conditions))
    for number, case in enumerate(cases):
        own = scenario.heater(case)
        for quantity in derived_quantities(own):
            if quantity[0] in OF_A_CASE or number == 0:
                rows += _row(bench, own, _named(quantity, case if len(cases) > 1 else None), t, covariance)
    rows = [row for row in rows if row[0].low < row[0].high]
    return tuple(quantity for quantity, _ in rows), tied_pairs(rows, covariance, np.ones(t.size))


def _named(quantity: Derived, case: str | None) -> Derived:
    key, label, unit, of = quantity
    label = label.removesuffix(" as loaded").replace("Q of the loaded tank", "Q of the tank")
    if key not in OF_A_CASE or case is None:
        return key, label, unit, of
    return f"case.{case}.{key}", f"{label}, {case}", unit, of


def _row(bench: Bench, own: Heater, quantity: Derived, t: Array, covariance: Array) -> Iterator[Row]:
    """A quantity with its slopes, where it is positive and has some."""
    key, label, unit, of = quantity
    moved = [bench.changed(own, t), *(bench.changed(own, t + MOVED * each) for each in np.eye(t.size))]
    values = [of(heater) or 0.0 for heater in moved]
    if min(values) > 0:
        slopes = np.log(np.array(values[1:]) / values[0]) / MOVED
        yield row_of_logarithm(key, label, values[0], unit, of(own), slopes, covariance, np.ones(t.size))


def fitted_text(
    scenario: Scenario,
    bench: Bench,
    t: Array,
    estimates: Sequence[FittedQuantity],
    tied: Sequence[CorrelatedPair],
    consistent: bool,
) -> str:
    """The scenario's file with the fitted values, their intervals as comments on top; at its own supply voltage, as far as the
    readings leave that."""
    fields: dict[str, Any] = {}
    for case in dict.fromkeys(each.case for each in bench.conditions):
        fields |= fitted_fields(scenario, case, bench.changed(scenario.heater(case), t))
    heading = "Fitted to meter readings" if consistent else "Nearest fit to meter readings that this scenario does not explain"
    errors = [INTERVALS.format("readings tell"), *interval_lines(estimates, tied)] if consistent else [NO_INTERVALS]
    return with_fields(scenario, fields, "\n".join([heading, *errors]))
