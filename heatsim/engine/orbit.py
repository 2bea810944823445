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

from dataclasses import dataclass, replace

import numpy as np

from heatsim.engine.session import Session
from heatsim.engine.walk import NoOrbit, Reader, Walk, point_of
from heatsim.netlist.deck import Deck, State
from heatsim.waves import Array, Waveforms

CLOSE = 1.5e-3
"""Newton step, as a share of a state's scale, below which the state counts as that of the orbit."""

NOISE = 1.2e-5
"""What the simulator's changing steps add to a state in a period, as a share of its scale: measured, 3e-6 to 1e-5. Along
the weakest direction, which pulls by some 3e-3 a period, it is magnified: a step below noise over pull is none."""

WEAK_GAIN = 0.65
"""Share of a step along the weakest direction that is taken: a neighbour's pull may be off by half, and then whole steps
would swing to and fro."""

WEAK_PROBE = 0.25
"""Push along the weakest direction, as a share of the scales."""

FAINT = 0.02
"""Distance of two states, as a share of the scales, at which half of what they say about the Jacobian is believed."""

LARGEST_STEP = 0.5
"""A Newton step is cut to this share of the scale."""

REST_PERIODS = 5
"""Periods given to the other states to come to rest beside the weakest direction."""

LARGE_PUSH = 0.05
"""A period with a push beyond this share of a scale tells the push's own marks more than the map."""

QUIET_PUSH = 1e-3
"""A period counts as free when no slow state was pushed by more than this share of its scale."""

MOST_PERIODS = 80
"""Periods after which the search is given up."""

KICK = 0.25
"""Push from which a circuit is let come home, as a share of the states' probes: its map is read off the way."""

HOMEWARD = 25
"""Periods of the way home."""

ATTRACTS = 1.0
"""Largest size of a multiplier (eigenvalue of J) of an orbit that attracts. Those read off a way home are good to some
3e-4: ways of 25 periods and of 60 give the same."""

SUSPECT = 1.01
"""Size of a multiplier in a Jacobian corrected since, which is good to a few hundredths, that calls for another look."""


@dataclass(frozen=True)
class Seed:
    """What a search starts from: the whole circuit's state at a section; if known, the slow states over their scales
    there, shape (n,), and the Jacobian of the map, (n, n).
    """

    state: State
    point: Array | None = None
    jacobian: Array | None = None


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
    walk = Walk(session, replace(deck, start=near.state))
    goal = near.point if point is None else point
    try:
        if near.jacobian is not None:
            return _search(walk, goal, near.jacobian)
    except NoOrbit:
        if session.poisoned or walk.lost:
            raise
        goal = None
    return _search(walk, goal, None)


def section_seed(session: Session, deck: Deck) -> Seed | None:
    """Where the run that a session has just made of a deck (with every vector saved) last passed its section; None when
    there is no section.
    """
    passed = Reader(session, deck).crossings()
    if not passed.size:
        return None
    state = session.state(int(passed[-1]) + 1)
    return Seed(state, point_of(deck, state))


def _search(walk: Walk, point: Array | None, jacobian: Array | None) -> Orbit:
    """Newton's steps, along the weakest direction only while the others are at rest; then a period without a push.

    Where no neighbour has shown that the state attracts, it has to once it is reached.
    """
    goal = walk.point if point is None else point
    walk.step(goal - walk.point)
    if walk.pushed > LARGE_PUSH:
        walk.step(goal - walk.point)
    known = jacobian is not None
    most = MOST_PERIODS // 2 if known else MOST_PERIODS  # the map anew costs some 60 more
    jacobian = _explore(walk) if jacobian is None else jacobian
    begun, looked = walk.periods, False
    rested: tuple[Array, Array] | None = None
    while True:
        if walk.periods - begun >= most:
            if not known or looked:
                raise NoOrbit(f"no periodic state within {walk.periods} periods")
            jacobian, looked = _homeward(walk), True
            begun, rested = walk.periods, None
        jacobian, resting = _rest(walk, jacobian)
        if not resting:
            continue
        before, after = walk.pair
        pull, weak = _weakest(walk, jacobian)
        if abs(float(pull @ walk.push)) > QUIET_PUSH:
            walk.step(np.zeros_like(after))  # a push comes out a hundredth off, more than the weakest pull
            continue
        if pull.any():
            jacobian = jacobian if rested is None else _secant(jacobian, pull, rested, walk.pair)
            rested = walk.pair
        move = np.asarray(np.linalg.solve(np.eye(before.size) - jacobian, after - before), dtype=np.float64)
        size, arrived = _left(walk, jacobian, pull, weak, move)
        if not arrived:
            move = move - (1 - WEAK_GAIN) * size * weak
            walk.step(np.clip(before + move - after, -LARGEST_STEP, LARGEST_STEP))
        elif known and _largest(jacobian) < SUSPECT:
            return _orbit(walk, jacobian, 0.5 * size * weak)
        else:
            jacobian, known, looked = _homeward(walk), True, True
            begun, rested = walk.periods, None


def _left(walk: Walk, jacobian: Array, pull: Array, weak: Array, move: Array) -> tuple[float, bool]:
    """How far Newton's step `move` still goes along the weakest direction, and whether that is next to nothing."""
    if not pull.any():
        return 0.0, True
    before, after = walk.pair
    strength = float(pull @ (weak - jacobian @ weak))
    size, alone = float(weak @ move), float(pull @ (after - before)) / strength  # with and without what others still move
    return size, max(abs(size), abs(alone) / 3) < max(2 * CLOSE, NOISE / abs(strength))


def _largest(jacobian: Array) -> float:
    """Size of the largest multiplier."""
    return float(np.abs(np.linalg.eigvals(jacobian)).max())


