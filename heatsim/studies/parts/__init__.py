# SPDX-License-Identifier: GPL-3.0-or-later
"""`parts`: what the catalogues hold, found by words or by the size of a ring (`find_parts`).

The result holds the parts with their figures, and where each is known from.
"""

from heatsim.studies.parts.part import KINDS, Kind, Origin, Part, all_parts, kinds_in, size_words
from heatsim.studies.parts.search import Nearness, nearest, ring_size
from heatsim.studies.parts.study import SCHEMA, PartsResult, find_parts

__all__ = [
    "KINDS",
    "SCHEMA",
    "Kind",
    "Nearness",
    "Origin",
    "Part",
    "PartsResult",
    "all_parts",
    "find_parts",
    "kinds_in",
    "nearest",
    "ring_size",
    "size_words",
]
