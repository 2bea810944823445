# SPDX-License-Identifier: GPL-3.0-or-later
"""What coil advice returns: coils with their estimates, those that were simulated, and the plain data written to results.json."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from heatsim.scenario.scenario import Scenario
from heatsim.verdict import SEVERITY, Finding, Grade, worst

SCHEMA = "heatsim.coils/1"
"""Name and version of the results schema; keys are added, never renamed."""


@dataclass(frozen=True)
class CoilShape:
    """A work coil of round tube: turns [1]; bore: clear inside [m]; length: turns times pitch [m]; tube: its diameter [m]."""

    turns: float
    bore: float
    length: float
    tube: float

    @property
    def diameter(self) -> float:
        """Of the middle of the tube [m]."""
        return self.bore + self.tube

    @property
    def fields(self) -> dict[str, str | float]:
        """As [coil] of a scenario holds it."""
        return {"turns": self.turns, "diameter": f"{1e3 * self.diameter:.6g} mm", "length": f"{1e3 * self.length:.6g} mm"}


@dataclass(frozen=True)
class CoilState:
    """The ideal stage with the piece at one temperature [°C], NaN for the empty coil.

    frequency [Hz]; power: into the piece [W]; given_off: by the piece [W]; supply_current: mean [A]; coil_current and
    capacitor_current: rms, of the whole bank [A]; coil_loss: of coil and leads [W]; other_loss: of capacitors, supply, chokes and
    switches as the ideal stage knows them [W]; quality: of the tank [1]; efficiency: power in the piece over the supply's [1]
    """

    celsius: float
    frequency: float
    power: float
    given_off: float
    supply_current: float
    coil_current: float
    capacitor_current: float
    coil_loss: float
    other_loss: float
    quality: float

    @property
    def efficiency(self) -> float:
        """Power in the piece over the supply's [1]."""
        return self.power / (self.power + self.coil_loss + self.other_loss)


@dataclass(frozen=True)
class CoilEstimate:
    """One coil, judged by the ideal stage.

    own: whether it is the scenario's; clearance: between piece and tube [m]; fill: piece's diameter over bore [1]; cover:
    coil's length over the piece's [1]; inductance [H] and resistance [ohm]: of the empty coil without leads; idle: without the
    piece; states: by temperature, rising; seconds: until the piece is as warm as wanted in the mean [s], None where it never is;
    surplus: by how much later (core) or earlier (surface) that is where it is asked [s]; stalls: temperature at which it stands
    still [°C], None where it does not below the wanted; efficiency: of the supply's energy into the piece on the way there [1];
    findings: limits at the worst temperature of each; doubts: why the estimate or the parts' figures do not reach to it, in words;
    wanted_headroom: of the scenario [1]
    """

    shape: CoilShape
    own: bool
    clearance: float
    fill: float
    cover: float
    inductance: float
    resistance: float
    idle: CoilState
    states: tuple[CoilState, ...]
    seconds: float | None
    surplus: float
    stalls: float | None
    efficiency: float
    findings: tuple[Finding, ...]
    doubts: tuple[str, ...]
    wanted_headroom: float

    @property
    def time(self) -> float | None:
        """Time until the piece is as warm as wanted where it is asked [s]; None where it never is."""
        return None if self.seconds is None else max(self.seconds + self.surplus, 0.0)

    @property
    def short(self) -> tuple[Finding, ...]:
        """Findings that fail or have less than the wanted headroom, worst first."""
        found = [each for each in self.findings if each.grade in ("fails", "marginal")]
        return tuple(sorted(found, key=lambda each: each.headroom or 0.0))

    @property
    def excess(self) -> float:
        """How far it is from keeping every limit [1]: the most that is missing to a wanted headroom, 1 for a doubt at least; 0
        where it keeps them all."""
        missing = [self.wanted_headroom - (each.headroom or 0.0) for each in self.short]
        return max([*missing, *(1.0 for _ in self.doubts)], default=0.0)

    @property
    def keeps(self) -> bool:
        """Whether it keeps every limit and brings the piece to the wanted temperature."""
        return self.excess == 0 and self.time is not None

    @property
    def current(self) -> float:
        """The coil's at most [A], rms."""
        return max(each.coil_current for each in self.states)

    @property
    def worst(self) -> CoilState:
        """Where it draws the most from the supply."""
        return max(self.states, key=lambda each: each.supply_current)


@dataclass(frozen=True)
class Compared:
    """A number of a simulation beside its estimate, both in the unit of the measure."""

    key: str
    estimated: float
    simulated: float

    @property
    def difference(self) -> float:
        """Simulated over estimated, less one [1]."""
        return self.simulated / self.estimated - 1


@dataclass(frozen=True)
class ConfirmedState:
    """A cold start of the heater with the piece evenly at a temperature [°C], or of another of the scenario's cases (None), such
    as idle.

    name: what the piece is like, or the case; outcome, outcome_detail, findings: as in `CaseResult`; compared: beside the estimate
    """

    name: str
    celsius: float | None
    outcome: str
    outcome_detail: str
    findings: tuple[Finding, ...]
    compared: tuple[Compared, ...]

    @property
    def grade(self) -> Grade:
        """Worst of its findings; one that cannot be judged for want of a rating counts no more than in a check of the scenario."""
        return worst(each.grade for each in self.findings)

    @property
    def short(self) -> tuple[Finding, ...]:
        """Findings that fail or lack the wanted headroom, worst first."""
        found = [each for each in self.findings if each.grade in ("fails", "marginal")]
        return tuple(
            sorted(found, key=lambda each: (-SEVERITY[each.grade], each.headroom if each.headroom is not None else -math.inf))
        )

    @property
    def holds(self) -> bool:
        """Whether it runs and no limit fails or lacks the wanted headroom."""
        return self.outcome == "settled" and not self.short


