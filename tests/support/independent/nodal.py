# SPDX-License-Identifier: GPL-3.0-or-later
"""Circuits of any shape as node voltages and branch currents, stepped through time by TR-BDF2.

Kirchhoff's laws: at each node the currents that leave add up to nil, in each inductor and source the voltages do (modified nodal
analysis, Ho, Ruehli & Brennan, IEEE Trans. Circuits Syst. 22, 1975, p. 504; memory). Together dQ(x)/dt + F(x, t) = 0 in the
unknowns x, Q being charges and fluxes. A step h goes by the trapezoidal rule over g h, g = 2 - sqrt 2, then by the second backward
difference formula through both points (Bank et al., IEEE Trans. Electron Devices 32, 1985, p. 1992; memory):
    Q(y) = Q(x) - (g/2) h (F(x) + F(y)),    Q(z) = a Q(y) - (a - 1) Q(x) - (g/2) h F(z),   a = 1/(g (2 - g))
It is of second order and forgets what is too fast for the step (L-stable); the simulator's Gear rule goes by whole steps instead.
Both have the matrix C + (g/2) h G, C = dQ/dx and G = dF/dx, which serves Newton's rule, the error and the sensitivities.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.linalg.lapack import dgetrf, dgetrs

GROUND = -1
GAMMA = 2 - math.sqrt(2)
HALF = GAMMA / 2
FORWARD = 1 / (GAMMA * (2 - GAMMA))
ERROR = (-3 * GAMMA**2 + 4 * GAMMA - 2) / (12 * (2 - GAMMA))
"""What a step misses is this times h^3 d3Q/dt3."""

Row = Mapping[int, float]
Law = Callable[..., tuple[Sequence[float], Sequence[float], Sequence[float], Sequence[float]]]
"""From the controls to flows, their slopes (each flow by each control), charges, and their slopes."""


class NoStep(RuntimeError):
    """Newton's rule found no next point, however short the step."""


@dataclass(frozen=True)
class Element:
    """What bends: controls are sums of unknowns, flows and charges go into rows with these signs."""

    controls: tuple[Row, ...]
    flows: tuple[Row, ...]
    charges: tuple[Row, ...]
    law: Law


@dataclass
class Circuit:
    """Parts as they are added. names: of the unknowns; sizes: to which their tolerance refers at the least [V, A]."""

    names: list[str] = field(default_factory=list)
    sizes: list[float] = field(default_factory=list)
    conductances: list[tuple[int, int, float]] = field(default_factory=list)
    capacitances: list[tuple[int, int, float]] = field(default_factory=list)
    sources: list[tuple[int, Callable[[float], float]]] = field(default_factory=list)
    elements: list[Element] = field(default_factory=list)

    def unknown(self, name: str, size: float = 1.0) -> int:
        """A new unknown."""
        assert name not in self.names, name
        self.names.append(name)
        self.sizes.append(size)
        return len(self.names) - 1

    def static(self, row: int, column: int, value: float) -> None:
        """A term of F."""
        if row != GROUND and column != GROUND:
            self.conductances.append((row, column, value))

    def dynamic(self, row: int, column: int, value: float) -> None:
        """A term of Q."""
        if row != GROUND and column != GROUND:
            self.capacitances.append((row, column, value))

    def _between(self, add: Callable[[int, int, float], None], a: int, b: int, value: float) -> None:
        for row, column, sign in ((a, a, 1), (a, b, -1), (b, a, -1), (b, b, 1)):
            add(row, column, sign * value)

    def resistor(self, a: int, b: int, ohms: float) -> None:
        """Between two nodes."""
        self._between(self.static, a, b, 1 / ohms)

    def capacitor(self, a: int, b: int, farads: float) -> None:
        """Between two nodes."""
        self._between(self.dynamic, a, b, farads)

    def branch(self, name: str, a: int, b: int, ohms: float = 0.0, henries: float = 0.0, size: float = 1.0) -> int:
        """Resistance and inductance in series from a to b, whose current is an unknown."""
        current = self.unknown(name, size)
        for node, sign in ((a, 1.0), (b, -1.0)):
            self.static(node, current, sign)
            self.static(current, node, -sign)
        self.static(current, current, ohms)
        self.dynamic(current, current, henries)
        return current

    def stray(self, name: str, a: int, b: int, henries: float, corner: float) -> int:
        """An inductance with the resistance beside it that it has at the corner [Hz]."""
        self.resistor(a, b, 2 * math.pi * corner * henries)
        return self.branch(name, a, b, henries=henries)

    def mutual(self, first: int, second: int, henries: float) -> None:
        """Between two branches, both dots where the currents enter."""
        self.dynamic(first, second, henries)
        self.dynamic(second, first, henries)

    def drive(self, row: int, volts: Callable[[float], float]) -> None:
        """A voltage in a branch that drives its current forwards, or a current into a node, over time [s]."""
        self.sources.append((row, volts))

    def element(self, controls: Sequence[Row], flows: Sequence[Row], charges: Sequence[Row], law: Law) -> None:
        """Something that bends."""
        held = [tuple({k: v for k, v in row.items() if k != GROUND} for row in rows) for rows in (controls, flows, charges)]
        self.elements.append(Element(held[0], held[1], held[2], law))


