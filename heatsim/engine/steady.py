# SPDX-License-Identifier: GPL-3.0-or-later
"""A start from rest that ends in the periodic state it leads to: half the effort of one that waits until everything rests.

The heater is switched on with coarse steps, up to the first look at it. From there its periodic state is found by shooting, first
with the same coarse steps and then with the deck's own, and some periods of that are simulated freely. They take the place of the
run's end, if the start was on its way to nothing else: its last periods must agree with them. What moves slowly need not have come
to rest by then. Where there is no such state, or the two disagree, there is no answer: the deck has to be simulated until it rests.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from heatsim.engine.outcome import MEASURABLE, Attempt, Run, Rung
from heatsim.engine.poincare import PoincareMap
from heatsim.engine.session import Session
from heatsim.engine.settle import PERIOD, rising_zeros
from heatsim.engine.shooting import (
    InitialGuess,
    NoPeriodicState,
    PeriodicState,
    find_periodic_state,
    floquet_multipliers,
    guess_at_section,
)
from heatsim.engine.simulate import Report, simulate
from heatsim.netlist.deck import Deck, SettleRule
from heatsim.waves import Array, Waveforms
from heatsim.waves.periods import per_period

LAST = 12
"""Periods at the end of the run; all but two of them are measured."""

APART = {PERIOD: 5e-3, "tank.voltage": 0.01}
"""Largest difference between the start's last periods and the periodic state, relative to mean and swing; of currents OTHERS."""

OTHERS = 0.05

FALL = 0.05
"""Share by which the tank's amplitude may fall below what it had reached on the way. Where it falls further, the oscillation was
not established when it began, and the simulator's steps decide what comes next: one heater's drains reached 156 V with the usual
steps, 58 V with coarse ones."""

REST = 5e-3
"""Share of a slow state's scale by which a plain run of the deck may still be off where it ends."""

COARSE = Rung("coarse start, then the periodic state")
"""What such a run's only attempt is called."""


def start_to_steady(session: Session, deck: Deck, time_limit: float, report: Report = lambda reached, target: None) -> Run | None:
    """A deck with a paused circuit, from rest to its periodic state; None where it has to be simulated until it rests.

    time_limit: wall clock of the start [s]; report: see `heatsim.engine.simulate`

    The run's deck ends when a plain simulation of it will have come to rest, which may be later than the run itself.
    """
    begun = time.perf_counter()
    if deck.paused is None:
        return None
    found = coarse_start(session, deck, time_limit, report)
    if found is None:
        return None
    start, guess = found
    try:
        near = coarse_guess(session, deck.paused, guess)
        state = find_periodic_state(session, deck.paused, near, anew=near.monodromy is None)
        end = _periods(session, deck.paused, state, LAST)
    except NoPeriodicState as error:
        return _ended(session, deck, str(error), begun) if session.poisoned else None
    waves = _joined(start, end)
    if waves is None or not _agree(start, end, deck.settle):
        return None
    wall = time.perf_counter() - begun
    stop = min(waves.time[-1] + _left(state, guess) * state.period, deck.settle.limit)
    ran = replace(deck, paused=None).lasting(max(stop, float(waves.time[-1])))
    tried = Attempt(COARSE, "settled", "", wall, float(waves.time[-1]))
    return Run("settled", "", waves, ran, (tried,), wall, session.version)


def coarse_start(
    session: Session, deck: Deck, time_limit: float, report: Report = lambda reached, target: None
) -> tuple[Waveforms, InitialGuess] | None:
    """A deck from rest with coarse steps up to the first look at it: its waveforms, and what a search for the periodic state starts
    from. None where it does not oscillate by then, needs help of the simulator, or falls back on its way up.

    time_limit: wall clock [s]; report: see `heatsim.engine.simulate`
    """
    coarse = replace(deck.coarse().to_first_look(), every=True)
    start = simulate(session, coarse, time_limit, report)
    plain = start.outcome in MEASURABLE and len(start.attempts) == 1
    guess = guess_at_section(session, coarse) if plain else None
    if guess is None or start.waveforms is None or _falls_back(start.waveforms, deck):
        return None
    return start.waveforms, guess


