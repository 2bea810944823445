# SPDX-License-Identifier: GPL-3.0-or-later
"""One deck on one session: cold start, look, go on, until settled; up the ladder when it cannot be solved."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from heatsim.engine.ladder import LADDER, climb
from heatsim.engine.outcome import Attempt, Outcome, Run, Rung
from heatsim.engine.session import DeckRefused, Session
from heatsim.engine.settle import Judgement, judge
from heatsim.netlist.deck import Deck
from heatsim.waves import Signal, Waveforms

Report = Callable[[float, float], None]
"""Called with simulated time so far and the time now aimed at [s]."""

CHUNKS = 12
"""Pieces in which the first stretch of a run is simulated, so that a slow run is noticed and told from a hung one."""

DEAD_PATIENCE = 2.0
"""A run without oscillation is given up at this many times the first look."""


def simulate(session: Session, deck: Deck, time_limit: float, report: Report) -> Run:
    """Run a deck to a settled state or to a cause. `time_limit` [s] of wall clock over all rungs."""
    begun = time.perf_counter()
    attempts: list[Attempt] = []
    run = Run("unsolved", "", None, deck)
    for rung in LADDER:
        started = time.perf_counter()
        run = _attempt(session, climb(deck, rung), begun + time_limit, report)
        reached = run.deck.transient.stop
        attempts.append(Attempt(rung, run.outcome, run.detail, time.perf_counter() - started, reached))
        if run.outcome != "unsolved" or session.poisoned or _hopeless(run):
            break
    return Run(run.outcome, run.detail, run.waveforms, run.deck, tuple(attempts), time.perf_counter() - begun,
               session.version, tuple(session.messages[-60:]))


def _hopeless(run: Run) -> bool:
    """Nothing was simulated at all: the deck itself is at fault, no option will mend it."""
    return run.waveforms is None and run.deck.transient.stop == 0


def _attempt(session: Session, deck: Deck, deadline: float, report: Report) -> Run:
    """One rung."""
    rule = deck.settle
    whole = deck.lasting(rule.limit)
    try:
        session.load(whole)
    except DeckRefused as error:
        return Run("unsolved", str(error), None, deck.lasting(0.0))
    stops = [rule.first * (k + 1) / CHUNKS for k in range(CHUNKS)]
    while True:
        for target in stops:
            if not _advance(session, target, rule.limit, report):
                return _ended(session, deck, "unsolved", session.cause or "the simulation stopped early for no stated reason")
            if time.perf_counter() > deadline:
                return _ended(session, deck, "stalled", _slow(session, deck))
        found = _look(session, deck)
        now = session.reached
        outcome = _verdict(found, now, deck)
        if outcome is not None:
            return _ended(session, deck, outcome, _detail(outcome, found))
        stops = [min(now + rule.again * (k + 1) / 4, rule.limit) for k in range(4)]


def _advance(session: Session, target: float, limit: float, report: Report) -> bool:
    """Simulate on to `target`; False when it did not get there."""
    if session.reached >= target:
        return True
    session.advance(target if target < limit else None)
    reached = session.reached
    report(reached, target)
    return reached >= target * (1 - 1e-6) and not session.poisoned


def _look(session: Session, deck: Deck) -> Judgement | None:
    """Judge what has been simulated so far; None when a vector is missing or not finite."""
    wanted = {deck.settle.section, *deck.settle.watched}
    waves = _waveforms(session, deck, [signal for signal in deck.signals if signal.name in wanted])
    return judge(waves.time, waves.signals, deck.settle) if waves else None


def _verdict(found: Judgement | None, now: float, deck: Deck) -> Outcome | None:
    """Outcome, or None to go on."""
    if found is None:
        return "unsolved"
    if found.state == "settled":
        return "settled"
    last = now >= deck.settle.limit * (1 - 1e-6)
    if found.state in ("quiet", "latched") and (last or now >= DEAD_PATIENCE * deck.settle.first):
        return "latched" if found.state == "latched" else "dead"
    return "drifting" if last else None


def _detail(outcome: Outcome, found: Judgement | None) -> str:
    if outcome == "unsolved":
        return "a saved vector is missing or not finite"
    if outcome == "drifting" and found is not None and found.drift is not None:
        return f"{found.signal} still drifts by {100 * found.drift:.2g} % between windows"
    return ""


def _slow(session: Session, deck: Deck) -> str:
    """Why a run takes so long, from its own time steps."""
    got = session.vectors(())
    if got is None:
        return "the time limit was reached before the first step"
    step = float(np.median(np.diff(got[0][-2000:])))
    text = f"the time limit was reached at {got[0][-1] * 1e3:.3g} ms of {deck.settle.first * 1e3:.3g} ms or more"
    if step < 0.02 * deck.transient.max_step:
        text += f"; the time step fell to {step * 1e9:.2g} ns, as when a stray rings near {1e-6 / (25 * step):.2g} MHz"
    return text


def _waveforms(session: Session, deck: Deck, signals: list[Signal]) -> Waveforms | None:
    vectors = tuple(dict.fromkeys(vector for signal in signals for _, vector in signal.terms))
    got = session.vectors(vectors)
    if got is None:
        return None
    instants, arrays = got
    named = {s.name: np.asarray(sum(factor * arrays[vector] for factor, vector in s.terms)) for s in signals}
    return Waveforms(instants, named, {s.name: s.unit for s in signals}, f"{session.version}, cold start")


def _ended(session: Session, deck: Deck, outcome: Outcome, detail: str) -> Run:
    waves = _waveforms(session, deck, list(deck.signals))
    reached = session.reached
    return Run(outcome, detail, waves, deck.lasting(reached))


__all__ = ["Report", "Rung", "simulate"]
