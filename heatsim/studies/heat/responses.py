# SPDX-License-Identifier: GPL-3.0-or-later
"""The heater's answer to what the workpiece makes of its coil, from periodic states that ngspice found along the heat.

While a piece warms up, the inductance and resistance of the coil with it move along a line. The ideal stage
(`heatsim.physics.stage`) says what current and frequency belong to a place on that line, to some per cent; simulated states say
how far it is off there. This share, and every measure, is interpolated between the states over ln R and ln L by radial basis
functions (linear, with a constant: far from all states it stays what it is at the nearest). Every state is predicted before it is
simulated, so that the error is one of values that the surface was not drawn through.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from heatsim.parts.heater import Heater
from heatsim.parts.tank import Workpiece
from heatsim.physics.numeric import FloatArray as Array
from heatsim.studies.check import Measured
from heatsim.studies.points import PointResult

CURRENT, FREQUENCY = "current", "frequency"

SAME_LOAD = 1e-3
"""Distance of two loads [1] below which they count as one."""


@dataclass(frozen=True)
class Answer:
    """Amplitude of the coil's current that heats the piece [A] and the tank's frequency [Hz]."""

    current: float
    frequency: float


@dataclass(frozen=True)
class SimulatedPoint:
    """A state that was simulated.

    time: when the piece was there [s]; load: the coil with the piece; result: measures and findings; shares: of the ideal stage's
    values, by name; predicted: the shares that were expected before, None for the first
    """

    time: float
    load: Workpiece
    result: PointResult
    shares: Mapping[str, float]
    predicted: Mapping[str, float] | None = None

    @property
    def errors(self) -> dict[str, float]:
        """By how much each predicted share was off [1]; empty for the first."""
        return {name: self.predicted[name] / value - 1 for name, value in self.shares.items()} if self.predicted else {}


def loaded(heater: Heater, load: Workpiece) -> Heater:
    """The heater with what its coil is with the piece in."""
    return replace(heater, workpiece=load)


def place(load: Workpiece) -> Array:
    """Where a load lies: ln R and ln L, shape (2,)."""
    return np.log([load.resistance, load.inductance])


def distance(one: Workpiece, other: Workpiece) -> float:
    """How far two loads lie apart [1]: 0.1 where R or L differs by a tenth."""
    return float(np.hypot(*(place(one) - place(other))))


def shares_of(heater: Heater, load: Workpiece, measures: Mapping[str, Measured]) -> dict[str, float] | None:
    """What a simulation makes of current and frequency, as shares of the ideal stage's; None where it measured neither.

    The current is the one whose square times the piece's resistance is the power in the piece, harmonics included.
    """
    power, frequency = measures.get("workpiece.power_w"), measures.get("tank.frequency_hz")
    added = load.resistance - heater.coil.resistance
    if not isinstance(power, float) or not isinstance(frequency, float) or power <= 0:
        return None
    ideal = loaded(heater, load)
    return {CURRENT: math.sqrt(2 * power / added) / ideal.coil_current, FREQUENCY: frequency / ideal.frequency}


@dataclass
class Responses:
    """The states simulated so far; heater: without its piece."""

    heater: Heater
    points: list[SimulatedPoint] = field(default_factory=list)

    def add(self, point: SimulatedPoint) -> None:
        """Take in a state; of two that are next to each other the later counts."""
        self.points = [each for each in self.points if distance(each.load, point.load) > SAME_LOAD] + [point]
        for name in ("_surface", "_followed"):
            self.__dict__.pop(name, None)

    def begin(self, point: SimulatedPoint) -> None:
        """Only this state."""
        self.points = []
        self.add(point)

    def nearest(self, load: Workpiece) -> SimulatedPoint:
        """The state of the load nearest to this."""
        return min(self.points, key=lambda each: distance(each.load, load))

    def weights(self, load: Workpiece) -> Array:
        """Weight of every state at a load [1], shape (n,); they add up to 1."""
        return np.ones(1) if len(self.points) == 1 else np.asarray(self._surface(place(load)[None])[0])

    @cached_property
    def _surface(self) -> Any:
        """Weights of all states over the places of loads."""
        from scipy.interpolate import RBFInterpolator

        places = np.array([place(each.load) for each in self.points])
        return RBFInterpolator(places, np.eye(len(places)), kernel="linear", degree=0)

    def shares(self, load: Workpiece) -> dict[str, float]:
        """Shares of the ideal stage's values at a load; 1 before anything is simulated."""
        if not self.points:
            return {CURRENT: 1.0, FREQUENCY: 1.0}
        weights = self.weights(load)
        return {name: float(weights @ [each.shares[name] for each in self.points]) for name in self.points[0].shares}

    def answer(self, load: Workpiece) -> Answer:
        """Current and frequency with a load."""
        ideal, shares = loaded(self.heater, load), self.shares(load)
        return Answer(ideal.coil_current * shares[CURRENT], ideal.frequency * shares[FREQUENCY])

    def measures(self, load: Workpiece) -> dict[str, Measured]:
        """Every measure at a load: numbers and lists interpolated where all states have them, all else of the nearest state.

        A number of one sign is interpolated as a share of that one of the ideal stage's quantities which it follows most closely
        from state to state: currents go with its current, losses with the square, and so on.
        """
        weights, near = self.weights(load), self.nearest(load).result.measures
        names, followed, logs = self._followed
        values = np.exp(weights @ logs) * _scales(loaded(self.heater, load))[followed]
        found: dict[str, Measured] = {name: sign * float(value) for (name, sign), value in zip(names, values, strict=True)}
        rows = [each.result.measures for each in self.points]
        rest = (key for key in near if key not in found)
        return found | {key: _mean(weights, [row.get(key) for row in rows], near.get(key)) for key in rest}

    @cached_property
    def _followed(self) -> tuple[list[tuple[str, float]], Any, Array]:
        """Numbers that are interpolated as shares: name and sign; number of the scale that each follows; logarithm of its share at
        every state, shape (states, numbers)."""
        first = self.points[0].result.measures
        columns = {key: [each.result.measures.get(key) for each in self.points] for key in first}
        table = {key: np.array(each, dtype=float) for key, each in columns.items() if _of_one_sign(each)}
        scales = np.array([_scales(loaded(self.heater, each.load)) for each in self.points])
        names = [(key, float(np.sign(values[0]))) for key, values in table.items()]
        if not names:
            return [], np.zeros(0, dtype=int), np.zeros((len(self.points), 0))
        logs = np.log(np.abs(np.array(list(table.values()))))[:, None, :] - np.log(scales).T[None]
        followed = np.argmin(np.std(logs, axis=2), axis=1)
        return names, followed, logs[np.arange(len(names)), followed].T

    @property
    def error(self) -> dict[str, float]:
        """Largest error of the predicted shares [1], by name; empty where nothing was predicted."""
        told = [point.errors for point in self.points if point.errors]
        return {name: max(abs(each[name]) for each in told) for name in told[0]} if told else {}


