# SPDX-License-Identifier: GPL-3.0-or-later
"""The store of sweeps and maps: every finished point in one database file, kept through kills and power cuts, shared by
several commands at once, and told as tables.
"""

from heatsim.studies.store.store import FAILED, Store, SweepInfo, frame
from heatsim.studies.store.table import SUFFIXES

__all__ = ["FAILED", "SUFFIXES", "Store", "SweepInfo", "frame"]
