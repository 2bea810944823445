# SPDX-License-Identifier: GPL-3.0-or-later
"""What a work coil would make of a heat, without simulating: the ideal stage with the piece at one temperature after the other.

At each of some temperatures the piece is evenly warm. Current and frequency are those of the ideal stage with its drops
(`heatsim.parts.heater`), the field in the piece that of `heatsim.parts.piece`; the two are brought to agree. From cold to
wanted the piece as a whole takes dH/(P - losses); what core and surface are behind and ahead of its mean is added at the end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any

import numpy as np

from heatsim.errors import InputError
from heatsim.parts.duty import Duty, estimate
from heatsim.parts.heater import Heater
from heatsim.parts.piece import CURIE_SPREAD, Piece, Substance
from heatsim.parts.tank import Workpiece
from heatsim.physics.bar_field import bar_field, steel_bar_field
from heatsim.physics.conduction import Faces
from heatsim.physics.hot_surface import HotSurface, hot_surface
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.sheets import sheet_fields, sheet_reflection
from heatsim.physics.stage import peak_voltage, tank_harmonic_ratio
from heatsim.scenario.build import build_heater
from heatsim.scenario.catalogue import catalogue_with
from heatsim.scenario.heat import HeatPlan
from heatsim.scenario.schema import CoilTable
from heatsim.scenario.workpiece import GivenPiece, given_piece
from heatsim.studies.check import case_limits, water_measures
from heatsim.studies.heat.coils.result import CoilEstimate, CoilShape, CoilState
from heatsim.studies.heat.limits import CAUGHT
from heatsim.verdict import Finding, judge

SLICES, CELLS = 12, 20
"""Into which a piece is cut here; what that changes is stated in `tests/studies/heat/test_coils.py`."""

AGREED, ROUNDS, HALVED_FROM = 1e-3, 30, 6
"""Share by which the resistance of coil and piece may still move when field and current agree, rounds until then at most, and from
which on half a step is taken."""

ORDERS = np.arange(3.0, 26.0, 2.0)
"""Harmonics of the tank's voltage that its distortion is told from [1]."""

REACH = 2.0
"""Factor either way on the tank frequency of the scenario's own coil within which its capacitors' and switches' figures, given near
that one, are taken to hold; a working value."""

BEHIND = 0.02
"""Share of the power in the piece that must be left to warm it; with less it counts as standing still [1]."""


def conduction_surplus(outer: float, bore: float, diffusivity: float, core: bool) -> float:
    """Time [s] by which the inside of a round piece is later than its mean, or its outside earlier (negative).

    outer, bore: radii [m]; diffusivity [m2/s]; core: of the inside
    Heated evenly through its outer surface, nothing passing the bore, with dT/dt = s everywhere: (1/r)(r T')' = s/alpha,
    T'(b) = 0, so that T(r) - T(b) = (s/(2 alpha)) ((r^2 - b^2)/2 - b^2 ln(r/b)), whose mean over the section is the inside's
    delay times s. A solid bar: a^2/(8 alpha) either way. Own derivation; holds once the warmth is that far in, after some
    a^2/(4 alpha).
    """
    a, b, area = outer**2, bore**2, outer**2 - bore**2
    bent = b * math.log(outer / bore) if bore > 0 else 0.0
    inside = (area / 8 + b / 4 - a * bent / (2 * area)) / diffusivity
    return inside if core else inside - (area / 2 - bent) / (2 * diffusivity)


@dataclass(frozen=True)
class EndEffects:
    """What a field in two dimensions makes of the sheets' answer at one temperature: factor on the resistance that the piece brings
    in [1], and what is added to the inductance, as a share of the empty coil's [1]."""

    resistance: float = 1.0
    inductance: float = 0.0


