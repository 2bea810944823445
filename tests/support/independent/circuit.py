# SPDX-License-Identifier: GPL-3.0-or-later
"""The self-oscillating push-pull stage as ordinary differential equations, written by hand from Kirchhoff's laws.

States, two-choke circuit (one number each; x = left, right):
    il lead current [A], vr reservoir voltage [V], y_x choke flux linkage [Wb],
    k_x gate node, g_x gate at the chip, p_x drain at the chip, d_x drain node [V] (to ground, where all sources stand),
    q_x current of the drain leads' inductance [A],
    ic, il coil: current of the capacitor bank and of the coil [A], vc voltage of the bank [V], iw workpiece current [A],
    ib current of the bars' inductance [A], both bars in series.
The one-choke circuit has one flux, the mean im of the two half-coil currents instead of the coil current, and two bars.

Equations (n devices a bank; everything of a bank scaled by n):
    supply     Ls dil/dt = E - Rs il - bus;  C dvr/dt = il - sum(i_choke);  bus = vr + esr (il - sum(i_choke))
    choke      dy/dt = u = bus - d - Rcu i_choke - sum Rk (i_choke - jk);  i_choke = i(y) + u/Rcore;  Lk djk/dt = Rk (i_choke - jk)
    gate node  Cz dk/dt + Cf d(k-d')/dt = (Vg-k)/Rup - k/Rdown - i_zener - (k-g)/Rg - i_fast(k-d'), d' the other drain;
               where the pull-ups hang on the bus, Vg = bus and (bus-k)/Rup of both is taken from it
    chip       Cgs dg/dt + Cgd d(g-d)/dt = (k-g)/Rg
    drain      Coss dp/dt + Cgd d(p-g)/dt = down - i_channel + i_body;  down = q + (d-p)/R_lead;  L_lead dq/dt = d - p
    node       Cw dd/dt + Cf d(d-k')/dt = i_choke - i_bar + i_fast' - down, k' the other side's gate node
    bars       i_bar = ic + icoil = ib + w/Rb;  Lb dib/dt = w  (two bars in series; Rb = 2 pi fc Lb)
    tank       v = d_left - d_right - w;  ESL dic/dt = v - ESR ic - vc;  C dvc/dt = ic
               (L+Ll) di/dt + M diw/dt = v - (r+rl) i;  Lw diw/dt + M di/dt = -rw iw

Left out or simpler than in the netlist: the gate loop's inductance (15 nH a device) is dropped; winding capacitance
stands from drain to ground instead of across the choke; gate-drain and gate-source capacitances reach the outer pins, not
the ends of the channel behind Rd and Rs; junction charge sits outside the diodes' series resistance; the drop of the
core-loss current in leads and reservoir is left out (some mV). The drain leads (5 nH a bank) must stay: without
them the frequency is 0.13 % high and the supply current 0.5 % low, as test_agreement.py measures.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from heatsim.parts.choke import Choke
from heatsim.parts.gate import GateDrive
from heatsim.parts.heater import Heater
from tests.support.independent.datasheet import figures
from tests.support.independent.devices import Law, channel_law, choke_law, diode_law, junction_capacitance, miller_law

State = list[float]
Rates = Callable[[float, State], State]


@dataclass(frozen=True)
class Bank:
    """One switch bank with its gate network: laws and values, already scaled to the whole bank."""

    threshold: float
    channel: Callable[[float, float], float]
    body: Law
    avalanche: float
    avalanche_current: float
    depletion: Callable[[float], float]
    transit: float
    miller: Callable[[float], float]
    gate_source: float
    gate_resistance: float

    @classmethod
    def of(cls, heater: Heater, side: str) -> Bank:
        """The bank of a heater's side; half of the threshold spread up on the left, down on the right."""
        switch, n = heater.switch, heater.switch.count
        p, shift = figures(switch), (0.5 if side == "left" else -0.5) * switch.threshold_spread
        return cls(
            p.threshold + shift,
            channel_law(n * p.stiffness, p.modulation, p.drain / n, p.source / n, p.triode),
            diode_law(n * p.saturation, p.emission, p.bulk / n),
            switch.voltage_rating,
            n * 250e-6,
            junction_capacitance(n * p.depletion, 0.8, 0.5),
            switch.recovery_time,
            miller_law(n * p.most, n * p.least, p.steepness),
            n * p.gate_source,
            (heater.gate.resistor + switch.gate_resistance) / n,
        )

    def drain_current(self, gate: float, drain: float) -> tuple[float, float]:
        """Current from drain to source [A] at the pins, and the drain's own capacitance [F]."""
        into_source, conductance = self.body(-drain)
        current = self.channel(gate - self.threshold, drain) - into_source
        if drain > 0.9 * self.avalanche:
            current += self.avalanche_current * math.exp(min((drain - self.avalanche) / 0.03, 40.0))
        return current, self.depletion(drain) + self.transit * conductance


