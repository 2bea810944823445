# SPDX-License-Identifier: GPL-3.0-or-later
"""Periodic steady state by shooting: find the fixed point of the Poincaré map, on the simulator itself.

The Poincaré section is the instant at which the coil's current passes through zero while the tank stands near its
positive peak. The gates are at rest there. Let x be the slow states at a section and P(x) those at the next. The fast
states follow within a period, so P is a map of the slow ones alone, and the periodic state is its fixed point. Newton's
step from a pair (x, P(x)) is

    x* = x + (1 - M)^-1 (P(x) - x),        M = dP/dx, the monodromy matrix.

The circuit is paused at each section but never set back. Sources perturb the slow states in the first part of a period
while the simulation goes on, so every period is one of a real run. M comes from a perturbation of each state and least
squares, or from a neighbouring circuit. It is kept up to date by Broyden's rank-one correction (C. G. Broyden, Math.
Comp. 19, 1965, p. 577). Shooting for the periodic state of a circuit: T. J. Aprille, T. N. Trick, Proc. IEEE 60, 1972,
p. 108. The loop is our own and not a library's root finder: each evaluation starts where the last one ended.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from heatsim.engine.poincare import NoPeriodicState as NoPeriodicState
from heatsim.engine.poincare import PoincareMap, SectionReader, point_of
from heatsim.engine.session import Session
from heatsim.netlist.deck import Deck, State
from heatsim.waves import Array, Waveforms

CLOSE = 1.5e-3
"""Newton step, as a share of a state's scale, below which a state counts as periodic."""

NOISE = 1.2e-5
"""What the simulator's changing time steps add to a state in a period, as a share of its scale: measured, 3e-6 to 1e-5.
The slowest mode decays by some 3e-3 a period and magnifies it: a step below noise over decay is none."""

SLOW_GAIN = 0.65
"""Share of a step along the slowest mode that is taken. A neighbour's decay may be off by half, and whole steps would then
swing to and fro."""

SLOW_PROBE = 0.25
"""Perturbation along the slowest mode that shows its decay, as a share of the scales."""

FAINT = 0.02
"""Distance of two states, as a share of the scales, at which half of what they say about the monodromy matrix is believed."""

LARGEST_STEP = 0.5
"""A Newton step is cut to this share of the scale."""

RELAX_PERIODS = 5
"""Periods given to the other modes to come to rest beside the slowest one."""

LARGE = 0.05
"""A period with a perturbation beyond this share of a scale shows the perturbation's own marks more than the map."""

QUIET = 1e-3
"""A period counts as free when no slow state was perturbed by more than this share of its scale."""

MOST_PERIODS = 80
"""Periods after which the search is given up."""

BRIEF_PERIODS = 50
"""Length of the run, in periods, in which a search that knows its neighbour's matrix is tried first. It needs a few of them, and
the simulator clears memory for every step of the whole run before the first: a millisecond for 300 periods."""

ENDED = 1 - 1e-6
"""A run has come to its end from this share of it on: steps end on floating-point numbers."""

KICK = 0.25
"""Perturbation before a free decay, as a share of the states' probes."""

DECAY_PERIODS = 25
"""Periods of a free decay."""

ATTRACTS = 1.0
"""Largest size of a Floquet multiplier of a periodic state that attracts. Those read off a free decay are good to some
3e-4: decays of 25 periods and of 60 give the same."""

SUSPECT = 1.01
"""Size of a Floquet multiplier that calls for another look, in a matrix corrected since and good to a few hundredths."""

Pair = tuple[Array, Array]
"""Slow states after a perturbation and at the next section, over their scales, shape (n,) each."""


