# SPDX-License-Identifier: GPL-3.0-or-later
"""Heaters of several families, drawn from a scenario's nominal values: plain numbers [SI], the left side before the right.

A family is a law of the MOSFETs' channel with a law of their capacitances, a law of the chokes, and a kind of coil. Every family
meets the datasheet's figures and the meter's; what lies between these figures is its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from tests.support.foreign import laws
from tests.support.foreign.nominal import EXPONENT, Nominal

Pair = tuple[float, float]
Capacitance = tuple[float, float, float, float, float, float, float]
"""As `laws.charge` wants it."""

KELVIN = 8.617e-5
"""k/q [V/K]."""

NEVER = 1e9
"""Of a limit that is not there."""


@dataclass(frozen=True)
class Family:
    """device, choke: names of laws; coil: "coupled" or "skin"; learn: whether one may look at it while changing heatsim."""

    name: str
    device: str
    choke: str
    coil: str
    learn: bool


FAMILIES = (
    Family("A", laws.SQUARE, laws.RATIONAL, "coupled", True),
    Family("B", laws.SHEET, laws.STRETCHED, "skin", True),
    Family("C", laws.TABLE, laws.LADDER, "coupled", True),
    Family("D", laws.SHEET, laws.FROEHLICH, "coupled", True),
    Family("E", laws.SQUARE, laws.LADDER, "skin", False),
    Family("F", laws.SHEET, laws.RATIONAL, "coupled", False),
    Family("G", laws.TABLE, laws.STRETCHED, "skin", False),
    Family("H", laws.TABLE, laws.FROEHLICH, "coupled", False),
)


@dataclass(frozen=True)
class Heater:
    """One heater [SI]. Of one MOSFET each: strength, bend, body (ohm), thermal (V), capacitances, gate_inner (ohm), diode;
    `count` of them in a bank, not necessarily whole. choke_law's numbers: zero, air, at, power. cells: resistance beside
    inductance, in series with the coil (inductance of the three of the workpiece and of a shorted turn; 0 for none). Currents at
    which something begins: fold (the supply gives way by fold_ohms), work_knee (steel of the first cell saturates). contact: drop
    of a film contact in the tank [V] above contact_current. bank_bend: share of the bank's capacitance that is lost per volt
    squared. clamp: 1, or 0 if it is missing. turn_ohms, turn_inductance: in parallel with a choke's core, for a shorted turn.
    loss: parallel resistance of a core; cell_*: of a choke's R-L cell in series. coupling: of the two chokes, over their
    inductance at zero current; suppressor: voltage at which one from drain to ground conducts."""

    device: str
    choke: str
    supply: float
    supply_ohms: float
    supply_inductance: float
    fold: float
    fold_ohms: float
    reservoir: float
    reservoir_ohms: float
    zero: Pair
    air: Pair
    at: Pair
    power: Pair
    copper: Pair
    loss: Pair
    winding: Pair
    cell_ohms: Pair
    cell_inductance: Pair
    turn_ohms: Pair
    turn_inductance: Pair
    count: Pair
    threshold: Pair
    strength: float
    bend: float
    body: float
    thermal: float
    gate_source: float
    gate_drain: Capacitance
    drain_source: Capacitance
    gate_inner: float
    drain_inductance: float
    leak: Pair
    diode_saturation: float
    diode_scale: float
    diode_ohms: float
    diode_transit: float
    gate_supply: float
    pull_up: Pair
    pull_down: float
    clamp: Pair
    clamp_voltage: float
    clamp_capacitance: float
    resistor: float
    gate_inductance: float
    fast_saturation: float
    fast_scale: float
    fast_ohms: float
    fast_capacitance: float
    fast_transit: float
    bank: float
    bank_ohms: float
    bank_inductance: float
    bank_bend: float
    bar_inductance: float
    stray_corner: float
    lead_inductance: float
    lead_ohms: float
    lead_capacitance: float
    contact: float
    contact_current: float
    coil: float
    coil_ohms: float
    cells_ohms: tuple[float, float, float, float]
    cells_inductance: tuple[float, float, float, float]
    work_knee: float
    coupling: float
    suppressor: Pair

    @property
    def frequency(self) -> float:
        """A guess of the tank's frequency [Hz]: undamped, with half of what the cells hold."""
        whole = self.coil + self.lead_inductance + 0.5 * sum(self.cells_inductance[:3])
        return 1 / (2 * math.pi * math.sqrt(whole * self.bank))


def impedance(heater: Heater, frequency: float) -> complex:
    """Of coil and workpiece, without leads [ohm]."""
    s = 2j * math.pi * frequency
    cells = zip(heater.cells_ohms, heater.cells_inductance, strict=True)
    return heater.coil_ohms + s * heater.coil + sum(s * henry * ohms / (ohms + s * henry) for ohms, henry in cells)


