# SPDX-License-Identifier: GPL-3.0-or-later
"""One deck on one session: cold start, look, go on, until settled; up the ladder when it cannot be solved."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable

import numpy as np

from heatsim.engine.guard import DeckRefused
from heatsim.engine.ladder import LADDER, climb
from heatsim.engine.outcome import Attempt, Outcome, Run, Rung
from heatsim.engine.session import Session
from heatsim.engine.settle import Judgement, judge
from heatsim.netlist.deck import Deck
from heatsim.waves import Signal, Waveforms

Report = Callable[[float, float], None]
"""Called with simulated time so far and the time now aimed at [s]."""

CHUNKS = 12
"""Pieces in which the first stretch of a run is simulated, so that a slow run is noticed and told from a hung one."""

DEAD_PATIENCE = 2.0
"""A run without oscillation, in which nothing moves either, is given up at this many times the first look."""

CLOSE = 1 - 1e-6
"""A time counts as reached from this share of it on: steps end on floating-point numbers."""


def simulate(session: Session, deck: Deck, time_limit: float, report: Report = lambda reached, target: None,
             attempted: Callable[[Attempt], None] = lambda attempt: None, ladder: tuple[Rung, ...] = LADDER) -> Run:
    """Run a deck to a settled state or to a cause.

    time_limit: wall clock [s] over all rungs; report: see Report; attempted: told of every rung that ended.
    """
    begun = time.perf_counter()
    attempts: list[Attempt] = []
    run = Run("unsolved", "", None, deck)
    for rung in ladder:
        started = time.perf_counter()
        session.on_percent = lambda percent: report(percent / 100 * deck.settle.limit, deck.settle.limit)
        run = _attempt(session, climb(deck, rung), begun + time_limit, report)
        wall = time.perf_counter() - started
        attempts.append(Attempt(rung, run.outcome, run.detail, wall, run.deck.transient.stop))
        attempted(attempts[-1])
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
    try:
        session.load(deck.lasting(rule.limit))
    except DeckRefused as error:
        return Run("unsolved", f"the deck was refused: {error}", None, deck.lasting(0.0))
    stops = [rule.first * (k + 1) / CHUNKS for k in range(CHUNKS)]
    while True:
        failed = _advance(session, deck, stops, deadline, report)
        if failed is not None:
            return _ended(session, deck, *failed)
        found = _look(session, deck)
        now = session.reached
        outcome = _verdict(found, now, deck)
        if outcome is not None:
            return _ended(session, deck, outcome, _detail(outcome, found))
        stops = [min(now + rule.again * (k + 1) / 4, rule.limit) for k in range(4)]


def _advance(session: Session, deck: Deck, stops: Iterable[float], deadline: float, report: Report
             ) -> tuple[Outcome, str] | None:
    """Simulate on to each of `stops` in turn; outcome and cause when it did not get there."""
    for target in stops:
        if session.reached < target * CLOSE:
            session.advance(target if target < deck.settle.limit * CLOSE else None)
        reached = session.reached
        report(reached, target)
        if reached < target * CLOSE or session.poisoned:
            return "unsolved", session.cause or _silence(reached, target)
        if time.perf_counter() > deadline:
            return "stalled", _slow(session, deck, target)
    return None


def _silence(reached: float, target: float) -> str:
    return f"the simulation stopped at {reached * 1e3:.4g} ms of {target * 1e3:.4g} ms without saying why"


def _look(session: Session, deck: Deck) -> Judgement | None:
    """Judge what has been simulated so far; None when a vector is missing or not finite."""
    wanted = {deck.settle.section, *deck.settle.watched}
    waves = _waveforms(session, [signal for signal in deck.signals if signal.name in wanted])
    return judge(waves.time, waves.signals, deck.settle) if waves else None


def _verdict(found: Judgement | None, now: float, deck: Deck) -> Outcome | None:
    """Outcome, or None to go on."""
    if found is None:
        return "unsolved"
    if found.state == "settled":
        return "settled"
    last = now >= deck.settle.limit * CLOSE
    if found.state in ("quiet", "latched") and (last or found.still and now >= DEAD_PATIENCE * deck.settle.first):
        return "latched" if found.state == "latched" else "dead"
    return "drifting" if last else None


def _detail(outcome: Outcome, found: Judgement | None) -> str:
    if found is None:
        return "a saved vector is missing or not finite"
    if outcome == "dead":
        return "no oscillation" + ("" if found.still else ", though something watched still moves")
    if outcome == "latched":
        return "no oscillation while current stands high" + ("" if found.still else " and still changes")
    return found.why


def _slow(session: Session, deck: Deck, target: float) -> str:
    """Why a run takes so long, from its own time steps."""
    got = session.vectors(())
    if got is None:
        return "the time limit was reached before the first step"
    step = float(np.median(np.diff(got[0][-2000:])))
    least = max(target, deck.settle.first)
    text = f"the time limit was reached at {got[0][-1] * 1e3:.3g} ms of {least * 1e3:.3g} ms or more"
    if step < 0.02 * deck.transient.max_step:
        text += f"; the time step fell to {step * 1e9:.2g} ns, as when a stray rings near {1e-6 / (25 * step):.2g} MHz"
    return text


def _waveforms(session: Session, signals: Iterable[Signal]) -> Waveforms | None:
    """The signals simulated so far; None when a vector is missing or not finite."""
    chosen = list(signals)
    got = session.vectors(tuple(dict.fromkeys(vector for signal in chosen for _, vector in signal.terms)))
    if got is None:
        return None
    instants, arrays = got
    return combine(chosen, instants, arrays, f"{session.version}, cold start")


def combine(signals: Iterable[Signal], time: np.ndarray, vectors: dict[str, np.ndarray], origin: str) -> Waveforms:
    """Signals from simulator vectors: each the sum of its terms."""
    chosen = list(signals)
    named = {each.name: sum((factor * vectors[vector] for factor, vector in each.terms), np.zeros(time.size))
             for each in chosen}
    return Waveforms(time, named, {each.name: each.unit for each in chosen}, origin)


def _ended(session: Session, deck: Deck, outcome: Outcome, detail: str) -> Run:
    """The run with whatever waveforms there are and the time it reached."""
    return Run(outcome, detail, _waveforms(session, deck.signals), deck.lasting(session.reached))
