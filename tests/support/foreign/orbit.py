# SPDX-License-Identifier: GPL-3.0-or-later
"""Periodic states of a batch of heaters: TR-BDF2 over a fixed mesh of phases, and Newton's method on a whole period.

TR-BDF2 (Bank et al., IEEE Trans. Electron Devices 32, 1985, p. 1992; Hosea and Shampine, Appl. Numer. Math. 20, 1996, p. 21;
memory): the trapezoidal rule over g = 2 - sqrt 2 of a step, then the second-order backward formula; both stages have the same
Jacobian. Charges and fluxes are what is stepped, so none is lost. The derivative of a step in its start and in the period comes
from the same Jacobians, and their product over the period makes the shooting exact: the slow difference of the chokes' currents
costs nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.support.foreign.circuit import AT, SIZE, Circuit

Array = np.ndarray
GAMMA = 2 - np.sqrt(2)
INNER = GAMMA / 2
NEW, OLD = 1 / (GAMMA * (2 - GAMMA)), (1 - GAMMA) ** 2 / (GAMMA * (2 - GAMMA))
PHASE = AT["coil"]
"""What is zero where a period starts, near the tank's positive peak when both gates rest."""


class NotPeriodic(RuntimeError):
    """No periodic state was found."""


def mesh(steps: int, finer: float = 15.0) -> Array:
    """Phases from 0 to 1, `finer` times more of them where the switches change over and the strays ring, behind a quarter and three
    quarters: some 4 ns of 12 us with 500 steps."""
    fine = np.linspace(0, 1, 4001)
    density = 1 + finer * sum(np.exp(-(((fine - at) / 0.03) ** 2)) for at in (0.278, 0.778))
    whole = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2)])
    return np.interp(np.linspace(0, whole[-1], steps + 1), whole, fine)


@dataclass
class Point:
    """Unknowns with what follows from them: stored, flows and their Jacobians; sensitivity: (heaters, SIZE, SIZE + 1), the
    derivative of the unknowns in those at the start and in the period."""

    x: Array
    stored: Array
    storing: Array
    flow: Array
    flowing: Array
    sensitivity: Array | None = None


def at(circuit: Circuit, x: Array) -> Point:
    """Everything at unknowns."""
    stored, storing = circuit.stored(x)
    flow, flowing = circuit.flows(x)
    return Point(x, stored, storing, flow, flowing)


def implicit(circuit: Circuit, guess: Array, known: Array, size: Array, tries: int = 10) -> Point:
    """Where stored - size*flow = known; size (heaters, 1): of the step, times `INNER`."""
    x = guess
    for _ in range(tries):
        here = at(circuit, x)
        matrix = here.storing - size[:, :, None] * here.flowing
        change = np.linalg.solve(matrix, (known - here.stored + size * here.flow)[:, :, None])[:, :, 0]
        biggest = np.abs(change).max(axis=1, keepdims=True)
        if not np.isfinite(biggest).all():
            break
        x = x + change * np.minimum(1.0, LARGEST / np.maximum(biggest, 1e-30))
        if biggest.max() < ENOUGH:
            return at(circuit, x)
    raise NotPeriodic("a step has no solution")


ENOUGH = 2e-4
"""Change of an unknown [V, A] at which Newton's method, whose errors square, has arrived."""

LARGEST = 100.0
"""Change of an unknown in one of Newton's steps [V, A]."""


def step(circuit: Circuit, start: Point, before: Array | None, duration: Array, share: float, depth: int = 0) -> Point:
    """One step, or two half as long where Newton's method fails. duration (heaters, 1) [s]; share: of the period; before: change in
    the step before, as if it had been as long as this one."""
    try:
        return _step(circuit, start, before, duration, share)
    except NotPeriodic:
        if depth > 6:
            raise
    middle = step(circuit, start, None, duration / 2, share / 2, depth + 1)
    return step(circuit, middle, middle.x - start.x, duration / 2, share / 2, depth + 1)


def _step(circuit: Circuit, start: Point, before: Array | None, duration: Array, share: float) -> Point:
    size = INNER * duration
    guess = start.x if before is None else start.x + GAMMA * before
    middle = implicit(circuit, guess, start.stored + size * start.flow, size)
    end = implicit(circuit, start.x + (middle.x - start.x) / GAMMA, NEW * middle.stored - OLD * start.stored, size)
    if start.sensitivity is not None:
        _carry(start, middle, end, size[:, :, None], INNER * share)
    return end


def _carry(start: Point, middle: Point, end: Point, size: Array, share: float) -> None:
    """Sensitivities through both stages."""
    right = (start.storing + size * start.flowing) @ start.sensitivity
    right[:, :, -1] += share * (start.flow + middle.flow)
    middle.sensitivity = np.linalg.solve(middle.storing - size * middle.flowing, right)
    right = NEW * (middle.storing @ middle.sensitivity) - OLD * (start.storing @ start.sensitivity)
    right[:, :, -1] += share * end.flow
    end.sensitivity = np.linalg.solve(end.storing - size * end.flowing, right)


