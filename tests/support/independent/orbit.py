# SPDX-License-Identifier: GPL-3.0-or-later
"""The settled period of a whole circuit: Newton's rule on all unknowns and the length of the period at once.

From the ideal stage the circuit runs freely for some periods. Then a period is stepped through with its sensitivities S (of the
end to the start), and (S - 1) dx + x' dT = start - end with the coil's current nil at the start gives the next start and length
(Aprille & Trick, Proc. IEEE 60, 1972, p. 108; memory). What the last correction would change is the error left, slow modes too.
Near the end the steps are frozen, so that the map is smooth; they must still be short enough at the end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tests.support.independent.measure import Signals, rising
from tests.support.independent.nodal import Course, NoStep, Stepper, System
from tests.support.independent.solve import NotPeriodic
from tests.support.independent.whole import Whole

CLOSE = 2e-4
"""Correction of the state, as a share of each unknown's largest value, that counts as none."""


STRAY = 4.0
"""Error of a step over what is allowed that frozen steps may have: steps of their own stay below 1.5."""


@dataclass(frozen=True)
class Orbit:
    """A settled period: its circuit and its course."""

    made: Whole
    course: Course

    @property
    def period(self) -> float:
        """[s]."""
        return float(self.course.times[-1])

    @property
    def signals(self) -> Signals:
        """By the names of heatsim's waveforms."""
        return waves_of(self.made, self.course)


def waves_of(made: Whole, course: Course) -> Signals:
    """Of a run."""
    return {name: sum(value * course.states[:, k] for k, value in row.items()) for name, row in made.signals.items()}


def settle(made: Whole, frequency: float, tolerance: float = 1e-3, free: int = 10) -> Orbit:
    """The settled period of a circuit that is expected near a frequency [Hz]; raises NotPeriodic."""
    system = System(made.circuit)
    stepper = Stepper(system, tolerance, longest=1 / frequency / 150)
    try:
        x = stepper.consistent(made.first(), 0.0, (1e-11, 1e-10, 1e-9, 1e-8))
        for rounds in (free, 3 * free, 10 * free):
            x, period = run_free(stepper, x, rounds / frequency)
            found = _newton(made, stepper, x, period)
            if found is not None:
                return found
    except NoStep as error:
        raise NotPeriodic(str(error)) from None
    raise NotPeriodic("Newton's rule finds no settled period")


def run_free(stepper: Stepper, x: np.ndarray, duration: float) -> tuple[np.ndarray, float]:
    """The state at the last rising zero of the coil's current and the period before it [s]."""
    coil = stepper.system.names.index("coil")
    course = stepper.run(x, 0.0, duration)
    instants = rising(course.times, course.states[:, coil])
    if instants.size < 3 or np.abs(course.states[:, coil]).max() < 1e-3:
        raise NotPeriodic("the tank does not oscillate")
    k = np.searchsorted(course.times, instants[-1]) - 1
    last = stepper.run(course.states[k], float(course.times[k]), float(instants[-1]))
    return last.states[-1], float(instants[-1] - instants[-2])


def _newton(made: Whole, stepper: Stepper, x: np.ndarray, period: float) -> Orbit | None:
    grid, best = None, math.inf
    for turn in range(16):
        try:
            course = stepper.run(x, 0.0, period, grid, sensitive=True)
        except NoStep:
            if grid is None:
                return None
            grid = None
            continue
        change, longer = _correction(stepper, course, period)
        size = max(float(np.abs(change / stepper.scale).max()), abs(longer) / period)
        if size < CLOSE and float(course.errors.max()) < STRAY:
            return Orbit(made, course)
        best = min(best, size)
        if turn > 6 and size > 3 * best and size > 0.1:
            return None
        share = min(1.0, 0.5 / size)
        grid = None if size > 0.02 or size < CLOSE else course.times / course.times[-1] if grid is None else grid
        x, period = x + share * change, period + share * max(-0.1 * period, min(longer, 0.1 * period))
        if size > 0.02:
            x = stepper.consistent(x, 0.0)
    return None


def _correction(stepper: Stepper, course: Course, period: float) -> tuple[np.ndarray, float]:
    """Change of the start and of the period [s]."""
    n, coil, scale = stepper.scale.size, stepper.system.names.index("coil"), stepper.scale
    first, last = course.states[0], course.states[-1]
    assert course.sensitivity is not None
    matrix, right = np.zeros((n + 1, n + 1)), np.zeros(n + 1)
    matrix[:n, :n] = (course.sensitivity - np.eye(n)) * scale / scale[:, None]
    matrix[:n, n] = course.slope * period / scale
    matrix[n, coil] = 1.0
    right[:n], right[n] = (first - last) / scale, -first[coil] / scale[coil]
    found = np.linalg.solve(matrix, right)
    return found[:n] * scale, float(found[n]) * period