def diode_saturation(gate: GateDrive) -> float:
    """Saturation current [A] of the fast diode from its drop at 1 A with n = 1.6 and 50 mohm, as the part defines it."""
    return math.exp(-(gate.diode_drop - 0.05) / (1.6 * 0.02585))


@dataclass(frozen=True)
class GateNetwork:
    """Pull-up, pull-down, clamp and fast diode of one side."""

    supply: float
    up: float
    down: float
    clamp: float
    clamp_capacitance: Callable[[float], float]
    fast: Law
    fast_capacitance: Callable[[float], float]
    transit: float

    @classmethod
    def of(cls, heater: Heater) -> GateNetwork:
        """Of either side of a heater."""
        gate = heater.gate
        return cls(
            gate.supply_voltage,
            gate.pull_up,
            gate.pull_down,
            gate.clamp_voltage,
            junction_capacitance(gate.clamp_capacitance, 0.8, 0.4),
            diode_law(diode_saturation(gate), 1.6, 0.05),
            junction_capacitance(gate.diode_capacitance, 0.8, 0.45),
            gate.diode_recovery,
        )

    def currents(self, node: float, opposite: float, supply: float | None = None) -> tuple[float, float, float]:
        """Net current from the resistors and the clamp into the node, diode current out of it [A], diode capacitance [F]; supply:
        what the pull-up hangs on, its own by default [V]."""
        into = ((self.supply if supply is None else supply) - node) / self.up - node / self.down
        if node > self.clamp - 0.5:
            into -= 5e-3 * math.exp(min((node - self.clamp) / 0.0259, 6.0))
        out, conductance = self.fast(node - opposite)
        return into, out, self.fast_capacitance(opposite - node) + self.transit * conductance


def device(bank: Bank) -> Callable[..., tuple[float, float]]:
    """Rates of gate and drain of the chip for the current into the gate, gate, drain and the current down the drain lead: a 2 by
    2 system, solved by hand, as in `crossing`."""

    def rates(into: float, g: float, p: float, through: float) -> tuple[float, float]:
        current, own = bank.drain_current(g, p)
        miller, source = bank.miller(g - p), bank.gate_source
        both = miller + source
        rate = (through - current + miller * into / both) / (own + miller * source / both)
        return (into + miller * rate) / both, rate

    return rates


def crossing(network: GateNetwork, winding: float) -> Callable[..., tuple[float, float]]:
    """Rates of a gate node and of the drain node its fast diode leads to, for the current into the chip's gate, both voltages and
    the current that arrives at the drain node, and what the pull-up hangs on. winding: capacitance of the choke there [F]."""

    def rates(into_gate: float, k: float, d: float, arriving: float, supply: float | None = None) -> tuple[float, float]:
        into, fast, floating = network.currents(k, d, supply)
        clamp = network.clamp_capacitance(k)
        node = into - fast - into_gate
        both = floating + clamp
        rate = (arriving + fast + floating * node / both) / (winding + floating * clamp / both)
        return (node + floating * rate) / both, rate

    return rates


def bridge(heater: Heater) -> Callable[[State, float, float, float | None], State]:
    """Rates of (k, g, p, d, q) of the left side, then of the right, for currents fed into the drain nodes and what the pull-ups
    hang on.

    Two pairs of nodes a side share a capacitor, gate and drain of the chip (`device`) and drain node and the other side's gate
    node (`crossing`).
    """
    lead = heater.switch.drain_inductance
    lossy = 2 * math.pi * heater.stray_corner * lead

    across = crossing(GateNetwork.of(heater), 0.0 if heater.tapped else heater.chokes[0].capacitance)
    left, right = Bank.of(heater, "left"), Bank.of(heater, "right")
    chip_of_left, chip_of_right = device(left), device(right)

    def rates(state: State, feed_left: float, feed_right: float, supply: float | None) -> State:
        kl, gl, pl, dl, ql, kr, gr, pr, dr, qr = state
        chip_left, chip_right = (kl - gl) / left.gate_resistance, (kr - gr) / right.gate_resistance
        down_left, down_right = ql + (dl - pl) / lossy, qr + (dr - pr) / lossy
        dgl, dpl = chip_of_left(chip_left, gl, pl, down_left)
        dgr, dpr = chip_of_right(chip_right, gr, pr, down_right)
        dkr, ddl = across(chip_right, kr, dl, feed_left - down_left, supply)
        dkl, ddr = across(chip_left, kl, dr, feed_right - down_right, supply)
        return [dkl, dgl, dpl, ddl, (dl - pl) / lead, dkr, dgr, dpr, ddr, (dr - pr) / lead]

    return rates


