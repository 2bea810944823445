# SPDX-License-Identifier: GPL-3.0-or-later
"""From the equations of circuit.py to one settled period, by SciPy's LSODA and Newton's rule on the slow states.

The circuit first runs freely for some periods from the ideal stage's values. Then the state at the section (coil current
zero while the left drain stands high, the quiet middle of a half period) and the period are adjusted until one period
leads back to it. Gates, drains and bars forget within a fraction of a period and are carried along.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import odeint

from heatsim.parts.heater import Heater
from tests.support.independent.circuit import ONE_CHOKE, TWO_CHOKE, Rates, core_resistance, one_choke, two_choke
from tests.support.independent.devices import choke_law

SLOW = ("lead", "reservoir", "flux_left", "flux_right", "flux_centre", "bank_voltage", "work")
"""States that remember from period to period, besides the coil current, which is zero at the section."""

SCALES = {"lead": 1.0, "reservoir": 1.0, "flux_left": 1e-4, "flux_right": 1e-4, "flux_centre": 1e-4}
"""Size [A, V, Wb] to which a state's tolerance refers; 1 where not named."""


class NotPeriodic(RuntimeError):
    """No settled period was found."""


@dataclass(frozen=True)
class Period:
    """One settled period. time [s] from 0 to the period, evenly spaced, last sample equal to the first; signals by the
    names of heatsim's waveforms; residual: largest misfit of its ends in units of SCALES; multipliers: factors by which
    small disturbances of the slow states shrink over a period."""

    time: np.ndarray
    signals: dict[str, np.ndarray]
    residual: float
    multipliers: np.ndarray

    @property
    def frequency(self) -> float:
        """Fundamental [Hz]."""
        return float(1 / self.time[-1])


class Integrator:
    """The equations of one heater with tolerances. rtol: relative; atol: the same share of SCALES."""

    def __init__(self, heater: Heater, rtol: float = 1e-5) -> None:
        self.heater, self.rtol = heater, rtol
        self.names = ONE_CHOKE if heater.tapped else TWO_CHOKE
        self.rates: Rates = one_choke(heater) if heater.tapped else two_choke(heater)
        self.scale = np.array([SCALES.get(name, 1.0) for name in self.names])
        self.slow = [k for k, name in enumerate(self.names) if name in SLOW]
        self.coil = self.names.index("coil")

    def flow(self, state: np.ndarray, duration: float, points: int = 2) -> np.ndarray:
        """States at `points` even instants from 0 to `duration` [s], shape (points, states)."""
        states, report = odeint(
            lambda t, y: self.rates(t, y.tolist()),
            state,
            np.linspace(0, duration, points),
            tfirst=True,
            rtol=self.rtol,
            atol=self.rtol * self.scale,
            mxstep=100_000,
            full_output=True,
        )
        if report["message"] != "Integration successful.":
            raise NotPeriodic(report["message"])
        return states

    def start(self) -> np.ndarray:
        """The ideal stage at the section: drain left at pi*Vdc, gate right up, chokes at their mean current."""
        h = self.heater
        v = h.supply.voltage
        ratio = h.loaded_inductance / (h.capacitors.capacitance * h.loaded_resistance)
        current = math.pi**2 * v / (2 * ratio)
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
            "bar_left": -current / 2,
            "bar_right": current / 2,
        }
        for choke in h.chokes:
            values[f"flux_{choke.side}"] = flux_at(choke_law(choke), current / len(h.chokes))
        return np.array([values.get(name, 0.0) for name in self.names])


def flux_at(law: object, current: float) -> float:
    """Flux linkage [Wb] at which a choke carries `current` [A], by Newton's rule."""
    flux = 0.0
    for _ in range(200):
        i, conductance = law(flux)  # type: ignore[operator]
        flux += (current - i) / conductance * (1.0 if abs(current - i) < 0.05 * current else 0.5)
    return flux


def settle(integrator: Integrator, state: np.ndarray, periods: int) -> tuple[np.ndarray, float]:
    """Run freely; the state at the last section crossing and the last period [s]."""
    guess, points = 1 / integrator.heater.frequency, 64
    states = integrator.flow(state, periods * guess, periods * points + 1)
    coil = states[:, integrator.coil]
    rising = np.flatnonzero((coil[:-1] < 0) & (coil[1:] >= 0))
    if rising.size < 3:
        raise NotPeriodic("the tank does not oscillate")
    step = periods * guess / (periods * points)
    instants = (rising - coil[rising] / (coil[rising + 1] - coil[rising])) * step
    last = rising[-1]
    found = integrator.flow(states[last], instants[-1] - last * step)[-1]
    return found, float(instants[-1] - instants[-2])


