# SPDX-License-Identifier: GPL-3.0-or-later
"""The two-choke stage of tests/support/independent/circuit.py, widened by what can be wrong with it.

Added to the equations written out there (x = left, right; a bank's values, already scaled):
    j_x   current of the gate loop's inductance: Lg dj/dt = k - g - Rg j, in place of (k - g)/Rg. Never left out here.
    t_x   current of a shorted turn of a choke, as the whole winding sees it, beside the magnetising current:
          Lt dt/dt = u - Rt t;  i_choke = i(y) + t + u/Rcore;  u = bus - d - Rcu (i(y) + t).
    iz    current of a shorted turn of the work coil, a third winding: with the matrix of inductances of coil, workpiece
          and turn, [L]d[i coil, iw, iz]/dt = [v - r i, -rw iw, -rz iz].
    y_x   with coupled chokes, M between them: own flux, which gives the current as ever; u_left = dy_left/dt + M di_right/dt with
          di/dt = s dy/dt, s = di/dy, so dy_left/dt = (u_left - M s_right u_right)/(1 - M^2 s_left s_right).
    sag   what a current-limited supply takes off its voltage: T dsag/dt = Rf max(lead - limit, 0) - sag,
          EMF = E + ripple - sag. Its loop is slow (T), the maximum is rounded over some 0.2 A.
A winding without a shorted turn has one of 1 Mohm, coupled to nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from heatsim.parts.heater import Heater
from tests.support.independent.circuit import Bank, Copper, GateNetwork, State, core_resistance, crossing, device, mutual_inductance
from tests.support.independent.devices import Law, choke_law

SIDE = ("node", "loop", "gate", "drain", "terminal", "down")
CELLS = 4
"""Pairs of resistor and inductor in a winding; those that a heater has not have no resistance."""

INNER = tuple(f"inner_{side}_{k}" for side in ("left", "right") for k in range(CELLS))

NAMES = (
    "lead",
    "reservoir",
    "sag",
    "flux_left",
    "flux_right",
    "turn_left",
    "turn_right",
    *(f"{part}_left" for part in SIDE),
    *(f"{part}_right" for part in SIDE),
    "bank",
    "bank_voltage",
    "coil",
    "work",
    "short",
    "bar",
    *INNER,
)


@dataclass(frozen=True)
class Turn:
    """A shorted turn of a choke as its winding sees it: resistance [ohm] and leakage inductance [H], times turns squared."""

    resistance: float
    inductance: float


@dataclass(frozen=True)
class CoilTurn:
    """A shorted turn of the work coil: share k^2 of the coil's inductance it can cancel, and x = w L/R of the turn."""

    share: float
    ratio: float


@dataclass(frozen=True)
class Foldback:
    """Limit of the supply's current [A] and how steeply its voltage gives way beyond [ohm]."""

    limit: float
    slope: float


WHOLE = Turn(1e6, 1.0)
SLOWNESS = 1e-4
"""Time in which a limiting supply follows its load [s]; only the settled state is used."""


@dataclass(frozen=True)
class Faulty:
    """A heater and what is wrong with it beyond the values of its parts. ripple: EMF [V] added at a time [s]; mutual: between the
    chokes [H]."""

    heater: Heater
    turns: dict[str, Turn] = field(default_factory=dict)
    coil_turn: CoilTurn | None = None
    foldback: Foldback | None = None
    ripple: Callable[[float], float] | None = None
    mutual: float = 0.0

    def __post_init__(self) -> None:
        if self.heater.tapped:
            raise ValueError("captures are made for the two-choke circuit only")


def coil_matrix(faulty: Faulty) -> tuple[list[list[float]], float, float]:
    """Inverse of the inductances of coil with leads, workpiece and shorted turn [1/H]; resistances of the latter two [ohm].

    The turn meets the workpiece through the coil's flux: its coupling to it is the product of both couplings to the coil.
    """
    primary, mutual, secondary, load = mutual_inductance(faulty.heater)
    turn = faulty.coil_turn
    size = 1e-6
    resistance = 2 * math.pi * faulty.heater.frequency * size / turn.ratio if turn else 1.0
    towards_coil = math.sqrt(turn.share * primary * size) if turn else 0.0
    towards_work = towards_coil * mutual / primary
    table = np.array(
        [
            [primary + faulty.heater.coil.lead_inductance, mutual, towards_coil],
            [mutual, secondary, towards_work],
            [towards_coil, towards_work, size],
        ]
    )
    return np.linalg.inv(table).tolist(), load, resistance


Inputs = tuple[float, ...]
OUTER = tuple(name for name in NAMES if name.split("_")[0] not in ("node", "gate", "drain", "terminal"))
"""States whose rates are linear in the states and the chokes' magnetising currents (and the supply's droop)."""


def copper(heater: Heater, side: int) -> Copper:
    """A winding with CELLS pairs; left 0, right 1."""
    found = Copper.of(heater, heater.chokes[side])
    missing = CELLS - len(found.resistors)
    return Copper(found.together, (*found.resistors, *[0.0] * missing), (*found.inductors, *[1e-9] * missing))


