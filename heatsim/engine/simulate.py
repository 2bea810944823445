# SPDX-License-Identifier: GPL-3.0-or-later
"""One deck on one session: cold start, look, go on, until settled; up the ladder when it cannot be solved."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable

import numpy as np

from heatsim.engine.guard import DeckRefused
from heatsim.engine.ladder import LADDER, climb
from heatsim.engine.outcome import Attempt, Outcome, Run, Rung
from heatsim.engine.ringing import fastest_ringing
from heatsim.engine.session import Session
from heatsim.engine.settle import Judgement, judge
from heatsim.netlist.deck import Deck
from heatsim.waves import Array, Signal, Waveforms

Report = Callable[[float, float], None]
"""Called with simulated time so far and the time now aimed at [s]."""

PIECE = 4000
"""Time points simulated at a stretch; between two pieces the clock is looked at and progress reported. Bounding points
and not simulated time keeps a run stoppable however small its steps become."""

COLLAPSED = 0.01
"""A median step below this share of the largest step, over PATIENCE pieces, is a collapse of the step."""

SMALL = 0.1
"""A median step below this share of the largest step is given as the reason for a slow run."""

PATIENCE = 5
"""Pieces with a collapsed step after which a run that cannot end within its time points is given up."""

MOST_POINTS, MOST_PER_STEP = 2_000_000, 3.0
"""Time points after which a run is given up: so many, or so many times the largest steps in the longest run if that is
more. A heater takes 1.8 a largest step. Bounding points and not the clock makes the outcome the circuit's own."""

DEAD_PATIENCE = 2.0
"""A run without oscillation, in which nothing moves either, is given up after this many times what passes from everything
being switched on to the first look."""

CLOSE = 1 - 1e-6
"""A time counts as reached from this share of it on: steps end on floating-point numbers."""


def simulate(
    session: Session,
    deck: Deck,
    time_limit: float,
    report: Report = lambda reached, target: None,
    attempted: Callable[[Attempt], None] = lambda attempt: None,
    ladder: tuple[Rung, ...] = LADDER,
) -> Run:
    """Run a deck to a settled state or to a cause.

    time_limit: wall clock [s] over all rungs, the last guard; report: see Report; attempted: told of every rung that ended.
    """
    begun = time.perf_counter()
    attempts: list[Attempt] = []
    run = Run("unsolved", "", None, deck)
    for rung in ladder:
        started = time.perf_counter()
        run = _Try(session, climb(deck, rung), begun, time_limit, report).run()
        wall = time.perf_counter() - started
        attempts.append(Attempt(rung, run.outcome, run.detail, wall, run.deck.transient.stop))
        attempted(attempts[-1])
        over = time.perf_counter() > begun + time_limit
        if run.outcome != "unsolved" or session.poisoned or not session.began or over:
            break  # nor is a collapsed step retried: looser tolerances do get past it, but to contradictory results
    wall = time.perf_counter() - begun
    return Run(run.outcome, _told(attempts), run.waveforms, run.deck, tuple(attempts), wall, session.version)


def _told(attempts: list[Attempt]) -> str:
    """The last attempt's cause, with the first one's when a retry ran out of time and would hide it."""
    last, first = attempts[-1], attempts[0]
    if last.outcome != "stalled" or first is last:
        return last.detail
    return f"{last.detail}; it was a retry, because at first {first.detail}"


class _Failed(Exception):
    """A try that cannot go on: outcome and cause."""

    def __init__(self, outcome: Outcome, cause: str) -> None:
        super().__init__(cause)
        self.outcome: Outcome = outcome


