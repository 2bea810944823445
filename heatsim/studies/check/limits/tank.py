# SPDX-License-Identifier: GPL-3.0-or-later
"""The limit of the tank: distortion of its voltage."""

from __future__ import annotations

from heatsim.studies.check.limits.base import JudgedCase
from heatsim.verdict import Limit


def distortion(case: JudgedCase) -> Limit:
    """Total harmonic distortion of the tank voltage against the scenario's own limit."""
    return Limit(
        "tank",
        "distortion of the tank voltage",
        "tank.thd_ratio",
        case.limits.thd,
        "ratio",
        "builder",
        cause="Choke ripple and a low Q put harmonics into the tank voltage.",
        remedy="Raise the tank's Q: fewer capacitors (the frequency rises), a lighter load, or a coil that fits the workpiece less "
        "closely.",
    )