@dataclass(frozen=True)
class ConfirmedCoil:
    """A coil that was simulated. estimate: of it; states: the piece cold, where it draws most, as warm as wanted, and the
    scenario's other cases; problem: why it
    could not be simulated, empty where it could."""

    estimate: CoilEstimate
    states: tuple[ConfirmedState, ...]
    problem: str = ""

    @property
    def holds(self) -> bool:
        """Whether every state holds."""
        return bool(self.states) and all(each.holds for each in self.states)

    @property
    def ended_by(self) -> str:
        """What is not kept, in a few words; empty where all is."""
        if self.problem:
            return self.problem
        for state in self.states:
            if state.outcome != "settled":
                return f"{state.name}: {state.outcome}, {state.outcome_detail}"
        rows = [
            (each.headroom if each.headroom is not None else -math.inf, state, each)
            for state in self.states
            for each in state.short
        ]
        if not rows:
            return ""
        _, state, finding = min(rows, key=lambda row: row[0])
        return f"{finding.part}: {finding.limit} ({state.name})"


@dataclass(frozen=True)
class CoilAdvice:
    """Coils for a piece, best first.

    case: with the piece; piece: in words; wanted [°C]; at: core or surface; own: the scenario's coil; candidates: the others,
    ranked; left_out: how many could not be told, by reason; confirmed: simulated, the scenario's own first, the others down the
    ranking; cautions: in sentences
    """

    scenario: Scenario
    case: str
    piece: str
    wanted: float
    at: str
    own: CoilEstimate
    candidates: tuple[CoilEstimate, ...]
    left_out: Mapping[str, int]
    confirmed: tuple[ConfirmedCoil, ...]
    cautions: tuple[str, ...]
    heatsim_version: str
    simulator_version: str
    wall_s: float

    @property
    def recommended(self) -> ConfirmedCoil | None:
        """The quickest of the coils whose simulation holds, the scenario's own among them; None where none does."""
        held = [each for each in self.confirmed if each.holds and each.estimate.time is not None]
        return min(held, key=lambda each: rank(each.estimate), default=None)

    @property
    def keeping(self) -> int:
        """Candidates that keep every limit and reach the wanted temperature by the estimate."""
        return sum(each.keeps for each in self.candidates)

    @property
    def exit_code(self) -> int:
        """0 when a coil is recommended, 1 when none is."""
        return 0 if self.recommended else 1

    def as_dict(self) -> dict[str, Any]:
        """Plain data for results.json."""
        chosen = self.recommended
        return {
            "schema": SCHEMA,
            "heatsim_version": self.heatsim_version,
            "simulator_version": self.simulator_version,
            "scenario": self.scenario.identity,
            "case": self.case,
            "piece": self.piece,
            "wanted_c": self.wanted,
            "at": self.at,
            "recommended": None if chosen is None else asdict(chosen.estimate.shape),
            "own": plain_estimate(self.own),
            "candidates": [plain_estimate(each) for each in self.candidates],
            "left_out": dict(self.left_out),
            "confirmed": [_plain_confirmed(each) for each in self.confirmed],
            "cautions": list(self.cautions),
            "wall_s": self.wall_s,
        }


def plain_estimate(one: CoilEstimate) -> dict[str, Any]:
    """An estimate as plain data."""
    return {
        **asdict(one.shape),
        "diameter": one.shape.diameter,
        **{name: getattr(one, name) for name in ("own", "clearance", "fill", "cover", "inductance", "resistance")},
        "time_s": one.time,
        "mean_s": one.seconds,
        "surplus_s": one.surplus,
        "stalls_c": one.stalls,
        "efficiency_ratio": one.efficiency,
        "excess_ratio": one.excess,
        "idle": _plain_state(one.idle),
        "states": [_plain_state(each) for each in one.states],
        "findings": [each.as_dict() for each in one.findings],
        "doubts": list(one.doubts),
    }


def _plain_state(state: CoilState) -> dict[str, float | None]:
    values = asdict(state) | {"efficiency": state.efficiency}
    return {name: value if math.isfinite(value) else None for name, value in values.items()}


def _plain_confirmed(one: ConfirmedCoil) -> dict[str, Any]:
    states = [
        {
            **{name: getattr(each, name) for name in ("name", "celsius", "outcome", "outcome_detail", "grade")},
            "findings": [finding.as_dict() for finding in each.findings],
            "compared": [asdict(row) | {"difference": row.difference} for row in each.compared],
        }
        for each in one.states
    ]
    shape = asdict(one.estimate.shape)
    return {"coil": shape, "own": one.estimate.own, "holds": one.holds, "ended_by": one.ended_by, "states": states}


def rank(one: CoilEstimate) -> tuple[float, ...]:
    """Sorts the best first: what keeps every limit and gets there, by time, then by efficiency; then what lacks least."""
    there = one.time is not None
    last = one.time if one.time is not None else -(one.stalls or 0.0)
    return (float(not one.keeps), float(not there), one.excess, last, -one.efficiency)
