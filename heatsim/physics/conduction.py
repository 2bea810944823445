# SPDX-License-Identifier: GPL-3.0-or-later
"""Heat conduction in a round workpiece: finite volumes along axis and radius, in enthalpy, through any peak of specific heat.

Boundary: Faces, Losses, surface_temperatures
Material: ConductingMetal (what a metal must answer)
Time:     march, Marched

The grid is `cylinder_grid.CylinderGrid`.

dH/dt = div(k(T) grad T) + p with T = T(H): the volumetric enthalpy H [J/m3] is the state, so that a peak of specific heat
cannot be stepped over: all heat that goes in is in H. Patankar, Numerical Heat Transfer and Fluid Flow, ch. 4 (memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple, Protocol, TypeAlias

import numpy as np

from heatsim.errors import InputError
from heatsim.physics.cylinder_grid import CylinderGrid, Mesh
from heatsim.physics.numeric import FloatArray, Numeric, Result, require_positive

TOLERANCE = 1e-3
"""Error of temperature allowed in a step of `march` as a share of the rise since it began [1]."""

LEAST_RISE = 1.0
"""Rise [K] below which the error is no longer a share of it."""

SHORTEST_SHARE = 1e-9
"""Shortest step as a share of the duration [1]; below it the integration gives up."""

_PROBE_H = 1e5
"""Step of enthalpy for slopes [J/m3]: some 0.03 K."""

_PROBE_T = 1.0
"""Step of surface temperature for the slope and curvature of losses [K]."""


class ConductingMetal(Protocol):
    """What `march` asks of a metal; both work on arrays of any shape."""

    def temperature(self, enthalpy: FloatArray) -> Result:
        """Temperature [°C] at a volumetric enthalpy [J/m3], rising."""

    def conductivity(self, celsius: FloatArray) -> Result:
        """Thermal conductivity [W/(m*K)] at a temperature [°C]."""


class Faces(NamedTuple):
    """Temperatures [°C], or heat given off [W/m2], of mantle and bore (.., nz) and of the two ends (.., nr)."""

    mantle: Numeric = 0.0
    bore: Numeric = 0.0
    start: Numeric = 0.0
    end: Numeric = 0.0


Losses: TypeAlias = Callable[[Faces], Mapping[str, Faces]]
"""Heat given off [W/m2] by name, at temperatures of the surface [°C]; always the same names. What a face gives off depends on its
own temperature only, smoothly. Arrays come with one leading axis more (several temperatures at once)."""


def _given_off(mesh: Mesh, losses: Losses, temperature: FloatArray, conductivity: FloatArray) -> tuple[Any, Any, Any, Any]:
    """Names; flux [W/m2] and its slope [W/(m2*K)] by name and outer face, against the cell's temperature; drop to the surface [K].

    The surface lies where half a cell's conduction brings what it gives off: g (T - Ts) = q(Ts), with q to second order
    round the cell's temperature; the rest is of third order: for radiation 4 (drop/T)^3 of the flow.
    """
    behind = temperature[mesh.cell]
    probes = behind + _PROBE_T * np.array([[-1.0], [0.0], [1.0]])
    by_name = losses(Faces(*(probes[:, part] for part in mesh.parts)))
    flux = np.zeros((len(by_name), 3, len(behind)))
    for row, faces in zip(flux, by_name.values(), strict=True):
        for part, value in zip(mesh.parts, faces, strict=True):
            row[:, part] = value
    low, here, high = flux[:, 0], flux[:, 1], flux[:, 2]
    slope, bend = (high - low) / (2.0 * _PROBE_T), (high - 2.0 * here + low) / _PROBE_T**2
    inwards, total, bends = conductivity[mesh.cell] / mesh.depth, here.sum(0), bend.sum(0)
    both = inwards + slope.sum(0)
    drop = -2.0 * total / (both + np.sqrt(np.maximum(both**2 - 2.0 * total * bends, 0.0)))
    damped = inwards / (both + bends * drop)
    return list(by_name), here + drop * (slope + bend * (drop / 2.0)), (slope + bend * drop) * damped, drop


class _Rates(NamedTuple):
    """Rates of change: of enthalpy [W/m3], unrolled, and of the energy that each loss has taken [W]."""

    cells: FloatArray
    taken: FloatArray


class _Slopes(NamedTuple):
    """A state's temperatures, their slope against enthalpy, and the Jacobian: of the cells as a band, of what is taken in full."""

    temperature: FloatArray
    per_enthalpy: FloatArray
    rates: _Rates
    band: FloatArray
    taken: FloatArray