def _homeward(walk: Walk) -> Array:
    """Jacobian from a way home: a push to all states, from which they come back by themselves; NoOrbit if they do not.

    Least squares over how far pairs without a push's marks lie from the pair at home (known as dynamic mode
    decomposition: P. J. Schmid, J. Fluid Mech. 656, 2010, p. 5).
    """
    if walk.pushed > QUIET_PUSH:
        walk.step(np.zeros_like(walk.point))
    home = walk.pair
    probes = np.array([state.probe for state in walk.deck.slow])
    k = np.arange(probes.size)
    walk.step(KICK * probes * (1 - 2 * (k % 2)) / (1 + 0.2 * k))  # no two alike: every direction takes part
    pairs = []
    for _ in range(HOMEWARD):
        walk.step(np.zeros(probes.size))
        pairs.append(walk.pair)
    jacobian = _fitted(pairs, home)
    largest = _largest(jacobian)
    if largest > ATTRACTS:
        raise NoOrbit(f"the periodic state does not attract: what moves it grows by {100 * (largest - 1):.2g} % a period")
    return jacobian


def _fitted(pairs: list[tuple[Array, Array]], origin: tuple[Array, Array]) -> Array:
    """Least squares J of after - origin's = J (before - origin's)."""
    before, after = (np.array(side) for side in zip(*pairs, strict=True))
    return np.asarray(np.linalg.lstsq(before - origin[0], after - origin[1], rcond=None)[0].T)


def _weakest(walk: Walk, jacobian: Array) -> tuple[Array, Array]:
    """Where the map pulls least: unit vectors of the pull and of the displacement that meets no other; both zero for a
    circuit without such a direction.

    The pull is known to a few hundredths from the circuit (`Deck.levelled`); from the Jacobian it would be worse, and
    what the others still move would be taken for a pull.
    """
    if not walk.deck.levelled:
        return np.zeros(len(jacobian)), np.zeros(len(jacobian))
    pull = np.array(walk.deck.levelled)
    pull /= np.linalg.norm(pull)
    mapped = np.eye(len(jacobian)) - jacobian
    return pull, np.asarray(np.linalg.svd(mapped - np.outer(pull, pull @ mapped))[2][-1])


def _orbit(walk: Walk, jacobian: Array, rest: Array) -> Orbit:
    """The latest period, or if the states were pushed in it one more, and what it looks like.

    rest: of the step that was not taken; the neighbours begin with it, and noise averages out along a strip.
    """
    if walk.pushed > QUIET_PUSH:
        walk.step(np.zeros_like(walk.point))
    before, after = walk.pair
    seed = Seed(walk.state(), after + rest, jacobian)
    return Orbit(walk.waveforms(), seed, walk.period, after - before, after - walk.first, walk.periods)


def _updated(jacobian: Array, pull: Array, old: tuple[Array, Array], new: tuple[Array, Array]) -> Array:
    """Broyden's correction from two pairs, the fainter the closer they lie: there noise would speak, not the circuit.

    The weakest pull is left as it is; a step in the other directions says nothing about it.
    """
    apart, found = new[0] - old[0], new[1] - old[1]
    error = found - jacobian @ apart
    return np.asarray(jacobian + np.outer(error - pull * (pull @ error), apart) / (np.dot(apart, apart) + FAINT**2))


def _secant(jacobian: Array, pull: Array, old: tuple[Array, Array], new: tuple[Array, Array]) -> Array:
    """The weakest pull put right by two states at rest, the fainter the closer they lie."""
    apart, found = new[0] - old[0], new[1] - old[1]
    error = float(pull @ (found - jacobian @ apart))
    return np.asarray(jacobian + np.outer(pull * error, apart) / (np.dot(apart, apart) + FAINT**2))


def _explore(walk: Walk) -> Array:
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
    middle = tuple(np.mean(side, axis=0) for side in zip(*pairs, strict=True))
    jacobian = _fitted(pairs, (middle[0], middle[1]))
    jacobian, _ = _rest(walk, jacobian)
    first, weak = walk.pair, _weakest(walk, jacobian)[1]
    if not weak.any():
        return jacobian
    walk.step(WEAK_PROBE * weak)
    jacobian, _ = _rest(walk, jacobian)
    apart, found = walk.pair[0] - first[0], walk.pair[1] - first[1]
    return np.asarray(jacobian + np.outer(found - jacobian @ apart, apart) / np.dot(apart, apart))


def _rest(walk: Walk, jacobian: Array) -> tuple[Array, bool]:
    """Newton's steps in all directions but the weakest, until they are small: the Jacobian as corrected on the way, and
    whether they are.
    """
    for _ in range(REST_PERIODS):
        pair = walk.pair
        pull, weak = _weakest(walk, jacobian)
        lag = pair[1] - pair[0]
        if pull.any():  # without the drift along the weakest direction, which takes the others along
            lag = lag - weak * ((pull @ lag) / (pull @ weak))
        move = np.linalg.lstsq(np.eye(lag.size) - jacobian, lag, rcond=None)[0]
        move -= weak * (weak @ move)
        if max(np.abs(move).max(), 2 * np.abs(lag).max()) < CLOSE:  # a poor Jacobian may make little of a large lag
            return jacobian, True
        push = pair[0] + move - pair[1]
        push -= weak * (weak @ push)  # it may drift there
        walk.step(np.clip(push, -LARGEST_STEP, LARGEST_STEP))
        if walk.pushed > LARGE_PUSH:
            walk.step(np.zeros_like(lag))
        jacobian = _updated(jacobian, pull, pair, walk.pair)
    return jacobian, False


__all__ = ["NoOrbit", "Orbit", "Seed", "find_orbit", "section_seed"]
