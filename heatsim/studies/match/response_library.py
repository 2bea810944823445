# SPDX-License-Identifier: GPL-3.0-or-later
"""The response library of one operating condition: what every fault does to the lines, simulated on a grid of its parameters.

Between the grid's points the response is estimated by cubic splines in the fault's own parameters. Nuisance parameters beside the
fault shift it linearly, with sensitivities simulated at the sound heater. The estimate finds the neighbourhood of the best fit,
where the simulator takes over (`search`).

Coordinates (`packed_of`) are logarithms and shares, because these are nearly linear.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, partial
from typing import Any

import numpy as np

from heatsim.measures.lines import BANDS
from heatsim.measures.solving import Complex
from heatsim.parts.heater import Heater
from heatsim.studies.match.fault_model import FaultModel
from heatsim.studies.match.faults import NuisanceParameter, fault_models, nuisance_parameters
from heatsim.studies.match.parameters import ModelParameters, add_changes, with_changes
from heatsim.studies.match.solver import COUNT, REFERENCE, NoSolution, Solution, Solver
from heatsim.waves import Array

GRID = {0: (), 1: (6,), 2: (5, 4)}
"""Points along the parameters of a fault model, by their number."""

FINER, MOST_STEPS = 4, 4800
"""How much finer the steps are that those asked for are held against, and the most a period."""

SETTLING, COARSE_PERIODS, FINE_PERIODS = 20, 60, 10
"""Periods of a free run that are left out, and those averaged with the steps asked for and with finer ones."""

Index = tuple[int, ...]


def packed_of(solution: Solution) -> Array:
    """A simulated period in the library's coordinates: log frequency and log of the tank's fundamental; of each signal the lines as
    shares of that, real and imaginary parts; of each the logs of the rms in `BANDS`, likewise; what meters show (`metered`); the
    slow states."""
    size = float(np.abs(solution.lines[REFERENCE][1]))
    shares = [part for c in solution.lines.values() for part in ((c / size).real, (c / size).imag)]
    bands = [np.log(np.maximum(b, 1e-9 * size) / size) for b in solution.bands.values()]
    return np.concatenate([np.log([solution.frequency, size]), *shares, *bands, solution.meters, solution.point])


def lines_of(
    packed: Array, signals: Sequence[str], wanted: Collection[str] | None = None
) -> tuple[Any, dict[str, Complex], dict[str, Array]]:
    """Frequency [Hz], lines and rms in bands [V or A] of packed responses, shape (..., n); wanted: signals, all by default."""
    end, size = 2 + 2 * (COUNT + 1) * len(signals), np.exp(packed[..., 1:2])
    shares = packed[..., 2:end].reshape(*packed.shape[:-1], len(signals), 2, COUNT + 1)
    bands = packed[..., end : end + (len(BANDS) - 1) * len(signals)].reshape(*packed.shape[:-1], len(signals), -1)
    places = {name: k for k, name in enumerate(signals) if wanted is None or name in wanted}
    lines = {name: size * (shares[..., k, 0, :] + 1j * shares[..., k, 1, :]) for name, k in places.items()}
    rms = {name: size * np.exp(np.minimum(bands[..., k, :], 0.0)) for name, k in places.items()}
    return np.exp(packed[..., 0]), lines, rms


def meters_of(packed: Array, signals: Sequence[str], places: Sequence[int]) -> Array:
    """Logs of what meters show in packed responses [SI], at places among `metered_keys`, shape (..., places)."""
    begin = 2 + (2 * (COUNT + 1) + len(BANDS) - 1) * len(signals)
    return np.asarray(packed[..., begin + np.array(places, dtype=int)])


@dataclass(frozen=True)
class ResponseSurface:
    """What one fault does, on a grid of its parameters.

    fault: its model
    axes: coordinates of the grid along each parameter, 0 to 1
    values: packed responses followed by slow states, shape (*grid, n)
    reached: whether a point has a periodic state, shape grid
    solutions: to start neighbours from, in C order of the grid, None where not reached
    """

    fault: FaultModel
    axes: tuple[Array, ...]
    values: Array
    reached: Array
    solutions: tuple[Solution | None, ...] = field(repr=False)

    @property
    def plain(self) -> tuple[Any, ...]:
        """All but the fault model, for another process, which knows it by its name."""
        return self.axes, self.values, self.reached, self.solutions

    def value(self, u: Array) -> Array:
        """Packed response at parameters u (0 to 1 each), by cubic splines along each axis."""
        table = self.values
        for axis, at in zip(self.axes, u, strict=False):
            table = np.tensordot(_spline_weights(axis, float(at)), table, axes=(0, 0))
        return np.asarray(table)

    def nearest(self, u: Array) -> Solution:
        """The simulated point next to parameters u."""
        grid = np.array([[axis[k] for axis, k in zip(self.axes, index, strict=True)] for index in np.ndindex(self.reached.shape)])
        distance = np.sum((grid - u[: len(self.axes)]) ** 2, axis=1)
        found = min(zip(distance, self.solutions, strict=True), key=lambda pair: pair[0] if pair[1] else np.inf)[1]
        assert found is not None
        return found


def _spline_weights(axis: Array, at: float) -> Array:
    """Weights of the samples along an axis in the value of their not-a-knot cubic spline (a parabola or straight line through fewer
    than four)."""
    return np.asarray(_spline(tuple(axis.tolist()))(min(max(at, axis[0]), axis[-1])))


@cache
def _spline(axis: tuple[float, ...]) -> Any:
    """Splines through a one at each sample of an axis."""
    from scipy.interpolate import make_interp_spline

    return make_interp_spline(np.array(axis), np.eye(len(axis)), k=min(3, len(axis) - 1))


@dataclass(frozen=True)
class ResponseLibrary:
    """All that was simulated of one operating condition.

    heater: as the scenario has it
    signals: those whose lines are kept
    nuisance: its nuisance parameters
    start: the sound heater's solution
    sound: its packed response with slow states, shape (n,)
    sensitivities: to the nuisance parameters, per unit, shape (t, n)
    step_error: what finer steps change, shape (n,)
    surfaces: by fault model's name
    """

    heater: Heater
    signals: tuple[str, ...]
    nuisance: tuple[NuisanceParameter, ...]
    start: Solution = field(repr=False)
    sound: Array = field(repr=False)
    sensitivities: Array = field(repr=False)
    step_error: Array = field(repr=False)
    surfaces: Mapping[str, ResponseSurface] = field(repr=False)

    @classmethod
    def of(
        cls,
        heater: Heater,
        signals: tuple[str, ...],
        start: Solution,
        sensitivities: Array,
        step_error: Array,
        surfaces: Mapping[str, tuple[Any, ...]],
    ) -> ResponseLibrary:
        """From what workers found. surfaces: plain, by fault model's name."""
        faults = {fault.name: fault for fault in fault_models(heater)}
        found = {name: ResponseSurface(faults[name], *rest) for name, rest in surfaces.items()}
        return cls(heater, signals, nuisance_parameters(heater), start, packed_of(start), sensitivities, step_error, found)

    @property
    def missing(self) -> tuple[str, ...]:
        """Names of the fault models that could not be simulated."""
        return tuple(fault.name for fault in fault_models(self.heater) if fault.name not in self.surfaces)

    def __reduce__(self) -> tuple[object, ...]:
        surfaces = {name: surface.plain for name, surface in self.surfaces.items()}
        return ResponseLibrary.of, (self.heater, self.signals, self.start, self.sensitivities, self.step_error, surfaces)


