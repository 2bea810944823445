# SPDX-License-Identifier: GPL-3.0-or-later
"""The heater's answer to what the workpiece makes of its coil, from periodic states that ngspice found along the heat.

While a piece warms up, the inductance and resistance of the coil with it move along a line. The ideal stage (`heatsim.physics.stage`)
says what current and frequency belong to a place on that line, to some per cent; simulated states say how far it is off there. This
share is what is interpolated between the states, along the way W = integral of hypot(d ln R, d ln L). Ahead of the latest state it
is continued straight on, and the next state shows by how much that was wrong: every state is predicted before it is simulated, so
that the error is one of values the line was not drawn through.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from heatsim.parts.heater import Heater
from heatsim.parts.tank import Workpiece
from heatsim.studies.check import Measured
from heatsim.studies.points import PointResult

CURRENT, FREQUENCY = "current", "frequency"


@dataclass(frozen=True)
class Answer:
    """Amplitude of the coil's current that heats the piece [A] and the tank's frequency [Hz]."""

    current: float
    frequency: float


@dataclass(frozen=True)
class SimulatedPoint:
    """A state that was simulated.

    way: its place along the heat [1]; time: when the piece was there [s]; load: the coil with the piece; result: measures and
    findings; shares: of the ideal stage's values, by name; predicted: the shares that were expected before, None for the first
    """

    way: float
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


def distance(one: Workpiece, other: Workpiece) -> float:
    """How far two loads lie apart on the way [1]."""
    return math.hypot(math.log(other.resistance / one.resistance), math.log(other.inductance / one.inductance))


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
    """The states simulated so far, in the order of their way; heater: without its piece."""

    heater: Heater
    points: list[SimulatedPoint] = field(default_factory=list)

    def add(self, point: SimulatedPoint) -> None:
        """Take in a state."""
        self.points.append(point)
        self.points.sort(key=lambda each: each.way)

    def shares(self, way: float) -> dict[str, float]:
        """Shares of the ideal stage's values at a place; beyond the ends straight on, no further than between two states."""
        if not self.points:
            return {CURRENT: 1.0, FREQUENCY: 1.0}
        first, last, part = self.between(way)
        return {name: (1 - part) * first.shares[name] + part * last.shares[name] for name in first.shares}

    def between(self, way: float) -> tuple[SimulatedPoint, SimulatedPoint, float]:
        """The two states a place lies between, or is nearest to, and its place between them: 0 the one, 1 the other."""
        points = self.points
        if len(points) == 1:
            return points[0], points[0], 0.0
        place = int(np.clip(np.searchsorted([each.way for each in points], way), 1, len(points) - 1))
        first, last = points[place - 1], points[place]
        width = last.way - first.way
        return first, last, float(np.clip((way - first.way) / width, -1.0, 2.0)) if width > 0 else 0.0

    def answer(self, load: Workpiece, way: float) -> Answer:
        """Current and frequency with a load at a place."""
        ideal, shares = loaded(self.heater, load), self.shares(way)
        return Answer(ideal.coil_current * shares[CURRENT], ideal.frequency * shares[FREQUENCY])

    def measures(self, way: float) -> dict[str, Measured]:
        """Every measure at a place: numbers and lists of equal length straight between the two states, all else of the nearer one."""
        first, last, part = self.between(way)
        part = min(max(part, 0.0), 1.0)
        one, other = first.result.measures, last.result.measures
        near = other if part > 0.5 else one
        return {key: _between(one.get(key), other.get(key), near.get(key), part) for key in one.keys() | other.keys()}

    @property
    def error(self) -> dict[str, float]:
        """Largest error of the predicted shares [1], by name; empty with fewer than three states, for the second is predicted from one."""
        told = [point.errors for point in self.points if point.errors]
        return {name: max(abs(each[name]) for each in told) for name in told[0]} if told else {}


def _between(one: Measured, other: Measured, near: Measured, part: float) -> Measured:
    if isinstance(one, float) and isinstance(other, float) and math.isfinite(one) and math.isfinite(other):
        return (1 - part) * one + part * other
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        return [(1 - part) * a + part * b for a, b in zip(one, other, strict=True)]
    return near
