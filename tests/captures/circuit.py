# SPDX-License-Identifier: GPL-3.0-or-later
"""The two-choke stage of tests/independent/circuit.py, widened by what can be wrong with it.

Added to the equations written out there (x = left, right; a bank's values, already scaled):
    j_x   current of the gate loop's inductance: Lg dj/dt = k - g - Rg j, in place of (k - g)/Rg. Never left out here.
    t_x   current of a shorted turn of a choke, as the whole winding sees it, beside the magnetising current:
          Lt dt/dt = u - Rt t;  i_choke = i(y) + t + u/Rcore;  u = bus - d - Rcu (i(y) + t).
    iz    current of a shorted turn of the work coil, a third winding: with the matrix of inductances of coil, workpiece
          and turn, [L]d[i coil, iw, iz]/dt = [v - r i, -rw iw, -rz iz].
    sag   what a current-limited supply takes off its voltage: T dsag/dt = Rf max(lead - limit, 0) - sag,
          EMF = E + ripple - sag. Its loop is slow (T), the maximum is rounded over some 0.2 A.
A winding without a shorted turn has one of 1 Mohm, coupled to nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from heatsim.parts.heater import Heater
from tests.independent.circuit import Bank, GateNetwork, State, core_resistance, mutual_inductance
from tests.independent.devices import Law, choke_law

SIDE = ("node", "loop", "gate", "drain", "terminal", "down")
NAMES = ("lead", "reservoir", "sag", "flux_left", "flux_right", "turn_left", "turn_right",
         *(f"{part}_left" for part in SIDE), *(f"{part}_right" for part in SIDE),
         "bank", "bank_voltage", "coil", "work", "short", "bar")


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
    """A heater and what is wrong with it beyond the values of its parts. ripple: EMF [V] added at a time [s]."""

    heater: Heater
    turns: dict[str, Turn] = field(default_factory=dict)
    coil_turn: CoilTurn | None = None
    foldback: Foldback | None = None
    ripple: Callable[[float], float] | None = None

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
    table = np.array([[primary + faulty.heater.coil.lead_inductance, mutual, towards_coil],
                      [mutual, secondary, towards_work], [towards_coil, towards_work, size]])
    return np.linalg.inv(table).tolist(), load, resistance


def feeding(faulty: Faulty) -> Callable[..., tuple[float, ...]]:
    """Rates of lead, reservoir, sag, fluxes and turns, and the currents that both chokes feed into the drain nodes."""
    supply, chokes = faulty.heater.supply, faulty.heater.chokes
    (law_left, law_right), (copper_left, copper_right) = map(choke_law, chokes), (choke.resistance for choke in chokes)
    core_left, core_right = (core_resistance(faulty.heater, choke) for choke in chokes)
    turn_left, turn_right = faulty.turns.get("left", WHOLE), faulty.turns.get("right", WHOLE)
    limit = faulty.foldback or Foldback(1e6, 0.0)
    emf = faulty.ripple

    def feed(time: float, lead: float, reservoir: float, sag: float, yl: float, yr: float, tl: float, tr: float,
             dl: float, dr: float) -> tuple[float, ...]:
        il, ir = law_left(yl)[0] + tl, law_right(yr)[0] + tr
        bus = reservoir + supply.reservoir_resistance * (lead - il - ir)
        ul, ur = bus - dl - copper_left * il, bus - dr - copper_right * ir
        over = lead - limit.limit
        droop = limit.slope * 0.5 * (over + math.sqrt(over * over + 0.04)) if faulty.foldback else 0.0
        voltage = supply.voltage - sag + (emf(time) if emf else 0.0)
        return ((voltage - supply.resistance * lead - bus) / supply.inductance, (lead - il - ir) / supply.reservoir,
                (droop - sag) / SLOWNESS, ul, ur, (ul - turn_left.resistance * tl) / turn_left.inductance,
                (ur - turn_right.resistance * tr) / turn_right.inductance, il + ul / core_left, ir + ur / core_right)

    return feed


def switching(heater: Heater) -> Callable[[State, float, float], State]:
    """Rates of the twelve states of SIDE, left then right, for currents fed into the drain nodes.

    As `bridge` of tests/independent/circuit.py, with the gate loop's current a state.
    """
    network, lead, inductance = GateNetwork.of(heater), heater.switch.drain_inductance, gate_inductance(heater)
    winding = heater.chokes[0].capacitance
    lossy = 2 * math.pi * heater.stray_corner * lead

    def device(bank: Bank, loop: float, g: float, p: float, through: float) -> tuple[float, float]:
        current, own = bank.drain_current(g, p)
        miller, source = bank.miller(g - p), bank.gate_source
        both = miller + source
        rate = (through - current + miller * loop / both) / (own + miller * source / both)
        return (loop + miller * rate) / both, rate

    def crossing(k: float, loop: float, d: float, arriving: float) -> tuple[float, float]:
        into, fast, floating = network.currents(k, d)
        clamp = network.clamp_capacitance(k)
        node = into - fast - loop
        both = floating + clamp
        rate = (arriving + fast + floating * node / both) / (winding + floating * clamp / both)
        return (node + floating * rate) / both, rate

    left, right = Bank.of(heater, "left"), Bank.of(heater, "right")

    def rates(state: State, feed_left: float, feed_right: float) -> State:
        kl, jl, gl, pl, dl, ql, kr, jr, gr, pr, dr, qr = state
        down_left, down_right = ql + (dl - pl) / lossy, qr + (dr - pr) / lossy
        dgl, dpl = device(left, jl, gl, pl, down_left)
        dgr, dpr = device(right, jr, gr, pr, down_right)
        dkr, ddl = crossing(kr, jr, dl, feed_left - down_left)
        dkl, ddr = crossing(kl, jl, dr, feed_right - down_right)
        return [dkl, (kl - gl - left.gate_resistance * jl) / inductance, dgl, dpl, ddl, (dl - pl) / lead,
                dkr, (kr - gr - right.gate_resistance * jr) / inductance, dgr, dpr, ddr, (dr - pr) / lead]

    return rates


def gate_inductance(heater: Heater) -> float:
    """Of a bank's gate loop [H]."""
    return heater.gate.inductance / heater.switch.count


