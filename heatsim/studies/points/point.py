# SPDX-License-Identifier: GPL-3.0-or-later
"""Operating points, of which sweeps and maps are made, and the continuation paths along which they are evaluated."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from heatsim.studies.check import CaseResult, Measured
from heatsim.verdict.finding import Finding, Grade
from heatsim.waves import Waveforms


@dataclass(frozen=True)
class Point:
    """One operating point of a scenario: a case, and dotted fields set to what a scenario file would hold there."""

    fields: tuple[tuple[str, Any], ...]
    case: str

    def key(self, scenario_hash: str) -> str:
        """Content hash: equal for equal points of an equal scenario."""
        content = json.dumps([scenario_hash, self.case, [list(pair) for pair in self.fields]], sort_keys=True)
        return hashlib.sha256(content.encode()).hexdigest()[:32]


@dataclass(frozen=True)
class PointResult:
    """What became of a point.

    outcome, outcome_detail: as in `CaseResult`; grade: the worst finding's; headroom: the least of all findings [1],
    None without a number; ends: `part: limit` of the finding that decides, the failure without a number before the
    least headroom; measures: flat, SI; findings: every judged limit; method: `cold start`, `periodic` or
    `cold start, then periodic`; wall_s: time taken [s]; state: of the circuit, for following on from it;
    waveforms: one or more whole periods, None without.
    """

    outcome: str
    outcome_detail: str
    grade: Grade
    headroom: float | None
    ends: str
    measures: Mapping[str, Measured]
    findings: tuple[Finding, ...]
    method: str
    wall_s: float
    waveforms: Waveforms | None = None
    state: Any = None
    notes: tuple[str, ...] = field(default=())


@dataclass(frozen=True)
class ContinuationPath:
    """Points that lie next to each other, evaluated one after the other by one process.

    start: state of a neighbour of the first point that is known to be reached; without one the first point is started cold
    confirm: the last point is started cold as well, and so are the worst one and those on both sides of a jump: what was
    followed has to be what they come to. Else points are followed on from `start`, and only one that cannot be is started cold.
    samples: places of further points that are started cold
    """

    points: tuple[Point, ...]
    start: Any = None
    confirm: bool = True
    samples: tuple[int, ...] = ()

    def part(self, places: Sequence[int]) -> ContinuationPath:
        """The points at some places, to be started afresh."""
        samples = tuple(number for number, place in enumerate(places) if place in self.samples)
        return ContinuationPath(tuple(self.points[place] for place in places), None, self.confirm, samples)


def deciding(findings: tuple[Finding, ...], wanted: float) -> tuple[float | None, str]:
    """Least headroom [1] and `part: limit` of the finding that decides.

    wanted: headroom that is asked for [1]. A limit that holds with less asks for none of its own, such as the energy balance
    or a winding that fits; it decides only where it fails, so that a least headroom below the wanted is never graded `holds`.
    """
    numbered = [one for one in findings if one.headroom is not None and (one.grade != "holds" or one.headroom >= wanted)]
    least = min(numbered, key=lambda finding: finding.headroom or 0.0, default=None)
    without = [finding for finding in findings if finding.headroom is None and finding.grade == "fails"]
    first = without[0] if without else least
    headroom = None if without or least is None else least.headroom
    return headroom, f"{first.part}: {first.limit}" if first is not None else ""


def summarise(case: CaseResult, method: str, wall_s: float, state: Any = None) -> PointResult:
    """A case's result as that of a point; waveforms cut to the measured window."""
    headroom, ends = deciding(case.findings, case.wanted_headroom)
    waves = case.waveforms
    if waves is not None and case.window is not None:
        waves = waves.between(*case.window)
    return PointResult(
        case.outcome, case.outcome_detail, case.grade, headroom, ends, case.measures, case.findings, method, wall_s, waves, state
    )


def failed(outcome: str, detail: str, wall_s: float = 0.0, method: str = "none") -> PointResult:
    """The result of a point that could not be evaluated; a row with its cause, never a gap."""
    return PointResult(outcome, detail, "unknown", None, "", {}, (), method, wall_s)