@dataclass(frozen=True)
class Bench:
    """What all coils of an advice share. plan: of the heat; temperatures: at which the piece is looked at [°C]; slices, cells: into
    which it is cut; frequency: of the tank with the scenario's own coil [Hz], None while that is looked at; ends: at each
    temperature, of the scenario's own coil and taken for all (those of others differ by some 1 % in resistance, in the tests)."""

    plan: HeatPlan
    temperatures: tuple[float, ...]
    slices: int = SLICES
    cells: int = CELLS
    frequency: float | None = None
    ends: tuple[EndEffects, ...] = ()

    def settled(self) -> Bench:
        """The same with what only the scenario's own coil tells: frequency and end effects."""
        coil = self.plan.scenario.case(self.plan.case).tables.coil
        heater = self._heater(coil)
        piece = self._given(coil).cut(heater.frequency, self.slices, self.cells)
        loads = _operating(heater, piece, np.array(self.temperatures), self._ends)
        ends = tuple(_end_effects(heater, piece, *each) for each in zip(loads, self.temperatures, strict=True))
        return replace(self, frequency=replace(heater, workpiece=loads[0]).frequency, ends=ends)

    @property
    def _ends(self) -> tuple[EndEffects, ...]:
        return self.ends or (EndEffects(),) * len(self.temperatures)

    @cached_property
    def _known(self) -> Any:
        scenario = self.plan.scenario
        return catalogue_with(scenario.tables.heater.catalogue, scenario.folder, scenario.where("heater", "catalogue"))

    @cached_property
    def _warming(self) -> tuple[Array, Array]:
        """Temperatures [°C] from start to wanted, and the heat the piece holds there [J]."""
        piece = self.plan.piece
        fine = np.union1d(np.linspace(self.plan.start, self.plan.wanted, 300), self.temperatures)
        held = piece.heat.enthalpy(fine[:, None, None] * np.ones(piece.volumes.shape))
        return fine, np.asarray(np.sum(held * piece.volumes, axis=(1, 2)))

    @cached_property
    def surplus(self) -> float:
        """See `conduction_surplus`: at the wanted temperature's conductivity and the mean capacity on the way there [s]."""
        shape, heat = self.plan.piece.shape, self.plan.piece.heat
        fine, held = self._warming
        capacity = (held[-1] - held[0]) / (fine[-1] - fine[0]) / float(np.sum(self.plan.piece.volumes))
        diffusivity = heat.diffusion * float(heat.metals[-1].conductivity(self.plan.wanted)) / capacity
        return conduction_surplus(shape.outer, shape.bore, diffusivity, self.plan.at == "core")

    def look(self, shape: CoilShape | None = None) -> CoilEstimate:
        """A coil, the scenario's own unless a shape is given. Raises InputError where it cannot be built or told."""
        tables = self.plan.scenario.case(self.plan.case).tables
        coil = tables.coil
        if shape is not None:
            coil = coil.model_copy(
                update={"turns": shape.turns, "diameter": shape.diameter, "length": shape.length, "measured": None}
            )
        given, heater = self._given(coil), self._heater(coil)
        piece = given.cut(heater.frequency, self.slices, self.cells)
        losses = self._losses(given, piece)
        made = shape or own_shape(tables.coil)
        states, loads = self._states(heater, piece, losses)
        seconds, stalls, efficiency = self._course(states, piece, losses)
        doubts = tuple(self._doubts(given, heater, states, loads))
        thick = 2 * given.shape.outer
        return CoilEstimate(
            made,
            shape is None,
            (made.bore - thick) / 2,
            thick / made.bore,
            made.length / given.shape.length,
            heater.coil.inductance,
            heater.coil.resistance,
            _state(heater),
            states,
            seconds,
            self.surplus,
            stalls,
            efficiency,
            self._findings(heater, states, losses, piece),
            doubts,
            tables.heater.wanted_headroom,
        )

    def _given(self, coil: CoilTable) -> GivenPiece:
        scenario, case = self.plan.scenario, self.plan.case
        table = scenario.case(case).tables.case[case].workpiece
        assert table is not None
        return given_piece(table, coil, self._known, partial(scenario.where, "case", case, "workpiece"))

    def _heater(self, coil: CoilTable) -> Heater:
        """The heater with a coil, without its piece."""
        scenario, case = self.plan.scenario.case(self.plan.case), self.plan.case
        empty = scenario.tables.case[case].model_copy(update={"workpiece": None})
        tables = scenario.tables.model_copy(update={"coil": coil, "case": scenario.tables.case | {case: empty}})
        return build_heater(tables, case, scenario.folder, scenario.where)

    def _losses(self, given: GivenPiece, piece: Piece) -> HotSurface:
        diameter, length, _ = given.shape.coil
        tube = self.plan.scenario.tables.coil.tube_diameter or 0.0
        here = replace(
            self.plan.losses.surroundings, coil_radius=(diameter - tube) / 2, coil_start=-length / 2, coil_end=length / 2
        )
        return hot_surface(here, piece.cuts, highest_c=self.plan.losses.highest_c, area=given.surface)

    def _states(self, heater: Heater, piece: Piece, losses: HotSurface) -> tuple[tuple[CoilState, ...], list[Workpiece]]:
        """The ideal stage at every temperature, and what the coil is there."""
        celsius = np.array(self.temperatures)
        loads = _operating(heater, piece, celsius, self._ends)
        given_off = np.sum(given_off_by_name(losses, piece, celsius), axis=0)
        pairs = zip(loads, self.temperatures, given_off, strict=True)
        states = [_state(replace(heater, workpiece=load), at, float(lost)) for load, at, lost in pairs]
        return tuple(states), loads

    def _course(self, states: Sequence[CoilState], piece: Piece, losses: HotSurface) -> tuple[float | None, float | None, float]:
        """Time to the wanted temperature in the mean [s], or where it stands still [°C]; efficiency on the way there [1]."""
        fine, held = self._warming
        celsius = [each.celsius for each in states]
        power = np.interp(fine, celsius, [each.power for each in states])
        supplied = np.interp(fine, celsius, [each.power / each.efficiency for each in states])
        left = power - np.sum(given_off_by_name(losses, piece, fine), axis=0)
        still = np.flatnonzero(left <= BEHIND * power)
        last = int(still[0]) if still.size else fine.size
        times = np.diff(held[:last]) * _mean(1 / left[:last])
        into, taken = (float(np.sum(_mean(each[:last]) * times)) for each in (power, supplied))
        efficiency = into / taken if last > 1 else states[0].efficiency
        return (None, float(fine[last]), efficiency) if still.size else (float(np.sum(times)), None, efficiency)

    def _doubts(self, given: GivenPiece, heater: Heater, states: Sequence[CoilState], loads: Sequence[Workpiece]) -> list[str]:
        """Why estimate or parts' figures do not reach to this coil."""
        told = [given.doubt] if given.doubt else []
        for load in loads:
            try:
                _ = replace(heater, workpiece=load).branch
            except InputError as error:
                told.append(f"the workpiece {error.problems[0].what}, {error.problems[0].given}")
                break
        own = self.frequency
        far = [each.frequency for each in states if own and not own / REACH <= each.frequency <= own * REACH]
        if far and own:
            told.append(f"{far[0] / 1e3:.0f} kHz, where the parts' figures are given near {own / 1e3:.0f} kHz")
        return told

    def _findings(self, heater: Heater, states: Sequence[CoilState], losses: HotSurface, piece: Piece) -> tuple[Finding, ...]:
        """Every limit that the ideal stage tells of, at the worst temperature of each."""
        scenario = self.plan.scenario.case(self.plan.case)
        caught = float(sum(_flows(losses, piece, np.array([states[-1].celsius]))[name][0] for name in CAUGHT))
        measures = _measures(heater, states, caught)
        bank = replace(heater, capacitors=replace(heater.capacitors, rails=None))
        told = judge(measures, case_limits(scenario, bank, measures), scenario.tables.heater.wanted_headroom)
        return tuple(each for each in told if each.headroom is not None)


