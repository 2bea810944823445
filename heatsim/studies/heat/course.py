# SPDX-License-Identifier: GPL-3.0-or-later
"""The course of a heat: the piece warms up, what it is to the coil changes, and with it the current that heats it.

A step of time: with the heat sources at its start to its middle, then with those of its middle from its start to its end (the
midpoint rule). Between the two ends conduction and losses are integrated with the sources held (`heatsim.physics.conduction`). The
mean of the sources at both ends should be those of the middle; a third of what is missing is the error of the step and decides how
long the next one is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np

from heatsim.parts.piece import Correction, Piece, PieceField
from heatsim.parts.tank import Workpiece
from heatsim.physics.conduction import Marched, march, surface_temperatures
from heatsim.physics.cylinder_grid import CylinderGrid
from heatsim.physics.hot_surface import HotSurface
from heatsim.physics.numeric import FloatArray as Array
from heatsim.studies.heat.responses import Answer, Responses, SimulatedPoint, distance

End = Literal["settled", "time is up", "beyond the data", "does not run"]

SPACING = 0.12
"""Distance of a load from all that were simulated [1] from which it is simulated: R or L is 12 % another."""

SECOND = 0.02
"""Distance of the last load [1] from the only one simulated from which it is simulated at the end: from one state it is not known
what its measures follow."""

REDO = 0.005
"""Error of the predicted current [1] from which a stretch is gone through again, its end now known."""

STALE = 0.3
"""Change of a slice's mean permeability, as a share of it [1], from which the field in two dimensions is computed anew."""

ERROR, LARGEST_RISE = 0.4, 30.0
"""Error of a step [K] that is aimed at, and the most a slice's mean may warm in one [K]."""

BENT = 0.02
"""Share of the power by which that at a step's middle may be off the mean of its ends, summed over slices. Where a piece comes to
rest at its Curie point power falls by half within a kelvin, and longer steps of the midpoint rule rest where they should not."""

FIRST, SHORTEST, GROWTH = 0.2, 1e-3, 1.6
"""First and shortest step [s]; most by which a step may be longer than the one before."""

SETTLED = 0.004
"""Share of the power in the piece that still warms it when the heat counts as settled."""

AGREED, ROUNDS, HALVED_FROM = 1e-4, 50, 10
"""Share by which current and frequency may still move; rounds until then at most, and from which on half a step is taken."""


@dataclass(frozen=True)
class Moment:
    """One instant of a heat.

    time [s]; celsius: of every cell, shape (slices, shells); surface: of every slice; load: the coil with the piece; answer:
    current and frequency; power: into the piece [W]; given: heat it gives off by name [W]; error: of the step to it [K]
    """

    time: float
    celsius: Array
    surface: Array
    load: Workpiece
    answer: Answer
    power: float
    given: dict[str, float]
    energy: float
    stored: float
    lost: dict[str, float]
    error: float = 0.0

    def warm(self, at: str) -> Array:
        """Temperature [°C] of every slice at its surface or in its core."""
        return self.surface if at == "surface" else self.celsius[:, 0]


@dataclass(frozen=True)
class _Operating:
    """Field of a piece as its sheets give it, and put right; the load it makes; current and frequency."""

    plain: PieceField
    field: PieceField
    load: Workpiece
    answer: Answer


@dataclass(frozen=True)
class _State:
    """A moment with what is needed to go on from it.

    bent: share of the power by which it was off the straight in the step to it [1]; warming: share of the power that stayed in the
    piece then [1]
    """

    moment: Moment
    enthalpy: Array
    now: _Operating
    step: float
    bent: float = 0.0
    warming: float = 1.0


