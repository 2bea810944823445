# SPDX-License-Identifier: GPL-3.0-or-later
"""The stage as d/dt (C x + q(x)) = s - G x - f(x), for many heaters at once: arrays (heaters, unknowns).

Modified nodal analysis (Ho, Ruehli and Brennan, IEEE Trans. Circuits Syst. 22, 1975, p. 504; memory): one row a node, Kirchhoff's
law of currents, and one row a branch whose current is an unknown, its law of voltages. What is not linear hangs between an
incidence (where its current or flux goes) and a control (which unknowns it depends on): rows of two constant matrices, so that
Jacobians are one product with their outer products. Nodes: bus, core of the reservoir, and on each side k gate node, g gate of
the chip, p its drain, d drain terminal, m and n inside the choke; t left end of the tank (the right end is the right drain
terminal), c coil behind its leads.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields

import numpy as np

from tests.support.foreign import laws
from tests.support.foreign.parts import NEVER, Heater

Array = np.ndarray
SIDES = ("l", "r")
OTHER = {"l": "r", "r": "l"}
OF_A_SIDE = ("k", "g", "ig", "p", "d", "q", "m", "n", "i", "j", "turn")
NAMES = (
    "lead",
    "bus",
    "store",
    *(f"{name}_{side}" for side in SIDES for name in OF_A_SIDE),
    *("t", "bar", "c", "feed", "bank", "vc", "coil"),
    *(f"cell{k}" for k in range(4)),
)
AT = {name: k for k, name in enumerate(NAMES)}
SIZE = len(NAMES)


class Values:
    """Fields of many heaters as arrays: (heaters,) or (heaters, 2, ...)."""

    def __init__(self, heaters: Sequence[Heater]) -> None:
        for each in fields(Heater):
            if each.name not in ("device", "choke"):
                setattr(self, each.name, np.array([getattr(heater, each.name) for heater in heaters], float))
        self.size = len(heaters)
        self.device = np.array([heater.device for heater in heaters])
        self.choke = np.array([heater.choke for heater in heaters])

    def column(self, name: str) -> Array:
        """A field of the heater as (heaters, 1), to go with sides."""
        return getattr(self, name)[:, None]


@dataclass
class Linear:
    """Matrices and sources while they are put together, for `count` heaters."""

    count: int
    storing: Array = field(init=False)
    conducting: Array = field(init=False)
    source: Array = field(init=False)

    def __post_init__(self) -> None:
        self.storing = np.zeros((self.count, SIZE, SIZE))
        self.conducting = np.zeros((self.count, SIZE, SIZE))
        self.source = np.zeros((self.count, SIZE))

    def _between(self, matrix: Array, a: str, b: str, value: Array) -> None:
        for one, other in ((a, b), (b, a)):
            if one:
                matrix[:, AT[one], AT[one]] += value
                if other:
                    matrix[:, AT[one], AT[other]] -= value

    def resistor(self, a: str, b: str, ohms: Array) -> None:
        """Between two nodes; "" is ground."""
        self._between(self.conducting, a, b, 1 / ohms)

    def capacitor(self, a: str, b: str, farad: Array) -> None:
        """Between two nodes."""
        self._between(self.storing, a, b, farad)

    def branch(self, name: str, a: str, b: str, henry: Array, ohms: Array) -> None:
        """From a to b with its own current: inductance and resistance in series."""
        row = AT[name]
        for node, sign in ((a, 1.0), (b, -1.0)):
            if node:
                self.conducting[:, AT[node], row] += sign
                self.conducting[:, row, AT[node]] -= sign
        self.storing[:, row, row] += henry
        self.conducting[:, row, row] += ohms


def linear(v: Values) -> Linear:
    """All that is linear."""
    out = Linear(v.size)
    out.branch("lead", "", "bus", v.supply_inductance, v.supply_ohms)
    out.source[:, AT["lead"]] = v.supply
    out.resistor("bus", "store", v.reservoir_ohms)
    out.capacitor("store", "", v.reservoir)
    for k, x in enumerate(SIDES):
        _side(out, v, k, x)
        out.storing[:, AT[f"i_{x}"], AT[f"i_{OTHER[x]}"]] += v.coupling * np.sqrt(v.zero[:, 0] * v.zero[:, 1])
    out.branch("bar", "d_l", "t", v.bar_inductance, 0 * v.supply)
    out.resistor("d_l", "t", 2 * np.pi * v.stray_corner * v.bar_inductance)
    out.branch("bank", "t", "d_r", v.bank_inductance, v.bank_ohms)
    out.conducting[:, AT["bank"], AT["vc"]] += 1
    out.conducting[:, AT["vc"], AT["bank"]] -= 1
    out.branch("feed", "t", "c", v.lead_inductance, v.lead_ohms)
    out.resistor("t", "c", 2 * np.pi * v.stray_corner * v.lead_inductance + v.lead_ohms)
    out.capacitor("c", "d_r", v.lead_capacitance)
    out.branch("coil", "c", "d_r", v.coil, v.coil_ohms)
    for k in range(4):
        _cell(out, "coil", f"cell{k}", v.cells_ohms[:, k], v.cells_inductance[:, k] * (k > 0))
    return out


def _cell(out: Linear, of: str, name: str, ohms: Array, henry: Array) -> None:
    """Resistance beside inductance, in series with a branch."""
    a, b = AT[of], AT[name]
    out.conducting[:, a, a] += ohms
    out.conducting[:, a, b] -= ohms
    out.conducting[:, b, b] += ohms
    out.conducting[:, b, a] -= ohms
    out.storing[:, b, b] += henry


def _side(out: Linear, v: Values, k: int, x: str) -> None:
    gate, chip, drain, terminal = f"k_{x}", f"g_{x}", f"p_{x}", f"d_{x}"
    count = v.count[:, k]
    out.resistor(gate, "", v.pull_down)
    out.resistor(gate, "", v.pull_up[:, k])
    out.source[:, AT[gate]] = v.gate_supply / v.pull_up[:, k]
    out.capacitor(gate, "", v.clamp_capacitance)
    out.branch(f"ig_{x}", gate, chip, v.gate_inductance / count, (v.resistor + v.gate_inner) / count)
    out.capacitor(chip, "", count * v.gate_source)
    out.branch(f"q_{x}", terminal, drain, v.drain_inductance, 0 * v.supply)
    out.resistor(terminal, drain, 2 * np.pi * v.stray_corner * v.drain_inductance)
    out.capacitor(terminal, "bus", v.winding[:, k])
    out.resistor(drain, "", 1 / v.leak[:, k])
    out.resistor("bus", f"m_{x}", v.copper[:, k])
    out.resistor(f"m_{x}", f"n_{x}", v.cell_ohms[:, k])
    out.branch(f"j_{x}", f"m_{x}", f"n_{x}", v.cell_inductance[:, k], 0 * v.supply)
    out.resistor(f"n_{x}", terminal, v.loss[:, k])
    out.branch(f"i_{x}", f"n_{x}", terminal, 0 * v.supply, 0 * v.supply)
    out.branch(f"turn_{x}", f"n_{x}", terminal, v.turn_inductance[:, k], v.turn_ohms[:, k])


def _rows(*entries: dict[str, float]) -> Array:
    out = np.zeros((len(entries), SIZE))
    for row, entry in zip(out, entries, strict=True):
        for name, value in entry.items():
            row[AT[name]] = value
    return out


CURRENTS_GO = _rows(
    *({f"p_{x}": 1.0} for x in SIDES),
    *({f"p_{x}": -1.0} for x in SIDES),
    *({f"k_{x}": 1.0, f"d_{OTHER[x]}": -1.0} for x in SIDES),
    *({f"k_{x}": 1.0} for x in SIDES),
    {"lead": 1.0},
    {"feed": 1.0},
    *({f"p_{x}": 1.0} for x in SIDES),
)
"""Channel, body diode, fast diode, clamp, foldback, film contact, suppressor."""

SLOPES_GO = np.vstack([CURRENTS_GO[:2], CURRENTS_GO])
SLOPES_FROM = _rows(
    *({f"g_{x}": 1.0} for x in SIDES),
    *({f"p_{x}": 1.0} for x in SIDES),
    *({f"p_{x}": -1.0} for x in SIDES),
    *({f"k_{x}": 1.0, f"d_{OTHER[x]}": -1.0} for x in SIDES),
    *({f"k_{x}": 1.0} for x in SIDES),
    {"lead": 1.0},
    {"feed": 1.0},
    *({f"p_{x}": 1.0} for x in SIDES),
)
"""Channel by gate, then as `CURRENTS_GO`."""

CHARGES = _rows(
    *({f"p_{x}": 1.0, f"g_{x}": -1.0} for x in SIDES),
    *({f"p_{x}": 1.0} for x in SIDES),
    *({f"p_{x}": -1.0} for x in SIDES),
    *({f"k_{x}": 1.0, f"d_{OTHER[x]}": -1.0} for x in SIDES),
    *({f"i_{x}": 1.0} for x in SIDES),
    {"vc": 1.0},
    {"cell0": 1.0},
)
"""Gate-drain, drain-source, stored in the body diode, in the fast diode, flux of the chokes, bank, steel: they go where they come
from."""


class Circuit:
    """A batch of heaters, as the integrator wants it."""

    def __init__(self, heaters: Sequence[Heater]) -> None:
        self.heaters, self.values = tuple(heaters), Values(heaters)
        self.linear = linear(self.values)
        self.devices = [(name, np.flatnonzero(self.values.device == name)) for name in laws.DEVICES]
        self.chokes = [(name, np.flatnonzero(self.values.choke == name)) for name in laws.CHOKES]
        self._slopes = (SLOPES_GO[:, :, None] * SLOPES_FROM[:, None, :]).reshape(len(SLOPES_GO), -1)
        self._stores = (CHARGES[:, :, None] * CHARGES[:, None, :]).reshape(len(CHARGES), -1)

    def flows(self, x: Array) -> tuple[Array, Array]:
        """Right-hand side and its Jacobian at unknowns (heaters, SIZE)."""
        currents, slopes = self._currents(x)
        right = self.linear.source - np.einsum("bij,bj->bi", self.linear.conducting, x) - currents @ CURRENTS_GO
        return right, -self.linear.conducting - (slopes @ self._slopes).reshape(-1, SIZE, SIZE)

    def stored(self, x: Array) -> tuple[Array, Array]:
        """Charges and fluxes and their Jacobian."""
        charges, slopes = self._charges(x)
        whole = np.einsum("bij,bj->bi", self.linear.storing, x) + charges @ CHARGES
        return whole, self.linear.storing + (slopes @ self._stores).reshape(-1, SIZE, SIZE)

    def _channels(self, gate: Array, drain: Array) -> tuple[Array, Array, Array]:
        v = self.values
        out = np.empty((3, *gate.shape))
        for name, rows in self.devices:
            if rows.size:
                numbers = (getattr(v, key)[rows, None] for key in ("strength", "bend", "body", "thermal"))
                found = laws.CHANNELS[name](gate[rows] - v.threshold[rows], drain[rows], *numbers)
                out[:, rows] = np.array(found) * v.count[rows]
        return out[0], out[1], out[2]

    def _body(self, drain: Array) -> tuple[Array, Array]:
        v = self.values
        return laws.junction(
            -drain, v.count * v.column("diode_saturation"), v.column("diode_scale"), v.column("diode_ohms") / v.count
        )

    def _fast(self, forward: Array) -> tuple[Array, Array]:
        v = self.values
        return laws.junction(forward, v.column("fast_saturation"), v.column("fast_scale"), v.column("fast_ohms"))

    def _currents(self, x: Array) -> tuple[Array, Array]:
        v = self.values
        control = x @ SLOPES_FROM.T
        gate, drain, forward, node = control[:, :2], control[:, 2:4], control[:, 6:8], control[:, 8:10]
        channel, by_gate, by_drain = self._channels(gate, drain)
        body, by_body = self._body(drain)
        fast, by_fast = self._fast(forward)
        clamp, by_clamp = laws.junction(node - v.column("clamp_voltage"), np.array(5e-3), np.array(0.03), np.array(1.0))
        over, began = control[:, 10:11] - v.column("fold"), control[:, 10:11] > v.column("fold") - 40.0
        soft = np.where(began, np.logaddexp(0.0, np.where(began, over, 0.0)), 0.0)
        yields = np.where(began, v.column("fold_ohms") / (1 + np.exp(-np.clip(over, -40.0, 40.0))), 0.0)
        film = np.tanh(control[:, 11:12] / v.column("contact_current"))
        by_film = v.column("contact") * (1 - film**2) / v.column("contact_current")
        there = v.suppressor < 0.5 * NEVER
        over_volts = np.where(there, drain - v.suppressor, 0.0)
        stop, by_stop = laws.junction(over_volts, np.array(1e-6), np.array(0.1), np.array(0.15))
        currents = (channel, body, fast, v.clamp * clamp, v.column("fold_ohms") * soft, v.column("contact") * film, there * stop)
        slopes = (by_gate, by_drain, by_body, by_fast, v.clamp * by_clamp, yields, by_film, there * by_stop)
        return np.hstack(currents), np.hstack(slopes)

    def _charges(self, x: Array) -> tuple[Array, Array]:
        v = self.values
        control = x @ CHARGES.T
        miller, drain, forward, choke, bank, steel = (
            control[:, a:b] for a, b in ((0, 2), (2, 4), (6, 8), (8, 10), (10, 11), (11, 12))
        )
        qm, cm = laws.charge(miller, v.gate_drain[:, None, :])
        qd, cd = laws.charge(drain, v.drain_source[:, None, :])
        body, by_body = self._body(drain)
        fast, by_fast = self._fast(forward)
        flux, henry = self._fluxes(choke)
        farad, bend = v.column("bank"), v.column("bank_bend")
        knee, weak = v.column("work_knee"), v.cells_inductance[:, :1]
        transit, wait, own = v.column("diode_transit"), v.column("fast_transit"), v.column("fast_capacitance")
        charges = (v.count * qm, v.count * qd, transit * body, own * forward + wait * fast, flux)
        slopes = (v.count * cm, v.count * cd, transit * by_body, own + wait * by_fast, henry)
        lost = farad * bank * (1 - bend * bank**2 / 3), farad * (1 - bend * bank**2)
        bent = weak * knee * np.arctan(steel / knee), weak / (1 + (steel / knee) ** 2)
        return np.hstack((*charges, lost[0], bent[0])), np.hstack((*slopes, lost[1], bent[1]))

    def _fluxes(self, current: Array) -> tuple[Array, Array]:
        v = self.values
        out = np.empty((2, *current.shape))
        for name, rows in self.chokes:
            if rows.size:
                out[:, rows] = laws.FLUXES[name](current[rows], v.zero[rows], v.air[rows], v.at[rows], v.power[rows])
        return out[0], out[1]

    def start(self) -> Array:
        """Unknowns near the tank's positive peak in the ideal stage: the coil carries nothing, the left switch is off."""
        v = self.values
        x = np.zeros((v.size, SIZE))
        ratio = (
            2 * np.pi * np.array([heater.frequency for heater in self.heaters])[:, None] * v.cells_inductance / v.cells_ohms
        ) ** 2
        ohms = v.coil_ohms + v.lead_ohms + np.sum(v.cells_ohms * ratio / (1 + ratio), axis=1)
        share = np.pi**2 / 2 * v.supply * ohms * v.bank / (v.coil + v.lead_inductance) / 2
        for name, value in (
            ("bus", v.supply),
            ("store", v.supply),
            ("lead", 2 * share),
            ("t", np.pi * v.supply),
            ("vc", np.pi * v.supply),
        ):
            x[:, AT[name]] = value
        for name in ("d_l", "p_l"):
            x[:, AT[name]] = np.pi * v.supply
        for side in SIDES:
            for name in ("m", "n"):
                x[:, AT[f"{name}_{side}"]] = v.supply
            for name in ("i", "j"):
                x[:, AT[f"{name}_{side}"]] = share
        for name, high in (("k_l", 0.5), ("g_l", 0.5), ("k_r", v.gate_supply), ("g_r", v.gate_supply)):
            x[:, AT[name]] = high
        x[:, AT["q_r"]], x[:, AT["bar"]] = 2 * share, share
        return x
