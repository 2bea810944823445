# SPDX-License-Identifier: GPL-3.0-or-later
"""Periodic steady state on the simulator itself: walk from section to section, and push the slow states home.

A section is the instant at which the coil's current passes through zero while the tank stands near its positive peak;
the gates are at rest there. Let x be the slow states at a section and P(x) those at the next. The fast states follow
within a period, so that P is a map of the slow ones alone, and the orbit is its fixed point. Newton's step from a pair
(u, y = P(u)) is

    x* = u + (1 - J)^-1 (y - u),        J = dP/dx.

The circuit is never set back: sources push charge (or flux) into the slow states in the first part of a period while
the simulation goes on, so every period is one of a real run and only pushes lie between it and a cold start. J is found
once from a push along each state and least squares over the pairs (u, y), then kept up to date by Broyden's rank-one
correction (C. G. Broyden, Math. Comp. 19, 1965, p. 577) and handed on to neighbouring circuits. Shooting for the
periodic state of a circuit: T. J. Aprille, T. N. Trick, Proc. IEEE 60, 1972, p. 108.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from heatsim.engine.guard import DeckRefused
from heatsim.engine.session import Session
from heatsim.engine.simulate import combine
from heatsim.netlist.deck import Deck, State
from heatsim.waves import Array, Waveforms

PUSH_TIME = 0.08
"""Share of a period over which a push lasts."""

CLOSE = 1.5e-3
"""Newton step, as a share of a state's scale, below which the state counts as that of the orbit."""

NOISE = 1.2e-5
"""What the simulator's changing steps add to a state in a period, as a share of its scale: measured, 3e-6 to 1e-5. Along
the weakest direction, which pulls by some 3e-3 a period, it is magnified: a step below noise over pull is none."""

WEAK_PROBE = 0.25
"""Push along the weakest direction, as a share of the scales."""

FAINT = 0.02
"""Distance of two states, as a share of the scales, at which half of what they say about the Jacobian is believed."""

LARGEST_STEP = 0.5
"""A Newton step is cut to this share of the scale."""

REST_PERIODS = 5
"""Periods given to the other states to come to rest beside the weakest direction."""

NO_PUSH = 3e-5
"""Pushes below this share of the scale are left out."""

LARGE_PUSH = 0.05
"""A period with a push beyond this share of a scale tells the push's own marks more than the map."""

QUIET_PUSH = 1e-3
"""A period counts as free when no slow state was pushed by more than this share of its scale."""

MOST_PERIODS = 40
"""Periods after which the search is given up."""

STABLE = 1.01
"""Largest size of a multiplier (eigenvalue of J) of an orbit that is believed to attract without a closer look."""

MARGIN = 0.03
"""By how much a multiplier may grow from neighbour to neighbour before the next closer look."""

WATCH_PERIODS = 12
"""Periods of a closer look."""

STAYS = 0.02
"""Share of the scales by which a state may move in a closer look and still count as one that stays."""


Terms = tuple[tuple[float, str], ...]


class NoOrbit(Exception):
    """The search ended without a periodic state; the text says why."""


@dataclass(frozen=True)
class Seed:
    """What a search starts from: the whole circuit's state at a section; if known, the slow states over their scales
    there, shape (n,), and the Jacobian of the map, (n, n); harmless: size of a multiplier up to which a closer look has
    shown that the orbit attracts.
    """

    state: State
    point: Array | None = None
    jacobian: Array | None = None
    harmless: float = STABLE


@dataclass(frozen=True)
class Orbit:
    """A periodic state: one period of waveforms from section to section; what neighbours start from; period [s]; by how
    much each slow state still moved in that period, as a share of its scale; how far the slow states lie from where the
    search began, likewise; periods simulated on the way.
    """

    waveforms: Waveforms
    seed: Seed
    period: float
    moved: Array
    away: Array
    periods: int

    @property
    def multipliers(self) -> Array:
        """Sizes of the eigenvalues of the map, the largest first: below 1 the orbit attracts."""
        assert self.seed.jacobian is not None
        return np.sort(np.abs(np.linalg.eigvals(self.seed.jacobian)))[::-1]


def find_orbit(session: Session, deck: Deck, near: Seed, point: Array | None = None) -> Orbit:
    """The periodic state of a held deck near the state of a neighbour.

    point: slow states over their scales to begin with, shape (n,), None for the neighbour's. Raises NoOrbit with the
    cause.
    """
    walk = _Walk(session, replace(deck, start=near.state))
    goal = near.point if point is None else point
    try:
        if near.jacobian is not None:
            return _search(walk, goal, near.jacobian, near.harmless)
    except NoOrbit:
        if session.poisoned or walk.lost:
            raise
        goal = None
    return _search(walk, goal, None, STABLE)


def section_seed(session: Session, deck: Deck) -> Seed | None:
    """Where the run that a session has just made of a deck (with every vector saved) last passed its section; None when
    there is no section.
    """
    reader = _Reader(session, deck)
    current, voltage = reader.sum(reader.coil.terms, slice(None)), reader.sum(reader.tank.terms, slice(None))
    at = np.flatnonzero((current[:-1] * current[1:] <= 0) & (voltage[:-1] > 0))
    at = at[at < current.size - 2]
    if not at.size:
        return None
    state = session.state(int(at[-1]) + 1)
    return Seed(state, _point(deck, state))


