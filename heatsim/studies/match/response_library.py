# SPDX-License-Identifier: GPL-3.0-or-later
"""An atlas of one operating condition: what every kind does to the lines, simulated on a grid of its parameters.

Between the grid's points, and for tolerances beside the fault, lines are estimated: cubic in a kind's own parameters, straight in
the tolerances, whose slopes are simulated at the sound heater. The estimate finds its way to the neighbourhood of the best
fit, where the simulator takes over (`match_fit`).

The coordinates: log frequency, log of the tank's fundamental, and every line as a share of it, because these hardly bend.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np

from heatsim.measures.lines import BANDS, Complex
from heatsim.parts.heater import Heater
from heatsim.studies.match.faults import Kind, kinds_of
from heatsim.studies.match.nuisance import Tolerance, tolerances_of
from heatsim.studies.match.parameters import add_knobs, turned
from heatsim.studies.match.solver import COUNT, REFERENCE, NoSolution, Solution, Solver
from heatsim.waves import Array

GRID = {0: (), 1: (6,), 2: (5, 4)}
"""Points along the parameters of a kind, by their number."""


@dataclass(frozen=True)
class View:
    """Lines of one heater in the atlas's coordinates. level: log frequency and log tank fundamental, shape (2,); shares: signal ->
    lines over the tank's fundamental, shape (COUNT + 1,); bands: signal -> log of the rms in each of `BANDS` over it."""

    level: Array
    shares: dict[str, Complex]
    bands: dict[str, Array]

    @classmethod
    def of(cls, solution: Solution) -> View:
        """Of a simulated period."""
        size = float(np.abs(solution.lines[REFERENCE][1]))
        return cls(
            np.log([solution.frequency, size]),
            {name: c / size for name, c in solution.lines.items()},
            {name: np.log(np.maximum(b, 1e-9 * size) / size) for name, b in solution.bands.items()},
        )

    @property
    def packed(self) -> Array:
        """All in one real vector."""
        return np.concatenate(
            [self.level, *(part for c in self.shares.values() for part in (c.real, c.imag)), *self.bands.values()]
        )

    @classmethod
    def unpacked(cls, packed: Array, signals: Sequence[str]) -> View:
        """From `packed`; what comes behind the lines is left out."""
        size, bands = 2 * (COUNT + 1), len(BANDS) - 1
        end = 2 + size * len(signals)
        parts = packed[2:end].reshape(len(signals), 2, COUNT + 1)
        rest = packed[end : end + bands * len(signals)].reshape(len(signals), bands)
        return cls(
            packed[:2],
            {name: part[0] + 1j * part[1] for name, part in zip(signals, parts, strict=True)},
            dict(zip(signals, rest, strict=True)),
        )


@dataclass(frozen=True)
class Sheet:
    """One kind. places: coordinates of the grid along each parameter, 0 to 1; values: packed views and slow states behind them,
    shape (*grid, n); reached: whether a point has a periodic state; seeds: states to start from, in C order of the grid; anchors:
    where along the first parameter slopes in the tolerances were simulated, and these, shape (tolerances, n), nan where the sound
    ones serve, as they do without any.
    """

    kind: Kind
    places: tuple[Array, ...]
    values: Array
    reached: Array
    seeds: tuple[Solution | None, ...] = field(repr=False)
    anchors: tuple[tuple[float, Array], ...] = field(default=(), repr=False)

    @property
    def plain(self) -> tuple[Any, ...]:
        """All but the kind, for another process, which knows the kind by its name."""
        return self.places, self.values, self.reached, self.seeds, self.anchors

    def value(self, u: Array) -> Array:
        """Estimated vector at parameters u, 0 to 1 each, by cubic splines along each axis; a sheet without parameters has one."""
        table = self.values
        for places, at in zip(self.places, u, strict=False):
            table = np.tensordot(_spline_weights(places, float(at)), table, axes=(0, 0))
        return np.asarray(table)

    def slopes(self, u: Array, sound: Array) -> Array:
        """Slopes in the tolerances at parameters u, on straight lines between the anchors."""
        if not self.anchors:
            return sound
        (first, low), (last, high) = self.anchors[0], self.anchors[-1]
        way = 0.0 if first == last else min(max((float(u[0]) - first) / (last - first), 0.0), 1.0)
        own = (1 - way) * low + way * high
        return np.where(np.isnan(own), sound, own)

    def nearest(self, u: Array) -> Solution:
        """The simulated point next to parameters u."""
        grid = np.array([[axis[k] for axis, k in zip(self.places, index, strict=True)] for index in np.ndindex(self.reached.shape)])
        far = np.sum((grid - u[: len(self.places)]) ** 2, axis=1)
        usable = [k for k, seed in enumerate(self.seeds) if seed is not None]
        found = self.seeds[min(usable, key=lambda k: far[k])]
        assert found is not None
        return found


