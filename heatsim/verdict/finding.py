# SPDX-License-Identifier: GPL-3.0-or-later
"""Findings: one limit each, with what was found, what is allowed, why, and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Literal

Grade = Literal["holds", "marginal", "fails", "unknown"]

SEVERITY: dict[str, int] = {"holds": 0, "marginal": 1, "unknown": 2, "fails": 3}
"""Order of grades from good to bad; a verdict is the worst of its findings."""


@dataclass(frozen=True)
class Finding:
    """One judged limit.

    part: such as `choke.left`; limit: its name in plain words; value, allowed: SI, in `unit`; headroom: signed ratio
    (allowed - value)/allowed, or (value - allowed)/allowed for a lower limit, None when it cannot be judged;
    basis: where the knowledge behind value and limit comes from; cause, remedy: one plain sentence each.
    """

    part: str
    limit: str
    value: float | None
    allowed: float | None
    unit: str
    headroom: float | None
    grade: Grade
    basis: str
    cause: str = ""
    remedy: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Plain data for results.json."""
        return asdict(self)


def worst(grades: Iterable[str]) -> Grade:
    """The worst grade; `unknown` when there is nothing to judge."""
    found = sorted(grades, key=lambda grade: SEVERITY[grade])
    return found[-1] if found else "unknown"  # type: ignore[return-value]
