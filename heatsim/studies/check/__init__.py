# SPDX-License-Identifier: GPL-3.0-or-later
"""`check`: a scenario simulated, measured and judged against its limits; every other study builds on it.

From a scenario to its deck (`case_deck`), from a finished run to measures and findings (`judge_run`), and both in one go
(`check`); of several scenarios at once (`check_several`), and their results side by side (`compared`). The limits are in
`limits/`, one file a part.
"""

from heatsim.studies.check.advice import agreed, moves_of
from heatsim.studies.check.compare import CaseRow, Comparison, LimitRow, MeasureRow, build_names, compared
from heatsim.studies.check.compare_fields import FieldRow
from heatsim.studies.check.copper import water_measures
from heatsim.studies.check.heat import DESTROYED, WARM_UP_TIMES, heat_of_period
from heatsim.studies.check.limits import ENERGY_LIMIT, RUN, case_limits
from heatsim.studies.check.limits.bank import BY_CONNECTION, most_loaded
from heatsim.studies.check.limits.gate_network import HEATED, Heated, unrated
from heatsim.studies.check.limits.start import SWITCH_ON, peak_key
from heatsim.studies.check.result import CaseResult, CheckResult, CheckWarning, Measured, TroubleResult
from heatsim.studies.check.silicon import DESTROYED_JUNCTION, judged_junction, silicon_heat, temperature_measures
from heatsim.studies.check.start import RAISED
from heatsim.studies.check.study import (
    at_worst,
    case_deck,
    check,
    check_on,
    check_several,
    judge_run,
    measure_context,
    quarter_before_crest,
    try_case,
)
from heatsim.studies.check.trouble import Troubles, with_troubles

__all__ = [
    "BY_CONNECTION",
    "ENERGY_LIMIT",
    "DESTROYED",
    "DESTROYED_JUNCTION",
    "HEATED",
    "RAISED",
    "RUN",
    "SWITCH_ON",
    "WARM_UP_TIMES",
    "CaseResult",
    "CaseRow",
    "CheckResult",
    "CheckWarning",
    "Comparison",
    "FieldRow",
    "Heated",
    "LimitRow",
    "MeasureRow",
    "Measured",
    "TroubleResult",
    "Troubles",
    "agreed",
    "at_worst",
    "build_names",
    "case_deck",
    "case_limits",
    "check",
    "check_on",
    "check_several",
    "compared",
    "heat_of_period",
    "judge_run",
    "judged_junction",
    "measure_context",
    "most_loaded",
    "moves_of",
    "peak_key",
    "quarter_before_crest",
    "silicon_heat",
    "temperature_measures",
    "try_case",
    "unrated",
    "water_measures",
    "with_troubles",
]
