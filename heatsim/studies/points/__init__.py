# SPDX-License-Identifier: GPL-3.0-or-later
"""Operating points: what sweeps and maps are made of, how a field is varied, and how neighbouring points are evaluated one
from the other.
"""

from heatsim.studies.points.point import Point, PointResult, failed
from heatsim.studies.points.vary import LOAD, Axis, Band, Field, find_field, read_axis, read_band

__all__ = ["LOAD", "Axis", "Band", "Field", "Point", "PointResult", "failed", "find_field", "read_axis", "read_band"]
