# SPDX-License-Identifier: GPL-3.0-or-later
"""What was tried, and what of it is a remedy."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult
from heatsim.studies.remedy.changes import Change, fields_of
from heatsim.verdict import SEVERITY, Finding, Grade, worst


@dataclass(frozen=True)
class Tried:
    """Joint changes and the cases that were simulated with them.

    scenario: changed; cases: by name, those simulated: a trial ends with the first case that does not hold;
    wanted: the cases that a remedy must hold in.
    """

    changes: tuple[Change, ...]
    scenario: Scenario
    cases: Mapping[str, CaseResult]
    wanted: tuple[str, ...]

    @property
    def complete(self) -> bool:
        """Whether every case was simulated."""
        return all(name in self.cases for name in self.wanted)

    @property
    def holds(self) -> bool:
        """Whether every limit of every case holds with the wanted headroom."""
        return self.complete and all(case.grade == "holds" for case in self.cases.values())

    @property
    def grade(self) -> Grade:
        """The worst of the cases simulated."""
        return worst(case.grade for case in self.cases.values())

    @property
    def tightest(self) -> tuple[str, Finding] | None:
        """Case and finding that decide: a failure without a number, or else the least headroom."""
        rows = [(case.name, finding) for case in self.cases.values() for finding in case.findings]
        without = [row for row in rows if row[1].headroom is None and row[1].grade in ("fails", "unknown")]
        numbered = [row for row in rows if row[1].headroom is not None]
        if without:
            return max(without, key=lambda row: SEVERITY[row[1].grade])
        return min(numbered, key=lambda row: (-SEVERITY[row[1].grade], row[1].headroom or 0.0), default=None)

    @property
    def merit(self) -> tuple[int, float]:
        """Sorts what does not hold: a mild grade first, then the greatest least headroom."""
        tight = self.tightest
        headroom = tight[1].headroom if tight else None
        return -SEVERITY[self.grade], -10.0 if headroom is None else headroom

    def measure(self, key: str) -> float | None:
        """The largest value of a measure over the cases."""
        values = [value for case in self.cases.values() if isinstance(value := case.measures.get(key), float)]
        return max(values, default=None)

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI."""
        tight = self.tightest
        return {
            "changes": [
                {"kind": each.kind, "fields": dict(each.fields), "words": each.words, "cost": each.cost} for each in self.changes
            ],
            "fields": fields_of(self.changes),
            "verdict": self.grade if self.complete else worst((self.grade, "unknown")),
            "cases": {name: case.grade for name, case in self.cases.items()},
            "headroom": tight[1].headroom if tight else None,
            "tightest": f"{tight[1].part}: {tight[1].limit}" if tight else "",
            "supply_power_w": self.measure("supply.power_w"),
            "workpiece_power_w": self.measure("workpiece.power_w"),
        }


Remedy = Tried
"""What was tried and holds."""


def without_superfluous(found: Iterable[Remedy]) -> list[Remedy]:
    """Remedies none of whose changes could be left out, as another of them shows."""
    found = list(found)
    steps = [{each.words for each in remedy.changes} for remedy in found]
    return [remedy for remedy, own in zip(found, steps, strict=True) if not any(other < own for other in steps)]


@dataclass(frozen=True)
class Remedies:
    """The answer of a search.

    found: what holds, the one to take first; tried: all that was simulated, in that order; before: the check it began
    with, largest supply and workpiece power [W] by key; why_not: why nothing was searched for, empty if it was;
    ended: what ended the search, in words; simulations: cases simulated; wall_s: time it took [s].
    """

    found: tuple[Remedy, ...]
    tried: tuple[Tried, ...]
    before: Mapping[str, float | None]
    why_not: str
    ended: str
    simulations: int
    wall_s: float

    @property
    def best(self) -> Tried | None:
        """What holds, or else what came nearest to it; None where nothing was simulated."""
        if self.found:
            return self.found[0]
        return max((each for each in self.tried if each.cases), key=lambda each: each.merit, default=None)

    @property
    def changes(self) -> tuple[Change, ...]:
        """The changes of the first remedy; none where no remedy was found."""
        return self.found[0].changes if self.found else ()

    @property
    def fixed(self) -> Scenario | None:
        """The scenario with the first remedy in it; None where no remedy was found."""
        return self.found[0].scenario if self.found else None

    @property
    def single(self) -> bool:
        """Whether a single change was found to be enough."""
        return any(len(each.changes) == 1 for each in self.found)

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI."""
        return {
            "found": [each.as_dict() for each in self.found],
            "tried": [each.as_dict() for each in self.tried],
            "single_change_suffices": self.single,
            "why_not": self.why_not,
            "ended": self.ended,
            "simulations": self.simulations,
            "wall_s": self.wall_s,
        }