def _scales(ideal: Heater) -> Array:
    """What a measure may follow: nothing, current of the coil and of the supply, their squares, power in the piece, frequency."""
    coil, supply, piece = ideal.coil_current, ideal.supply_current, ideal.workpiece
    added = piece.resistance - ideal.coil.resistance if piece else 1.0
    return np.array([1.0, coil, supply, coil**2, supply**2, coil**2 * added, ideal.frequency])


def _of_one_sign(values: Sequence[Measured]) -> bool:
    """Whether all are numbers of one sign that differ, and not counts."""
    if not all(isinstance(each, float) and math.isfinite(each) and each for each in values):
        return False
    known = np.array(values, dtype=float)
    return bool(abs(np.sum(np.sign(known))) == known.size and np.ptp(known) > 0 and not np.all(known == np.round(known)))


def _mean(weights: Array, values: list[Measured], near: Measured) -> Measured:
    """Weighted mean of numbers, or of lists of one length; the nearest state's value where they are neither, and of counts."""
    if all(isinstance(each, float) and math.isfinite(each) for each in values):
        known = np.array(values, dtype=float)
        return near if np.all(known == np.round(known)) or np.ptp(known) == 0.0 else float(weights @ known)
    if all(isinstance(each, list) and isinstance(near, list) and len(each) == len(near) for each in values):
        return [float(each) for each in weights @ np.array(values, dtype=float)]
    return near