class _Try:
    """One rung of one deck."""

    def __init__(self, session: Session, deck: Deck, begun: float, time_limit: float, report: Report) -> None:
        self.session, self.deck, self.report = session, deck, report
        self.begun, self.time_limit = begun, time_limit
        self.most = max(MOST_POINTS, round(MOST_PER_STEP * deck.settle.limit / deck.transient.max_step))
        self._collapsed = 0
        self._why = ""

    def run(self) -> Run:
        """Simulate until an outcome is known."""
        try:
            outcome, detail = self._outcome()
        except _Failed as failure:
            outcome, detail = failure.outcome, str(failure)
        waves = _waveforms(self.session, self.deck.signals)
        return Run(outcome, detail, waves, self.deck.lasting(self.session.reached))

    def _outcome(self) -> tuple[Outcome, str]:
        rule = self.deck.settle
        try:
            self.session.load(self.deck.lasting(rule.limit))
        except DeckRefused as error:
            raise _Failed("unsolved", f"the deck was refused: {error}") from None
        target = min(rule.first, rule.limit)
        while True:
            self._advance(target)
            found = self._look()
            outcome = _verdict(found, self.session.reached, self.deck)
            if outcome is not None:
                return outcome, _detail(outcome, found)
            target = min(self.session.reached + rule.again, rule.limit)

    def _advance(self, target: float) -> None:
        """Simulate on to `target` [s]."""
        session = self.session
        last = target >= self.deck.settle.limit * CLOSE
        while session.reached < target * CLOSE:
            points, reached = session.points, session.reached
            session.advance(None if last else target, PIECE)
            self.report(session.reached, target)
            if session.poisoned or session.reached < target * CLOSE and session.points < points + PIECE:
                silence = f"the simulation stopped at {session.reached * 1e3:.4g} ms of {target * 1e3:.4g} ms without saying why"
                raise _Failed("unsolved", session.cause or silence)
            missing = session.missing(self.deck.vectors) if points == 0 else ()
            if missing:
                raise _Failed("unsolved", f"the circuit has no {', '.join(missing)}")
            self._check_progress(target, (session.reached - reached) / (session.points - points))

    def _check_progress(self, target: float, speed: float) -> None:
        """Give up when the time points are used up, or before when the step has collapsed so far that they will be anyway.

        speed: simulated seconds per time point of the last piece. The clock is only the last guard.
        """
        step = self.session.median_step(PIECE)
        small = step < COLLAPSED * self.deck.transient.max_step
        self._collapsed = self._collapsed + 1 if small else 0
        to_go = max(target, self.deck.settle.first) - self.session.reached
        left = self.most - self.session.points
        vain = self._collapsed >= PATIENCE and to_go > speed * left
        wall = time.perf_counter() - self.begun
        rule = self.deck.settle
        worth = rule.effort * (self.session.reached + rule.first / 4) / self.deck.transient.max_step
        if to_go > 0 and rule.effort and self.session.points > worth:
            raise _Failed("stalled", f"given up as a trial at {self._slow(step)}")
        if to_go > 0 and (vain or left <= 0):
            raise _Failed("stalled", f"given up at {self._slow(step)}")
        if to_go > 0 and wall > self.time_limit:
            guard = f"gave up after {wall:.3g} s of wall time on this machine, the time limit: not a property of the circuit"
            raise _Failed("stalled", f"{guard}; it had come to {self._slow(step)}")

    def _slow(self, step: float) -> str:
        """How far a run came that takes so long, and why, from its own time steps."""
        reached, first = self.session.reached, self.deck.settle.first
        place = f" of {first * 1e3:.3g} ms or more" if reached < first else f", when {self._why or 'still moving'}"
        text = f"{reached * 1e3:.4g} ms{place}, after {self.session.points} time points"
        if step >= SMALL * self.deck.transient.max_step:
            return text
        waves = _waveforms(self.session, self.deck.signals)
        rings = fastest_ringing(waves, 2 * PIECE, 1 / (20 * self.deck.transient.max_step)) if waves else None
        what = f", for {rings[0]} rings at {rings[1] / 1e6:.3g} MHz" if rings else ""
        return f"{text}; the time step fell to {step * 1e9:.2g} ns{what}"

    def _look(self) -> Judgement:
        """Judge what has been simulated so far."""
        rule = self.deck.settle
        waves = _waveforms(self.session, [s for s in self.deck.signals if s.name in {rule.section, *rule.watched}])
        if waves is None or waves.time[-1] < self.session.reached * CLOSE:
            since = 0.0 if waves is None else waves.time[-1]
            raise _Failed("unsolved", f"the waveforms are not finite from {since * 1e3:.4g} ms on")
        found = judge(waves.time, waves.signals, rule)
        self._why = found.why
        return found


def _verdict(found: Judgement, now: float, deck: Deck) -> Outcome | None:
    """Outcome, or None to go on."""
    if found.state == "settled":
        return "settled"
    last = now >= deck.settle.limit * CLOSE
    if last and found.fading is not None:
        return "settled"
    waited = DEAD_PATIENCE * (deck.settle.first - deck.settle.start)
    if found.state in ("quiet", "latched") and (last or found.still and now >= deck.settle.start + waited):
        return "latched" if found.state == "latched" else "dead"
    return "drifting" if last else None


def _detail(outcome: Outcome, found: Judgement) -> str:
    if outcome == "dead":
        return "no oscillation" + ("" if found.still else ", though something watched still moves")
    if outcome == "latched":
        return "no oscillation while current stands high" + ("" if found.still else " and still changes")
    if outcome == "settled" and found.fading is not None:
        return (
            f"the supply's own resonance still swings by {100 * found.fading:.2g} % and dies away, all else is at rest: "
            "each limit is judged at the worst instant of the swing"
        )
    return found.why


def _waveforms(session: Session, signals: Iterable[Signal]) -> Waveforms | None:
    """The signals simulated so far, as far as they are finite; None when a vector is missing."""
    chosen = list(signals)
    got = session.vectors(tuple(dict.fromkeys(vector for signal in chosen for _, vector in signal.terms)))
    return combine(chosen, *got, f"{session.version}, cold start") if got else None


def combine(signals: Iterable[Signal], instants: Array, vectors: dict[str, Array], origin: str) -> Waveforms:
    """Signals from simulator vectors: each the sum of its terms."""
    chosen = list(signals)
    named = {
        each.name: sum((factor * vectors[vector] for factor, vector in each.terms), np.zeros(instants.size)) for each in chosen
    }
    return Waveforms(instants, named, {each.name: each.unit for each in chosen}, origin)