def _end_effects(heater: Heater, piece: Piece, load: Workpiece, celsius: float) -> EndEffects:
    """Of a coil with the evenly warm piece [°C] as this load."""
    ideal = replace(heater, workpiece=load)
    plain = piece.electric(np.full(piece.volumes.shape, celsius), ideal.frequency, ideal.coil_current)
    found = piece.corrected(plain, ideal.coil_current, piece.even_correction(celsius, plain, ideal.frequency)).reflection
    beyond = found.inductance_change - plain.reflection.inductance_change
    return EndEffects(found.resistance / plain.reflection.resistance, beyond / heater.coil.inductance)


def _mean(values: Array) -> Array:
    """Of each value and the next."""
    return np.asarray((values[1:] + values[:-1]) / 2)


def own_shape(coil: CoilTable) -> CoilShape:
    """The coil of a scenario; the tables have been checked to give it by geometry."""
    assert coil.turns and coil.diameter and coil.length and coil.tube_diameter
    return CoilShape(coil.turns, coil.diameter - coil.tube_diameter, coil.length, coil.tube_diameter)


def _operating(heater: Heater, piece: Piece, celsius: Array, ends: Sequence[EndEffects]) -> list[Workpiece]:
    """The coil with the piece evenly warm at each of some temperatures [°C], field and current of the ideal stage agreeing.

    `Piece.electric` at all temperatures in one go, which takes a sixth of the time (held to it in the tests). The field over
    the radius depends on frequency over resistivity alone, so that one frequency serves all, each with its resistivity scaled.
    """
    mean = np.full((celsius.size, piece.cuts.size - 1), 0.3 - 0.3j)
    fields = _Radial(piece, np.repeat(celsius, mean.shape[1]), heater.frequency)
    loads: list[Workpiece | None] = [None] * celsius.size
    moved = [1.0]
    for number in range(ROUNDS):
        ideals = [replace(heater, workpiece=each) for each in loads]
        frequencies = np.array([each.frequency for each in ideals])
        pairs = zip(mean, ideals, strict=True)
        surface = np.abs([sheet_fields(piece.coupling, row, each.coil_current) for row, each in pairs])
        found = fields.mean(np.repeat(frequencies, mean.shape[1]), surface.ravel()).reshape(mean.shape)
        mean = found if number < HALVED_FROM else (mean + found) / 2
        rows = zip(mean, frequencies, ends, strict=True)
        after = [_load(heater, piece, row, float(frequency), end) for row, frequency, end in rows]
        moved = [abs(new.resistance / old.resistance - 1) if old else 1.0 for new, old in zip(after, loads, strict=True)]
        if max(moved) < AGREED:
            return after
        loads = list(after)
    raise InputError.single("workpiece", "has no settled state in this tank", f"{celsius[int(np.argmax(moved))]:g} °C")


