# SPDX-License-Identifier: GPL-3.0-or-later
"""Measures against limits: findings with headroom, grade, cause and remedy. Knows neither parts nor scenarios."""

from heatsim.verdict.finding import SEVERITY, Finding, Grade, worst
from heatsim.verdict.judge import UNMEASURED, Limit, grade, headroom, judge

__all__ = ["SEVERITY", "UNMEASURED", "Finding", "Grade", "Limit", "grade", "headroom", "judge", "worst"]