def measured(heater: Heater, frequency: float) -> dict[str, float]:
    """What meters would say of the parts [SI], coil and workpiece at a frequency [Hz]: supply, bank, both chokes at small current,
    the loop of coil, leads and bank, its Q, and the mean pull-up."""
    coil, omega = impedance(heater, frequency), 2 * math.pi * frequency
    henry, ohms = coil.imag / omega + heater.lead_inductance, coil.real + heater.lead_ohms + heater.bank_ohms
    return {
        "supply": heater.supply,
        "bank": heater.bank,
        "choke_left": heater.zero[0],
        "choke_right": heater.zero[1],
        "loop_inductance": henry,
        "loop_ohms": ohms,
        "quality": omega * henry / ohms,
        "pull_up_mean": sum(heater.pull_up) / 2,
    }


def spread(generator: np.random.Generator, share: float) -> float:
    """A factor of the normal law with two standard deviations at `share`, cut there."""
    return 1 + share * float(np.clip(generator.normal(0, 0.5), -1, 1))


def even(generator: np.random.Generator, low: float, high: float) -> float:
    """Even on a logarithmic scale."""
    return float(low * (high / low) ** generator.random())


def sound(nominal: Nominal, family: Family, generator: np.random.Generator) -> Heater:
    """A heater without fault. Two standard deviations, cut there (common practice, no source): supply 0.5 % (it is measured),
    reservoir 20 % (an electrolytic's), its resistance 30 %; the rest at the parts below."""
    g = generator
    return Heater(
        device=family.device,
        choke=family.choke,
        supply=nominal.supply_voltage * spread(g, 0.005),
        supply_ohms=nominal.supply_resistance * spread(g, 0.2),
        supply_inductance=nominal.supply_inductance * spread(g, 0.3),
        fold=NEVER,
        fold_ohms=0.0,
        reservoir=nominal.reservoir * spread(g, 0.2),
        reservoir_ohms=nominal.reservoir_resistance * spread(g, 0.3),
        **_chokes(nominal, family, g),
        **_banks(nominal, family, g),
        **_gates(nominal, g),
        **_tank(nominal, family, g),
    )


def _chokes(n: Nominal, family: Family, g: np.random.Generator) -> dict[str, object]:
    """Rings 8 % in common (a catalogue's tolerance; memory) and 2 % between two; the current at which they give way 5 %; copper
    10 %. The law keeps at the mean current what the powder's own curve keeps there, within 2 % of it. Core loss: a resistance of 25
    to 60 times the reactance; a ladder has a cell of 1 to 3 % of L0 with its corner at 0.2 to 2 MHz besides, the others one of
    0.1 %."""
    common, reach = spread(g, 0.08), spread(g, 0.05)
    pair = [common * spread(g, 0.02) for _ in range(2)]
    left = 1 / (1 + (n.choke_current / n.choke_half_current / reach) ** EXPONENT) * spread(g, 0.02)
    power = {laws.RATIONAL: EXPONENT, laws.LADDER: EXPONENT, laws.STRETCHED: 1.5, laws.FROEHLICH: 1.0}[family.choke] * spread(
        g, 0.04
    )
    at = laws.scale_of(family.choke, min(left, 0.97), n.choke_current, power, n.choke_air / n.choke_inductance)
    zero = [n.choke_inductance * factor for factor in pair]
    share = even(g, 0.01, 0.03) if family.choke == laws.LADDER else 1e-3
    corner = even(g, 0.2e6, 2e6)
    return {
        "zero": tuple(zero),
        "air": (n.choke_air, n.choke_air),
        "at": (at, at),
        "power": (power, power),
        "copper": tuple(n.choke_copper * spread(g, 0.1) for _ in range(2)),
        "loss": (2 * math.pi * n.frequency * n.choke_inductance * even(g, 25, 60),) * 2,
        "winding": (n.choke_capacitance * spread(g, 0.3),) * 2,
        "cell_inductance": tuple(share * value for value in zero),
        "cell_ohms": tuple(2 * math.pi * corner * share * value for value in zero),
        "turn_ohms": (1e7, 1e7),
        "turn_inductance": (1e-6, 1e-6),
    }


