# SPDX-License-Identifier: GPL-3.0-or-later
"""What happens when the workpiece leaves a running heater's coil, or is put in."""

from heatsim.studies.heat.pull.result import Moved, PullResult
from heatsim.studies.heat.pull.study import RUNS, pulled

__all__ = ["RUNS", "Moved", "PullResult", "pulled"]