def _search(walk: _Walk, point: Array | None, jacobian: Array | None, harmless: float) -> Orbit:
    """Newton's steps, along the weakest direction only while the others are at rest; then a period without a push."""
    goal = walk.point if point is None else point
    walk.step(goal - walk.point)
    if walk.pushed > LARGE_PUSH:
        walk.step(goal - walk.point)
    most = MOST_PERIODS if jacobian is None else MOST_PERIODS // 2
    jacobian = _explore(walk) if jacobian is None else jacobian
    begun = walk.periods
    while walk.periods - begun < most:
        jacobian, resting = _rest(walk, jacobian)
        if not resting:
            continue
        before, after = walk.pair
        pull, weak = _weakest(walk, jacobian)
        if abs(float(pull @ walk.push)) > QUIET_PUSH:
            walk.step(np.zeros_like(after))  # a push comes out a hundredth off, more than the weakest pull
            continue
        strength = float(pull @ (weak - jacobian @ weak))
        move = np.linalg.solve(np.eye(before.size) - jacobian, after - before)
        size = float(weak @ move)
        if abs(size) < max(2 * CLOSE, NOISE / abs(strength)):
            return _orbit(walk, jacobian, 0.5 * size * weak, harmless)
        walk.step(np.clip(before + move - after, -LARGEST_STEP, LARGEST_STEP))
    raise NoOrbit(f"no periodic state within {walk.periods} periods")


def _weakest(walk: _Walk, jacobian: Array) -> tuple[Array, Array]:
    """Where the map pulls least: unit vectors of the pull and of the displacement that meets no other.

    The pull is known to a few parts in a thousand from the circuit (`Deck.levelled`); from the Jacobian it would be ten
    times worse, and what the others still move would be taken for a pull.
    """
    mapped = np.eye(len(jacobian)) - jacobian
    if not walk.deck.levelled:
        left, _, right = np.linalg.svd(mapped)
        return np.asarray(left[:, -1]), np.asarray(right[-1])
    pull = np.array(walk.deck.levelled)
    pull /= np.linalg.norm(pull)
    return pull, np.asarray(np.linalg.svd(mapped - np.outer(pull, pull @ mapped))[2][-1])


def _orbit(walk: _Walk, jacobian: Array, rest: Array, harmless: float) -> Orbit:
    """The latest period, or if the states were pushed in it one more, and what it looks like.

    rest: of the step that was not taken; the neighbours begin with it, and noise averages out along a strip.
    """
    if walk.pushed > QUIET_PUSH:
        walk.step(np.zeros_like(walk.point))
    largest = float(np.abs(np.linalg.eigvals(jacobian)).max())
    if largest > harmless:
        _watch(walk)
    before, after = walk.pair
    seed = Seed(walk.state(), after + rest, jacobian, max(harmless, largest + MARGIN))
    return Orbit(walk.waveforms(), seed, walk.period, after - before, after - walk.first, walk.periods)


def _watch(walk: _Walk) -> None:
    """Let it run free where the Jacobian says that the state does not attract: NoOrbit unless it stays."""
    home = walk.pair[0]
    away = []
    for _ in range(WATCH_PERIODS):
        walk.step(np.zeros_like(home))
        away.append(float(np.abs(walk.point - home).max()))
    if away[-1] > STAYS:
        raise NoOrbit(f"the periodic state does not attract: left alone it moved by {away[-1]:.2g} of its size")


def _updated(jacobian: Array, pull: Array, old: tuple[Array, Array], new: tuple[Array, Array]) -> Array:
    """Broyden's correction from two pairs, the fainter the closer they lie: there noise would speak, not the circuit.

    The weakest pull is left as it is; a step in the other directions says nothing about it.
    """
    apart, found = new[0] - old[0], new[1] - old[1]
    error = found - jacobian @ apart
    return np.asarray(jacobian + np.outer(error - pull * (pull @ error), apart) / (np.dot(apart, apart) + FAINT**2))


def _explore(walk: _Walk) -> Array:
    """Jacobian from a push along each slow state in turn; then, with all others at rest, from one along the weakest.

    The weakest direction pulls by some 1e-3 a period, less than the first pushes can resolve; what it does is read off
    two states far apart on the manifold that the others have settled to.
    """
    size = walk.point.size
    pairs = []
    for k in range(size):
        push = np.zeros(size)
        push[k] = walk.deck.slow[k].probe * (1 - 2 * (k % 2))
        for each in (push, np.zeros(size)):  # the period after a push tells the map without the push's own marks
            walk.step(each)
            pairs.append(walk.pair)
    before, after = (np.array(side) for side in zip(*pairs, strict=True))
    middle = before.mean(axis=0), after.mean(axis=0)
    jacobian = np.asarray(np.linalg.lstsq(before - middle[0], after - middle[1], rcond=None)[0].T)
    jacobian, _ = _rest(walk, jacobian)
    first, weak = walk.pair, _weakest(walk, jacobian)[1]
    walk.step(WEAK_PROBE * weak)
    jacobian, _ = _rest(walk, jacobian)
    apart, found = walk.pair[0] - first[0], walk.pair[1] - first[1]
    return np.asarray(jacobian + np.outer(found - jacobian @ apart, apart) / np.dot(apart, apart))