def _load(heater: Heater, piece: Piece, mean: Any, frequency: float, end: EndEffects) -> Workpiece:
    """The coil with the piece, from the mean permeability of its slices [1]."""
    added = sheet_reflection(piece.coupling, mean, sheet_fields(piece.coupling, mean, 1.0), 1.0, frequency)
    inductance = heater.coil.inductance * (1.0 + end.inductance) + added.inductance_change
    return Workpiece(inductance, heater.coil.resistance + added.resistance * end.resistance, "estimate")


class _Radial:
    """The field over the radius in rows of slices, each evenly warm [°C]; frequency: that they are solved at [Hz]."""

    def __init__(self, piece: Piece, celsius: Array, frequency: float) -> None:
        warm = celsius[:, None] * np.ones(piece.edges.size - 1)
        self.piece, self.frequency = piece, frequency
        self.begun: Any = None
        self.resistivity = piece.over_layers(Substance.resistivity_at, warm)
        self.share = piece.over_layers(_share, warm)
        self.magnetic = self.share * piece.over_layers(_has_curve, warm)

    def mean(self, frequencies: Array, surface: Array) -> Any:
        """Mean permeability of every row [1] at frequencies [Hz] and amplitudes at the surface [A/m]."""
        scaled = self.resistivity * (self.frequency / frequencies)[:, None]
        edges, steel = self.piece.edges, self.piece.curve
        if steel is not None:
            found = steel_bar_field(edges, scaled, steel, self.magnetic, self.frequency, surface, self.begun)
            self.begun = found.permeability
            return found.mean
        cold = self.piece.over_layers(_cold_permeability, self.share)
        return bar_field(edges, scaled, 1.0 + (cold - 1.0) * self.share, self.frequency, surface).mean


def _share(substance: Substance, celsius: Array) -> Array:
    """Share of the cold magnetisation that is left in evenly warm slices [1]."""
    return substance.share(celsius - CURIE_SPREAD / 2, celsius + CURIE_SPREAD / 2)


