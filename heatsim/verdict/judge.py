# SPDX-License-Identifier: GPL-3.0-or-later
"""Measures against limits: headroom and grade."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from heatsim.verdict.finding import Finding, Grade


@dataclass(frozen=True)
class Limit:
    """What a number may be.

    part, name: of the finding; key: of the measure, divided by `share` (such as the number of capacitors) before it is
    judged; allowed: SI or None where the rating is not known; unit: SI symbol, "ratio" for shares;
    lower: True when the value must not fall below `allowed`; wanted: headroom asked for, None for the scenario's own; 0 only
    where the limit stands for a yes or no, such as a winding that fits; basis: of the number; cause, remedy: shown unless the
    limit holds; unknown: why it may be impossible to judge, in words that follow "Cannot be judged: "; settle: which field of
    the scenario would let it be judged.
    """

    part: str
    name: str
    key: str
    allowed: float | None
    unit: str
    basis: str
    share: float = 1.0
    lower: bool = False
    wanted: float | None = None
    cause: str = ""
    remedy: str = ""
    unknown: str = ""
    settle: str = ""


UNMEASURED = "Let the run go on for longer (simulate.longest), so that enough whole periods are there to measure it."
"""What settles a limit whose value a run did not give, unless the limit knows better."""


def headroom(value: float, allowed: float, lower: bool = False) -> float:
    """Signed headroom: (allowed-value)/|allowed| for an upper limit, (value-allowed)/|allowed| for a lower one."""
    distance = value - allowed if lower else allowed - value
    return distance / abs(allowed)


def grade(ratio: float, wanted: float) -> Grade:
    """`holds` at or above the wanted headroom, `marginal` down to nil, `fails` below."""
    if ratio < 0:
        return "fails"
    return "holds" if ratio >= wanted else "marginal"


def judge(measures: Mapping[str, Any], limits: Iterable[Limit], wanted: float) -> tuple[Finding, ...]:
    """One finding a limit. A missing value or an unknown rating is graded `unknown`, never passed.

    measures: flat, SI
    wanted: headroom asked for where a limit has no own [1]
    """
    return tuple(_finding(limit, measures.get(limit.key), wanted) for limit in limits)


def _finding(limit: Limit, measured: float | None, wanted: float) -> Finding:
    value = None if measured is None or math.isnan(measured) else measured / limit.share
    ratio: float | None = None
    found: Grade = "unknown"
    cause = remedy = ""
    if limit.allowed is None:
        cause, remedy = f"Cannot be judged: {limit.unknown or 'the rating is not given'}.", limit.settle or limit.remedy
    elif value is None:
        cause = f"Cannot be judged: {limit.unknown or 'the value could not be measured'}."
        remedy = limit.settle or UNMEASURED
    else:
        ratio = headroom(value, limit.allowed, limit.lower)
        found = grade(ratio, wanted if limit.wanted is None else limit.wanted)
        cause, remedy = ("", "") if found == "holds" else (limit.cause, limit.remedy)
    return Finding(limit.part, limit.name, value, limit.allowed, limit.unit, ratio, found, limit.basis, cause, remedy)
