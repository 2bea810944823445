# SPDX-License-Identifier: GPL-3.0-or-later
"""What becomes of a build in trouble, in sentences shared by terminal and page."""

from __future__ import annotations

from heatsim.errors import printable
from heatsim.report.check.words import comparison
from heatsim.studies.check import TroubleResult
from heatsim.verdict.finding import Finding

HEADING = "If something goes wrong"

SHOWN = 4
"""Findings told of one trouble."""


def told(trouble: TroubleResult) -> list[str]:
    """What is different, then what no longer holds, worst first, or what is tightest."""
    amiss = [row for row in trouble.findings if row[1].grade != "holds"]
    rows = amiss[:SHOWN] or [row for row in trouble.findings if row[1].headroom is not None][:1]
    head = "" if amiss else "Everything still holds; tightest: "
    more = [f"{len(amiss) - SHOWN} more do not hold."] if len(amiss) > SHOWN else []
    return [trouble.says, *(f"{head}{_line(case, finding)}" for case, finding in rows), *more]


def _line(case: str, finding: Finding) -> str:
    cause = f" {finding.cause}" if finding.grade != "holds" and finding.cause else ""
    remedy = f" {finding.remedy}" if finding.grade != "holds" and finding.remedy else ""
    return f"{printable(case)}, {comparison(finding)}.{cause}{remedy}"