def _falls_back(waves: Waveforms, deck: Deck) -> bool:
    """Whether the tank's amplitude falls after its oscillation began, in pairs of periods."""
    tank = np.abs(waves["tank.voltage"])
    begun = waves.time[int(np.argmax(tank > deck.settle.quiet))]
    pairs = np.searchsorted(waves.time, np.arange(begun, waves.time[-1] - 2 * deck.period, 2 * deck.period))
    peaks = np.maximum.reduceat(tank, pairs) if pairs.size else np.zeros(1)
    return bool((peaks < (1 - FALL) * np.maximum.accumulate(peaks)).any())


def _ended(session: Session, deck: Deck, why: str, begun: float) -> Run:
    """A run at which the simulator itself ended, so that this process can simulate nothing more."""
    tried = Attempt(COARSE, "unsolved", why, time.perf_counter() - begun, session.reached)
    return Run("unsolved", why, None, replace(deck, paused=None), (tried,), tried.wall_s, session.version)


def coarse_guess(session: Session, paused: Deck, guess: InitialGuess) -> InitialGuess:
    """What the search for a periodic state begins with: the state found with coarse steps, or the guess where their noise hides it.

    Raises NoPeriodicState when the simulator itself ended.
    """
    try:
        return find_periodic_state(session, paused.coarse(), guess).guess
    except NoPeriodicState:
        if session.poisoned:
            raise
        return guess


def _periods(session: Session, paused: Deck, state: PeriodicState, count: int) -> Waveforms:
    """So many free periods from a periodic state on; before them one in which the state is taken up."""
    circuit = PoincareMap(session, replace(paused, start=state.guess.state))
    for _ in range(count + 1):
        circuit.iterate()
    return circuit.waveforms(count)


def _joined(start: Waveforms, end: Waveforms) -> Waveforms | None:
    """A start up to its last section, and from there the periods of the end; None without a section."""
    sections = rising_zeros(start.time, start["coil.current"])
    if not sections.size:
        return None
    at = float(sections[-1])
    kept = start.time < at
    time = np.concatenate((start.time[kept], at + end.time - end.time[0]))
    signals = {name: np.concatenate((samples[kept], end[name])) for name, samples in start.signals.items()}
    return Waveforms(
        time, signals, start.units, f"{start.origin} with coarse steps; its last {LAST} periods from the periodic state"
    )


def _agree(start: Waveforms, end: Waveforms, rule: SettleRule) -> bool:
    """Whether the last periods of a start are those of the periodic state."""
    before, after = (_means(waves, rule) for waves in (start, end))
    return all(abs(before[name] - value).max() <= APART.get(name, OTHERS) * abs(value).sum() for name, value in after.items())


def _means(waves: Waveforms, rule: SettleRule) -> dict[str, Array]:
    """Mean and swing of what is watched over the last periods, shape (2,); and the length of a period, shape (1,)."""
    marks = rising_zeros(waves.time, waves[rule.section])[-rule.periods - 1 :]
    found = {PERIOD: np.array([np.diff(marks).mean()])}
    for name in rule.watched:
        each = per_period(waves.time, waves[name], marks)
        found[name] = np.array([each.mean.mean(), each.swing.mean()])
    return found


def _left(state: PeriodicState, guess: InitialGuess) -> int:
    """Periods after which what was still to come when the search began has faded to REST, by the slowest multiplier."""
    if guess.point is None or state.guess.point is None or state.guess.monodromy is None:
        return 0
    away, slowest = float(np.abs(state.guess.point - guess.point).max()), float(floquet_multipliers(state.guess.monodromy)[0])
    return math.ceil(math.log(away / REST) / -math.log(slowest)) if away > REST and 0 < slowest < 1 else 0


def shortened_run(attempts: Sequence[Attempt]) -> bool:
    """Whether a run is a start that was taken to its periodic state."""
    return any(each.rung == COARSE for each in attempts)


__all__ = ["coarse_guess", "coarse_start", "shortened_run", "start_to_steady"]