def _banks(n: Nominal, family: Family, g: np.random.Generator) -> dict[str, object]:
    """The stated threshold is that of 1 mA in a warm chip, as a datasheet has it; junctions within 15 K of 65 degC, 6 mV/K (memory:
    5 to 8); lots within 0.1 V, the two banks within 0.1 V of what the scenario says; transconductance 6 %, on resistance 8 %,
    capacitances 6 %. Slope and body: of the law, so that on resistance and transconductance come out."""
    celsius = 65 + 15 * float(g.uniform(-1, 1))
    thermal = KELVIN * (celsius + 273)
    middle = n.threshold - 6e-3 * (celsius - 65) + 0.1 * (spread(g, 1) - 1)
    split = n.threshold_spread + 0.1 * (spread(g, 1) - 1)
    strength, bend, body, shift = _channel(n, family.device, thermal, spread(g, 0.06), spread(g, 0.08))
    crss = n.reverse_capacitance * spread(g, 0.06)
    gate_drain = miller(family.device, crss, n.capacitance_voltage, n.gate_drain_charge * spread(g, 0.06), swing(n), g)
    scale = 1.2 * thermal
    return {
        "count": (float(n.count),) * 2,
        "threshold": (middle + shift + split / 2, middle + shift - split / 2),
        "strength": strength,
        "bend": bend,
        "body": body,
        "thermal": thermal,
        "gate_source": n.input_capacitance * spread(g, 0.06) - crss,
        "gate_drain": gate_drain,
        "drain_source": output(family.device, n.output_capacitance * spread(g, 0.06) - crss, n.capacitance_voltage, g),
        "gate_inner": n.gate_resistance * spread(g, 0.2),
        "drain_inductance": 5e-9 * spread(g, 0.4),
        "leak": (1e-6, 1e-6),
        "diode_saturation": 20 * math.exp(-0.93 / scale),
        "diode_scale": scale,
        "diode_ohms": 3.5e-3,
        "diode_transit": 150e-9 * spread(g, 0.4),
    }


def _channel(n: Nominal, law: str, thermal: float, steeper: float, more: float) -> tuple[float, float, float, float]:
    """Strength, bend [1/V], body [ohm] and what is added to the threshold at 1 mA [V]. At the transconductance's current:
    sqrt(2 k I) for the plain square; with a bend of 2 % a volt a little less, which strength makes good; the sheet's k is n times
    as large."""
    g, current, over = n.transconductance * steeper, n.transconductance_current, n.on_gate_voltage - n.threshold
    plain = g**2 / (2 * current)
    if law == laws.TABLE:
        factor = (g / current) / (70.0 / 40.0)
        zero = np.zeros(1)
        slope = laws.table(np.array([over]), zero + 1e-6, np.ones(1) * factor, zero, zero, zero)[2][0]
        return factor, 0.0, max(n.on_resistance * more - 1 / float(slope), 0.3 * n.on_resistance), 0.0
    if law == laws.SHEET:
        strength = plain * laws.SLOPE_FACTOR
        weak = math.sqrt(1e-3 / (2 * laws.SLOPE_FACTOR * strength * thermal**2))
        shift = -laws.SLOPE_FACTOR * thermal * 2 * math.log(math.expm1(weak))
        return strength, 0.0, max(n.on_resistance * more - 1 / (strength * over), 0.3 * n.on_resistance), shift
    bend, strength = 0.02, plain * 1.03
    channel = (1 + bend * over) / (strength * over)
    return strength, bend, max(n.on_resistance * more - channel, 0.3 * n.on_resistance), -math.sqrt(2e-3 / strength)


def swing(n: Nominal) -> Pair:
    """Drain over gate [V] at both ends of a gate-charge test: the gate on its plateau, Vt + 2 I/g of a square law, while the drain
    falls from half its rating (common practice, no source) to I Rds(on)."""
    plateau = n.threshold + 2 * n.transconductance_current / n.transconductance
    return n.transconductance_current * n.on_resistance - plateau, n.voltage_rating / 2 - plateau


def miller(device: str, crss: float, at: float, total: float, ends: Pair, g: np.random.Generator) -> Capacitance:
    """Gate-drain capacitance with `crss` [F] at a voltage and `total` charge [C] between its test's ends: a graded junction for
    the square law, a trench's step at 5 to 9 V for the sheet, and for the table one that falls steeply at 10 to 16 V as charge
    balance makes it."""

    def over(law: list[float]) -> float:
        low, high = (float(laws.charge(np.array(v), np.array(law))[0]) for v in ends)
        return high - low

    if device == laws.SQUARE:
        potential = even(g, 4.0, 12.0)
        base = 1 + at / potential
        grading = float(brentq(lambda m: over([crss * base**m, potential, m, 0.0, 1.0, 1.0, 0.0]) - total, 1.05, 8.0))
        return (crss * base**grading, potential, grading, 0.0, 1.0, 1.0, 0.0)
    steep = device == laws.TABLE
    place, width = (even(g, 10.0, 16.0), even(g, 1.2, 2.5)) if steep else (even(g, 5.0, 9.0), even(g, 3.0, 5.0))
    bare = crss * (0.6 * math.sqrt(1 + at) if steep else 0.0)
    shape, junction = [0.0, 1.0, 0.5, 1.0, place, width, 0.0], [bare, 1.0, 0.5, 0.0, 1.0, 1.0, 0.0]
    left, rest = (float(laws.charge(np.array(at), np.array(law))[1]) for law in (shape, junction))
    length = ends[1] - ends[0]
    step = (total - over(junction) - (crss - rest) * length) / (over(shape) - left * length)
    return (bare, 1.0, 0.5, step, place, width, crss - rest - step * left)