def _spline_weights(places: Array, at: float) -> Array:
    """Weights of the samples at `places` in their not-a-knot cubic spline's value at a place (a parabola or straight line through
    fewer than four)."""
    from scipy.interpolate import make_interp_spline

    spline = make_interp_spline(places, np.eye(places.size), k=min(3, places.size - 1))
    return np.asarray(spline(min(max(at, places[0]), places[-1])))


@dataclass(frozen=True)
class Atlas:
    """heater: as the scenario has it; signals: whose lines are kept; sound: its packed view with slow states; slopes: by
    tolerance, shape (tolerances, n), per unit of the tolerance; finer: what finer steps change, shape (n,); sheets: by
    kind's name; start: the sound heater's solution."""

    heater: Heater
    signals: tuple[str, ...]
    tolerances: tuple[Tolerance, ...]
    start: Solution = field(repr=False)
    sound: Array = field(repr=False)
    slopes: Array = field(repr=False)
    finer: Array = field(repr=False)
    sheets: Mapping[str, Sheet] = field(repr=False)

    def __reduce__(self) -> tuple[object, ...]:
        sheets = {name: sheet.plain for name, sheet in self.sheets.items()}
        return _restored, (self.heater, self.signals, self.start, self.sound, self.slopes, self.finer, sheets)


def _restored(
    heater: Heater,
    signals: tuple[str, ...],
    start: Solution,
    sound: Array,
    slopes: Array,
    finer: Array,
    sheets: Mapping[str, tuple[Any, ...]],
) -> Atlas:
    """An atlas in another process: kinds and tolerances are those of the heater."""
    kinds = {kind.name: kind for kind in kinds_of(heater)}
    found = {name: Sheet(kinds[name], *rest) for name, rest in sheets.items()}
    return Atlas(heater, signals, tolerances_of(heater), start, sound, slopes, finer, found)


def packed_of(solution: Solution) -> Array:
    """A simulated period's packed view with its slow states behind."""
    return np.concatenate([View.of(solution).packed, solution.point])


def slopes_of(
    solver: Solver,
    heater: Heater,
    start: Solution,
    tolerances: Sequence[Tolerance],
    kind: Kind | None = None,
    values: tuple[float, ...] = (),
) -> Array:
    """d(vector)/d(tolerance): from simulations a standard deviation off on both sides of the sound heater, on one side of a kind's.
    start: the solution there. Rows that a kind stands for or keeps are nan."""
    base, rows, near = packed_of(start), [], start
    own = dict(kind.knobs(values)) if kind else {}
    for tolerance in tolerances:
        if kind is not None and tolerance.name in (*kind.replaces, *kind.keeps):
            rows.append(np.full_like(base, np.nan))
            continue
        ends = []
        for sign in (1.0, -1.0) if kind is None else (1.0,):
            knobs = own.copy()
            add_knobs(knobs, tolerance.knobs, sign * tolerance.deviation)
            changed = turned(heater, knobs)
            try:
                solution = solver.solve(changed, near)
            except NoSolution:
                solution = solver.solve(changed, start)
            ends.append((packed_of(solution) - base) / (sign * tolerance.deviation))
            near = solution if kind else start  # its map is fresh, and the next is as near
        rows.append(np.mean(ends, axis=0))
    return np.array(rows)


FINER, MOST_STEPS = 4, 4800
"""How much finer the steps are that those asked for are held against, and the most a period."""

SETTLING, COARSE_PERIODS, FINE_PERIODS = 20, 60, 10
"""Periods of a free run that are left out, and those averaged with the steps asked for and with finer ones."""


def finer_of(solver: Solver, heater: Heater, start: Solution) -> Array:
    """What finer steps change in a packed view.

    With 200 steps a period, where the steps fall beside the instants of switching moves the lines of a single period by 7e-5 of
    the fundamental (rms over periods, all lines together), at random from period to period and with the last digits of the linear
    algebra. The step error itself is some 50e-5, of which a quarter of the step takes half. So both sides are means over a free
    run, which leaves 1e-5. Raises NoSolution.
    """
    finer = Solver(solver.session, solver.signals, min(FINER * solver.steps, MOST_STEPS))
    coarse, fine = (free_views(each, heater, start, n) for each, n in ((solver, COARSE_PERIODS), (finer, FINE_PERIODS)))
    return np.asarray(fine.mean(axis=0) - coarse.mean(axis=0))


