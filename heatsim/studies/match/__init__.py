# SPDX-License-Identifier: GPL-3.0-or-later
"""`match`: a captured waveform reproduced on the simulator, and its causes ranked by evidence.

A response library of every fault is simulated, hypotheses are fitted to the captures with it, and the likely ones on the
simulator. Begin with `match`; `capture_requests` checks what a caller says of the captures.
"""

from heatsim.studies.match.cache import user_folder
from heatsim.studies.match.captures import CaptureRequest, capture_requests
from heatsim.studies.match.fault_model import NOTHING
from heatsim.studies.match.meter_reading import MeterReading, ReadingBeside
from heatsim.studies.match.result import (
    DECIDED,
    NONE_OF_THESE,
    CauseCandidate,
    CorrelatedPair,
    Cure,
    FittedQuantity,
    MatchResult,
    Measure,
    NotRanked,
    Record,
    Spread,
    Trace,
)
from heatsim.studies.match.study import match

__all__ = [
    "DECIDED",
    "NONE_OF_THESE",
    "NOTHING",
    "CaptureRequest",
    "CauseCandidate",
    "CorrelatedPair",
    "Cure",
    "FittedQuantity",
    "MatchResult",
    "Measure",
    "MeterReading",
    "NotRanked",
    "ReadingBeside",
    "Record",
    "Spread",
    "Trace",
    "capture_requests",
    "match",
    "user_folder",
]
