# SPDX-License-Identifier: GPL-3.0-or-later
"""`heat`: a workpiece from cold to its final temperature, coupled to the heater that feeds it.

`heatsim.studies.heat.coils` says what coil would suit it, `heatsim.studies.heat.pull` what happens when it leaves the coil, or is
put in.
"""

from heatsim.studies.heat.band import Band
from heatsim.studies.heat.result import Confirmed, Event, HeatResult, Snapshot, Trust, Wanted, Watched
from heatsim.studies.heat.study import Progress, heat

__all__ = ["Band", "Confirmed", "Event", "HeatResult", "Progress", "Snapshot", "Trust", "Wanted", "Watched", "heat"]
