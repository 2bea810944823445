# SPDX-License-Identifier: GPL-3.0-or-later
"""The limit of a run itself: its energy balance."""

from __future__ import annotations

from heatsim.studies.check.limits.base import JudgedCase
from heatsim.verdict import Limit

RUN = "run"
"""Part of findings about a simulation rather than the heater; their headroom is none of the heater's."""

ENERGY_LIMIT = 0.01
"""Largest energy imbalance [1] of a run that can be trusted."""


def energy_balance(_: JudgedCase) -> Limit:
    """Energy not accounted for, as a share of what the supplies gave."""
    return Limit(
        RUN,
        "energy balance",
        "energy.imbalance_ratio",
        ENERGY_LIMIT,
        "ratio",
        "estimate",
        wanted=0.0,
        cause="The simulated powers do not add up; its numbers cannot be trusted.",
        remedy="Raise steps_per_period in [simulate].",
    )
