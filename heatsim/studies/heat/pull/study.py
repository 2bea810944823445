# SPDX-License-Identifier: GPL-3.0-or-later
"""What a running heater does when its workpiece is pulled out at full supply, and when one is put into the empty coil.

    steady state with it and without it, from rest, as `check` has them -> the same start again, in which the workpiece moves
    (`heatsim.netlist.movement`) -> run until settled or LONGEST -> extremes, limits (`measures`) -> PullResult

The movement is a step of RAMP of a period, which is the worst case: a hand takes 0.1 s or more, the tank settles in about a
millisecond, so by hand the heater passes through its steady states. Where the step does not keep a limit, a movement of SLOW is
simulated too, ten times as fast as a hand, and told beside it. What the coil carries at the instant of the step matters, so
INSTANTS of a period are tried, from the rising zero of its current on, and each measure is the worst of them. Under a ripple of
the supply the step falls where the ripple happens to be.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import heatsim
from heatsim.engine import MEASURABLE, Run, run_on, simulators
from heatsim.engine.settle import rising_zeros
from heatsim.errors import InputError
from heatsim.identity import simulator_version
from heatsim.netlist.deck import Deck
from heatsim.netlist.generate import make_deck
from heatsim.parts.heater import Heater
from heatsim.parts.tank import Movement
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, case_deck, judge_run
from heatsim.studies.heat.pull.measures import (
    WORST_CASE,
    along_bars,
    at_worst,
    drain_peak,
    extremes,
    findings,
    known,
    number,
    steady,
    when,
)
from heatsim.studies.heat.pull.result import Moved, MoveOutcome, PullResult
from heatsim.tasks import LocalPool
from heatsim.verdict import Finding, Grade
from heatsim.waves import Ledger, Waveforms

INSTANTS = 4
"""Instants of a period at which the step is tried."""

RUNS = 2 + 2 * INSTANTS
"""Simulations of a movement both ways: with the piece, without, and every instant; slower ones come on top."""

RAMP = 0.1
"""Duration of the step in periods of the loaded tank."""

SLOW = 10e-3
"""Duration of the slower movement [s]."""

LONGEST = 40e-3
"""After the movement, most that a run goes on [s]."""

BEGIN = 3.0
"""Periods after the last rising zero of the coil's current in the steady state before the workpiece moves at the earliest."""

SAME = 5e-3
"""Difference of frequency and tank peak between the state a run ends in and that reached from rest which is no other state [1]."""

HELD = 0.95
"""Share of the voltage wanted below which a current limit holds a supply down [1]; as in a start from rest."""

LIMITED = "supply.limited_ratio", "supply.trips_count"
"""Measures that tell of a supply's current limit."""

OUTCOMES: dict[str, tuple[MoveOutcome, Grade]] = {
    "settled": ("runs on", "holds"),
    "drifting": ("does not settle", "unknown"),
    "stalled": ("not simulated", "unknown"),
    "unsolved": ("not simulated", "unknown"),
    "dead": ("stops", "fails"),
    "latched": ("latches", "fails"),
}
"""Outcome of a run -> what that means here, and its grade; from good to bad."""

KEPT = ("tank.", "coil.current", "capacitor.voltage", "bus.voltage", "supply.", "workpiece.", "drain.", "gate.", "switch.")
ALSO = ("left.current", "right.current", "centre.current", "magnetising_current", "diode_voltage", "driver_supply_voltage")
"""Beginnings and ends of the names of the signals that are kept of a run."""

Progress = Callable[[int, float, float], None]
"""Called with the number of a simulation, simulated time so far and the time now aimed at [s]."""


def pulled(scenario: Scenario, case: str, jobs: int | None = None, progress: Progress | None = None) -> PullResult:
    """Pull the workpiece of a case out of the running heater, and put it in. What cannot be simulated is a result with its cause.

    case: name of one with a workpiece
    jobs: processes, by default one a core
    progress: see `Progress`
    Raises InputError for a scenario that cannot be built, and for a case without a workpiece.
    """
    begun, heater = time.perf_counter(), scenario.heater(case)
    if heater.branch is None:
        raise InputError.single(f"case.{case}", "has no workpiece to pull out", "", "a case with a workpiece")
    size = max(1, min(jobs or os.cpu_count() or 1, INSTANTS))
    with simulators(size) as pool:
        rig = _Rig(scenario, case, heater, pool, size, progress)
        runs = list(rig.run([case_deck(scenario, case, each) for each in rig.heaters]))
        states = [_State.of(scenario, case, each, run) for each, run in zip(rig.heaters, runs, strict=True)]
        del runs
        out, into = (rig.moved(*order) for order in (states, states[::-1]))
    spent = time.perf_counter() - begun
    return PullResult(scenario, case, out, into, heatsim.__version__, simulator_version(), spent)


