# SPDX-License-Identifier: GPL-3.0-or-later
"""What comes of a workpiece that leaves a running heater, or is put in."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from heatsim.scenario.scenario import Scenario
from heatsim.verdict import Finding, Grade, worst
from heatsim.waves import Waveforms

SCHEMA = "heatsim.pull/1"
"""Name and version of the results schema; keys are added, never renamed."""

MoveOutcome = Literal["runs on", "does not settle", "not simulated", "stops", "latches"]
"""runs on: comes to a steady state again; does not settle: oscillates but still moves at the end of the run; not simulated: the
simulator gave up, or there is no steady state to begin with; stops: the oscillation ends; latches: it ends with both banks
conducting. From good to bad."""


@dataclass(frozen=True)
class Moved:
    """The workpiece moved one way.

    leaves: out of the coil, else into it; duration: of the movement [s]; instants: how many of the tank's period were tried;
    outcome, cause: the worst of them, in plain words; measures: flat, SI, each the worst of them from the instant at which it
    begins to move, `before.` and `after.` the steady states round it, `expected.` that which a start from rest comes to; findings:
    judged limits; waveforms: of the instant with the highest drain voltage, None when there are none; slower: the same with a
    slower movement, None where it was not needed.
    """

    leaves: bool
    duration: float
    instants: int
    outcome: MoveOutcome
    cause: str
    measures: dict[str, float | None]
    findings: tuple[Finding, ...]
    waveforms: Waveforms | None = field(default=None, compare=False, repr=False)
    slower: Moved | None = None

    @property
    def grade(self) -> Grade:
        """Worst finding."""
        return worst(finding.grade for finding in self.findings)

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "duration_s": self.duration,
            "instants": self.instants,
            "outcome": self.outcome,
            "outcome_detail": self.cause,
            "verdict": self.grade,
            "measures": self.measures,
            "findings": [finding.as_dict() for finding in self.findings],
            "slower": self.slower.as_dict() if self.slower else None,
        }


@dataclass(frozen=True)
class PullResult:
    """scenario, case: what was simulated; leaves, enters: the workpiece pulled out of the heater at full supply, and put into it
    when it runs empty; wall_s: what it took [s]."""

    scenario: Scenario
    case: str
    leaves: Moved
    enters: Moved
    heatsim_version: str
    simulator_version: str
    wall_s: float

    @property
    def grade(self) -> Grade:
        """Worst finding of a step either way."""
        return worst((self.leaves.grade, self.enters.grade))

    @property
    def exit_code(self) -> int:
        """0: every limit holds, whichever way the piece is moved; 1: not so; 3: neither way could be simulated."""
        if not self.leaves.measures and not self.enters.measures:
            return 3
        return 0 if self.grade == "holds" else 1

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "schema": SCHEMA,
            "heatsim_version": self.heatsim_version,
            "simulator_version": self.simulator_version,
            "scenario": self.scenario.identity,
            "case": self.case,
            "verdict": self.grade,
            "wall_s": self.wall_s,
            "leaves": self.leaves.as_dict(),
            "enters": self.enters.as_dict(),
        }