def free_views(solver: Solver, heater: Heater, start: Solution, periods: int) -> Array:
    """Packed views of successive periods of a free run, shape (periods, n)."""
    run = solver.free_run(solver.solve(heater, start), SETTLING + periods)
    return np.array([packed_of(each) for each in run[SETTLING:]])


def _anchors(
    solver: Solver, heater: Heater, kind: Kind, found: Mapping[tuple[int, ...], Solution], places: tuple[Array, ...]
) -> tuple[tuple[float, Array], ...]:
    """Slopes at as many anchors as the kind wants, spread over what was reached, in the middle of a second parameter."""
    middle = tuple(axis.size // 2 for axis in places[1:])
    along = sorted(index[0] for index in found if index[1:] == middle)
    if not along:
        return ()
    anchors = []
    for share in ((0.5,), (0.25, 0.8))[kind.anchors - 1]:
        index = (along[round(share * (len(along) - 1))], *middle)
        values = tuple(p.value(float(axis[k])) for p, axis, k in zip(kind.parameters, places, index, strict=True))
        try:
            anchors.append(
                (float(places[0][index[0]]), slopes_of(solver, heater, found[index], tolerances_of(heater), kind, values))
            )
        except NoSolution:
            continue
    return tuple(anchors)


def sheet_of(solver: Solver, heater: Heater, start: Solution, kind: Kind) -> Sheet:
    """A kind simulated on its grid, each point started from a neighbour. Points without a periodic state take the value of the
    nearest that has one; ValueError when there is none at all."""
    shape = kind.grid or GRID[len(kind.parameters)]
    places = tuple(np.linspace(0, 1, n) for n in shape)
    found: dict[tuple[int, ...], Solution] = {}
    lost: set[tuple[int, ...]] = set()
    for index in _walk(shape):
        if len(lost.intersection(_milder(index))) > 1:
            lost.add(index)
            continue
        values = tuple(p.value(float(axis[k])) for p, axis, k in zip(kind.parameters, places, index, strict=True))
        near = sorted(found, key=lambda other: _apart(other, index))
        tries = 1 if lost.intersection(_milder(index)) else 2
        for seed in [found[other] for other in near[:tries]] or [start]:
            try:
                changed = turned(heater, kind.knobs(values))
                found[index] = solver.solve(changed, seed, _onward(found, index, changed))
                break
            except (NoSolution, ValueError):
                continue
        if index not in found:
            lost.add(index)
    if not found:
        raise ValueError(f"{kind.name}: no periodic state anywhere")
    every = list(np.ndindex(*shape))
    packed = {index: packed_of(solution) for index, solution in found.items()}
    nearest = [min(found, key=partial(_apart, index)) for index in every]
    values_ = np.array([packed[index] for index in nearest]).reshape(*shape, -1)
    reached = np.array([index in found for index in every]).reshape(shape)
    anchors = _anchors(solver, heater, kind, found, places) if kind.anchors else ()
    return Sheet(kind, places, values_, reached, tuple(found.get(index) for index in every), anchors)


def _apart(one: tuple[int, ...], other: tuple[int, ...]) -> int:
    """Square of the distance of two points of a grid."""
    return sum((a - b) ** 2 for a, b in zip(one, other, strict=True))


def _milder(index: tuple[int, ...]) -> list[tuple[int, ...]]:
    """The neighbours of a point that are milder in one parameter or in all: where two of them are lost, so is the point."""
    single = [tuple(k - (a == axis) for a, k in enumerate(index)) for axis in range(len(index))]
    return [*single, tuple(k - 1 for k in index)] if len(index) > 1 else single


def _walk(shape: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """All points of a grid, each next to the one before."""
    if len(shape) == 2:
        for i in range(shape[0]):
            yield from ((i, j) for j in (range(shape[1]) if i % 2 == 0 else reversed(range(shape[1]))))
    else:
        yield from np.ndindex(*shape)


def _onward(found: Mapping[tuple[int, ...], Solution], index: tuple[int, ...], heater: Heater) -> Array | None:
    """Slow states expected at a point: a straight line through two neighbours in a row, else None."""
    for axis in range(len(index)):
        for way in (1, -1):
            near, far = (tuple(k - way * steps * (a == axis) for a, k in enumerate(index)) for steps in (1, 2))
            if near in found and far in found:
                return np.asarray(2 * found[near].point_in(heater) - found[far].point_in(heater))
    return None