def sensitivities_of(
    solver: Solver, heater: Heater, start: Solution, changes: ModelParameters | None = None, without: Sequence[str] = ()
) -> Array:
    """d(packed)/d(nuisance parameter), shape (t, n), by differences.

    changes: of the heater, None for the sound one; start: the solution with these
    without: nuisance parameters that are left out, whose rows are nan
    Differences reach one standard deviation to both sides of the sound heater, to one side of another. Raises NoSolution.
    """
    base, rows, near = packed_of(start), [], start
    for parameter in nuisance_parameters(heater):
        if parameter.name in without:
            rows.append(np.full_like(base, np.nan))
            continue
        ends: list[Array] = []
        for sign in (1.0, -1.0) if changes is None else (1.0,):
            moved, size = dict(changes or {}), sign * parameter.deviation
            add_changes(moved, parameter.changes, size)
            changed = with_changes(heater, moved)
            point = start.point + size * ends[0][-start.point.size :] if ends else None
            try:
                solution = solver.solve(changed, near, point)
            except NoSolution:
                solution = solver.solve(changed, start)
            ends.append((packed_of(solution) - base) / size)
            near = start if changes is None else solution  # its monodromy matrix is fresh, and the next is as near
        rows.append(np.mean(ends, axis=0))
    return np.array(rows)