def bus_voltage(heater: Heater) -> Callable[[float, float, float, float], tuple[float, float | None, float]]:
    """Of reservoir voltage, lead current less that of the chokes, and both gate nodes: the bus [V], what the pull-ups hang on,
    None for their own supply [V], and what they take from the bus [A].

    bus = vr + esr (il - sum(i_choke) - sum((bus - k)/Rup)), solved for the bus; the pull-ups' share only where they hang
    on it.
    """
    series, up = heater.supply.reservoir_resistance, heater.gate.pull_up

    def found(reservoir: float, left_over: float, kl: float, kr: float) -> tuple[float, float | None, float]:
        if not heater.gate.from_main:
            return reservoir + series * left_over, None, 0.0
        bus = (reservoir + series * (left_over + (kl + kr) / up)) / (1 + 2 * series / up)
        return bus, bus, (2 * bus - kl - kr) / up

    return found


def mean_current(heater: Heater) -> float:
    """Mean supply current [A] of the ideal stage, pi^2 V C r/(2 L)."""
    across_tank = heater.loaded_inductance / (heater.capacitors.capacitance * heater.loaded_resistance)
    return math.pi**2 * heater.supply.voltage / (2 * across_tank)


def core_stress(heater: Heater) -> tuple[float, float, float]:
    """Of a choke in the ideal stage: rms voltage [V], swing of flux linkage [Wb], their frequency [Hz] (reference file section 8).

    Across each of two chokes Vdc - pi Vdc sin+ has the rms Vdc sqrt(pi^2/4-1) and the swing 0.5511 Vdc/f; across the one
    choke Vdc - (pi/2) Vdc |sin| has Vdc sqrt(pi^2/8-1) and 0.10526 Vdc/f at twice the tank frequency.
    """
    v, f = heater.supply.voltage, heater.frequency
    if heater.tapped:
        return v * math.sqrt(math.pi**2 / 8 - 1), 0.105256831 * v / f, 2 * f
    return v * math.sqrt(math.pi**2 / 4 - 1), 0.551101966 * v / f, f


def core_resistance(heater: Heater, choke: Choke) -> float:
    """Core loss of the ideal stage as a resistance [ohm]."""
    return choke.core_loss_resistance(*core_stress(heater))


def mutual_inductance(heater: Heater) -> tuple[float, float, float, float]:
    """Coil without leads [H], mutual [H], workpiece inductance [H] and resistance [ohm]; no mutual when idle."""
    branch = heater.branch
    if branch is None:
        return heater.coil.inductance, 0.0, 1e-6, 1.0
    primary = branch.primary or heater.coil.inductance
    return primary, branch.coupling * math.sqrt(primary * branch.secondary), branch.secondary, branch.resistance


SIDES = (
    "node_left",
    "gate_left",
    "drain_left",
    "terminal_left",
    "down_left",
    "node_right",
    "gate_right",
    "drain_right",
    "terminal_right",
    "down_right",
)
TWO_CHOKE = ("lead", "reservoir", "flux_left", "flux_right", *SIDES, "bank", "bank_voltage", "coil", "work", "bar")


@dataclass(frozen=True)
class Copper:
    """A winding as resistors in series, some with an inductor beside them; what the inductors carry are states.

    together [ohm]: all resistors; resistors [ohm] and inductors [H] of the pairs
    """

    together: float
    resistors: tuple[float, ...]
    inductors: tuple[float, ...]

    @classmethod
    def of(cls, heater: Heater, choke: Choke) -> Copper:
        """Of a heater's choke."""
        ladder = heater.ladder(choke)
        resistors = tuple(cell.resistance for cell in ladder.cells)
        return cls(choke.resistance + sum(resistors), resistors, tuple(cell.inductance for cell in ladder.cells))

    def lift(self, inner: State) -> float:
        """Voltage [V] that the inductors' currents take off the drop of the winding's current in all resistors."""
        return sum(r * i for r, i in zip(self.resistors, inner, strict=True))

    def rates(self, current: float, inner: State) -> State:
        """Of the inductors' currents [A/s] at a current of the winding [A]."""
        return [r * (current - i) / size for r, size, i in zip(self.resistors, self.inductors, inner, strict=True)]


def state_names(heater: Heater) -> tuple[str, ...]:
    """Names of the states of a heater, those inside the windings last."""
    inner = [f"inner_{choke.side}_{k}" for choke in heater.chokes for k in range(len(Copper.of(heater, choke).resistors))]
    return (*(ONE_CHOKE if heater.tapped else TWO_CHOKE), *inner)


