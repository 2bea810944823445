# SPDX-License-Identifier: GPL-3.0-or-later
"""Findings and verdicts in sentences."""

from __future__ import annotations

from heatsim.errors import printable
from heatsim.report.base.words import part_words, percent, value_text
from heatsim.studies.check import CheckResult
from heatsim.verdict.finding import Finding


def is_lower_limit(finding: Finding) -> bool | None:
    """Whether the value must stay above what is allowed; None when that cannot be read from the finding.

    Read from the signs: headroom is positive on the good side, so they say which side that is.
    """
    if finding.value is None or finding.allowed is None or not finding.headroom:
        return None
    return (finding.value > finding.allowed) == (finding.headroom > 0)


def allowed_text(finding: Finding) -> str:
    """The limit with its direction, such as "≤ 200 V"."""
    lower = is_lower_limit(finding)
    sign = "" if lower is None else "≥ " if lower else "≤ "
    return sign + value_text(finding.allowed, finding.unit) if finding.allowed is not None else "–"


def comparison(finding: Finding) -> str:
    """One finding as a clause: "left choke, temperature: 179 °C, at most 120 °C allowed"."""
    head = f"{part_words(finding.part)}, {finding.limit}"
    if finding.value is None or finding.allowed is None:
        return head
    lower = is_lower_limit(finding)
    bound = "" if lower is None else "at least " if lower else "at most "
    found, allowed = (value_text(value, finding.unit) for value in (finding.value, finding.allowed))
    return f"{head}: {found}, {bound}{allowed} allowed"


def verdict_sentence(result: CheckResult) -> str:
    """The verdict and what decides it, in a sentence or two."""
    rows = result.findings
    if not rows:
        return "Nothing could be judged."
    case, first = rows[0]
    count = sum(finding.grade == result.verdict for _, finding in rows)
    if result.verdict == "holds":
        tight = [(name, finding) for name, finding in rows if finding.headroom is not None]
        lead = f"Everything asked for holds: {len(rows)} of {len(rows)} limits."
        return f"{lead} The tightest is {_named(*tight[0])}." if tight else lead
    endings = {
        "fails": "fails" if count == 1 else "fail",
        "marginal": "holds with less headroom than wanted" if count == 1 else "hold with less headroom than wanted",
        "unknown": "cannot be judged",
    }
    lead = "the first" if result.verdict == "unknown" else "the worst"
    return f"{count} of {len(rows)} limits {endings[result.verdict]}; {lead}: {_named(case, first)}."


def _named(case: str, finding: Finding) -> str:
    headroom = "" if finding.headroom is None else f", headroom {percent(finding.headroom)}"
    return f"{comparison(finding)} (case {printable(case)}{headroom})"