def outside(faulty: Faulty) -> Callable[[float, State, float, float], tuple[float, ...]]:
    """All that is linear: rates in the order of OUTER, then for left and right what flows down the drain lead and what
    arrives at the drain node [A]; from time, state and the magnetising currents of both chokes."""
    heater = faulty.heater
    supply, chokes, bank, switch = heater.supply, heater.chokes, heater.capacitors, heater.switch
    left, right = copper(heater, 0), copper(heater, 1)
    core_left, core_right = (core_resistance(heater, choke) for choke in chokes)
    turn_left, turn_right = faulty.turns.get("left", WHOLE), faulty.turns.get("right", WHOLE)
    bar, lead_inductance, loop = 2 * heater.bus_inductance, switch.drain_inductance, heater.gate.inductance / switch.count
    lossy, lossy_lead = 2 * math.pi * heater.stray_corner * bar, 2 * math.pi * heater.stray_corner * lead_inductance
    series, damping = heater.coil.resistance + heater.coil.lead_resistance, gate_resistance(heater)
    ((m00, m01, m02), (m10, m11, m12), (m20, m21, m22)), load, shorted = coil_matrix(faulty)
    emf, droop = faulty.ripple, drooping(faulty.foldback)

    def linear(time: float, state: State, il: float, ir: float) -> tuple[float, ...]:
        lead, reservoir, sag, _, _, tl, tr, kl, jl, gl, pl, dl, ql, kr, jr, gr, pr, dr, qr, ic, vc, i, iw, iz, ib, *inner = state
        il, ir, through = il + tl, ir + tr, ic + i
        bus = reservoir + supply.reservoir_resistance * (lead - il - ir)
        ul = (bus - dl - left.together * il + left.lift(inner[:CELLS])) / (1 + left.together / core_left)
        ur = (bus - dr - right.together * ir + right.lift(inner[CELLS:])) / (1 + right.together / core_right)
        wound_left, wound_right = il + ul / core_left, ir + ur / core_right
        drop = lossy * (through - ib)
        v = dl - dr - drop
        e, s, z = v - series * i, -load * iw, -shorted * iz
        down_left, down_right = ql + (dl - pl) / lossy_lead, qr + (dr - pr) / lossy_lead
        voltage = supply.voltage - sag + (emf(time) if emf else 0.0)
        return (
            (voltage - supply.resistance * lead - bus) / supply.inductance,
            (lead - il - ir) / supply.reservoir,
            (droop(lead) - sag) / SLOWNESS,
            ul,
            ur,
            (ul - turn_left.resistance * tl) / turn_left.inductance,
            (ur - turn_right.resistance * tr) / turn_right.inductance,
            (kl - gl - damping * jl) / loop,
            (dl - pl) / lead_inductance,
            (kr - gr - damping * jr) / loop,
            (dr - pr) / lead_inductance,
            (v - bank.resistance * ic - vc) / bank.inductance,
            ic / bank.capacitance,
            m00 * e + m01 * s + m02 * z,
            m10 * e + m11 * s + m12 * z,
            m20 * e + m21 * s + m22 * z,
            drop / bar,
            *left.rates(wound_left, inner[:CELLS]),
            *right.rates(wound_right, inner[CELLS:]),
            down_left,
            down_right,
            wound_left - through - down_left,
            wound_right + through - down_right,
        )

    return linear


def gate_resistance(heater: Heater) -> float:
    """Of a bank's gate loop, chips included [ohm]."""
    return (heater.gate.resistor + heater.switch.gate_resistance) / heater.switch.count


def drooping(foldback: Foldback | None) -> Callable[[float], float]:
    """Voltage a supply gives up at a current [V]."""
    if foldback is None:
        return lambda lead: 0.0
    limit, half = foldback.limit, 0.5 * foldback.slope
    return lambda lead: half * (lead - limit + math.sqrt((lead - limit) ** 2 + 0.04))


