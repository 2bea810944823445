# SPDX-License-Identifier: GPL-3.0-or-later
"""`sweep`: many variants of a heater (ranges, lists, tolerances), planned and evaluated into a store, resumable at any
instant.
"""

from heatsim.studies.sweep.plan import SweepPlan
from heatsim.studies.sweep.study import Keep, SweepProgress, SweepResult, Worst, default_store, described, sweep

__all__ = ["Keep", "SweepPlan", "SweepProgress", "SweepResult", "Worst", "default_store", "described", "sweep"]