@dataclass(frozen=True)
class _State:
    """A steady state from rest: what `check` finds, and a rising zero of the coil's current at its end [s], None without."""

    found: CaseResult
    zero: float | None

    @classmethod
    def of(cls, scenario: Scenario, case: str, heater: Heater, run: Run) -> _State:
        """Of one run."""
        found = judge_run(scenario, case, heater, run)
        zero = None
        if run.outcome in MEASURABLE and run.waveforms is not None:
            zeros = rising_zeros(run.waveforms.time, run.waveforms["coil.current"])
            zero = float(zeros[-1]) if zeros.size else None
        return cls(replace(found, waveforms=None), zero)

    def begin(self) -> tuple[float, float] | None:
        """Instant of the first step and period [s]; None where it does not oscillate."""
        frequency = self.found.measures.get("tank.frequency_hz")
        if self.zero is None or not isinstance(frequency, float):
            return None
        return self.zero + BEGIN / frequency, 1 / frequency


class _Rig:
    """What every run of a case shares. Simulations are numbered in the order they are begun."""

    def __init__(
        self, scenario: Scenario, case: str, heater: Heater, pool: LocalPool, size: int, progress: Progress | None
    ) -> None:
        self.scenario, self.case, self.pool, self.size, self.progress = scenario, case, pool, size, progress
        self.loaded, self.heaters = heater, (heater, replace(heater, workpiece=None))
        self.settings = scenario.case(case).tables.simulate
        self.count = 0

    def run(self, decks: Sequence[Deck]) -> Iterator[Run]:
        """Simulate decks, a few at a time: the waveforms of all of them would take much memory."""
        for first in range(0, len(decks), self.size):
            part, base = decks[first : first + self.size], self.count
            self.count += len(part)
            yield from run_on(self.pool, part, self.settings.time_limit, self._told(base))

    def _told(self, base: int) -> Progress | None:
        told = self.progress
        return (lambda index, now, target: told(base + index, now, target)) if told else None

    def deck(self, movement: Movement) -> Deck:
        """The start from rest with the workpiece in, or out, and the movement; watched from its end on."""
        title = f"{self.scenario.name}, {self.case}, workpiece {'leaves' if movement.leaves else 'is put in'}"
        deck = make_deck(self.loaded, title, self.settings.steps_per_period, self.settings.longest, movement=movement)
        rule = case_deck(self.scenario, self.case, self.heaters[movement.leaves]).settle
        later = movement.over - rule.start
        rule = replace(rule, start=movement.over, first=rule.first + later, limit=max(movement.over + LONGEST, rule.first + later))
        kept = tuple(signal for signal in deck.signals if signal.name.startswith(KEPT) or signal.name.endswith(ALSO))
        return replace(deck, settle=rule, signals=kept, ledger=Ledger(), measures="").lasting(rule.first)

    def moved(self, before: _State, after: _State) -> Moved:
        """The movement from one steady state to the other."""
        leaves, begin = before.found.heater.workpiece is not None, before.begin()
        duration = RAMP / self.loaded.frequency
        if begin is None:
            return self._not_begun(leaves, duration, before.found)
        at, period = begin
        steps = [Movement(leaves, at + k * period / INSTANTS, duration) for k in range(INSTANTS)]
        found = self._judged(steps, before.found, after.found)
        if not _too_much(found, self.loaded.supply.current_rating):
            return found
        slower = self._judged([Movement(leaves, at, SLOW)], before.found, after.found)
        return replace(found, slower=slower, findings=_beside(found.findings, slower.findings))

    def _not_begun(self, leaves: bool, duration: float, before: CaseResult) -> Moved:
        state = f"{'with' if leaves else 'without'} the workpiece"
        cause = f"From rest {state} the heater comes to no steady state: {before.outcome_detail or before.outcome}."
        return Moved(leaves, duration, 0, "not simulated", cause, {}, (_finding(leaves, "unknown", cause),))

    def _judged(self, movements: Sequence[Movement], before: CaseResult, after: CaseResult) -> Moved:
        leaves, found = movements[0].leaves, _Found()
        for movement, run in zip(movements, self.run([self.deck(each) for each in movements]), strict=True):
            found.add(run, *_measured(self.loaded, movement, run), after)
        (worst, cause), measures = found.worst, found.measures
        outcome, grade = OUTCOMES[worst]
        if grade == "holds" and (short := _short_of_full(before)):
            grade, cause = "unknown", short
        judged = [_finding(leaves, "fails" if _held_down(measures) else grade, cause)]
        whole = along_bars(at_worst(measures), before.measures) if measures else {}
        if measures:
            judged += findings(self.scenario.case(self.case), self.loaded, leaves, whole)
        whole |= known("before", before.measures) | known("expected", after.measures)
        return Moved(leaves, movements[0].ramp, len(movements), outcome, cause, whole, tuple(judged), found.kept)