class _Body(NamedTuple):
    """A workpiece with a frozen deposit [W/m3], unrolled."""

    mesh: Mesh
    metal: ConductingMetal
    deposit: FloatArray
    losses: Losses

    def rates(self, state: FloatArray) -> _Rates:
        """Rates of change at an enthalpy."""
        temperature = np.asarray(self.metal.temperature(state))
        return self._rates(temperature, np.asarray(self.metal.conductivity(temperature)))[0]

    def _rates(self, temperature: FloatArray, conductivity: FloatArray) -> tuple[_Rates, Any, Any]:
        mesh, count = self.mesh, len(temperature)
        resistance = mesh.first_resistance / conductivity[mesh.first] + mesh.second_resistance / conductivity[mesh.second]
        flow = (temperature[mesh.first] - temperature[mesh.second]) / resistance
        net = np.bincount(mesh.second, flow, count) - np.bincount(mesh.first, flow, count)
        _, flux, slope, _ = _given_off(mesh, self.losses, temperature, conductivity)
        given = flux * mesh.areas
        net -= np.bincount(mesh.cell, given.sum(0), count)
        return _Rates(net / mesh.volumes + self.deposit, given.sum(1)), (flow, resistance), slope * mesh.areas

    def slopes(self, state: FloatArray) -> _Slopes:
        """Rates at an enthalpy with their exact Jacobian, but for how conductivity moves the drop to the surface."""
        mesh, band = self.mesh, self.mesh.band
        temperatures = np.asarray(self.metal.temperature(np.stack([state, state + _PROBE_H])))
        conductivities = np.asarray(self.metal.conductivity(temperatures))
        temperature, per_enthalpy = temperatures[0], (temperatures[1] - temperatures[0]) / _PROBE_H
        conductivity, growth = conductivities[0], (conductivities[1] - conductivities[0]) / _PROBE_H / conductivities[0] ** 2
        rates, (flow, resistance), lost = self._rates(temperature, conductivity)
        first, second = mesh.first, mesh.second
        by_first = (per_enthalpy[first] + flow * mesh.first_resistance * growth[first]) / resistance
        by_second = (-per_enthalpy[second] + flow * mesh.second_resistance * growth[second]) / resistance
        lost = lost * per_enthalpy[mesh.cell]
        count = len(state)
        own = (
            np.bincount(second, by_second, count) - np.bincount(first, by_first, count) - np.bincount(mesh.cell, lost.sum(0), count)
        )
        matrix = np.zeros((3 * band + 1, count))
        matrix[2 * band] = own / mesh.volumes
        matrix[2 * band + first - second, second] = -by_second / mesh.volumes[first]
        matrix[2 * band + second - first, first] = by_first / mesh.volumes[second]
        taken = np.zeros((len(lost), count))
        for row, each in zip(taken, lost, strict=True):
            row[:] = np.bincount(mesh.cell, each, count)
        return _Slopes(temperature, per_enthalpy, rates, matrix, taken)


