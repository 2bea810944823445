# SPDX-License-Identifier: GPL-3.0-or-later
"""The store of sweeps and maps: every finished point in one database file, kept through kills and power cuts, shared by
several commands at once, and read as tables.
"""

from heatsim.studies.store.info import FAILED, Stale, SweepInfo, stale_results
from heatsim.studies.store.store import Store, frame
from heatsim.studies.store.table import SUFFIXES

__all__ = ["FAILED", "SUFFIXES", "Stale", "Store", "SweepInfo", "frame", "stale_results"]
