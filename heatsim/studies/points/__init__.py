# SPDX-License-Identifier: GPL-3.0-or-later
"""Operating points: how a field is varied, and the continuation paths along which neighbouring points are followed.

Sweeps and maps hand paths to a pool of worker processes, on this machine or on a cluster, and get results of points.
"""

from heatsim.studies.points.bands import Law, bearing_cases, drawn_offsets, nominal_value, value_in
from heatsim.studies.points.evaluate import Answer, cluster_pool, evaluate_paths, local_pool
from heatsim.studies.points.point import ContinuationPath, Point, PointResult, failed
from heatsim.studies.points.vary import LOAD, Axis, Band, Field, find_field, own_values, range_ends, read_axis, read_band, try_value

__all__ = [
    "LOAD",
    "Answer",
    "Axis",
    "Band",
    "ContinuationPath",
    "Field",
    "Law",
    "Point",
    "PointResult",
    "bearing_cases",
    "cluster_pool",
    "drawn_offsets",
    "evaluate_paths",
    "failed",
    "find_field",
    "local_pool",
    "nominal_value",
    "own_values",
    "range_ends",
    "read_axis",
    "read_band",
    "try_value",
    "value_in",
]