@dataclass(frozen=True)
class InitialGuess:
    """What a search starts from.

    state: of the whole circuit at a section
    point: slow states over their scales there, shape (n,), None if not known
    monodromy: matrix of the map there, shape (n, n), None if not known
    """

    state: State
    point: Array | None = None
    monodromy: Array | None = None

    def moved(self, start: InitialGuess, end: InitialGuess, step: float) -> InitialGuess:
        """Where a path of circuits goes on: this state and `step` times the way from one neighbour's to another's.

        Every node and every inductor goes along, so that the slow states need no perturbation to get there.
        """
        if self.point is None or start.point is None or end.point is None:
            return self
        if not self.state.nodes.keys() == start.state.nodes.keys() == end.state.nodes.keys():
            return self
        nodes, inductors = (
            {name: value + step * (b[name] - a[name]) for name, value in own.items()}
            for own, a, b in (
                (self.state.nodes, start.state.nodes, end.state.nodes),
                (self.state.inductors, start.state.inductors, end.state.inductors),
            )
        )
        return InitialGuess(State(nodes, inductors), self.point + step * (end.point - start.point), self.monodromy)


@dataclass(frozen=True)
class PeriodicState:
    """A periodic steady state.

    waveforms: one period, from section to section
    guess: what neighbouring circuits start from, with its monodromy matrix
    period: [s]
    moved: how much each slow state still moved in that period, as a share of its scale, shape (n,)
    away: how far the slow states lie from where the search began, likewise
    periods: number simulated on the way
    """

    waveforms: Waveforms
    guess: InitialGuess
    period: float
    moved: Array
    away: Array
    periods: int


def find_periodic_state(
    session: Session, deck: Deck, near: InitialGuess, point: Array | None = None, anew: bool = True
) -> PeriodicState:
    """The periodic state of a paused circuit near the state of a neighbour.

    point: slow states over their scales to begin with, shape (n,), None for the neighbour's
    anew: whether to explore the circuit where the neighbour's matrix leads to nothing
    Raises NoPeriodicState with the cause.
    """
    begun = replace(deck, start=near.state)
    goal = near.point if point is None else point
    if near.monodromy is not None:
        brief = begun.lasting(min(BRIEF_PERIODS * deck.period, deck.transient.stop))
        try:
            return _search(session, brief, goal, near.monodromy, anew)
        except NoPeriodicState:
            if session.poisoned or session.reached < brief.transient.stop * ENDED:
                raise
    return _search(session, begun, goal, near.monodromy, anew)


def _search(session: Session, deck: Deck, goal: Array | None, monodromy: Array | None, anew: bool) -> PeriodicState:
    """As `find_periodic_state`, within the run of this deck."""
    poincare = PoincareMap(session, deck)
    if monodromy is not None:
        try:
            return _Shooting(poincare, goal, monodromy).run()
        except NoPeriodicState:
            if session.poisoned or poincare.lost or not anew:
                raise
        goal = None
    return _Shooting(poincare, goal, None).run()


def free_periods(session: Session, deck: Deck, near: InitialGuess, count: int) -> Iterator[Waveforms]:
    """Successive periods of a paused circuit left to itself, from the state of a neighbour on.

    count: periods; the one in which the state is taken up is left out, since it does not begin at a section
    Raises NoPeriodicState when the oscillation ends.
    """
    poincare = PoincareMap(session, replace(deck, start=near.state))
    poincare.iterate()
    for _ in range(count):
        poincare.iterate()
        yield poincare.waveforms()


def guess_at_section(session: Session, deck: Deck) -> InitialGuess | None:
    """State at the last section of the run that a session has just made of a deck, with every vector saved; None when it
    passed no section.
    """
    passed = SectionReader(session, deck).crossings()
    if not passed.size:
        return None
    state = session.state(int(passed[-1]) + 1)
    return InitialGuess(state, point_of(deck, state))


def floquet_multipliers(monodromy: Array) -> Array:
    """Sizes of the eigenvalues of a monodromy matrix, the largest first: below 1 the periodic state attracts."""
    return np.sort(np.abs(np.linalg.eigvals(monodromy)))[::-1]


