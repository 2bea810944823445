# SPDX-License-Identifier: GPL-3.0-or-later
"""`heat`: a workpiece from cold to its final temperature, coupled to the heater that feeds it (`heat`); what coil would suit it
(`coil_advice`); what happens when it leaves the coil, or is put in (`pulled`).
"""

from heatsim.studies.heat.band import Band
from heatsim.studies.heat.coils import CoilAdvice, CoilEstimate, CoilShape, coil_advice
from heatsim.studies.heat.pull import Moved, PullResult, pulled
from heatsim.studies.heat.result import Confirmed, Event, HeatResult, Snapshot, Trust, Wanted, Watched
from heatsim.studies.heat.study import Progress, heat

__all__ = [
    "Band",
    "CoilAdvice",
    "CoilEstimate",
    "CoilShape",
    "Confirmed",
    "Event",
    "HeatResult",
    "Moved",
    "Progress",
    "PullResult",
    "Snapshot",
    "Trust",
    "Wanted",
    "Watched",
    "coil_advice",
    "heat",
    "pulled",
]
