# SPDX-License-Identifier: GPL-3.0-or-later
"""What a run comes to: an outcome with its cause, never only a number."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from heatsim.netlist.deck import Deck
from heatsim.waves import Waveforms

Outcome = Literal["settled", "drifting", "latched", "dead", "stalled", "unsolved"]
"""settled: periodic within the deck's tolerance, but for a swing of the supply that dies away, which the cause then tells;
drifting: still moving at the longest time allowed; latched: no
oscillation and the watched currents still rise or stand high; dead: no oscillation; stalled: time limit, hang or a
worker that died; unsolved: the simulator gave up or refused the deck."""


MEASURABLE: tuple[Outcome, ...] = ("settled", "drifting")
"""Outcomes of a run that oscillates, so that there are periods to measure over."""


@dataclass(frozen=True)
class Rung:
    """One step of the retry ladder: simulator options to change, and `max_step` as a factor on the deck's."""

    name: str
    options: Mapping[str, str] = field(default_factory=dict)
    max_step_factor: float = 1.0


@dataclass(frozen=True)
class Attempt:
    """How one rung ended: outcome, cause in plain words, wall time [s] and simulated time reached [s]."""

    rung: Rung
    outcome: Outcome
    detail: str
    wall_s: float
    reached_s: float


@dataclass(frozen=True)
class Run:
    """The last attempt's outcome and waveforms (partial when it failed, None when there are none), the deck as it
    ran, every attempt in order, wall time [s] and the simulator's version.
    """

    outcome: Outcome
    detail: str
    waveforms: Waveforms | None
    deck: Deck
    attempts: tuple[Attempt, ...] = ()
    wall_s: float = 0.0
    simulator_version: str = ""

    @property
    def swings(self) -> bool:
        """Whether the supply's own resonance may still swing at the end: drifting, or settled with a cause."""
        return self.outcome == "drifting" or self.outcome == "settled" and bool(self.detail)
