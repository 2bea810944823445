# SPDX-License-Identifier: GPL-3.0-or-later
"""`map`: over two fields of a scenario, where the heater is usable and which limit ends that where, with as few points as
can be.
"""

from heatsim.studies.map.answer import Bound, Reach
from heatsim.studies.map.axis import MapAxis
from heatsim.studies.map.grid import MapGrid, map_grid
from heatsim.studies.map.result import MapResult
from heatsim.studies.map.study import MOST_POINTS, MapProgress, operating_map
from heatsim.studies.map.surface import DOUBTFUL, JUDGED, UNKNOWN, Sample, family

__all__ = [
    "DOUBTFUL",
    "JUDGED",
    "MOST_POINTS",
    "UNKNOWN",
    "Bound",
    "MapAxis",
    "MapGrid",
    "MapProgress",
    "MapResult",
    "Reach",
    "Sample",
    "family",
    "map_grid",
    "operating_map",
]