def run(circuit: Circuit, x: Array, period: Array, phases: Array, sensitive: bool = False) -> tuple[Array, Array | None]:
    """Unknowns at every phase, (phases, heaters, SIZE), and the sensitivity of the last if wanted. period (heaters,) [s]."""
    here, table, before = at(circuit, x), [x], None
    if sensitive:
        here.sensitivity = np.zeros((len(x), SIZE, SIZE + 1))
        here.sensitivity[:, :, :-1] = np.eye(SIZE)
    shares = np.diff(phases)
    for k, share in enumerate(shares):
        there = step(circuit, here, before, period[:, None] * share, share)
        before = (there.x - here.x) * (shares[k + 1] / share if k + 1 < len(shares) else 1.0)
        here = there
        table.append(here.x)
    return np.array(table), here.sensitivity


@dataclass(frozen=True)
class Orbit:
    """Periodic states. period (heaters,) [s]; phases; table (phases, heaters, SIZE); misfit: what a period leaves (heaters,) [V,
    A]."""

    circuit: Circuit
    period: Array
    phases: Array
    table: Array
    misfit: Array


def consistent(circuit: Circuit, x: Array) -> Array:
    """Unknowns that meet the laws without a time derivative, which the trapezoidal rule would not mend: ten steps of Euler's
    backward rule, 1 ps to 1 ns."""
    for size in np.geomspace(1e-12, 1e-9, 10):
        x = implicit(circuit, x, circuit.stored(x)[0], np.full((len(x), 1), size), tries=60).x
    return x


def improved(x: Array, period: Array, end: Array, sensitivity: Array) -> tuple[Array, Array]:
    """Unknowns and periods after a step of Newton's method on end = x and no coil current at the start; 60 V, 60 A or 3 % of the
    period at most."""
    matrix = np.zeros((len(x), SIZE + 1, SIZE + 1))
    matrix[:, :SIZE] = sensitivity
    matrix[:, :SIZE, :SIZE] -= np.eye(SIZE)
    matrix[:, SIZE, PHASE] = 1.0
    right = -np.column_stack([end - x, x[:, PHASE]])
    change = np.linalg.solve(matrix, right[:, :, None])[:, :, 0]
    cut = np.minimum(1.0, 0.03 * period / np.maximum(np.abs(change[:, -1]), 1e-30))
    cut = np.minimum(cut, 60.0 / np.maximum(np.abs(change[:, :-1]).max(axis=1), 1e-30))
    return x + cut[:, None] * change[:, :-1], period + cut * change[:, -1]


def shoot(circuit: Circuit, x: Array, period: Array, phases: Array, enough: float, tries: int = 12) -> Orbit:
    """Periodic states near unknowns and periods, as good as `tries` periods make them. Heaters that have theirs go on with the
    others, which does no harm. enough: what a period may leave [V, A]."""
    for left in range(tries, 0, -1):
        table, sensitivity = run(circuit, x, period, phases, sensitive=True)
        worst = np.abs(table[-1] - x).max(axis=1)
        if worst.max() < enough or left == 1:
            break
        assert sensitivity is not None
        x, period = improved(x, period, table[-1], sensitivity)
    return Orbit(circuit, period, phases, table, worst)


COARSE, LEFT = 240, 2e-3
"""Steps of the first search; what a period may leave of a periodic state [V, A]."""


def settle(circuit: Circuit, steps: int = 500) -> Orbit:
    """From the ideal stage: a free period, shooting on a coarse mesh, then on the wanted one."""
    period = np.array([1 / heater.frequency for heater in circuit.heaters])
    first, _ = run(circuit, consistent(circuit, circuit.start()), period, mesh(COARSE))
    coarse = shoot(circuit, first[-1], period, mesh(COARSE), enough=0.5)
    return shoot(circuit, coarse.table[0], coarse.period, mesh(steps), LEFT)


def powers(orbit: Orbit) -> tuple[Array, Array]:
    """Mean power out of the sources and into all that dissipates [W] of each heater, by the trapezoidal rule over the mesh.

    Tellegen's theorem books every node and branch once: x.(s) is what sources give, x.(s - flow) what is lost; what is stored
    comes back within a period if charges and fluxes are kept."""
    source = orbit.circuit.linear.source
    given = np.einsum("pbi,bi->pb", orbit.table, source)
    lost = given - np.array([np.einsum("bi,bi->b", x, orbit.circuit.flows(x)[0]) for x in orbit.table])
    return np.trapezoid(given, orbit.phases, axis=0), np.trapezoid(lost, orbit.phases, axis=0)