def equations(faulty: Faulty) -> Callable[[float, State], State]:
    """Right-hand side for the state in the order of NAMES."""
    heater = faulty.heater
    bank, series = heater.capacitors, heater.coil.resistance + heater.coil.lead_resistance
    ((m00, m01, m02), (m10, m11, m12), (m20, m21, m22)), load, shorted = coil_matrix(faulty)
    bar = 2 * heater.bus_inductance
    lossy = 2 * math.pi * heater.stray_corner * bar
    feed, stage = feeding(faulty), switching(heater)

    def rates(time: float, state: State) -> State:
        lead, reservoir, sag, yl, yr, tl, tr, *nodes, ic, vc, i, iw, iz, ib = state
        dl, dr = nodes[4], nodes[10]
        *slow, feed_left, feed_right = feed(time, lead, reservoir, sag, yl, yr, tl, tr, dl, dr)
        through = ic + i
        drop = lossy * (through - ib)
        v = dl - dr - drop
        e, s, z = v - series * i, -load * iw, -shorted * iz
        return [*slow, *stage(nodes, feed_left - through, feed_right + through),
                (v - bank.resistance * ic - vc) / bank.inductance, ic / bank.capacitance,
                m00 * e + m01 * s + m02 * z, m10 * e + m11 * s + m12 * z, m20 * e + m21 * s + m22 * z, drop / bar]

    return rates


def signals(faulty: Faulty, column: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Signals an oscilloscope may be put on, by heatsim's names, from the states; the tank voltage stands behind the bars."""
    heater = faulty.heater
    inner = heater.switch.gate_resistance / heater.switch.count
    drops = 4 * math.pi * heater.stray_corner * heater.bus_inductance * (column["bank"] + column["coil"] - column["bar"])
    out = {"tank.voltage": column["terminal_left"] - column["terminal_right"] - drops, "coil.current": column["coil"],
           "supply.current": column["lead"], "bus.voltage": column["reservoir"]}
    for choke in heater.chokes:
        side, law = choke.side, choke_law(choke)
        current = currents(law, column[f"flux_{side}"]) + column[f"turn_{side}"]
        out[f"drain.{side}.voltage"] = column[f"drain_{side}"]
        out[f"gate.{side}.voltage"] = column[f"gate_{side}"] + inner * column[f"loop_{side}"]
        out[f"choke.{side}.current"] = current + (column["reservoir"] - column[f"terminal_{side}"]) / core_resistance(heater, choke)
    return out


def currents(law: Law, flux: np.ndarray) -> np.ndarray:
    """Currents [A] at flux linkages [Wb]."""
    return np.array([law(y)[0] for y in flux.tolist()])
