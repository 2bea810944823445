# SPDX-License-Identifier: GPL-3.0-or-later
"""Heaters built of parts within their tolerances: how parts lie in their bands, their values, and the cases they bear on."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from typing import Literal

import numpy as np

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points.vary import LOAD, Band, Field, own_values
from heatsim.waves import Array

Law = Literal["uniform", "normal"]
"""How parts lie in a tolerance band: evenly, or normally with the band as three standard deviations."""

DIGITS = 7
"""Of a value in a band."""


def drawn_offsets(fields: int, count: int, seed: int, law: Law) -> Array:
    """Scrambled Sobol points as offsets in units of each band's half width, shape (count, fields).

    More of one seed are the same ones and more. Raises InputError for a seed below 0.
    """
    from scipy.stats import norm, qmc

    if seed < 0:
        raise InputError.single("seed", "is out of range", seed, "a whole number from 0")
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="The balance properties of Sobol")
        unit = qmc.Sobol(fields, scramble=True, rng=seed).random(count)
    return np.asarray(norm.ppf(np.clip(unit, 1e-9, 1 - 1e-9)) / 3 if law == "normal" else 2 * unit - 1)


def nominal_value(scenario: Scenario, case: str, field: Field) -> float:
    """What the scenario says a field is in a case [SI]. Raises InputError where it says nothing, or two things."""
    found = own_values(scenario, field, case)
    place = f"tolerance of {field.path}"
    if len(set(found.values())) > 1:
        raise InputError.single(place, "differs from side to side", allowed=f"one each for {' and '.join(found)}")
    nominal = next(iter(found.values()))
    if nominal is None:
        raise InputError.single(place, "has no value in this scenario", allowed="set it there first")
    return nominal


def value_in(band: Band, nominal: float, offset: float) -> float:
    """Value [SI] of a field at an offset in units of its band's half width, to DIGITS."""
    return float(f"{nominal + band.half_width(nominal) * offset:.{DIGITS}g}")


def bearing_cases(scenario: Scenario, wanted: Sequence[str] | None, fields: Sequence[Field]) -> tuple[str, ...]:
    """Cases for which fields are varied: those named, else all that every field applies to; InputError where one does not."""
    for name in wanted or ():
        scenario.case(name)
    bearing = [name for name in scenario.cases if all(_applies(scenario, field, name) for field in fields)]
    names = ", ".join(field.path for field in fields)
    if not bearing:
        raise InputError.single(f"axis {names}", "applies to no case", allowed="load needs a case with a workpiece")
    for name in wanted or ():
        if name not in bearing:
            raise InputError.single(f"axis {names}", "does not apply to this case", name, ", ".join(bearing))
    return tuple(dict.fromkeys(wanted)) if wanted else tuple(bearing)


def _applies(scenario: Scenario, field: Field, case: str) -> bool:
    """Whether a field means anything for a case: load needs a workpiece, a case's own fields that case."""
    if field.path == LOAD:
        return scenario.tables.case[case].workpiece is not None
    path = field.path.split(".")
    return path[0] != "case" or path[1] == case
