# SPDX-License-Identifier: GPL-3.0-or-later
"""The limits of the workpiece: whether what it was taken for can be told, and whether it fits the current that was found."""

from __future__ import annotations

from dataclasses import replace

from heatsim.parts.heater import Heater
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.verdict import Limit

FIELD_DEPARTURE = 0.2
"""Share [1] by which the field at the workpiece may differ from the one its permeability belongs to: resistance goes with the
square root of the permeability, and that with the inverse of the field, so it is then off by a tenth."""

LOAD_FREE = ("energy.imbalance_ratio", "copper_fill_ratio", "hole_left_m")
"""Ends of the keys of limits that no load changes."""


def material(case: JudgedCase) -> Limit | None:
    """Whether the workpiece is known well enough to be simulated; only where it is not."""
    piece = case.heater.workpiece
    if piece is None or not piece.doubt:
        return None
    return Limit(
        "workpiece",
        "material",
        "workpiece.permeability_ratio",
        None,
        "ratio",
        "unknown",
        unknown=piece.doubt,
        settle="Give material or permeability of the workpiece, or measure the coil with it in ([case.NAME.workpiece.measured]).",
    )


def field(case: JudgedCase) -> Limit | None:
    """The field of the simulated current against the one that the permeability of the steel belongs to."""
    piece = case.heater.workpiece
    if piece is None or piece.field is None or piece.doubt:
        return None
    return Limit(
        "workpiece",
        "field against the one its permeability is for",
        "workpiece.field_departure_ratio",
        FIELD_DEPARTURE,
        "ratio",
        "estimate",
        wanted=0.0,
        cause="The coil current is not the one the steel's permeability was taken at, so the load is a different one.",
        remedy="Give the permeability of the workpiece at the field found, or measure the coil with it in.",
    )


def rests_on_load(heater: Heater, limit: Limit) -> Limit:
    """A limit with the basis `estimate` where the load is one and all else is better known."""
    piece = heater.workpiece
    if (
        piece is None
        or piece.basis == "measured"
        or limit.key.endswith(LOAD_FREE)
        or limit.basis in ("memory", "estimate", "unknown")
    ):
        return limit
    return replace(limit, basis="estimate")