class _Shooting:
    """One search. A neighbour's matrix vouches that the state attracts; where there is none, a free decay has to show it."""

    def __init__(self, poincare: PoincareMap, point: Array | None, monodromy: Array | None) -> None:
        self.map = poincare
        goal = poincare.point if point is None else point
        poincare.iterate(goal - poincare.point)
        if poincare.perturbed > LARGE:
            poincare.iterate(goal - poincare.point)
        elif monodromy is not None:
            poincare.iterate()  # the first period is that in which the state is taken up, and may begin beside a section
        self.attracts, self.decayed = monodromy is not None, False
        self.most = MOST_PERIODS // 2 if self.attracts else MOST_PERIODS  # a new matrix costs some 60 more
        self._modes: tuple[Array, Array, Array] | None = None
        self.monodromy = self._explored() if monodromy is None else monodromy
        self.begun = poincare.periods
        self.rested: Pair | None = None

    def run(self) -> PeriodicState:
        """Newton's steps, along the slowest mode only while the other modes are at rest; then a free period."""
        while True:
            if self.map.periods - self.begun >= self.most:
                if not self.attracts or self.decayed:
                    raise NoPeriodicState(f"no periodic state within {self.map.periods} periods")
                self._decay()
            if not self._relaxed():
                continue
            weights, mode = self._slowest_mode()
            if abs(float(weights @ self.map.perturbation)) > QUIET:
                self.map.iterate()  # a perturbation comes out a hundredth off, more than the slowest mode decays
                continue
            rest, move = self._newton_step(weights, mode)
            if move is not None:
                self.map.iterate(np.clip(move, -LARGEST_STEP, LARGEST_STEP))
            elif self.attracts and floquet_multipliers(self.monodromy)[0] < SUSPECT:
                return self._found(rest)
            else:
                self._decay()

    def _newton_step(self, weights: Array, mode: Array) -> tuple[Array, Array | None]:
        """The part of the step that is not taken, and the perturbation to be made, None for a state that is close enough."""
        before, after = self.map.pair
        if not weights.any():
            return np.zeros_like(after), None
        if self.rested is not None:
            self._correct(self.rested, weights, along=True)
            self._correct(self.rested, weights, along=False)  # two states at rest lie apart along the slowest mode itself
            mode = self._slowest_mode()[1]
        self.rested = self.map.pair
        move = np.linalg.solve(np.eye(before.size) - self.monodromy, after - before)
        decay = float(weights @ (mode - self.monodromy @ mode))
        size, alone = float(mode @ move), float(weights @ (after - before)) / decay  # with and without what others still move
        if max(abs(size), abs(alone) / 3) < max(2 * CLOSE, NOISE / abs(decay)):
            others = move - (after - before)
            return 0.5 * size * mode + others - mode * (mode @ others), None
        return np.zeros_like(after), before + move - (1 - SLOW_GAIN) * size * mode - after

    def _decay(self) -> None:
        """The monodromy matrix anew from a free decay: all states are perturbed once and come back by themselves.

        Least squares over how far free pairs lie from the pair at rest, known as dynamic mode decomposition: P. J. Schmid,
        J. Fluid Mech. 656, 2010, p. 5. Raises NoPeriodicState when they do not come back.
        """
        if self.map.perturbed > QUIET:
            self.map.iterate()
        home = self.map.pair
        probes = np.array([state.probe for state in self.map.deck.slow])
        k = np.arange(probes.size)
        self.map.iterate(KICK * probes * (1 - 2 * (k % 2)) / (1 + 0.2 * k))  # no two alike: every direction takes part
        self.monodromy = _fitted([self.map.iterate() for _ in range(DECAY_PERIODS)], home)
        grows = floquet_multipliers(self.monodromy)[0] - ATTRACTS
        if grows > 0:
            raise NoPeriodicState(f"the periodic state does not attract: what moves it grows by {100 * grows:.2g} % a period")
        self.attracts = self.decayed = True
        self.begun, self.rested = self.map.periods, None

    def _slowest_mode(self) -> tuple[Array, Array]:
        """Left and right unit vector of the slowest mode, both zero for a circuit without one.

        The left one is known to a few hundredths from the circuit (`Deck.slowest_mode`). From the matrix it would be worse,
        and what the others still move would be taken for its decay. The right one is the displacement whose change shows
        in no other direction.
        """
        size = len(self.monodromy)
        if not self.map.deck.slowest_mode:
            return np.zeros(size), np.zeros(size)
        if self._modes is None or self._modes[0] is not self.monodromy:
            weights = np.array(self.map.deck.slowest_mode)
            weights /= np.linalg.norm(weights)
            change = np.eye(size) - self.monodromy
            self._modes = self.monodromy, weights, np.linalg.svd(change - np.outer(weights, weights @ change))[2][-1]
        return self._modes[1:]

    def _found(self, rest: Array) -> PeriodicState:
        """The latest period or, if the states were perturbed in it, one more.

        rest: the part of the step that was not taken. Neighbours begin with it, and noise averages out along a path.
        """
        if self.map.perturbed > QUIET:
            self.map.iterate()
        before, after = self.map.pair
        guess = InitialGuess(self.map.state(), after + rest, self.monodromy)
        return PeriodicState(self.map.waveforms(), guess, self.map.period, after - before, after - self.map.first, self.map.periods)

    def _correct(self, old: Pair, weights: Array, along: bool, faint: float = FAINT) -> None:
        """Broyden's correction from an older pair and the latest, the fainter the closer they lie: there noise would speak.

        along: correct the decay of the slowest mode only, else everything but that
        """
        apart, found = self.map.pair[0] - old[0], self.map.pair[1] - old[1]
        error = found - self.monodromy @ apart
        slow = weights * (weights @ error)
        self.monodromy = self.monodromy + np.outer(slow if along else error - slow, apart) / (np.dot(apart, apart) + faint**2)

    def _explored(self) -> Array:
        """Monodromy matrix from a perturbation along each slow state in turn; then, with the others at rest, along the
        slowest mode.

        That mode decays by some 1e-3 a period, less than the first perturbations resolve. It is read off two states far
        apart on the manifold that the others have settled to.
        """
        pairs = []
        for k, state in enumerate(self.map.deck.slow):
            perturbation = np.zeros(self.map.point.size)
            perturbation[k] = state.probe * (1 - 2 * (k % 2))
            pairs += [self.map.iterate(perturbation), self.map.iterate()]  # the free period shows the map without its marks
        self.monodromy = _fitted(
            pairs, (np.mean([pair[0] for pair in pairs], axis=0), np.mean([pair[1] for pair in pairs], axis=0))
        )
        self._relaxed()
        first, mode = self.map.pair, self._slowest_mode()[1]
        if mode.any():
            self.map.iterate(SLOW_PROBE * mode)
            self._relaxed()
            self._correct(first, np.zeros_like(mode), along=False, faint=0.0)
        return self.monodromy

    def _relaxed(self) -> bool:
        """Newton's steps in all directions but the slowest mode, until they are small; whether they are.

        The monodromy matrix is corrected on the way.
        """
        for _ in range(RELAX_PERIODS):
            pair = self.map.pair
            weights, mode = self._slowest_mode()
            lag = pair[1] - pair[0]
            if weights.any():  # without the drift along the slowest mode, which takes the others along
                lag = lag - mode * ((weights @ lag) / (weights @ mode))
            move = np.linalg.lstsq(np.eye(lag.size) - self.monodromy, lag, rcond=None)[0]
            move -= mode * (mode @ move)
            if max(np.abs(move).max(), 2 * np.abs(lag).max()) < CLOSE:  # a poor matrix may make little of a large lag
                return True
            perturbation = pair[0] + move - pair[1]
            perturbation -= mode * (mode @ perturbation)  # it may drift there
            self.map.iterate(np.clip(perturbation, -LARGEST_STEP, LARGEST_STEP))
            if self.map.perturbed > LARGE:
                self.map.iterate()
            self._correct(pair, weights, along=False)
        return False


def _fitted(pairs: list[Pair], origin: Pair) -> Array:
    """Least squares M of after - origin's = M (before - origin's)."""
    before, after = (np.array(side) for side in zip(*pairs, strict=True))
    return np.asarray(np.linalg.lstsq(before - origin[0], after - origin[1], rcond=None)[0].T)
