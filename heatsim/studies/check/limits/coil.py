# SPDX-License-Identifier: GPL-3.0-or-later
"""The limit of the work coil: current density in its tube, where the scenario gives what it may be."""

from __future__ import annotations

import math

from heatsim.physics.conductor import copper_resistivity, skin_depth
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.verdict import Limit


def current_density(case: JudgedCase) -> Limit | None:
    """Rms coil current over the part of the tube's wall that carries it; None when the scenario asks for no limit.

    The section is a ring of the tube's outer circumference, as deep as the skin depth at the tank frequency or the wall, whichever
    is less. Crowding towards the inside of the turn is left out, so the highest density is above this mean.
    """
    coil = case.scenario.tables.coil
    if coil.current_density_rating is None:
        return None
    frequency, share, settle = case.number("tank.frequency_hz"), 1.0, ""
    unknown = ""
    if coil.tube_diameter is None or coil.tube_wall is None:
        unknown, settle = "the section of the coil's tube is not known", "Give coil.tube_diameter and coil.tube_wall."
    elif frequency > 0:
        depth = min(float(skin_depth(copper_resistivity(coil.temperature), frequency)), coil.tube_wall)
        share = math.pi * (coil.tube_diameter - depth) * depth
    return Limit(
        "coil",
        "current density in the tube, rms",
        "coil.rms_current_a",
        None if settle else coil.current_density_rating,
        "A/m2",
        "builder",
        share,
        cause="The tank's circulating current is too much for the skin of the coil's tube.",
        remedy="Use a thicker tube, more turns on the coil, or a lower supply voltage.",
        unknown=unknown,
        settle=settle,
    )
