# SPDX-License-Identifier: GPL-3.0-or-later
"""`heat`: a workpiece from cold to its final temperature, coupled to the heater that feeds it (`heat`), and what happens when it
leaves the coil, or is put in (`pulled`).
"""

from heatsim.studies.heat.pull import pulled
from heatsim.studies.heat.pull_result import Moved, PullResult
from heatsim.studies.heat.result import Confirmed, Event, HeatResult, Snapshot, Trust, Wanted, Watched
from heatsim.studies.heat.study import Progress, heat

__all__ = [
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
    "heat",
    "pulled",
]
