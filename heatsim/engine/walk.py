# SPDX-License-Identifier: GPL-3.0-or-later
"""Walk along a running circuit from section to section, pushing its slow states on the way; see `heatsim.engine.orbit`."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from heatsim.engine.guard import DeckRefused
from heatsim.engine.session import Session
from heatsim.engine.simulate import combine
from heatsim.netlist.deck import Deck, State
from heatsim.waves import Array, Waveforms

PUSH_TIME = 0.08
"""Share of a period over which a push lasts."""

TURNED = math.sin(2 * math.pi * PUSH_TIME) / (2 * math.pi * PUSH_TIME)
"""Share of a push that the amplitude of an oscillation feels: the mean of the cosine through which it turns meanwhile.
The sine's share only shifts the phase. Left out, it would be taken for a loss of 4 % of each push, more than a tank of
high quality loses in a period."""

NO_PUSH = 3e-5
"""Pushes below this share of the scale are left out."""

MOST_POINTS = 6000
"""Time points after which a stretch of at most a period is given up; the usual are 300."""

Terms = tuple[tuple[float, str], ...]
"""A weighted sum of simulator vectors."""


class NoOrbit(Exception):
    """The search ended without a periodic state; the text says why."""


class Reader:
    """Reads sums of vectors from a session."""

    def __init__(self, session: Session, deck: Deck) -> None:
        self.session = session
        signals = {signal.name: signal for signal in deck.signals}
        self.tank, self.coil = signals["tank.voltage"], signals["coil.current"]

    def sum(self, terms: Terms, span: slice) -> Array:
        """Sum of weighted vectors over a span of samples."""
        return sum((factor * self.session.view(vector)[span] for factor, vector in terms), np.zeros(1))

    def crossings(self, since: int = 0) -> NDArray[np.intp]:
        """Last samples before sections, from a sample on, that have been passed by two samples."""
        current, voltage = (self.sum(signal.terms, slice(since, None)) for signal in (self.coil, self.tank))
        at = np.flatnonzero((current[:-1] * current[1:] <= 0) & (voltage[:-1] > 0))
        return since + at[at < current.size - 2]


class Walk(Reader):
    """A run of a held deck, one period a step."""

    def __init__(self, session: Session, deck: Deck) -> None:
        super().__init__(session, deck)
        self.deck = deck
        self.scales, self.offsets = np.array([(state.scale, state.offset) for state in deck.slow]).T
        self.gains = np.array([state.gain * (TURNED if state.turns else 1.0) for state in deck.slow])
        self.period = deck.period
        self.periods = 0
        self.lost = False
        try:
            session.load(deck)
        except DeckRefused as error:
            raise NoOrbit(f"the deck was refused: {error}") from None
        self._begin = self._end = 0.0
        self._section = 0
        assert deck.start is not None
        self.point = point_of(deck, deck.start)
        self.first = self.point
        self.push = np.zeros_like(self.point)
        self.pair = (self.point, self.point)

    @property
    def pushed(self) -> float:
        """Largest push of the latest period, as a share of a scale."""
        return float(np.abs(self.push).max())

    def step(self, push: Array) -> None:
        """Push the slow states by so many scales and go on to the next section."""
        self.push = push
        pushed = self._push(push) if self.pushed > NO_PUSH else np.zeros_like(push)
        before = self.point + pushed
        self._next_section()
        self.periods += 1
        self.pair = (before, self.point)

    def _push(self, push: Array) -> Array:
        """What was pushed, in scales; not quite what was asked, since time goes in steps."""
        session = self.session
        begin, lasting = session.reached, PUSH_TIME * self.period
        rates = push * self.scales / lasting
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
            self.lost = True
            small = session.points >= before + MOST_POINTS
            raise NoOrbit(
                "the time step has become too small to follow" if small else session.cause or "the simulator stopped on the way"
            )

    def _next_section(self) -> None:
        """Run on until the section has passed, and read the slow states there."""
        target = self._end + 1.006 * self.period
        while True:
            self._advance(target)
            passed = self.crossings(int(np.searchsorted(self.session.view("time"), self._end + 0.5 * self.period)))
            if passed.size:
                break
            target = self.session.reached + 0.02 * self.period
            if target > self._end + 1.7 * self.period:
                self.lost = True
                raise NoOrbit("the coil's current did not come back to its section: the oscillation ends or changes")
        sample = int(passed[0])
        instant, read = self._interpolation(sample)
        self.point = (np.array([read(state.terms) for state in self.deck.slow]) - self.offsets) / self.scales
        if self.periods:
            self.period = instant - self._end
        self._begin, self._end, self._section = self._end, instant, sample

    def _interpolation(self, sample: int) -> tuple[float, Callable[[Terms], float]]:
        """The section's instant [s] and a reader of vectors there, by cubic interpolation through four samples."""
        span = slice(sample - 1, sample + 3)
        time = self.session.view("time")[span]
        start = time[0]
        time = time - start
        instant = float(lagrange(self.sum(self.coil.terms, span), 0.0) @ time)
        weights = lagrange(time, instant)
        return start + instant, lambda terms: float(weights @ self.sum(terms, span))

    def state(self) -> State:
        """Of the whole circuit, at the sample after the latest section."""
        return self.session.state(self._section + 1)

    def waveforms(self) -> Waveforms:
        """The latest period, from section to section."""
        session = self.session
        time = session.view("time")
        first = int(np.searchsorted(time, self._begin)) - 1
        span = slice(max(first, 0), self._section + 2)
        vectors = {vector: session.view(vector)[span].copy() for vector in self.deck.vectors}
        waves = combine(self.deck.signals, time[span].copy(), vectors, f"{session.version}, periodic state")
        return waves.between(self._begin, self._end)


def point_of(deck: Deck, state: State) -> Array:
    """Slow states of a deck over their scales, shape (n,), where the circuit stands in `state`."""
    values = [sum(factor * _from_state(state, vector) for factor, vector in each.terms) - each.offset for each in deck.slow]
    return np.asarray(np.array(values) / np.array([each.scale for each in deck.slow]))


def _from_state(state: State, vector: str) -> float:
    """Value of a vector in a state; the current of a sense source is that of no inductor by name, so it counts as nil."""
    return state.nodes.get(vector[2:-1], 0.0) if vector.startswith("v(") else state.inductors.get(vector[2:-1], 0.0)


def lagrange(nodes: Array, at: float) -> Array:
    """Weights of Lagrange's interpolation polynomial through four nodes."""
    others = [np.delete(nodes, k) for k in range(nodes.size)]
    return np.array([np.prod((at - rest) / (node - rest)) for node, rest in zip(nodes, others, strict=True)])
