# SPDX-License-Identifier: GPL-3.0-or-later
"""How much of the work of a heat is done when the piece is so warm.

The work: states to be simulated, which lie evenly along the way of the coil's resistance and inductance, and steps between them.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from heatsim.parts.tank import Workpiece
from heatsim.physics.numeric import FloatArray as Array
from heatsim.scenario.heat import HeatPlan
from heatsim.studies.heat.course import SPACING
from heatsim.studies.heat.responses import distance

EVEN = 6
"""Temperatures from start to wanted at which the load is looked at, beside those round the Curie point."""

ROUND_CURIE = (-60.0, -20.0, 0.0, 20.0, 60.0)
"""Where else, from the Curie point [K]: there the load changes most."""

STEPS = 5.0
"""States that take as long to simulate as all steps from start to wanted (measured on the forging demo)."""


def work_done(plan: HeatPlan) -> Callable[[Array], float]:
    """What tells from the temperatures of the cells [°C] which share of the work up to the wanted temperature is done [1]."""
    start, wanted, curie = plan.start, plan.wanted, plan.piece.curie_c
    even = np.linspace(start, wanted, EVEN)
    near = [] if curie is None else [curie + each for each in ROUND_CURIE if start < curie + each < wanted]
    warm = np.array(sorted({*map(float, even), *near}))
    loads = [_load(plan, celsius) for celsius in warm]
    states = [distance(one, other) / SPACING for one, other in zip(loads, loads[1:], strict=False)]
    work = np.concatenate([[0.0], np.cumsum(np.array(states) + STEPS * np.diff(warm) / (wanted - start))])
    volumes = plan.piece.volumes

    def share(celsius: Array) -> float:
        mean = float(np.sum(celsius * volumes) / np.sum(volumes))
        return float(np.interp(mean, warm, work / work[-1]))

    return share


def _load(plan: HeatPlan, celsius: float) -> Workpiece:
    """The coil with the piece evenly warm [°C], as the ideal stage drives it."""
    heater, piece = plan.heater, plan.piece
    found = piece.electric(np.full(piece.volumes.shape, celsius), heater.frequency, heater.coil_current).reflection
    return Workpiece(heater.coil.inductance + found.inductance_change, heater.coil.resistance + found.resistance, "estimate")