class _Found:
    """What several runs of one movement came to: outcomes with causes, measures, and the waveforms with the highest drain."""

    def __init__(self) -> None:
        self.outcomes: list[tuple[str, str]] = []
        self.measures: list[dict[str, float | None]] = []
        self.kept: Waveforms | None = None

    def add(self, run: Run, measures: dict[str, float | None], waves: Waveforms | None, after: CaseResult) -> None:
        """One more run."""
        self.outcomes.append((run.outcome, _cause(run, measures, after)))
        if not measures:
            return
        if all(drain_peak(measures) > drain_peak(each) for each in self.measures):
            self.kept = waves
        self.measures.append(measures)

    @property
    def worst(self) -> tuple[str, str]:
        """Worst outcome with its cause."""
        order = list(OUTCOMES)
        return max(self.outcomes, key=lambda each: (order.index(each[0]), each[1]))


def _measured(heater: Heater, movement: Movement, run: Run) -> tuple[dict[str, float | None], Waveforms | None]:
    """Extremes and the new steady state, and the waveforms from two periods before the movement on; nothing of a run that did not
    come so far."""
    waves = run.waveforms
    if waves is None or waves.time[-1] <= movement.over:
        return {}, None
    found = extremes(heater, waves, movement.at)
    if run.outcome in MEASURABLE:
        found |= steady(waves, movement.over, run.deck.settle.quiet)
    return found, waves.between(movement.at - 2 / heater.frequency, float(waves.time[-1]))


def _cause(run: Run, found: dict[str, float | None], after: CaseResult) -> str:
    """What came of a run in plain words; empty where it comes to the state that a start from rest comes to."""
    if run.outcome != "settled":
        return run.detail or run.outcome
    if _held_down([found]):
        return "The supply's current limit holds it down"
    pairs = [(found.get(f"after.{key}"), after.measures.get(key)) for key in ("tank.frequency_hz", "tank.peak_voltage_v")]
    apart = [abs(now / own - 1) for now, own in pairs if isinstance(now, float) and isinstance(own, float)]
    if after.outcome not in MEASURABLE:
        return "From rest it does not come to this state"
    if not apart or max(apart) > SAME:
        return "It comes to another steady state than from rest"
    return ""


def _short_of_full(before: CaseResult) -> str:
    """Why the state from which the workpiece moves is not the steady one at full supply; empty where it is."""
    if _held_down([{key: number(before.measures.get(key)) for key in LIMITED}]):
        return "Before the workpiece moves the supply's current limit holds the heater down; at full supply it would be harder"
    if before.outcome != "settled":
        return f"The state before the workpiece moves is not steady: {before.outcome_detail or before.outcome}"
    return ""


def _held_down(measures: Sequence[dict[str, float | None]]) -> bool:
    """Whether a supply's current limit has switched it off, or holds it down at the end."""
    shares, off = ([each.get(key) for each in measures] for key in LIMITED)
    return any(share is not None and share < HELD for share in shares) or any(off)


def _finding(leaves: bool, grade: Grade, cause: str) -> Finding:
    """Whether it keeps running."""
    told = f"{cause[:1].upper()}{cause[1:]}".rstrip(".")
    remedy = "" if grade == "holds" else "Turn the supply down or off before the workpiece is moved."
    cause = f"{told}. {WORST_CASE}" if told and grade != "holds" else told
    return Finding("oscillator", f"keeps running {when(leaves)}", None, None, "", None, grade, "estimate", cause, remedy)


def _too_much(found: Moved, rating: float | None) -> bool:
    """Whether a step is too much for the heater, beyond what cannot be judged for want of a rating; rating: of the supply [A]."""
    most = found.measures.get("supply.max_current_a")
    beyond = rating is not None and most is not None and most > rating
    return beyond or found.outcome != "runs on" or any(each.grade in ("fails", "marginal") for each in found.findings)


def _beside(steps: Sequence[Finding], slower: Sequence[Finding]) -> tuple[Finding, ...]:
    """Findings of the step that do not hold, with what the slower movement comes to."""
    named = {(each.part, each.limit): each for each in slower}
    return tuple(each if each.grade == "holds" else _told(each, named.get((each.part, each.limit))) for each in steps)


def _told(step: Finding, slow: Finding | None) -> Finding:
    if slow is None or step.grade == slow.grade == "unknown":
        return step
    reached = "" if slow.value is None else f" ({slow.value:.4g} {slow.unit})".replace(" ratio)", ")")
    words = {"holds": "it holds", "marginal": "the headroom is marginal", "fails": "it fails too", "unknown": "it cannot be judged"}
    more = f"Moved in {1e3 * SLOW:g} ms, ten times as fast as a hand, {words[slow.grade]}{reached}."
    base = step.cause if WORST_CASE in step.cause else f"{step.cause} {WORST_CASE}"
    return replace(step, cause=f"{base.strip()} {more}")


__all__ = ["INSTANTS", "LONGEST", "RAMP", "SLOW", "pulled"]
