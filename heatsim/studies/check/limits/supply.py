# SPDX-License-Identifier: GPL-3.0-or-later
"""The limit of the supply: its current."""

from __future__ import annotations

from heatsim.studies.check.limits.base import JudgedCase
from heatsim.verdict import Limit


def mean_current(case: JudgedCase) -> Limit:
    """Mean supply current against the supply's rating or, where that is less, its current limit."""
    key, rating, limit = "supply.mean_current_a", case.heater.supply.current_rating, case.heater.supply.limit
    if limit is not None:
        rating = min(rating or limit.current, limit.current)
    remedy = (
        "Lower the supply voltage, or use a stronger supply."
        if rating
        else "Give the supply's current rating (supply.current_rating)."
    )
    cause = "The load draws more than the supply can give: the tank's loss resistance sets the current."
    return Limit("supply", "mean current", key, rating, "A", "rating", cause=cause, remedy=remedy)
