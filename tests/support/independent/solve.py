# SPDX-License-Identifier: GPL-3.0-or-later
"""From the equations of circuit.py to one settled period, by SciPy's LSODA and Newton's rule on the slow states.

The circuit first runs freely for some periods from the ideal stage's values. Then the state at the section (coil current
zero while the left drain stands high, the quiet middle of a half period) and the period are adjusted until one period
leads back to it. Gates, drains and bars forget within a fraction of a period and are carried along.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.integrate import odeint

from heatsim.parts.heater import Heater
from tests.support.independent.circuit import Rates, core_resistance, mean_current, one_choke, state_names, two_choke
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
    names of heatsim's waveforms; residual: largest misfit of its ends in units of SCALES, fluxes sixfold; multipliers: factors
    by which small disturbances of the slow states shrink over a period; start: all states at its first instant."""

    time: np.ndarray
    signals: dict[str, np.ndarray]
    residual: float
    multipliers: np.ndarray
    start: np.ndarray

    @property
    def frequency(self) -> float:
        """Fundamental [Hz]."""
        return float(1 / self.time[-1])


class Flow:
    """The equations of a heater with tolerances.

    names, slow: of all states, and of those that remember from period to period
    slopes: Jacobian of the rates, None to be found by LSODA, which takes five times as many calls
    rtol: relative tolerance; atol is the same share of SCALES
    used: integrated so far [s]
    """

    def __init__(
        self,
        heater: Heater,
        names: tuple[str, ...],
        slow: tuple[str, ...],
        rates: Rates,
        slopes: Callable[[float, list[float]], np.ndarray] | None = None,
        rtol: float = 1e-5,
    ) -> None:
        self.heater, self.names, self.rates, self.slopes, self.rtol, self.used = heater, names, rates, slopes, rtol, 0.0
        self.scale = np.array([SCALES.get(name, 1.0) for name in names])
        self.slow = [names.index(name) for name in slow]
        self.coil = names.index("coil")
        self.chokes = [
            (
                choke_law(choke),
                names.index(f"flux_{choke.side}"),
                [names.index(name) for name in names if f"inner_{choke.side}" in name],
            )
            for choke in heater.chokes
        ]

    def __call__(self, state: np.ndarray, duration: float, points: int = 2, start: float = 0.0) -> np.ndarray:
        """States at even instants from `start` on for `duration` [s], shape (points, states)."""
        states, report = odeint(
            lambda t, y: self.rates(t, y.tolist()),
            state,
            start + np.linspace(0, duration, points),
            tfirst=True,
            rtol=self.rtol,
            atol=self.rtol * self.scale,
            mxstep=100_000,
            full_output=True,
            Dfun=self.slopes and (lambda t, y: self.slopes(t, y.tolist())),  # type: ignore[misc]
        )
        if report["message"] != "Integration successful.":
            raise NotPeriodic(report["message"])
        self.used += duration
        return states

    def start(self) -> np.ndarray:
        """The ideal stage at the section: drain left at pi*Vdc, gate right up, chokes at their mean current."""
        h = self.heater
        v = h.supply.voltage
        current = mean_current(h)
        high, drive = math.pi * v, h.gate.clamp_voltage if h.gate.from_main else h.gate.supply_voltage
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
            **{f"flux_{choke.side}": flux_at(choke_law(choke), current / len(h.chokes)) for choke in h.chokes},
        }
        return np.array([values.get(name, 0.0) for name in self.names])

    def free(self, state: np.ndarray, period: float, periods: float) -> tuple[np.ndarray, float]:
        """Run freely for `periods` of about `period` [s]; the state at the last section crossing and the last period [s]."""
        points = 64
        states, step = self(state, periods * period, round(periods * points) + 1), period / points
        coil = states[:, self.coil]
        rising = np.flatnonzero((coil[:-1] < 0) & (coil[1:] >= 0))
        if rising.size < 2:
            raise NotPeriodic("the tank does not oscillate")
        instants = (rising - coil[rising] / (coil[rising + 1] - coil[rising])) * step
        found = self(states[rising[-1]], instants[-1] - rising[-1] * step)[-1]
        return found, float(instants[-1] - instants[-2])

    def jacobian(self, state: np.ndarray, period: float, end: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """d(misfit of slow states and coil)/d(slow states, share of the period), and the map from period to period of the
        slow ones. end: state after a period."""
        watched = [*self.slow, self.coil]
        scale, columns = self.scale[watched], []
        for k in self.slow:
            moved = state.copy()
            moved[k] += 0.05 * self.scale[k]
            self.carry(moved, state)
            columns.append((self(moved, period)[-1] - end)[watched] / scale / 0.05)
        later = np.array(self.rates(0.0, end.tolist()))[watched] / scale * period
        moves = np.array(columns).T
        jacobian = np.column_stack([moves - np.eye(len(watched))[:, :-1], later])
        return jacobian, moves[:-1] - np.outer(later[:-1], moves[-1]) / later[-1]

    def carry(self, state: np.ndarray, before: np.ndarray) -> None:
        """Let the currents inside the windings change as those of the windings do, from the state before.

        They forget within a period, but a flux moved without them falls back by what the inductors inside take up, some 0.2 %, as
        much as the slowest disturbance decays in a period.
        """
        for law, flux, inside in self.chokes:
            state[inside] = before[inside] + law(float(state[flux]))[0] - law(float(before[flux]))[0]


class Integrator(Flow):
    """The equations of circuit.py."""

    def __init__(self, heater: Heater, rtol: float = 1e-5) -> None:
        names = state_names(heater)
        rates = one_choke(heater) if heater.tapped else two_choke(heater)
        super().__init__(heater, names, tuple(name for name in names if name in SLOW), rates, rtol=rtol)


def flux_at(law: object, current: float) -> float:
    """Flux linkage [Wb] at which a choke carries `current` [A], by Newton's rule."""
    flux = 0.0
    for _ in range(200):
        i, conductance = law(flux)  # type: ignore[operator]
        flux += (current - i) / conductance * (1.0 if abs(current - i) < 0.05 * current else 0.5)
    return flux


def periodic(integrator: Integrator, free: int = 20, tolerance: float = 3e-3) -> Period:
    """The settled period: `free` periods of free run, then Newton's rule with one Jacobian, renewed if it stalls.

    A misfit of the difference of two chokes' fluxes, which decays by some 0.3 % a period, leaves 300 times as much in the state:
    fluxes must close to a sixth of the tolerance. The bank's voltage cannot; LSODA's own error in it is 1e-3.
    """
    state, period = integrator.free(integrator.start(), 1 / integrator.heater.frequency, free)
    slow, coil, scale = integrator.slow, integrator.coil, integrator.scale
    watched = [*slow, coil]
    strictness = np.array([6.0 if integrator.names[k].startswith("flux") else 1.0 for k in watched])
    jacobian, before, monodromy = None, math.inf, np.empty(0)
    for _ in range(14):
        end = integrator(state, period)[-1]
        misfit = (end - state)[watched] / scale[watched]
        size = float(np.abs(misfit * strictness).max())
        if size < tolerance:
            return _record(integrator, state, period, size, np.linalg.eigvals(monodromy) if monodromy.size else monodromy)
        if jacobian is None or size > 0.3 * before:
            jacobian, monodromy = integrator.jacobian(state, period, end)
        before = size
        change = np.linalg.solve(jacobian, -misfit)
        fast = np.setdiff1d(np.arange(state.size), watched)
        state = state.copy()
        state[fast] = end[fast]
        state[slow] += change[:-1] * scale[slow]
        integrator.carry(state, end)
        period += change[-1] * period
    raise NotPeriodic(f"Newton's rule stops at a misfit of {size:.2g}")


def _record(integrator: Integrator, state: np.ndarray, period: float, residual: float, multipliers: np.ndarray) -> Period:
    points = 1001
    table = integrator(state, period, points)
    columns = {name: table[:, k] for k, name in enumerate(integrator.names)}
    return Period(np.linspace(0, period, points), signals(integrator.heater, columns), residual, multipliers, state)


def signals(heater: Heater, column: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Named signals from the states; the tank voltage stands behind the bars."""
    out = {
        "drain.left.voltage": column["drain_left"],
        "drain.right.voltage": column["drain_right"],
        "gate.left.voltage": column["gate_left"],
        "gate.right.voltage": column["gate_right"],
        "gate_drive.left.voltage": column["node_left"],
        "gate_drive.right.voltage": column["node_right"],
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