@dataclass
class Course:
    """A heat under way.

    piece, losses: what is heated, and what its surface gives off; responses: grows with the states simulated; simulate: a load
    at a place and time, given what was predicted; None where the heater does not run with it; longest: time [s] at which it ends;
    error: aimed at in a step [K]; lean: factor on the piece's heat and resistance [1], for how well they are known; moments: so
    far; ends: why it ended; correction: of the field now, found for mean permeabilities of the slices corrected_at [1]
    """

    piece: Piece
    losses: HotSurface
    responses: Responses
    simulate: Callable[[Workpiece, float], SimulatedPoint | None]
    start: float
    longest: float
    error: float = ERROR
    lean: float = 1.0
    moments: list[Moment] = field(default_factory=list)
    ends: End = "time is up"
    correction: Correction = field(init=False)
    corrected_at: Any = field(init=False)

    def run(self) -> Iterator[Moment]:
        """Every moment as it is reached. Moments that are gone through again are told again, from the earlier time on."""
        state = self._begin()
        if state is None:
            self.ends = "does not run"
            return
        kept = state
        known: float | None = None  # until when the stretch is gone through again
        self.moments = [state.moment]
        yield state.moment
        while not self._over(state):
            state = self._step(state)
            self.moments.append(state.moment)
            if self._stale(state):
                self._correct(state.moment.celsius, state.now.plain, state.moment.answer.frequency)
                state = self._taken_up(state)
                self.moments[-1] = state.moment
            if known is not None and state.moment.time >= known:
                kept, known = state, None
            if distance(self.responses.nearest(state.moment.load).load, state.moment.load) >= SPACING:
                point = self.simulate(state.moment.load, state.moment.time)
                if point is None:
                    self.ends = "does not run"
                    return
                self.responses.add(point)
                self._correct(state.moment.celsius, state.now.plain, state.moment.answer.frequency)
                if known is None and max(map(abs, point.errors.values()), default=0.0) > REDO:
                    known, state = state.moment.time, self._taken_up(kept)
                    self.moments = [each for each in self.moments if each.time < kept.moment.time] + [state.moment]
                    continue
                kept, known = self._taken_up(state), None
                state = kept
                self.moments[-1] = state.moment
            yield state.moment
        self._seconded(state.moment)

    def _seconded(self, last: Moment) -> None:
        """A second state, at the end, where one was enough until then."""
        if len(self.responses.points) == 1 and distance(self.responses.points[0].load, last.load) >= SECOND:
            point = self.simulate(last.load, last.time)
            if point is None:
                self.ends = "does not run"
            else:
                self.responses.add(point)

    def _begin(self) -> _State | None:
        """The cold piece, its first state simulated."""
        celsius = np.full(self.piece.volumes.shape, self.start)
        ideal = self.responses.heater
        plain = self.piece.electric(celsius, ideal.frequency, ideal.coil_current)
        self._correct(celsius, plain, ideal.frequency)
        now = _Operating(plain, plain, self._load(plain), Answer(ideal.coil_current, ideal.frequency))
        for _ in range(3):  # what the ideal stage says of the current is some per cent off, and the load follows the current
            now = self._operating(celsius, now)
            point = self.simulate(now.load, 0.0)
            if point is None:
                return None
            self.responses.begin(point)
            if abs(self.responses.answer(now.load).current / now.answer.current - 1) < REDO:
                break
        now = self._operating(celsius, now)
        enthalpy = self.piece.heat.enthalpy(celsius)
        moment = Moment(0.0, celsius, self._surface(enthalpy), now.load, now.answer, self._power(now), {}, 0.0, 0.0, {})
        return _State(moment, enthalpy, now, FIRST)

    def _operating(self, celsius: Array, near: _Operating) -> _Operating:
        """Field, load and current of a piece that is this warm: brought to agree; near: shortly before."""
        plain, answer = near.plain, self.responses.answer(near.load)
        for number in range(ROUNDS):
            plain = self.piece.electric(celsius, answer.frequency, answer.current, plain)
            field = self.piece.corrected(plain, answer.current, self.correction)
            load = self._load(field)
            before, answer = answer, self.responses.answer(load)
            if max(abs(answer.current / before.current - 1), abs(answer.frequency / before.frequency - 1)) < AGREED:
                break
            if number > HALVED_FROM:
                answer = Answer((answer.current + before.current) / 2, (answer.frequency + before.frequency) / 2)
        return _Operating(plain, field, load, answer)

    def _stale(self, state: _State) -> bool:
        """Whether the field has become another since it was corrected."""
        return bool(np.max(np.abs(state.now.plain.mean / self.corrected_at - 1.0)) > STALE)

    def _correct(self, celsius: Array, plain: PieceField, frequency: float) -> None:
        """Correct the field from now on by that in two dimensions."""
        found = self.piece.correction(celsius, plain, frequency)
        self.correction, self.corrected_at = replace(found, heat=self.lean * found.heat), plain.mean

    def _load(self, found: PieceField) -> Workpiece:
        coil, added = self.responses.heater.coil, found.reflection
        return Workpiece(coil.inductance + added.inductance_change, coil.resistance + added.resistance, "estimate")

    @cached_property
    def _grid(self) -> CylinderGrid:
        return CylinderGrid(self.piece.edges, self.piece.cuts)

    def _marched(self, enthalpy: Array, step: float, source: Array) -> Marched:
        """Conduction and losses over a step [s] with the heat sources held [W/m3]."""
        return march(self._grid, self.piece.heat, enthalpy, step, source, self.losses)

    def _surface(self, enthalpy: Array) -> Array:
        """Temperature of every slice's surface [°C]."""
        return np.asarray(surface_temperatures(self._grid, self.piece.heat, enthalpy, self.losses).mantle)

    def _power(self, now: _Operating) -> float:
        return float(np.sum(now.field.loss * self.piece.volumes))

    def _step(self, state: _State) -> _State:
        """One step; halved until its error and its rise are what they may be."""
        step = min(state.step, self.longest - state.moment.time)
        while True:
            tried = self._tried(state, step)
            rise = float(np.max(np.abs(tried.moment.surface - state.moment.surface)))
            moved = distance(state.moment.load, tried.moment.load)
            worst = max(tried.moment.error / self.error, rise / LARGEST_RISE, moved / (SPACING / 2), tried.bent / BENT)
            if worst <= 1.3 or step <= SHORTEST:
                break
            step = max(step * max(0.3, 0.8 / worst), SHORTEST)
        return replace(tried, step=step * min(GROWTH, 0.9 / max(worst, 1e-6) ** 0.5))

    def _tried(self, state: _State, step: float) -> _State:
        moment, source = state.moment, state.now.field.loss
        half = self._marched(state.enthalpy, step / 2, source)
        middle = self._operating(half.temperature, state.now)
        whole = self._marched(state.enthalpy, step, middle.field.loss)
        now = self._operating(whole.temperature, middle)
        bent = np.sum(((source + now.field.loss) / 2 - middle.field.loss) * self.piece.volumes, axis=1)
        capacity = np.sum(self.piece.volumes * self.piece.heat.capacity(whole.temperature), axis=1)
        brought, stays = self._power(middle) * step, float(np.sum((whole.enthalpy - state.enthalpy) * self.piece.volumes))
        reached = Moment(
            moment.time + step,
            whole.temperature,
            self._surface(whole.enthalpy),
            now.load,
            now.answer,
            self._power(now),
            {name: value / step for name, value in whole.given_off.items()},
            moment.energy + brought,
            moment.stored + stays,
            {name: moment.lost.get(name, 0.0) + value for name, value in whole.given_off.items()},
            float(np.max(np.abs(bent / capacity))) * step / 3,
        )
        return _State(reached, whole.enthalpy, now, step, float(np.sum(np.abs(bent))) * step / brought, stays / brought)

    def _over(self, state: _State) -> bool:
        """Whether the heat is at its end, and why."""
        moment = state.moment
        if float(np.max(moment.celsius)) >= self.piece.highest_c:
            self.ends = "beyond the data"
        elif abs(state.warming) < SETTLED:
            self.ends = "settled"
        elif moment.time >= self.longest:
            self.ends = "time is up"
        else:
            return False
        return True

    def _taken_up(self, state: _State) -> _State:
        """A state with current, frequency and correction as they are known now."""
        moment, now = state.moment, self._operating(state.moment.celsius, state.now)
        return replace(state, now=now, moment=replace(moment, load=now.load, answer=now.answer, power=self._power(now)))