def _trial(body: _Body, state: FloatArray, slopes: _Slopes, step: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """State after a step [s], energy that each loss took in it, and the estimated error of the state.

    RODAS3: linearly implicit, four stages, one factorisation, third order with an embedded second, stiffly accurate and
    L-stable. Sandu et al., Atmospheric Environment 31 (1997) 3459 (coefficients from memory; the tests check its order).
    """
    from scipy.linalg.lapack import dgbtrf, dgbtrs

    width = body.mesh.band
    matrix = -slopes.band
    matrix[2 * width] += 2.0 / step
    factors, pivots, info = dgbtrf(matrix, width, width, overwrite_ab=1)
    if info:
        raise FloatingPointError("singular")

    def stage(rates: _Rates, cells: Any, taken: Any) -> tuple[Any, Any]:
        solved = dgbtrs(factors, width, width, rates.cells + cells / step, pivots)[0]
        return solved, step / 2.0 * (rates.taken + taken / step + slopes.taken @ solved)

    k1, e1 = stage(slopes.rates, 0.0, 0.0)
    k2, e2 = stage(slopes.rates, 4.0 * k1, 4.0 * e1)
    k3, e3 = stage(body.rates(state + 2.0 * k1), k1 - k2, e1 - e2)
    k4, e4 = stage(body.rates(state + 2.0 * k1 + k3), k1 - k2 - 8.0 / 3.0 * k3, e1 - e2 - 8.0 / 3.0 * e3)
    return state + 2.0 * k1 + k3 + k4, 2.0 * e1 + e3 + e4, k4


class Marched(NamedTuple):
    """Enthalpy (nz, nr) [J/m3] and temperature (nz, nr) [°C] after a march, and what happened on the way.

    Energy given off by the name of each loss [J]; highest temperature of any cell [°C]; last step that the error allowed [s], a
    good first step of a march that goes on like this one; steps taken and steps thrown away [1].
    """

    enthalpy: FloatArray
    temperature: FloatArray
    given_off: dict[str, float]
    peak_c: float
    step: float
    steps: int
    rejected: int


def _no_losses(surface: Faces) -> Mapping[str, Faces]:
    return {}


def march(
    grid: CylinderGrid,
    material: ConductingMetal,
    enthalpy: FloatArray,
    duration: float,
    deposit: Numeric = 0.0,
    losses: Losses = _no_losses,
    tolerance: float = TOLERANCE,
    first_step: float | None = None,
) -> Marched:
    """Conduction for a duration with a frozen deposit: enthalpy [J/m3], temperature [°C], energy given off by name [J].

    grid: cells [m]; material: its temperature [°C] and conductivity [W/(m*K)]; enthalpy: at the start, (nz, nr) [J/m3]
    duration: [s]; deposit: heat made in each cell, (nz, nr) [W/m3]; losses: heat given off by name [W/m2]
    tolerance: of the temperature in each step as a share of the rise since the start, of 1 K at least [1]
    first_step: to try first, a tenth of the duration unless given [s]

    Steps of RODAS3 as long as the estimated error allows. Energies given off are states of the same equation and the method keeps
    linear invariants: stored = deposited - given off to round-off. SciPy's solve_ivp with the same rates, sparse Jacobian and a
    like error takes 3 to 13 (BDF) and 3 to 14 times as long (Radau), more for 8 x 45 cells than for 1 x 45, and more for 10 s
    than for 0.1 s; its start is dear, and a caller starts thousands of times. Peak and steps are of accepted steps.
    """
    mesh = grid.mesh
    require_positive("march", duration=duration, tolerance=tolerance)
    for name, value, shapes in (("enthalpy", enthalpy, [grid.shape]), ("deposit", deposit, [(), grid.shape])):
        if np.shape(value) not in shapes:
            raise InputError.single("march", f"{name} has another shape than the grid", np.shape(value), str(grid.shape))
    state, heat = np.empty(mesh.number.size), np.empty(mesh.number.size)
    state[mesh.number], heat[mesh.number] = enthalpy, deposit
    body = _Body(mesh, material, heat, losses)
    slopes = body.slopes(state)
    names = _given_off(mesh, losses, slopes.temperature, np.ones_like(state))[0]
    control = _Control(tolerance, slopes.temperature, min(first_step or duration / 10.0, duration))
    taken, time, peak = np.zeros(len(names)), 0.0, float(slopes.temperature.max())
    while time < duration:
        step = min(control.step, duration - time)
        after = control.judged(body, state, slopes, step, duration)
        if after is None:
            continue
        state, taken = after[0], taken + after[1]
        time = duration if step == duration - time else time + step
        slopes = body.slopes(state)
        peak = max(peak, float(slopes.temperature.max()))
    given = dict(zip(names, taken.tolist(), strict=True))
    return Marched(state[mesh.number], slopes.temperature[mesh.number], given, peak, control.step, control.steps, control.rejected)


class _Control:
    """Length of step from the estimated error."""

    def __init__(self, tolerance: float, start: FloatArray, step: float) -> None:
        self.tolerance, self.start, self.step = tolerance, start, step
        self.steps = self.rejected = 0

    def judged(
        self, body: _Body, state: FloatArray, slopes: _Slopes, step: float, duration: float
    ) -> tuple[FloatArray, FloatArray] | None:
        """State after a step and energies taken in it; None when it was too long. Sets the next step."""
        fault: Exception | None = None
        try:
            after, taken, error = _trial(body, state, slopes, step)
            change = slopes.temperature + slopes.per_enthalpy * (after - state) - self.start
            allowed = self.tolerance * max(float(np.abs(change).max()), LEAST_RISE)
            ratio = float(np.abs(slopes.per_enthalpy * error).max()) / allowed
        except (InputError, FloatingPointError) as left:
            ratio, fault = math.inf, left
        if ratio <= 1.0:
            self.steps += 1
            self.step = max(step * min(5.0, 0.9 * max(ratio, 1e-9) ** (-1.0 / 3.0)), self.step if step < self.step else 0.0)
            return after, taken
        self.rejected += 1
        self.step = step * max(0.1, 0.9 * ratio ** (-1.0 / 3.0)) if ratio < math.inf else step * 0.1
        if not self.step > SHORTEST_SHARE * duration:
            raise fault or InputError.single("march", "no step is short enough", f"{step:g} s", "smooth materials and losses")
        return None


def surface_temperatures(grid: CylinderGrid, material: ConductingMetal, enthalpy: FloatArray, losses: Losses) -> Faces:
    """Temperatures of the surfaces [°C], half a cell outside the outer cells' middles, as conduction to them needs.

    grid: cells [m]; material: its temperature [°C] and conductivity [W/(m*K)]; enthalpy: (nz, nr) [J/m3]
    losses: heat given off by name [W/m2]
    """
    mesh = grid.mesh
    state = np.empty(mesh.number.size)
    state[mesh.number] = enthalpy
    temperature = np.asarray(material.temperature(state))
    drop = _given_off(mesh, losses, temperature, np.asarray(material.conductivity(temperature)))[3]
    surface = temperature[mesh.cell] + drop
    return Faces(*(surface[part] for part in mesh.parts))