class Equations:
    """Rates of the states of NAMES and their Jacobian, by hand but for the slopes of the devices."""

    def __init__(self, faulty: Faulty) -> None:
        heater = faulty.heater
        self.linear, self.mutual = outside(faulty), faulty.mutual
        self.laws = [choke_law(choke) for choke in heater.chokes]
        network = GateNetwork.of(heater)
        at = {name: k for k, name in enumerate(NAMES)}
        self.fluxes = (at["flux_left"], at["flux_right"])
        self.places = np.array([at[name] for name in OUTER])
        self.blocks: list[tuple[Callable[..., Inputs], tuple[int, ...], tuple[int, int], int]] = []
        for k, (side, other) in enumerate((("left", "right"), ("right", "left"))):
            inputs, rows = [at[f"{part}_{side}"] for part in ("loop", "gate", "drain")], (at[f"gate_{side}"], at[f"drain_{side}"])
            self.blocks.append((device(Bank.of(heater, side)), tuple(inputs), rows, len(OUTER) + k))
            ends = (at[f"node_{side}"], at[f"terminal_{other}"])
            self.blocks.append(
                (crossing(network, heater.chokes[1 - k].capacitance), (at[f"loop_{side}"], *ends), ends, len(OUTER) + 3 - k)
            )
        self.calls = [block[0] for block in self.blocks]
        self._gradient = self._wiring(faulty)

    def _wiring(self, faulty: Faulty) -> np.ndarray:
        """Derivatives of `linear` by the states and both magnetising currents, exact but for the supply's droop."""
        count, state = len(NAMES), [0.0] * len(NAMES)
        if faulty.foldback:
            state[0] = faulty.foldback.limit + 1
        base, columns = np.array(self.linear(0.0, state, 0.0, 0.0)), []
        for k in range(count + 2):
            moved = [*state, 0.0, 0.0]
            moved[k] += 1.0
            columns.append(np.array(self.linear(0.0, moved[:count], *moved[count:])) - base)
        return np.array(columns).T

    def rates(self, time: float, state: State) -> State:
        """Right-hand side."""
        yl, yr, kl, jl, gl, pl, dl, kr, jr, gr, pr, dr = *state[3:5], *state[7:12], *state[13:18]
        (il, slope_left), (ir, slope_right) = self.laws[0](yl), self.laws[1](yr)
        out = self.linear(time, state, il, ir)
        chip_left, across_left, chip_right, across_right = self.calls
        dgl, dpl = chip_left(jl, gl, pl, out[-4])
        dgr, dpr = chip_right(jr, gr, pr, out[-3])
        dkl, ddr = across_left(jl, kl, dr, out[-1])
        dkr, ddl = across_right(jr, kr, dl, out[-2])
        fluxes = self.own(slope_left, slope_right, out[3], out[4])
        return [*out[:3], *fluxes, *out[5:7], dkl, out[7], dgl, dpl, ddl, out[8], dkr, out[9], dgr, dpr, ddr, out[10], *out[11:-4]]

    def own(self, slope_left: float, slope_right: float, left: Any, right: Any) -> tuple[Any, Any]:
        """Rates of the chokes' own fluxes from what stands across their windings [V]."""
        m = self.mutual
        shared = 1 - m * m * slope_left * slope_right
        return (left - m * slope_right * right) / shared, (right - m * slope_left * left) / shared

    def jacobian(self, time: float, state: State) -> np.ndarray:
        """d(rate of row)/d(state of column); of coupled chokes without that of the slopes of their curves."""
        count, (yl, yr) = len(NAMES), self.fluxes
        (il, slope_left), (ir, slope_right) = self.laws[0](state[yl]), self.laws[1](state[yr])
        wired = self._gradient[:, :count].copy()
        wired[:, yl] += slope_left * self._gradient[:, count]
        wired[:, yr] += slope_right * self._gradient[:, count + 1]
        values = self.linear(time, state, il, ir)
        out = np.zeros((count, count))
        out[self.places] = wired[: len(OUTER)]
        out[yl], out[yr] = self.own(slope_left, slope_right, out[yl].copy(), out[yr].copy())
        for call, inputs, rows, current in self.blocks:
            args = [*(state[k] for k in inputs), values[current]]
            base = call(*args)
            slopes = [_slope(call, args, base, k) for k in range(4)]
            for place, row in enumerate(rows):
                out[row] = slopes[3][place] * wired[current]
                for k, column in enumerate(inputs):
                    out[row, column] += slopes[k][place]
        return out


def _slope(call: Callable[..., Inputs], args: list[float], base: Inputs, k: int) -> tuple[float, float]:
    moved = args.copy()
    step = 1e-5 * max(abs(args[k]), 1.0)
    moved[k] += step
    there = call(*moved)
    return (there[0] - base[0]) / step, (there[1] - base[1]) / step


def signals(faulty: Faulty, laws: list[Law], column: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Signals an oscilloscope may be put on, by heatsim's names, from the states; the tank voltage stands behind the bars."""
    heater = faulty.heater
    inner = heater.switch.gate_resistance / heater.switch.count
    drops = 4 * math.pi * heater.stray_corner * heater.bus_inductance * (column["bank"] + column["coil"] - column["bar"])
    out = {
        "tank.voltage": column["terminal_left"] - column["terminal_right"] - drops,
        "coil.current": column["coil"],
        "supply.current": column["lead"],
        "bus.voltage": column["reservoir"],
    }
    for choke, law in zip(heater.chokes, laws, strict=True):
        side = choke.side
        current = currents(law, column[f"flux_{side}"]) + column[f"turn_{side}"]
        out[f"drain.{side}.voltage"] = column[f"drain_{side}"]
        out[f"gate.{side}.voltage"] = column[f"gate_{side}"] + inner * column[f"loop_{side}"]
        out[f"choke.{side}.current"] = current + (column["reservoir"] - column[f"terminal_{side}"]) / core_resistance(heater, choke)
    return out


def currents(law: Law, flux: np.ndarray) -> np.ndarray:
    """Currents [A] at flux linkages [Wb]."""
    return np.array([law(y)[0] for y in flux.tolist()])