def _rest(walk: _Walk, jacobian: Array) -> tuple[Array, bool]:
    """Newton's steps in all directions but the weakest, until they are small: the Jacobian as corrected on the way, and
    whether they are.
    """
    for _ in range(REST_PERIODS):
        pair = walk.pair
        pull, weak = _weakest(walk, jacobian)
        lag = pair[1] - pair[0]
        move = np.linalg.lstsq(np.eye(lag.size) - jacobian, lag - pull * (pull @ lag), rcond=None)[0]
        move -= weak * (weak @ move)
        if np.abs(move).max() < CLOSE:
            return jacobian, True
        walk.step(np.clip(pair[0] + move - pair[1], -LARGEST_STEP, LARGEST_STEP))
        jacobian = _updated(jacobian, pull, pair, walk.pair)
    return jacobian, False


class _Reader:
    """Reads sums of vectors from a session."""

    def __init__(self, session: Session, deck: Deck) -> None:
        self.session = session
        signals = {signal.name: signal for signal in deck.signals}
        self.tank, self.coil = signals["tank.voltage"], signals["coil.current"]

    def sum(self, terms: Terms, span: slice) -> Array:
        """Sum of weighted vectors over a span of samples."""
        return sum((factor * self.session.view(vector)[span] for factor, vector in terms), np.zeros(1))


class _Walk(_Reader):
    """A run of a held deck, one period a step."""

    def __init__(self, session: Session, deck: Deck) -> None:
        super().__init__(session, deck)
        self.deck = deck
        self.scales, self.offsets = np.array([(state.scale, state.offset) for state in deck.slow]).T
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
        self.point = _point(deck, deck.start)
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
        for state, rate in zip(self.deck.slow, rates, strict=True):
            session.alter(state.source, rate / state.gain)
        self._advance(begin + lasting)
        for state in self.deck.slow:
            session.alter(state.source, 0.0)
        return np.asarray(rates * (session.reached - begin) / self.scales)

    def _advance(self, to: float) -> None:
        session = self.session
        session.advance(to)
        if session.poisoned or session.reached < to * (1 - 1e-9):
            self.lost = True
            raise NoOrbit(session.cause or "the simulator stopped on the way")

    def _next_section(self) -> None:
        """Run on until the section has passed, and read the slow states there."""
        target = self._end + 1.006 * self.period
        while True:
            self._advance(target)
            sample = self._crossing()
            if sample is not None:
                break
            target = self.session.reached + 0.02 * self.period
            if target > self._end + 1.7 * self.period:
                self.lost = True
                raise NoOrbit("the coil's current did not come back to its section: the oscillation ends or changes")
        instant, read = self._interpolation(sample)
        self.point = (np.array([read(state.terms) for state in self.deck.slow]) - self.offsets) / self.scales
        if self.periods:
            self.period = instant - self._end
        self._begin, self._end, self._section = self._end, instant, sample

    def _crossing(self) -> int | None:
        """Last sample before the next section, if it has been passed by two samples."""
        since = int(np.searchsorted(self.session.view("time"), self._end + 0.5 * self.period))
        current, voltage = (self.sum(signal.terms, slice(since, None)) for signal in (self.coil, self.tank))
        at = np.flatnonzero((current[:-1] * current[1:] <= 0) & (voltage[:-1] > 0))
        at = at[at < current.size - 2]
        return since + int(at[0]) if at.size else None

    def _interpolation(self, sample: int) -> tuple[float, Callable[[Terms], float]]:
        """The section's instant [s] and a reader of vectors there, by cubic interpolation through four samples."""
        span = slice(sample - 1, sample + 3)
        time = self.session.view("time")[span]
        start = time[0]
        time = time - start
        instant = float(_lagrange(self.sum(self.coil.terms, span), 0.0) @ time)
        weights = _lagrange(time, instant)
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


def _point(deck: Deck, state: State) -> Array:
    """Slow states of a deck over their scales, shape (n,), where the circuit stands in `state`."""
    values = [sum(factor * _from_state(state, vector) for factor, vector in each.terms) - each.offset for each in deck.slow]
    return np.asarray(np.array(values) / np.array([each.scale for each in deck.slow]))


def _from_state(state: State, vector: str) -> float:
    """Value of a vector in a state; the current of a sense source is that of no inductor by name, so it counts as nil."""
    return state.nodes.get(vector[2:-1], 0.0) if vector.startswith("v(") else state.inductors.get(vector[2:-1], 0.0)


def _lagrange(nodes: Array, at: float) -> Array:
    """Weights of Lagrange's interpolation polynomial through four nodes."""
    others = [np.delete(nodes, k) for k in range(nodes.size)]
    return np.array([np.prod((at - rest) / (node - rest)) for node, rest in zip(nodes, others, strict=True)])
