# SPDX-License-Identifier: GPL-3.0-or-later
"""Between which bounds a heat lies, by what is known of the piece: its resistance in the coil, and how it radiates.

The heat is gone through twice more on a coarser grid, with what ngspice has found of the heater: once with the piece's resistance
at the lower end of its band and its emissivity at the upper, once the other way round.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from heatsim.parts.tank import Workpiece
from heatsim.scenario.heat import HeatPlan, heat_plan
from heatsim.studies.heat.course import ERROR, Course
from heatsim.studies.heat.responses import Responses, SimulatedPoint
from heatsim.studies.heat.way import work_done

SLICES, CELLS = 8, 24
"""As the piece is cut: the time to the wanted temperature differs by less than 3 % from that on the fine grid (in the tests)."""

A_DAY = 86400.0
"""Time [s] after which a heat that does not come to rest is ended."""


@dataclass(frozen=True)
class Band:
    """Time to the wanted temperature [s], None where it is not reached, and surface temperature at the end [°C]: of the slowest
    heat and of the fastest."""

    slowest: float | None
    fastest: float | None
    coolest_end: float
    hottest_end: float


def band_of(plan: HeatPlan, responses: Responses, tell: Callable[[float], None] = lambda share: None) -> Band | None:
    """Between which bounds a heat lies; None where it is not known by how much the piece's resistance may be off.

    tell: called with the share of it that is done [1]
    """
    if plan.band is None:
        return None
    band = plan.band
    slow, cool = _gone_through(plan, responses, -band, 1.0, lambda share: tell(share / 2))
    fast, hot = _gone_through(plan, responses, band, -1.0, lambda share: tell((1 + share) / 2))
    return Band(slow, fast, cool, hot)


def _gone_through(
    plan: HeatPlan, responses: Responses, off: float, shine: float, tell: Callable[[float], None] = lambda share: None
) -> tuple[float | None, float]:
    """Time to the wanted temperature [s] and last temperature [°C] with the piece's resistance off by a share [1]."""
    coarse = heat_plan(plan.scenario, SLICES, CELLS, shine)

    def known(load: Workpiece, at: float) -> SimulatedPoint:
        return SimulatedPoint(at, load, responses.nearest(load).result, responses.shares(load))

    course = Course(coarse.piece, coarse.losses, Responses(plan.heater), known, plan.start, A_DAY, 3 * ERROR, 1.0 + off)
    reached, done = None, work_done(coarse)
    for moment in course.run():
        tell(done(moment.celsius))
        if reached is None and float(np.max(moment.warm(plan.at))) >= plan.wanted:
            reached = moment.time
    times = [each.time for each in course.moments]
    return reached, float(np.interp(plan.longest, times, [float(each.surface.max()) for each in course.moments]))
