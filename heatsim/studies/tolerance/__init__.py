# SPDX-License-Identifier: GPL-3.0-or-later
"""`tolerance`: yield, worst case and influence of parts within their tolerances, each with its error, from few simulations."""

from heatsim.studies.tolerance.estimate import Influence, Share, Spread
from heatsim.studies.tolerance.result import SCHEMA, Sample, ToleranceResult, Worst
from heatsim.studies.tolerance.study import ERROR, MOST, ToleranceProgress, tolerance

__all__ = [
    "ERROR",
    "MOST",
    "SCHEMA",
    "Influence",
    "Sample",
    "Share",
    "Spread",
    "ToleranceProgress",
    "ToleranceResult",
    "Worst",
    "tolerance",
]
