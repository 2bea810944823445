# SPDX-License-Identifier: GPL-3.0-or-later
"""The settled period of a faulty heater, by SciPy's LSODA and Broyden's rule, started from the sound heater's.

The sound heater of a case is settled once per process (some seconds); its state and the inverse of its Jacobian serve every
capture of that case for a start. LSODA is given the Jacobian of the equations, which saves four calls of the right-hand side
in five.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.support.captures.circuit import NAMES, Equations, Faulty, signals
from tests.support.independent import solve
from tests.support.independent.devices import choke_law
from tests.support.independent.solve import NotPeriodic, flux_at

SCALE = np.array([solve.SCALES.get(name, 1.0) for name in NAMES])
REMEMBERED = ("lead", "reservoir", "flux_left", "flux_right", "bank_voltage", "work")


@dataclass(frozen=True)
class Settled:
    """State at the Poincaré section (coil current rising through zero), period [s], inverse Jacobian of the misfit and the names
    of the states it is about; periods: how many were integrated to find it."""

    faulty: Faulty
    state: np.ndarray
    period: float
    inverse: np.ndarray
    slow: tuple[str, ...]
    periods: int


def slow_names(faulty: Faulty) -> tuple[str, ...]:
    """States that remember from period to period, besides the coil current."""
    more = [f"turn_{side}" for side in faulty.turns] + ["short"] * bool(faulty.coil_turn) + ["sag"] * bool(faulty.foldback)
    return (*REMEMBERED, *more)


class Flow(solve.Flow):
    """Integrates the equations of a faulty heater. rtol: relative; atol: the same share of SCALE."""

    def __init__(self, faulty: Faulty, rtol: float = 1e-5) -> None:
        self.faulty, self.equations = faulty, Equations(faulty)
        super().__init__(faulty.heater, NAMES, slow_names(faulty), self.equations.rates, self.equations.jacobian, rtol)


def settle(flow: Flow, known: Settled | None = None, tolerance: float = 0.03, tries: int = 13) -> Settled:
    """The settled period; `known`: of a circuit like this one. tolerance: Newton step in units of SCALE at which it is found."""
    if known is None:
        state, period = flow.free(flow.start(), 1 / flow.heater.frequency, 20.5)
    else:
        state, period = flow.free(_moved(known, flow.faulty), known.period, 4.5)
    slow = slow_names(flow.faulty)
    rows = [*flow.slow, flow.coil]
    inverse = known.inverse if known and known.slow == slow else None
    before, change, renewed = None, np.empty(0), 0
    for k in range(tries):
        end = flow(state, period)[-1]
        misfit = (end - state)[rows] / SCALE[rows]
        stalls = before is not None and np.abs(misfit).max() > 0.5 * np.abs(before).max()
        if inverse is None or (stalls and k > renewed):
            renewed = k
            inverse = np.linalg.inv(flow.jacobian(state, period, end)[0])
        elif before is not None:
            inverse = _broyden(inverse, change, misfit - before)
        before, change = misfit, -inverse @ misfit
        change *= min(1.0, 8.0 / np.abs(change).max(), 0.1 / max(abs(change[-1]), 1e-12))
        kept = end.copy()
        kept[rows] = state[rows]
        kept[rows[:-1]] += change[:-1] * SCALE[rows[:-1]]
        flow.carry(kept, end)
        state, period = kept, period * (1 + change[-1])
        if np.abs(change).max() < tolerance and abs(change[-1]) < 1e-5:
            return Settled(flow.faulty, state, period, inverse, slow, round(flow.used / period))
    raise NotPeriodic(f"still moving by {np.abs(change).max():.2g}")


def _moved(known: Settled, faulty: Faulty) -> np.ndarray:
    """A settled state of another circuit with each choke's flux such that its current is as it was."""
    state = known.state.copy()
    for k, name in enumerate(NAMES):
        if name.startswith("flux_"):
            old, new = (heater.chokes[name == "flux_right"] for heater in (known.faulty.heater, faulty.heater))
            if old != new:
                state[k] = flux_at(choke_law(new), choke_law(old)(state[k])[0])
    return state


def _broyden(inverse: np.ndarray, change: np.ndarray, result: np.ndarray) -> np.ndarray:
    """Broyden's first update of an inverse Jacobian (Math. Comp. 19, 1965, p. 577; memory)."""
    predicted = inverse @ result
    scale = change @ predicted
    if abs(scale) < 0.05 * (change @ change):
        return inverse
    return inverse + np.outer(change - predicted, change @ inverse) / scale


def waveforms(flow: Flow, settled: Settled, points: int = 4097) -> dict[str, np.ndarray]:
    """One settled period on an even grid of phase from 0 to 1, both ends included."""
    table = flow(settled.state, settled.period, points)
    return signals(flow.faulty, flow.equations.laws, {name: table[:, k] for k, name in enumerate(NAMES)})
