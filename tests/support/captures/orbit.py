# SPDX-License-Identifier: GPL-3.0-or-later
"""The settled period of a faulty heater, by SciPy's LSODA and Broyden's rule, started from the sound heater's.

The sound heater of a case is settled once per process (some seconds); its state and the inverse of its Jacobian serve every
capture of that case for a start. LSODA is given the Jacobian of the equations, which saves four calls of the right-hand side
in five.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import odeint

from tests.support.captures.circuit import NAMES, Equations, Faulty, signals
from tests.support.independent.devices import choke_law
from tests.support.independent.solve import SCALES, NotPeriodic, flux_at

SCALE = np.array([SCALES.get(name, 1.0) for name in NAMES])
COIL = NAMES.index("coil")
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


class Flow:
    """Integrates the equations of a faulty heater. rtol: relative; atol: the same share of SCALE."""

    def __init__(self, faulty: Faulty, rtol: float = 1e-5) -> None:
        self.faulty, self.rtol, self.used = faulty, rtol, 0.0
        self.equations = Equations(faulty)

    def __call__(self, state: np.ndarray, duration: float, points: int = 2, start: float = 0.0) -> np.ndarray:
        """States at even instants from `start` on for `duration` [s], shape (points, states)."""
        rates, slopes = self.equations.rates, self.equations.jacobian
        states, report = odeint(
            lambda t, y: rates(t, y.tolist()),
            state,
            start + np.linspace(0, duration, points),
            tfirst=True,
            rtol=self.rtol,
            atol=self.rtol * SCALE,
            mxstep=100_000,
            full_output=True,
            Dfun=lambda t, y: slopes(t, y.tolist()),
        )
        if report["message"] != "Integration successful.":
            raise NotPeriodic(report["message"])
        self.used += duration
        return states


def rest(faulty: Faulty) -> np.ndarray:
    """The ideal stage at the section: drain left at pi*Vdc, gate right up, chokes at their mean current."""
    h = faulty.heater
    v = h.supply.voltage
    current = math.pi**2 * v * h.capacitors.capacitance * h.loaded_resistance / (2 * h.loaded_inductance)
    high, drive = math.pi * v, h.gate.supply_voltage
    values = {
        "lead": current,
        "reservoir": v,
        "node_left": 0.6,
        "gate_left": 0.6,
        "drain_left": high,
        "terminal_left": high,
        "node_right": drive,
        "gate_right": drive,
        "drain_right": 0.1,
        "terminal_right": 0.1,
        "down_right": current,
        "bank_voltage": high,
        "bar": current / 2,
        **{f"flux_{choke.side}": flux_at(choke_law(choke), current / 2) for choke in h.chokes},
    }
    return np.array([values.get(name, 0.0) for name in NAMES])


def run_free(flow: Flow, state: np.ndarray, period: float, periods: int) -> tuple[np.ndarray, float]:
    """Run freely; the state at the last section crossing and the last period [s]."""
    points = 64
    states = flow(state, (periods + 0.5) * period, periods * points + points // 2 + 1)
    coil = states[:, COIL]
    rising = np.flatnonzero((coil[:-1] < 0) & (coil[1:] >= 0))
    if rising.size < 2:
        raise NotPeriodic("the tank does not oscillate")
    step = period / points
    instants = (rising - coil[rising] / (coil[rising + 1] - coil[rising])) * step
    found = flow(states[rising[-1]], instants[-1] - rising[-1] * step)[-1]
    return found, float(instants[-1] - instants[-2])


def settle(flow: Flow, known: Settled | None = None, tolerance: float = 0.03, tries: int = 13) -> Settled:
    """The settled period; `known`: of a circuit like this one. tolerance: Newton step in units of SCALE at which it is found."""
    frequency = flow.faulty.heater.frequency
    if known is None:
        state, period = run_free(flow, rest(flow.faulty), 1 / frequency, 20)
    else:
        state, period = run_free(flow, _moved(known, flow.faulty), known.period, 4)
    slow = slow_names(flow.faulty)
    rows = [NAMES.index(name) for name in (*slow, "coil")]
    inverse = known.inverse if known and known.slow == slow else None
    before, change, renewed = None, np.empty(0), 0
    for k in range(tries):
        end = flow(state, period)[-1]
        misfit = (end - state)[rows] / SCALE[rows]
        stalls = before is not None and np.abs(misfit).max() > 0.5 * np.abs(before).max()
        if inverse is None or (stalls and k > renewed):
            renewed = k
            inverse = np.linalg.inv(_jacobian(flow, state, period, end, rows))
        elif before is not None:
            inverse = _broyden(inverse, change, misfit - before)
        before, change = misfit, -inverse @ misfit
        change *= min(1.0, 8.0 / np.abs(change).max(), 0.1 / max(abs(change[-1]), 1e-12))
        kept = end.copy()
        kept[rows] = state[rows]
        kept[rows[:-1]] += change[:-1] * SCALE[rows[:-1]]
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


def _jacobian(flow: Flow, state: np.ndarray, period: float, end: np.ndarray, rows: list[int]) -> np.ndarray:
    """d(misfit)/d(slow states, share of the period)."""
    columns = []
    for k in rows[:-1]:
        moved = state.copy()
        moved[k] += 0.05 * SCALE[k]
        columns.append((flow(moved, period)[-1] - end)[rows] / SCALE[rows] / 0.05)
    later = np.array(flow.equations.rates(0.0, end.tolist()))[rows] / SCALE[rows] * period
    return np.column_stack([np.array(columns).T - np.eye(len(rows))[:, :-1], later])


def waveforms(flow: Flow, settled: Settled, points: int = 4097) -> dict[str, np.ndarray]:
    """One settled period on an even grid of phase from 0 to 1, both ends included."""
    table = flow(settled.state, settled.period, points)
    return signals(flow.faulty, flow.equations.laws, {name: table[:, k] for k, name in enumerate(NAMES)})
