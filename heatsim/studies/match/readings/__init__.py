# SPDX-License-Identifier: GPL-3.0-or-later
"""Meter readings as evidence for `match`: a heater fitted to a few numbers, without an oscilloscope.

Begin with `parse_readings` and `match_readings`.
"""

from heatsim.studies.match.estimates import NORMAL_95
from heatsim.studies.match.readings.beside import readings_beside
from heatsim.studies.match.readings.parse import Condition, Reading, parse_readings
from heatsim.studies.match.readings.result import Compared, Departure, Proposal, ReadingsResult
from heatsim.studies.match.readings.study import match_readings

__all__ = [
    "NORMAL_95",
    "Compared",
    "Condition",
    "Departure",
    "Proposal",
    "Reading",
    "ReadingsResult",
    "match_readings",
    "parse_readings",
    "readings_beside",
]
