# SPDX-License-Identifier: GPL-3.0-or-later
"""What a check returns: cases with their measures and findings, and the plain data written to results.json."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any

from heatsim.engine import Attempt
from heatsim.measures.errors import stated_errors
from heatsim.netlist.deck import Deck
from heatsim.parts.heater import Heater
from heatsim.parts.mosfet_curves import compared_points
from heatsim.scenario.scenario import Scenario
from heatsim.verdict import SEVERITY, Finding, Grade, worst
from heatsim.waves import Waveforms

SCHEMA = "heatsim.check/1"
"""Name and version of the results schema; keys are added, never renamed."""

Measured = float | str | list[float] | None


@dataclass(frozen=True)
class CaseResult:
    """One operating condition.

    outcome: settled, drifting, latched, dead, stalled or unsolved; outcome_detail: the cause in plain words;
    measures: flat, SI, None where it does not apply; window: start and end [s] of the whole periods that were measured,
    None when there was nothing to measure; waveforms: the whole run, None when there is none;
    deck: as it ran; attempts: rungs of the retry ladder that were climbed; wall_s: time it took [s];
    wanted_headroom: asked for by the scenario [1]; starts_with: for one that did not start, field and value with which it was
    found to, None without.
    """

    name: str
    outcome: str
    outcome_detail: str
    measures: dict[str, Measured]
    findings: tuple[Finding, ...]
    heater: Heater
    deck: Deck
    waveforms: Waveforms | None
    window: tuple[float, float] | None
    attempts: tuple[Attempt, ...]
    wall_s: float
    wanted_headroom: float = 0.0
    starts_with: tuple[str, str] | None = None

    @property
    def grade(self) -> Grade:
        """Worst finding of the case."""
        return worst(finding.grade for finding in self.findings)

    def as_dict(self) -> dict[str, Any]:
        """Plain data for results.json."""
        attempts = [
            {"rung": a.rung.name, "outcome": a.outcome, "detail": a.detail, "wall_s": a.wall_s, "reached_s": a.reached_s}
            for a in self.attempts
        ]
        return {
            "name": self.name,
            "outcome": self.outcome,
            "outcome_detail": self.outcome_detail,
            "grade": self.grade,
            "measures": self.measures,
            "errors": stated_errors(self.measures),
            "findings": [f.as_dict() for f in self.findings],
            "switch_model": [each.as_dict() for each in compared_points(self.heater.switch)],
            "switch_origins": [asdict(each) for each in self.heater.switch.origins],
            "attempts": attempts,
            "window_s": self.window,
            "wall_s": self.wall_s,
        }


@dataclass(frozen=True)
class CheckWarning:
    """What a verdict does not say by itself. cases: those it is about; text: plain sentences."""

    cases: tuple[str, ...]
    text: str

    def as_dict(self) -> dict[str, Any]:
        """Plain data for results.json."""
        return {"cases": list(self.cases), "text": self.text}


@dataclass(frozen=True)
class TroubleResult:
    """What becomes of a build in one trouble.

    name: such as "fan failure"; says: what is different, a plain sentence; findings: with their cases, worst first
    """

    name: str
    says: str
    findings: tuple[tuple[str, Finding], ...]

    @property
    def grade(self) -> Grade:
        """Worst of the findings."""
        return worst(finding.grade for _, finding in self.findings)

    def as_dict(self) -> dict[str, Any]:
        """Plain data for results.json."""
        findings = [{"case": case, **finding.as_dict()} for case, finding in self.findings]
        return {"name": self.name, "says": self.says, "grade": self.grade, "findings": findings}


@dataclass(frozen=True)
class CheckResult:
    """All cases of a scenario, the verdict over them, warnings of what it rests on, and what becomes of it in trouble, where that
    was asked."""

    scenario: Scenario
    cases: tuple[CaseResult, ...]
    heatsim_version: str
    simulator_version: str
    wall_s: float
    warnings: tuple[CheckWarning, ...] = ()
    troubles: tuple[TroubleResult, ...] = ()

    @property
    def verdict(self) -> Grade:
        """Worst grade of all cases."""
        return worst(case.grade for case in self.cases)

    @property
    def exit_code(self) -> int:
        """0 when it holds, in every trouble asked about too, 1 when it does not, 3 when a case could not be simulated."""
        if any(case.outcome in ("stalled", "unsolved") for case in self.cases):
            return 3
        return 0 if worst((self.verdict, *(each.grade for each in self.troubles))) == "holds" else 1

    @property
    def findings(self) -> tuple[tuple[str, Finding], ...]:
        """Every finding with its case, worst first; a failure that needs no number before all others."""
        rows = [(case.name, finding) for case in self.cases for finding in case.findings]
        return tuple(sorted(rows, key=lambda row: (-SEVERITY[row[1].grade], *_order(row[1]))))

    def __getitem__(self, case: str) -> CaseResult:
        """A case by name; KeyError names those there are."""
        for found in self.cases:
            if found.name == case:
                return found
        raise KeyError(f"no case {case!r}; there are {', '.join(c.name for c in self.cases)}")

    def frame(self) -> Any:
        """Measures as a pandas DataFrame: one row a measure, one column a case; lists are left out."""
        import pandas as pd

        plain = {
            case.name: {key: value for key, value in case.measures.items() if not isinstance(value, list)} for case in self.cases
        }
        return pd.DataFrame(plain)

    def findings_frame(self) -> Any:
        """Findings as a pandas DataFrame, worst first: one row each, SI, headroom as a ratio."""
        import pandas as pd

        return pd.DataFrame([{"case": case, **finding.as_dict()} for case, finding in self.findings])

    def as_dict(self) -> dict[str, Any]:
        """Plain data for results.json."""
        return {
            "schema": SCHEMA,
            "heatsim_version": self.heatsim_version,
            "simulator_version": self.simulator_version,
            "scenario": self.scenario.identity,
            "verdict": self.verdict,
            "warnings": [warning.as_dict() for warning in self.warnings],
            "cases": [case.as_dict() for case in self.cases],
            "troubles": [trouble.as_dict() for trouble in self.troubles],
            "wall_s": self.wall_s,
        }


def _order(finding: Finding) -> tuple[bool, float]:
    """Sorts findings of one grade: failures without a number come first, anything else without one last."""
    if finding.headroom is None:
        return (False, -math.inf) if finding.grade == "fails" else (True, 0.0)
    return False, finding.headroom
