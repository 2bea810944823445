# SPDX-License-Identifier: GPL-3.0-or-later
"""Heats without ngspice: a round piece in a coil whose current and frequency follow from a formula."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import numpy as np

from heatsim.parts.heater import Heater
from heatsim.parts.piece import Correction, Piece, PieceField, PieceShape, Substance, cut
from heatsim.parts.tank import WorkCoil, Workpiece
from heatsim.physics.conduction import Faces, Losses
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.sheets import SheetCoupling
from heatsim.scenario.catalogue import builtin
from heatsim.scenario.scenario import Scenario
from heatsim.studies.heat.course import Course, Moment
from heatsim.studies.heat.responses import CURRENT, FREQUENCY, Answer, Responses, SimulatedPoint, loaded
from heatsim.studies.points import PointResult

MU_0 = 4e-7 * math.pi
FORGING = Path(__file__).resolve().parents[2] / "scenarios" / "bench-heater-forging.toml"

Answered = Callable[[Workpiece], tuple[float, float]]
"""Amplitude of the coil's current [A] and frequency [Hz] with a load."""

Simulate = Callable[[Workpiece, float], SimulatedPoint | None]


@cache
def bench() -> Scenario:
    """The forging heater."""
    return Scenario.from_file(FORGING)


def substance(name: str) -> Substance:
    """A metal of the catalogue."""
    metal = builtin().metal(name, "here")
    return Substance(metal.resistivity, metal.permeability or (None if metal.curve else 1.0), metal.curve, metal.hot)


class Endless(Piece):
    """A stretch of a piece without ends in a coil without ends: the field is that of the coil, nothing is to be put right."""

    @cached_property
    def coupling(self) -> SheetCoupling:
        """n turns a metre make n ampere a metre; no slice acts on another."""
        widths, (_, length, turns) = np.diff(self.cuts), self.shape.coil
        return SheetCoupling(self.shape.outer, widths, np.full(widths.size, turns / length), np.zeros((widths.size, widths.size)))

    def correction(self, celsius: Array, field: PieceField, frequency: float) -> Correction:
        """Nothing."""
        return Correction.none(len(self.cuts) - 1)


@dataclass(frozen=True)
class LongCoil:
    """A stretch of a long closely wound coil with a long piece in it, at a tank voltage that is constant.

    Sizes [m]; turns [1]; volts: amplitude across coil and piece; hertz: of the empty coil; metal: of the piece; resistance: of the
    coil over its reactance [1]
    """

    diameter: float = 0.04
    length: float = 1.0
    turns: float = 80.0
    bar: float = 0.016
    volts: float = 1200.0
    hertz: float = 6e4
    metal: str = "steel"
    emissivity: float = 0.8

    @property
    def inductance(self) -> float:
        """Of the empty coil [H]: that of a long one."""
        return MU_0 * self.turns**2 * math.pi * self.diameter**2 / 4 / self.length

    @property
    def capacitance(self) -> float:
        """[F]."""
        return 1 / ((2 * math.pi * self.hertz) ** 2 * self.inductance)

    @property
    def resistance(self) -> float:
        """Of the empty coil [ohm]."""
        return 0.01 * 2 * math.pi * self.hertz * self.inductance

    def answer(self, load: Workpiece) -> tuple[float, float]:
        """w^2 L C = 1, I = V/|r + j w L|."""
        omega = 1 / math.sqrt(load.inductance * self.capacitance)
        return self.volts / math.hypot(load.resistance, omega * load.inductance), omega / (2 * math.pi)

    def heater(self) -> Heater:
        """The forging heater with this coil, its capacitance and a supply of that voltage."""
        found = replace(bench().heater("loaded"), workpiece=None)
        coil = WorkCoil(self.inductance, self.resistance, 0.0, 0.0)
        bank = replace(found.capacitors, unit=self.capacitance / found.capacitors.count, inductance=0.0, resistance=0.0)
        supply = replace(found.supply, voltage=self.volts / math.pi, resistance=0.0)
        return replace(found, coil=coil, capacitors=bank, supply=supply)

    def piece(self, cells: int = 44) -> Endless:
        """The piece, one slice of it."""
        shape = PieceShape(self.bar / 2, 0.0, self.length, 0.0, (self.diameter, self.length, self.turns))
        found = cut(shape, [(substance(self.metal), self.bar / 2)], self.hertz, 1, cells)
        return Endless(found.shape, found.layers, found.edges, found.cuts)

    def course(self, piece: Piece | None = None, asked: list[SimulatedPoint] | None = None, **changed: Any) -> Course:
        """A heat of it that is answered by the voltage."""
        responses = Responses(self.heater())
        values = {"start": 20.0, "longest": 50.0, "simulate": answered(responses, self.answer, asked)} | changed
        losses = values.pop("losses", radiating(self.emissivity))
        return Course(piece or self.piece(), losses, responses, **values)


def radiating(emissivity: float, celsius: float = 20.0) -> Losses:
    """What a mantle radiates to surroundings of one temperature [°C]."""

    def losses(surface: Faces) -> Mapping[str, Faces]:
        kelvin = np.asarray(surface.mantle) + 273.15
        return {"radiation": Faces(5.670374419e-8 * emissivity * (kelvin**4 - (celsius + 273.15) ** 4))}

    return losses


def nothing_lost(surface: Faces) -> Mapping[str, Faces]:
    """No losses, under a name: a heat knows that it gives something off."""
    return {"nothing": Faces(0.0 * np.asarray(surface.mantle))}


def result_with(measures: Mapping[str, Any], outcome: str = "settled") -> PointResult:
    """A simulated point with some measures."""
    return PointResult(outcome, "", "holds", 0.2, "choke.left: temperature", dict(measures), (), "periodic", 0.001)


def answered(responses: Responses, of: Answered, asked: list[SimulatedPoint] | None = None) -> Simulate:
    """A simulation by formula: as shares of what the ideal stage says, beside what the responses expected; asked: takes in all."""

    def simulate(load: Workpiece, at: float) -> SimulatedPoint:
        (current, hertz), ideal = of(load), loaded(responses.heater, load)
        shares = {CURRENT: current / ideal.coil_current, FREQUENCY: hertz / ideal.frequency}
        predicted = responses.shares(load) if responses.points else None
        point = SimulatedPoint(at, load, result_with({"tank.frequency_hz": hertz}), shares, predicted)
        if asked is not None:
            asked.append(point)
        return point

    return simulate


def load_between(one: Workpiece, other: Workpiece, part: float) -> Workpiece:
    """On the way from a load to another, straight in the logarithms of inductance and resistance."""
    return Workpiece(
        one.inductance ** (1 - part) * other.inductance**part, one.resistance ** (1 - part) * other.resistance**part, "estimate"
    )


def moment_at(time: float, load: Workpiece, celsius: Array, **given: float) -> Moment:
    """A moment of a made-up heat; given: heat given off by name [W]."""
    surface = np.array(celsius[:, -1])
    return Moment(
        time, celsius, surface, load, Answer(200.0, 6e4), 1000.0, dict(given), 1000.0 * time, 900.0 * time, {"all": 100.0 * time}
    )
