# SPDX-License-Identifier: GPL-3.0-or-later
"""How the sweeps of a store stand, and which of their results do not count any more."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from heatsim.identity import made_with

FAILED = ("stalled", "unsolved", "unbuildable")
"""Outcomes without a judged state; `SweepInfo.failed` counts them."""


@dataclass(frozen=True)
class SweepInfo:
    """How a sweep stands.

    plan: as it was registered
    total, done, failed: number of points, of those with a result, and of those among them without a judged state
    outcomes, grades: how many results of each
    least_headroom: [1], None without a number
    started, last_put: when it was first registered, and when the latest of its results came in, None before the first
    """

    number: int
    plan: Mapping[str, Any]
    total: int
    done: int
    failed: int
    outcomes: Mapping[str, int]
    grades: Mapping[str, int]
    least_headroom: float | None
    started: datetime
    last_put: datetime | None

    @property
    def made_with(self) -> Mapping[str, str]:
        """Versions of what computed it, see `heatsim.identity.made_with`; empty for sweeps from before they were noted."""
        return dict(self.plan.get("made_with", {}))

    @property
    def current(self) -> bool:
        """Whether today's heatsim and simulator would compute it alike, so that its points are found again."""
        return self.made_with == made_with()


@dataclass(frozen=True)
class Stale:
    """Results of a scenario file that a store keeps and that do not count any more.

    edited: of the file with another content
    outdated: by another version of heatsim, of its model library or of the simulator
    """

    edited: int = 0
    outdated: int = 0


def stale_results(sweeps: Iterable[SweepInfo], plan: Mapping[str, Any]) -> Stale:
    """Results of the plan's scenario file in a store that the plan cannot use."""
    mine, edited, outdated = plan["scenario"], 0, 0
    for sweep in sweeps:
        other = sweep.plan.get("scenario", {})
        same_file = all(other.get(key) == mine[key] for key in ("file", "changes"))
        same_content = other.get("sha256") == mine["sha256"]
        if sweep.made_with != plan["made_with"]:
            outdated += sweep.done if same_file or same_content else 0
        elif same_file and not same_content:
            edited += sweep.done
    return Stale(edited, outdated)