def step_error_of(solver: Solver, heater: Heater, start: Solution) -> Array:
    """What finer steps change in a packed response, shape (n,).

    With 200 steps a period, where the steps fall beside the instants of switching moves the lines of a single period by 7e-5 of
    the fundamental (rms over periods, all lines together), at random from period to period and with the last digits of the linear
    algebra. The step error itself is some 50e-5, of which a quarter of the step takes half. So both sides are means over a free
    run, which leaves 1e-5. Raises NoSolution.
    """
    finer = Solver(solver.session, solver.signals, min(FINER * solver.steps, MOST_STEPS), tell=solver.tell)
    coarse, fine = (free_responses(each, heater, start, n) for each, n in ((solver, COARSE_PERIODS), (finer, FINE_PERIODS)))
    return np.asarray(fine.mean(axis=0) - coarse.mean(axis=0))


def free_responses(solver: Solver, heater: Heater, start: Solution, periods: int) -> Array:
    """Packed responses of successive periods of a free run, shape (periods, n). Raises NoSolution."""
    run = solver.free_run(solver.solve(heater, start), SETTLING + periods)
    return np.array([packed_of(each) for each in run[SETTLING:]])


def response_surface(solver: Solver, heater: Heater, start: Solution, fault: FaultModel) -> ResponseSurface:
    """A fault simulated on its grid, each point started from a neighbour.

    Points without a periodic state take the value of the nearest that has one. Raises NoSolution when there is none at all.
    """
    shape = shape_of(fault)
    axes = tuple(np.linspace(0, 1, n) for n in shape)
    found: dict[Index, Solution] = {}
    lost: set[Index] = set()
    for index in _neighbour_order(shape):
        lost_milder = len(lost.intersection(_milder(index)))
        near = sorted(found, key=partial(_distance, index))[: 1 if lost_milder else 2]
        for seed in [] if lost_milder > 1 else [found[other] for other in near] or [start]:
            try:
                changed = heater_at(heater, fault, axes, index)
                found[index] = solver.solve(changed, seed, _extrapolated(found, index, changed))
                break
            except (NoSolution, ValueError):
                continue
        else:
            lost.add(index)
    if not found:
        raise NoSolution(f"{fault.name}: no periodic state anywhere")
    every = list(np.ndindex(*shape))
    packed = {index: packed_of(solution) for index, solution in found.items()}
    values = np.array([packed[min(found, key=partial(_distance, index))] for index in every]).reshape(*shape, -1)
    reached = np.array([index in found for index in every]).reshape(shape)
    return ResponseSurface(fault, axes, values, reached, tuple(found.get(index) for index in every))


def shape_of(fault: FaultModel) -> tuple[int, ...]:
    """Points of a fault's grid along each of its parameters."""
    return fault.grid or GRID[len(fault.parameters)]


def heater_at(heater: Heater, fault: FaultModel, axes: tuple[Array, ...], index: Index) -> Heater:
    """The heater with a fault at a point of the grid. Raises ValueError where there is none."""
    return with_changes(heater, fault.changes(_values(fault, axes, index)))


def _values(fault: FaultModel, axes: tuple[Array, ...], index: Index) -> tuple[float, ...]:
    """The fault's parameters at a point of the grid."""
    return tuple(p.value(float(axis[k])) for p, axis, k in zip(fault.parameters, axes, index, strict=True))


def _distance(one: Index, other: Index) -> int:
    """Square of the distance of two points of a grid."""
    return sum((a - b) ** 2 for a, b in zip(one, other, strict=True))


def _milder(index: Index) -> list[Index]:
    """The neighbours of a point that are milder in one parameter or in all: where two of them are lost, so is the point."""
    single = [tuple(k - (a == axis) for a, k in enumerate(index)) for axis in range(len(index))]
    return [*single, tuple(k - 1 for k in index)] if len(index) > 1 else single


def _neighbour_order(shape: Index) -> Iterator[Index]:
    """All points of a grid, each next to the one before."""
    for index in np.ndindex(*shape):
        yield index if sum(index[:-1]) % 2 == 0 else (*index[:-1], shape[-1] - 1 - index[-1])


def _extrapolated(found: Mapping[Index, Solution], index: Index, heater: Heater) -> Array | None:
    """Slow states expected at a point: a straight line through two neighbours in a row, else None."""
    for axis in range(len(index)):
        for way in (1, -1):
            near, far = (tuple(k - way * steps * (a == axis) for a, k in enumerate(index)) for steps in (1, 2))
            if near in found and far in found:
                return np.asarray(2 * found[near].point_in(heater) - found[far].point_in(heater))
    return None
