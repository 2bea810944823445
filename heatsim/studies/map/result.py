# SPDX-License-Identifier: GPL-3.0-or-later
"""A finished map: its points and predictions, its answer, and all of it as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import heatsim
from heatsim.scenario.scenario import Scenario
from heatsim.studies.map.answer import Answer, answer
from heatsim.studies.map.model import MapModel
from heatsim.studies.map.points import SCHEMA
from heatsim.studies.map.surface import Evidence, Sample


@dataclass(frozen=True)
class MapResult(MapModel):
    """An operating map.

    gaps: neighbouring columns [u] between which the boundary is not verified, because the number of points ran out
    missed: how far the boundary was found from its prediction at most [share of the axes]
    evaluated, known: points computed for this map, and points the store had already
    outdated: older points of the store that were not used, because another version computed them
    wall_s: time taken [s]
    """

    scenario: Scenario
    case: str
    gaps: tuple[tuple[float, float], ...]
    missed: float
    evaluated: int
    known: int
    outdated: int
    wall_s: float

    @cached_property
    def answer(self) -> Answer:
        """What the map says in short."""
        return answer(self)

    @property
    def exit_code(self) -> int:
        """0 when the scenario's own point is usable and something is where the headline is given, 1 when not or when a limit
        could be judged nowhere, 3 when nothing could be simulated.
        """
        if not any(sample.margins or sample.outcome in ("dead", "latched", "drifting") for sample in self.evidence.samples):
            return 3
        own_fails = self.own is not None and bool(self.evidence.limiting(self.own))
        return 1 if own_fails or self.answer.reference.start is None or self.evidence.unjudged else 0

    def as_dict(self) -> dict[str, Any]:
        """Plain data for results.json, SI."""
        answer = self.answer
        return {
            "schema": SCHEMA,
            "heatsim_version": heatsim.__version__,
            "scenario": self.scenario.identity | {"wanted_headroom": self.scenario.tables.heater.wanted_headroom},
            "case": self.case,
            "horizontal": self.horizontal.as_dict(),
            "vertical": self.vertical.as_dict(),
            "accuracy_ratio": self.accuracy,
            "missed_ratio": self.missed,
            "unverified": [[self.horizontal.number(u) for u in gap] for gap in self.gaps],
            "answer": {"at_reference": answer.reference.as_dict(), "weakest": answer.weakest.as_dict()},
            "limits": list(self.evidence.keys),
            "not_judged": list(self.evidence.unjudged),
            "columns": [reach.as_dict() for reach in answer.reaches],
            "points": [_plain_point(sample, self.evidence) for sample in self.evidence.samples],
            "points_evaluated": self.evaluated,
            "points_known": self.known,
            "points_outdated": self.outdated,
            "wall_s": self.wall_s,
        }


def _plain_point(sample: Sample, evidence: Evidence) -> dict[str, Any]:
    margin, limit = evidence.least(sample)
    return {
        "x": sample.x,
        "y": sample.y,
        "outcome": sample.outcome,
        "outcome_detail": sample.detail,
        "headroom": margin,
        "least": limit,
        "headrooms": dict(sample.margins),
        "method": sample.method,
        "trusted": sample.trusted,
    }
