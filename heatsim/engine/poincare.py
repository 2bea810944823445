# SPDX-License-Identifier: GPL-3.0-or-later
"""The Poincaré map of a circuit on the simulator: from one section to the next, with perturbations on the way."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from heatsim.engine.guard import DeckRefused
from heatsim.engine.session import Session
from heatsim.engine.simulate import combine
from heatsim.netlist.deck import Deck, State
from heatsim.waves import Array, Waveforms

PERTURBATION_TIME = 0.08
"""Share of a period over which a perturbation lasts."""

ROTATED = math.sin(2 * math.pi * PERTURBATION_TIME) / (2 * math.pi * PERTURBATION_TIME)
"""Share of a perturbation that the amplitude of an oscillation feels: the mean of the cosine through which it rotates
meanwhile. The sine's share only shifts the phase. Left out, it would be taken for a loss of 4 % of each perturbation, more
than a tank of high quality loses in a period."""

NONE = 3e-5
"""Perturbations below this share of the scale are left out."""

MOST_POINTS = 6000
"""Time points after which a stretch of at most a period is given up; the usual are 300."""

Terms = tuple[tuple[float, str], ...]
"""A weighted sum of simulator vectors."""


class NoPeriodicState(Exception):
    """The search ended without a periodic state; the text says why."""


class SectionReader:
    """Finds Poincaré sections in what a session has simulated."""

    def __init__(self, session: Session, deck: Deck) -> None:
        self.session, self.deck = session, deck
        signals = {signal.name: signal.terms for signal in deck.signals}
        self.tank, self.coil = signals["tank.voltage"], signals["coil.current"]

    def sum(self, terms: Terms, span: slice) -> Array:
        """Sum of weighted vectors over a span of samples."""
        return sum((factor * self.session.view(vector)[span] for factor, vector in terms), np.zeros(1))

    def crossings(self, since: int = 0) -> NDArray[np.intp]:
        """Last samples before sections, from a sample on, that have been passed by two samples."""
        current, voltage = (self.sum(terms, slice(since, None)) for terms in (self.coil, self.tank))
        at = np.flatnonzero((current[:-1] * current[1:] <= 0) & (voltage[:-1] > 0))
        return since + at[at < current.size - 2]


class PoincareMap(SectionReader):
    """A paused circuit, one period an iteration.

    point: slow states over their scales at the latest section, shape (n,); first: those it began with
    perturbation: of the latest period, likewise
    pair: slow states after that perturbation and at the next section
    period: latest [s]; periods: number of iterations
    lost: the circuit can go no further
    """

    def __init__(self, session: Session, deck: Deck) -> None:
        super().__init__(session, deck)
        self.scales, self.offsets = np.array([(state.scale, state.offset) for state in deck.slow]).T
        self.gains = np.array([state.gain * (ROTATED if state.rotates else 1.0) for state in deck.slow])
        self.period, self.periods = deck.period, 0
        self.lost = False
        try:
            session.load(deck)
        except DeckRefused as error:
            raise NoPeriodicState(f"the deck was refused: {error}") from None
        self._sections = [0.0]
        self._section, self._weights = 0, np.ones(1)
        assert deck.start is not None
        self.first = self.point = point_of(deck, deck.start)
        self.perturbation = np.zeros_like(self.point)
        self.pair = (self.point, self.point)

    @property
    def perturbed(self) -> float:
        """Largest perturbation of the latest period, as a share of a scale."""
        return float(np.abs(self.perturbation).max())

    def iterate(self, perturbation: Array | None = None) -> tuple[Array, Array]:
        """Perturb the slow states by so many scales, shape (n,), go on to the next section and return the pair."""
        self.perturbation = np.zeros_like(self.point) if perturbation is None else perturbation
        before = self.point + (self._perturb() if self.perturbed > NONE else 0.0)
        self._next_section()
        self.periods += 1
        self.pair = (before, self.point)
        return self.pair

    def _perturb(self) -> Array:
        """The perturbation as made, in scales; not quite what was asked, since time goes in steps."""
        session = self.session
        begin, lasting = session.reached, PERTURBATION_TIME * self.period
        rates = self.perturbation * self.scales / lasting
        for state, value in zip(self.deck.slow, rates / self.gains, strict=True):
            session.alter(state.source, value)
        self._advance(begin + lasting)
        for state in self.deck.slow:
            session.alter(state.source, 0.0)
        return np.asarray(rates * (session.reached - begin) / self.scales)

    def _advance(self, to: float) -> None:
        session = self.session
        before = session.points
        session.advance(to, MOST_POINTS)
        if session.poisoned or session.reached < to * (1 - 1e-9):
            small = session.points >= before + MOST_POINTS
            cause = "the time step has become too small to follow" if small else session.cause
            raise self._lost(cause or "the simulator stopped on the way")

    def _lost(self, cause: str) -> NoPeriodicState:
        self.lost = True
        return NoPeriodicState(cause)

    def _next_section(self) -> None:
        """Run on until the section has passed, and read the slow states there by cubic interpolation."""
        target = self._sections[-1] + 1.006 * self.period
        while True:
            self._advance(target)
            time = self.session.view("time")
            passed = self.crossings(int(np.searchsorted(time, self._sections[-1] + 0.5 * self.period)))
            if passed.size:
                break
            target = self.session.reached + 0.02 * self.period
            if target > self._sections[-1] + 1.7 * self.period:
                raise self._lost("the coil's current did not come back to its section: the oscillation ends or changes")
        self._section = int(passed[0])
        span = slice(self._section - 1, self._section + 3)
        since = time[span] - time[span][0]
        instant = float(lagrange(self.sum(self.coil, span), 0.0) @ since)
        self._weights = lagrange(since, instant)
        values = np.array([self.sum(state.terms, span) for state in self.deck.slow]) @ self._weights
        self.point = (values - self.offsets) / self.scales
        self._sections.append(float(time[span][0] + instant))
        if self.periods:
            self.period = self._sections[-1] - self._sections[-2]

    def state(self) -> State:
        """Of the whole circuit, at the latest section."""
        return self.session.state(self._section - 1, self._weights)

    def waveforms(self, periods: int = 1) -> Waveforms:
        """So many of the latest periods, from section to section."""
        session, begin = self.session, self._sections[-1 - periods]
        time = session.view("time")
        first = int(np.searchsorted(time, begin)) - 1
        span = slice(max(first, 0), self._section + 2)
        vectors = {vector: session.view(vector)[span].copy() for vector in self.deck.vectors}
        waves = combine(self.deck.signals, time[span].copy(), vectors, f"{session.version}, periodic state")
        return waves.between(begin, self._sections[-1])


def point_of(deck: Deck, state: State) -> Array:
    """Slow states of a deck over their scales, shape (n,), where the circuit stands in `state`."""
    values = [sum(factor * _from_state(state, vector) for factor, vector in each.terms) - each.offset for each in deck.slow]
    return np.asarray(np.array(values) / np.array([each.scale for each in deck.slow]))


def _from_state(state: State, vector: str) -> float:
    """Value of a vector in a state. The current of a sense source is that of no inductor by name and counts as nil."""
    return state.nodes.get(vector[2:-1], 0.0) if vector.startswith("v(") else state.inductors.get(vector[2:-1], 0.0)


def lagrange(nodes: Array, at: float) -> Array:
    """Weights of the interpolation polynomial through four nodes, shape (4,)."""
    others = [np.delete(nodes, k) for k in range(nodes.size)]
    return np.array([np.prod((at - rest) / (node - rest)) for node, rest in zip(nodes, others, strict=True)])