def two_choke(heater: Heater) -> Rates:
    """Right-hand side for the state in the order of `state_names`."""
    supply, bank, coil = heater.supply, heater.capacitors, heater.coil
    laws = [choke_law(choke) for choke in heater.chokes]
    left, right = (Copper.of(heater, choke) for choke in heater.chokes)
    split = len(left.resistors)
    core = [core_resistance(heater, choke) for choke in heater.chokes]
    primary, mutual, secondary, load = mutual_inductance(heater)
    own, series = primary + coil.lead_inductance, coil.resistance + coil.lead_resistance
    determinant = own * secondary - mutual**2
    bar = 2 * heater.bus_inductance
    lossy = 2 * math.pi * heater.stray_corner * bar
    stage, bus_of = bridge(heater), bus_voltage(heater)

    def rates(_time: float, state: State) -> State:
        lead, reservoir, yl, yr = state[:4]
        nodes, (ic, vc, i, iw, ib), inner = state[4:14], state[14:19], state[19:]
        il, ir = laws[0](yl)[0], laws[1](yr)[0]
        dl, dr = nodes[3], nodes[8]
        bus, hung, pulled = bus_of(reservoir, lead - il - ir, nodes[0], nodes[5])
        ul = (bus - dl - left.together * il + left.lift(inner[:split])) / (1 + left.together / core[0])
        ur = (bus - dr - right.together * ir + right.lift(inner[split:])) / (1 + right.together / core[1])
        il, ir = il + ul / core[0], ir + ur / core[1]
        through = ic + i
        drop = lossy * (through - ib)
        v = dl - dr - drop
        e, s = v - series * i, -load * iw
        return [
            (supply.voltage - supply.resistance * lead - bus) / supply.inductance,
            (lead - il - ir - pulled) / supply.reservoir,
            ul,
            ur,
            *stage(nodes, il - through, ir + through, hung),
            (v - bank.resistance * ic - vc) / bank.inductance,
            ic / bank.capacitance,
            (secondary * e - mutual * s) / determinant,
            (own * s - mutual * e) / determinant,
            drop / bar,
            *left.rates(il, inner[:split]),
            *right.rates(ir, inner[split:]),
        ]

    return rates


ONE_CHOKE = ("lead", "reservoir", "flux_centre", *SIDES, "bank", "bank_voltage", "coil", "work", "bar_left", "bar_right")


def one_choke(heater: Heater) -> Rates:
    """Right-hand side for the state in the order of `state_names`.

    The coil's halves (Lh each, coupled kh, 2 Lh (1+kh) = L) carry im -+ i_choke/2. Adding their voltages gives the tank,
    subtracting them the tap, which meets the halves' leakage Lh (1-kh) + Ll/2 in parallel twice, in series with the choke.
    """
    supply, bank, coil = heater.supply, heater.capacitors, heater.coil
    choke = heater.chokes[0]
    law, copper, core = choke_law(choke), Copper.of(heater, choke), core_resistance(heater, choke)
    primary, mutual, secondary, load = mutual_inductance(heater)
    own, series = primary + coil.lead_inductance, coil.resistance + coil.lead_resistance
    leak = primary * (1 - heater.half_coupling) / (2 * (1 + heater.half_coupling)) + coil.lead_inductance / 2
    determinant = own * secondary - mutual**2
    bar = heater.bus_inductance
    lossy = 2 * math.pi * heater.stray_corner * bar
    stage, bus_of = bridge(heater), bus_voltage(heater)

    def rates(_time: float, state: State) -> State:
        lead, reservoir, y = state[:3]
        nodes, (ic, vc, im, iw, bl, br), inner = state[3:13], state[13:19], state[19:]
        i, conductance = law(y)
        bus, hung, pulled = bus_of(reservoir, lead - i, nodes[0], nodes[5])
        out, back = ic + im - i / 2, -ic - im - i / 2
        drop_left, drop_right = lossy * (out - bl), lossy * (back - br)
        tl, tr = nodes[3] - drop_left, nodes[8] - drop_right
        driving = 2 * (bus - copper.together * i + copper.lift(inner)) - tl - tr - series / 2 * i
        u = driving / (2 + leak * conductance + 2 * copper.together / core)
        drawn = i + u / core
        v = tl - tr
        e, s = v - series * im, -load * iw
        return [
            (supply.voltage - supply.resistance * lead - bus) / supply.inductance,
            (lead - drawn - pulled) / supply.reservoir,
            u,
            *stage(nodes, (drawn - i) / 2 - out, (drawn - i) / 2 - back, hung),
            (v - bank.resistance * ic - vc) / bank.inductance,
            ic / bank.capacitance,
            (secondary * e - mutual * s) / determinant,
            (own * s - mutual * e) / determinant,
            drop_left / bar,
            drop_right / bar,
            *copper.rates(drawn, inner),
        ]

    return rates