def across(a: int, b: int) -> dict[int, float]:
    """The voltage from a to b, or a current from a to b."""
    return {a: 1.0, b: -1.0}


def _rows(rows: Sequence[Row], size: int) -> np.ndarray:
    matrix = np.zeros((len(rows), size))
    for k, row in enumerate(rows):
        for column, value in row.items():
            matrix[k, column] = value
    return matrix


@dataclass
class Point:
    """F and Q at x and t, and the slopes of what bends there."""

    x: np.ndarray
    flow: np.ndarray
    charge: np.ndarray
    slopes: tuple[list[float], list[float]]


class System:
    """A circuit as matrices."""

    def __init__(self, circuit: Circuit) -> None:
        n, parts = len(circuit.names), circuit.elements
        self.names, self.sizes, self.sources = tuple(circuit.names), np.array(circuit.sizes), circuit.sources
        self.laws = [part.law for part in parts]
        self.spans = np.cumsum([0, *(len(part.controls) for part in parts)]).tolist()
        self.controls = _rows([row for part in parts for row in part.controls], n)
        self.flows = _rows([row for part in parts for row in part.flows], n).T
        self.charges = _rows([row for part in parts for row in part.charges], n).T
        pairs = [
            [(out, control) for part in parts for out in getattr(part, kind) for control in part.controls]
            for kind in ("charges", "flows")
        ]
        self.split = len(pairs[0])
        self.into = _rows([out for kind in pairs for out, _ in kind], n).T
        self.by = _rows([control for kind in pairs for _, control in kind], n)
        self.conductance, self.capacitance = np.zeros((n, n)), np.zeros((n, n))
        for matrix, terms in ((self.conductance, circuit.conductances), (self.capacitance, circuit.capacitances)):
            for row, column, value in terms:
                matrix[row, column] += value

    def at(self, x: np.ndarray, time: float) -> Point:
        """All there is to know of a point."""
        u, spans = (self.controls @ x).tolist(), self.spans
        flows: list[float] = []
        flow_slopes: list[float] = []
        charges: list[float] = []
        charge_slopes: list[float] = []
        for k, law in enumerate(self.laws):
            i, di, q, dq = law(*u[spans[k] : spans[k + 1]])
            flows += i
            flow_slopes += di
            charges += q
            charge_slopes += dq
        flow = self.conductance @ x + self.flows @ np.array(flows)
        for row, value in self.sources:
            flow[row] -= value(time)
        return Point(x, flow, self.capacitance @ x + self.charges @ np.array(charges), (charge_slopes, flow_slopes))

    def matrices(self, point: Point) -> tuple[np.ndarray, np.ndarray]:
        """C and G."""
        charge, flow = (np.array(slopes)[:, None] for slopes in point.slopes)
        split = self.split
        c = self.capacitance + self.into[:, :split] @ (charge * self.by[:split])
        g = self.conductance + self.into[:, split:] @ (flow * self.by[split:])
        return c, g

    def factors(self, point: Point, weight: float) -> tuple[np.ndarray, np.ndarray] | None:
        """LU of C + weight G; None where it has none."""
        slopes = np.array([*point.slopes[0], *(weight * value for value in point.slopes[1])])[:, None]
        lu, pivots, fault = dgetrf(self.capacitance + weight * self.conductance + self.into @ (slopes * self.by), overwrite_a=True)
        return None if fault else (lu, pivots)