def _has_curve(substance: Substance, values: Array) -> Array:
    return np.full_like(values, float(substance.curve is not None))


def _cold_permeability(substance: Substance, values: Array) -> Array:
    return np.full_like(values, substance.permeability or 1.0)


def _state(ideal: Heater, celsius: float = math.nan, given_off: float = 0.0) -> CoilState:
    """The ideal stage in numbers, with the piece at a temperature [°C] or without it."""
    current, inductance, resistance = ideal.coil_current, ideal.loaded_inductance, ideal.loaded_resistance
    added = ideal.workpiece.resistance - ideal.coil.resistance if ideal.workpiece else 0.0
    square, omega = current**2 / 2, 2 * math.pi * ideal.frequency
    volts = current * math.hypot(omega * inductance, resistance) / math.pi
    supplied = square * resistance / volts
    coil = square * (ideal.coil.resistance + ideal.coil.lead_resistance)
    across = math.pi / math.sqrt(2) * volts * omega * ideal.capacitors.capacitance
    return CoilState(
        celsius,
        ideal.frequency,
        square * added,
        given_off,
        supplied,
        current / math.sqrt(2),
        across,
        coil,
        ideal.supply.voltage * supplied - square * added - coil,
        ideal.quality,
    )


def _measures(heater: Heater, states: Sequence[CoilState], caught: float) -> dict[str, Any]:
    """What a run would measure, at the worst temperature of each; caught: of the hot piece's heat, by the coil's water [W]."""
    supply = max(states, key=lambda each: each.supply_current)
    coil = max(states, key=lambda each: each.coil_current)
    volts, quality = float(peak_voltage(heater.supply.voltage)), min(each.quality for each in states)
    found: dict[str, Any] = {
        "tank.frequency_hz": coil.frequency,
        "tank.thd_ratio": float(np.sqrt(np.sum(np.square(tank_harmonic_ratio(quality, ORDERS))))),
        "capacitor.peak_voltage_v": volts,
        "capacitor.rms_current_a": max(each.capacitor_current for each in states),
        "coil.rms_current_a": coil.coil_current,
        "supply.mean_current_a": supply.supply_current,
        "loss.coil_w": coil.coil_loss,
        "loss.leads_w": 0.0,
    }
    mean, through = supply.supply_current / len(heater.chokes), 0.0
    duty = Duty(heater.supply.voltage, min(each.frequency for each in states), mean, heater.tapped, heater.ambient)
    for choke in heater.chokes:
        worked, part = estimate(choke, duty), f"choke.{choke.side}"
        through += mean + worked.ripple_current / 2
        found |= {f"{part}.mean_current_a": mean, f"{part}.peak_current_a": worked.peak_current}
        found |= {
            f"{part}.inductance_remaining_ratio": worked.remaining,
            f"{part}.current_density_a_per_m2": worked.current_density,
        }
    for side in ("left", "right"):
        found |= {f"drain.{side}.peak_voltage_v": volts, f"switch.{side}.peak_current_a": through / heater.switch.count}
    return found | water_measures(heater, found, caught)


def _flows(losses: HotSurface, piece: Piece, celsius: Array) -> dict[str, Array]:
    """Heat that an evenly warm piece gives off [W], by name, at temperatures [°C]."""
    shape, mantle = piece.shape, 2 * math.pi * piece.shape.outer * np.diff(piece.cuts)
    end, column = math.pi * (shape.outer**2 - shape.bore**2), celsius[:, None]
    flows = losses(Faces(column * np.ones(mantle.size), 0.0, column, column))
    return {
        name: np.sum(each.mantle * mantle, axis=-1) + end * np.sum(np.asarray(each.start) + np.asarray(each.end), axis=-1)
        for name, each in flows.items()
    }


def given_off_by_name(losses: HotSurface, piece: Piece, celsius: Array) -> Array:
    """Heat that an evenly warm piece gives off [W] at temperatures [°C], shape (names, temperatures)."""
    return np.array([np.broadcast_to(each, celsius.shape) for each in _flows(losses, piece, celsius).values()])