def output(device: str, value: float, at: float, g: np.random.Generator) -> Capacitance:
    """Drain-source capacitance with `value` [F] at a voltage: an abrupt junction; a flatter one with a trench's small step; one
    that loses 0.8 to 1.6 nF at 11 to 17 V."""
    if device == laws.SQUARE:
        return (value * math.sqrt(1 + at / 0.8), 0.8, 0.5, 0.0, 1.0, 1.0, 0.0)
    steep = device == laws.TABLE
    step, place, width = (even(g, 0.8e-9, 1.6e-9), even(g, 11.0, 17.0), 2.0) if steep else (0.3 * value, even(g, 6.0, 10.0), 4.0)
    potential, grading = 1.0, 0.5 if steep else 0.35
    left = step * (1 - math.tanh((at - place) / width)) / 2
    return ((value - left) * (1 + at / potential) ** grading, potential, grading, step, place, width, 0.0)


def _gates(n: Nominal, g: np.random.Generator) -> dict[str, object]:
    """Gate supply 3 %, resistors 5 % (their tolerance), the pull-ups, of one lot, 5 % in common and 2 % between two, loops 30 %,
    clamp 5 %. Fast diode: its drop at 1 A, emission 1.6, 50 mohm."""
    common = spread(g, 0.05)
    pull_up = [n.pull_up * common * spread(g, 0.02) for _ in range(2)]
    scale = 1.6 * KELVIN * 310
    return {
        "gate_supply": n.gate_supply * spread(g, 0.03),
        "pull_up": tuple(pull_up),
        "pull_down": n.pull_down,
        "clamp": (1.0, 1.0),
        "clamp_voltage": n.clamp_voltage * spread(g, 0.05),
        "clamp_capacitance": 200e-12 * spread(g, 0.3),
        "resistor": n.resistor * spread(g, 0.05),
        "gate_inductance": n.gate_inductance * spread(g, 0.3),
        "fast_saturation": math.exp(-(n.diode_drop * spread(g, 0.03) - 0.05) / scale),
        "fast_scale": scale,
        "fast_ohms": 0.05,
        "fast_capacitance": 30e-12 * spread(g, 0.4),
        "fast_transit": 30e-9 * spread(g, 0.5),
    }


def _tank(n: Nominal, family: Family, g: np.random.Generator) -> dict[str, object]:
    """Capacitors 4 %, their loss 30 %, coil 2 %, workpiece 15 %, strays 30 %; 100 pF across the coil. The coil with its workpiece
    is what the meter saw at 100 kHz; above and below that it is a transformer with two short-circuited windings, or a ladder of
    three cells a factor of 8.5 apart whose resistance grows with the square root of frequency, as a thick conductor's does."""
    omega, bank = 2 * math.pi * 100e3, n.bank_capacitance * spread(g, 0.04)
    more = (n.work_resistance - n.coil_resistance) * spread(g, 0.15)
    if family.coil == "coupled":
        corners, weights = np.array([even(g, 0.6, 1.6), 1 / even(g, 3.0, 8.0), 1.0]), np.array([1.0, even(g, 0.05, 0.3), 0.0])
        share = weights / weights.sum()
        ohms = more * share * (1 + corners**2)
    else:
        corners = np.array([0.13, 1.1, 9.5]) * even(g, 0.85, 1.2)
        ohms = np.sqrt(corners)
        ohms *= more / np.sum(ohms / (1 + corners**2))
    inductance = ohms / (omega * corners)
    seen = float(np.sum(inductance * corners**2 / (1 + corners**2)))
    return {
        "bank": bank,
        "bank_ohms": n.loss_factor * spread(g, 0.3) / (2 * math.pi * n.frequency * bank),
        "bank_inductance": n.bank_inductance * spread(g, 0.3),
        "bank_bend": 0.0,
        "bar_inductance": n.bar_inductance * spread(g, 0.3),
        "stray_corner": even(g, 5e6, 2e7),
        "lead_inductance": n.lead_inductance * spread(g, 0.2),
        "lead_ohms": n.lead_resistance * spread(g, 0.3),
        "lead_capacitance": 100e-12,
        "contact": 0.0,
        "contact_current": 1.0,
        "coil": n.work_inductance * spread(g, 0.02) - seen,
        "coil_ohms": n.coil_resistance * spread(g, 0.1),
        "cells_ohms": (*np.where(ohms > 0, ohms, 1.0).tolist(), 1.0),
        "cells_inductance": (*inductance.tolist(), 0.0),
        "work_knee": NEVER,
        "coupling": 0.0,
        "suppressor": (NEVER, NEVER),
    }