@dataclass
class Course:
    """What a run came to. times [s] of all steps and x there; errors: of each step over what is allowed; sensitivity: of the end to
    the start, None where not asked for."""

    times: np.ndarray
    states: np.ndarray
    errors: np.ndarray
    sensitivity: np.ndarray | None
    slope: np.ndarray


Past = tuple[tuple[float, np.ndarray], ...]
"""Instants and states before a point, up to two."""


def extrapolated(past: Past, last: tuple[float, np.ndarray], time: float) -> np.ndarray:
    """By a parabola through all three points, a line through two (Newton's divided differences)."""
    if not past:
        return last[1]
    (t1, x1), (t2, x2) = past[-1], last
    slope = (x2 - x1) / (t2 - t1)
    guess = x2 + slope * (time - t2)
    if len(past) > 1:
        t0, x0 = past[0]
        guess = guess + (slope - (x1 - x0) / (t1 - t0)) / (t2 - t0) * (time - t2) * (time - t1)
    return guess


class Stepper:
    """Steps through a system. tolerance: error of a step as a share of each unknown's largest value so far; longest: step [s].

    LEAST: shortest step [s]; CLOSE: correction by Newton's rule that ends it, as a share of the tolerance; MOST: steps in the time
    of a longest one, on the average, beyond which a run is given up.
    """

    LEAST = 1e-14
    CLOSE = 0.001
    MOST = 30

    def __init__(self, system: System, tolerance: float = 2e-4, longest: float = 2e-7) -> None:
        self.system, self.tolerance, self.longest = system, tolerance, longest
        self.scale = system.sizes.copy()

    def newton(self, guess: np.ndarray, known: np.ndarray, time: float, h: float, lu: tuple | None) -> tuple[Point, tuple] | None:
        """The point with Q + (g/2) h F = known, and the factors used last; None where there is none near."""
        system, x, before, weight = self.system, guess, math.inf, HALF * h
        for _ in range(12):
            point = system.at(x, time)
            rest = point.charge + weight * point.flow - known
            if lu is None:
                lu = system.factors(point, weight)
            if lu is None:
                return None
            change, _ = dgetrs(lu[0], lu[1], rest)
            size = float(np.abs(change / self.scale).max())
            if not math.isfinite(size):
                return None
            if size < self.CLOSE * self.tolerance:
                return point, lu
            x = x - change
            if size > 0.2 * before:
                lu = None
            before = size
        return None

    @np.errstate(all="ignore")  # what Newton's rule runs away from is told by a size that is not finite
    def consistent(self, x: np.ndarray, time: float, lengths: tuple[float, ...] = (1e-11,)) -> np.ndarray:
        """The state to which a rough one leads, by Euler's backward rule in steps of these lengths [s]."""
        system = self.system
        for h in lengths:
            charge = system.at(x, time).charge
            for _ in range(400):
                point = system.at(x, time)
                lu = system.factors(point, h)
                if lu is None:
                    raise NoStep("no consistent state to start from")
                change, _ = dgetrs(lu[0], lu[1], point.charge + h * point.flow - charge)
                size = float(np.abs(change).max())
                x = x - change * min(1.0, 2.0 / max(size, 1e-30))
                if size < 1e-6:
                    break
        self.scale = np.maximum(self.scale, np.abs(x))
        return x

    def step(self, point: Point, time: float, h: float, before: Past) -> tuple[Point, Point, float, tuple] | None:
        """From one point over the middle to the next, and the error over what is allowed. before: what led to the point."""
        known = point.charge - HALF * h * point.flow
        first = self.newton(extrapolated(before, (time, point.x), time + GAMMA * h), known, time + GAMMA * h, h, None)
        if first is None:
            return None
        middle, lu = first
        known = FORWARD * middle.charge - (FORWARD - 1) * point.charge
        past = (before[-1:] or ()) + ((time, point.x),)
        second = self.newton(extrapolated(past, (time + GAMMA * h, middle.x), time + h), known, time + h, h, lu)
        if second is None:
            return None
        end, lu = second
        third = point.flow / GAMMA - middle.flow / (GAMMA * (1 - GAMMA)) + end.flow / (1 - GAMMA)
        error, _ = dgetrs(lu[0], lu[1], 2 * ERROR * h * third)
        return middle, end, float(np.abs(error / self.scale).max()) / self.tolerance, lu

    def carry(self, s: np.ndarray, points: tuple[Point, Point, Point], h: float) -> np.ndarray:
        """Sensitivities over a step: the same rule, differentiated."""
        system, weight = self.system, HALF * h
        (c0, g0), (c1, g1), (c2, g2) = (system.matrices(point) for point in points)
        middle = np.linalg.solve(c1 + weight * g1, (c0 - weight * g0) @ s)
        return np.linalg.solve(c2 + weight * g2, FORWARD * (c1 @ middle) - (FORWARD - 1) * (c0 @ s))

    @np.errstate(all="ignore")
    def run(self, x: np.ndarray, start: float, stop: float, grid: np.ndarray | None = None, sensitive: bool = False) -> Course:
        """From a state at `start` to `stop` [s]; grid: shares of the way to step to, else steps by their error."""
        time, point, h = start, self.system.at(x, start), (stop - start) * 1e-4
        times, states, errors, s = [start], [x], [0.0], np.eye(x.size) if sensitive else None
        marks = None if grid is None else start + grid * (stop - start)
        slope, k, wanted, before = np.zeros_like(x), 1, h, ()
        most = 2000 + self.MOST * (stop - start) / self.longest
        while time < stop - 1e-9 * (stop - start):
            if len(times) > most:
                raise NoStep(f"something rings: {len(times)} steps in {time - start:.3g} s")
            h = min(wanted, self.longest, stop - time) if marks is None else marks[k] - time
            if marks is None and stop - time < 1.5 * h:
                h = (stop - time) if stop - time <= h else (stop - time) / 2
            done = self.step(point, time, h, before)
            if done is None or (marks is None and done[2] > 1.5):
                if h < self.LEAST or marks is not None:
                    raise NoStep(f"no step of {h:.1e} s at {time:.4e} s")
                wanted = h / 4 if done is None else h * max(0.3, 0.8 * done[2] ** (-1 / 3))
                continue
            middle, end, error, _ = done
            s = None if s is None else self.carry(s, (point, middle, end), h)
            slope = (end.x - middle.x) / ((1 - GAMMA) * h)
            before = ((time, point.x), (time + GAMMA * h, middle.x))
            time, point, k = (stop if marks is None and stop - time <= h * 1.000001 else time + h), end, k + 1
            self.scale = np.maximum(self.scale, np.abs(end.x))
            wanted = h * min(2.0, 0.85 * max(error, 1e-4) ** (-1 / 3))
            times.append(time)
            states.append(end.x)
            errors.append(error)
        return Course(np.array(times), np.array(states), np.array(errors), s, slope)
