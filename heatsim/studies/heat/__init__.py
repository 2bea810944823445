# SPDX-License-Identifier: GPL-3.0-or-later
"""`heat`: the workpiece in a running heater. What happens when it leaves the coil, or is put in (`pulled`)."""

from heatsim.studies.heat.pull import pulled
from heatsim.studies.heat.pull_result import Moved, PullResult

__all__ = ["Moved", "PullResult", "pulled"]