def periodic(integrator: Integrator, free: int = 20, tolerance: float = 3e-3) -> Period:
    """The settled period: `free` periods of free run, then Newton's rule with one Jacobian, renewed if it stalls."""
    state, period = settle(integrator, integrator.start(), free)
    slow, coil, scale = integrator.slow, integrator.coil, integrator.scale
    watched = [*slow, coil]
    jacobian, before, monodromy = None, math.inf, np.empty(0)
    for _ in range(14):
        end = integrator.flow(state, period)[-1]
        misfit = (end - state)[watched] / scale[watched]
        size = float(np.abs(misfit).max())
        if size < tolerance:
            return _record(integrator, state, period, size, np.linalg.eigvals(monodromy) if monodromy.size else monodromy)
        if jacobian is None or size > 0.3 * before:
            jacobian, monodromy = _jacobian(integrator, state, period, end)
        before = size
        change = np.linalg.solve(jacobian, -misfit)
        fast = np.setdiff1d(np.arange(state.size), watched)
        state = state.copy()
        state[fast] = end[fast]
        state[slow] += change[:-1] * scale[slow]
        period += change[-1] * period
    raise NotPeriodic(f"Newton's rule stops at a misfit of {size:.2g}")


def _jacobian(integrator: Integrator, state: np.ndarray, period: float, end: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """d(misfit)/d(slow states, period share), and the part of it that is the map from period to period."""
    slow, scale = integrator.slow, integrator.scale
    watched = [*slow, integrator.coil]
    columns = []
    for k in slow:
        moved = state.copy()
        moved[k] += 0.05 * scale[k]
        columns.append((integrator.flow(moved, period)[-1] - end)[watched] / scale[watched] / 0.05)
    later = np.array(integrator.rates(0.0, end.tolist()))[watched] / scale[watched] * period
    map_ = np.array(columns).T
    jacobian = np.column_stack([map_ - np.eye(len(watched))[:, :-1], later])
    onto = np.outer(later[:-1], map_[-1]) / later[-1]
    return jacobian, map_[:-1] - onto


def _record(integrator: Integrator, state: np.ndarray, period: float, residual: float, multipliers: np.ndarray) -> Period:
    points = 1001
    table = integrator.flow(state, period, points)
    columns = {name: table[:, k] for k, name in enumerate(integrator.names)}
    return Period(np.linspace(0, period, points), signals(integrator.heater, columns), residual, multipliers)


def signals(heater: Heater, column: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Named signals from the states; the tank voltage stands behind the bars."""
    out = {
        "drain.left.voltage": column["drain_left"],
        "drain.right.voltage": column["drain_right"],
        "gate.left.voltage": column["gate_left"],
        "gate.right.voltage": column["gate_right"],
        "capacitor.current": column["bank"],
        "capacitor.voltage": column["bank_voltage"],
        "workpiece.current": column["work"],
        "supply.current": column["lead"],
    }
    for choke in heater.chokes:
        flux = column[f"flux_{choke.side}"]
        law = choke_law(choke)
        out[f"choke.{choke.side}.flux"] = flux
        out[f"choke.{choke.side}.current"] = np.array([law(y)[0] for y in flux.tolist()])
    lossy = 2 * math.pi * heater.stray_corner * heater.bus_inductance
    if heater.tapped:
        through = out["choke.centre.current"]
        drops = lossy * (2 * (column["bank"] + column["coil"]) - column["bar_left"] + column["bar_right"])
        out["coil.current"] = column["coil"] - through / 2
    else:
        for choke in heater.chokes:
            side = choke.side
            voltage = column["reservoir"] - column[f"terminal_{side}"]
            out[f"choke.{side}.current"] = out[f"choke.{side}.current"] + voltage / core_resistance(heater, choke)
        drops = 2 * lossy * (column["bank"] + column["coil"] - column["bar"])
        out["coil.current"] = column["coil"]
    out["tank.voltage"] = column["terminal_left"] - column["terminal_right"] - drops
    return out
