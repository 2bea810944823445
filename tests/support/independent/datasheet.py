# SPDX-License-Identifier: GPL-3.0-or-later
"""A MOSFET's law from the figures of its datasheet, worked out anew: no function of heatsim, roots and integrals by SciPy.

The forms are the ones heatsim states as its choices: square law behind Rd and Rs with a tail w ln(1 + exp(x/w)) below threshold,
w = 0.1 V; gate-drain capacitance with tanh above and arctangent below zero, a quarter of Crss at the least; source resistance 15 %
of what the channel leaves of Rds(on), but a quarter of 1/gfs at the most; the channel three quarters of Rds(on) at the most. A
miller_voltage of the heater is not read: what the two points of the gate-drain capacitance say is solved here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq

from heatsim.parts.switch import Switch

TAIL, MODULATION, TEST_VOLTAGE, EMISSION = 0.1, 1e-3, 10.0, 1.2
BOLTZMANN_OVER_CHARGE = 8.617333262e-5
"""[V/K]; CODATA 2018."""


@dataclass(frozen=True)
class Figures:
    """Of one device, SI: threshold, stiffness [A/V2], modulation, triode factor, drain and source resistance; saturation current,
    emission and bulk resistance of the diode; depletion: Coss - Crss at 0 V; least, most and steepness [1/V] of the gate-drain
    capacitance; gate_source capacitance; plateau: gate voltage in the gate-charge test."""

    threshold: float
    stiffness: float
    modulation: float
    triode: float
    drain: float
    source: float
    saturation: float
    emission: float
    bulk: float
    depletion: float
    least: float
    most: float
    steepness: float
    gate_source: float
    plateau: float


def softplus(x: float) -> float:
    """The channel's overdrive at a gate voltage above threshold."""
    return TAIL * float(np.logaddexp(0.0, x / TAIL))


def saturated(gate: float, threshold: float, stiffness: float, source: float, drain_voltage: float = TEST_VOLTAGE) -> float:
    """Drain current at a gate voltage, by the root of i = K u(vg - i Rs - Vt)^2/2."""

    def excess(i: float) -> float:
        return i - 0.5 * stiffness * (1 + MODULATION * drain_voltage) * softplus(gate - i * source - threshold) ** 2

    top = 0.5 * stiffness * (1 + MODULATION * drain_voltage) * softplus(gate - threshold) ** 2
    return float(brentq(excess, 0.0, top * 1.01 + 1e-12, xtol=1e-13, rtol=1e-13))


def slope_at(current: float, stiffness: float, source: float) -> tuple[float, float]:
    """Slope [S] of the transfer curve by a small difference, and the gate voltage over threshold, at a drain current."""

    def excess(gate: float) -> float:
        return saturated(gate, 0.0, stiffness, source) - current

    over = float(brentq(excess, -1.0, 60.0, xtol=1e-12))
    step = 1e-4
    return (excess(over + step) - excess(over - step)) / (2 * step), over


@lru_cache(maxsize=64)
def figures(switch: Switch) -> Figures:
    """The law that meets every point; raises ValueError (of brentq) where there is none."""
    sheet, current, crss = switch, switch.transconductance_current, switch.reverse_capacitance

    def split(stiffness: float) -> tuple[float, float, float, float]:
        """Threshold, triode factor, drain and source resistance at a stiffness."""
        threshold = sheet.threshold
        if sheet.threshold_current:
            threshold -= float(
                brentq(lambda over: saturated(over, 0.0, stiffness, 0.0) - sheet.threshold_current, -1.5, 9.0, xtol=1e-12)
            )
        channel = 1 / (stiffness * softplus(sheet.on_gate_voltage - threshold))
        factor = max(1.0, channel / (0.75 * sheet.on_resistance))
        rest = sheet.on_resistance - channel / factor
        source = min(0.15 * rest, 0.25 / sheet.transconductance)
        return threshold, factor, rest - source, source

    middle = math.log(sheet.transconductance**2 / (2 * current))
    stiffness = math.exp(
        brentq(
            lambda log: slope_at(current, math.exp(log), split(math.exp(log))[3])[0] / sheet.transconductance - 1,
            middle - 0.3,
            middle + 3.0,
            xtol=1e-9,
        )
    )
    threshold, factor, drain, source = split(stiffness)
    plateau = threshold + slope_at(current, stiffness, source)[1]
    start = plateau + current * drain - sheet.gate_drain_charge_voltage
    least, most, steepness = gate_drain(sheet, start, plateau_end(sheet, plateau, stiffness * factor, threshold, source))
    bulk = min(0.2 * sheet.on_resistance, 0.5 * sheet.diode_drop / sheet.diode_current)
    drop = (sheet.diode_drop - sheet.diode_current * bulk) / (EMISSION * BOLTZMANN_OVER_CHARGE * 300.15)
    return Figures(
        threshold=threshold,
        stiffness=stiffness,
        modulation=MODULATION,
        triode=factor,
        drain=drain,
        source=source,
        saturation=sheet.diode_current * math.exp(-drop) / (1 - math.exp(-drop)),
        emission=EMISSION,
        bulk=bulk,
        depletion=(sheet.output_capacitance - crss) * math.sqrt((sheet.capacitance_voltage + 0.8) / 0.8),
        least=least,
        most=most,
        steepness=steepness,
        gate_source=sheet.input_capacitance - crss,
        plateau=plateau,
    )


def shape(v: float, steepness: float) -> float:
    """Share of the step from least to most at a voltage from gate to drain."""
    bend = math.tanh(steepness * v) if v > 0 else math.atan(steepness * v)
    return (bend + math.pi / 2) / (1 + math.pi / 2)


def plateau_end(sheet: Switch, plateau: float, stiffness: float, threshold: float, source: float) -> float:
    """Gate to inner drain [V] where a gate-charge curve's last straight line meets its plateau.

    The line is the tangent at the on-resistance's gate voltage G. There the inner drain stands at i (Rs + 1/(K (G - Vt))).
    """
    current, on = sheet.transconductance_current, sheet.on_gate_voltage

    def apart(gate: float) -> float:
        return gate - current * (source + 1 / (stiffness * softplus(gate - threshold)))

    slope = (apart(on + 1e-4) - apart(on - 1e-4)) / 2e-4
    return apart(on) - slope * (on - plateau)


def gate_drain(sheet: Switch, start: float, end: float) -> tuple[float, float, float]:
    """Least, most and steepness of the gate-drain capacitance through Crss and the charge between two voltages."""
    least = 0.25 * sheet.reverse_capacitance

    def step(steepness: float) -> float:
        """Most - least by the charge."""
        edges = [*(x / steepness for x in (-100, -10, -1, 0, 1, 10) if start < x / steepness < end)]
        area, _ = quad(shape, start, end, args=(steepness,), points=edges or None, limit=400, epsrel=1e-10)
        return float((sheet.gate_drain_charge - least * (end - start)) / area)

    def excess(log: float) -> float:
        steepness = math.exp(log)
        return least + step(steepness) * shape(-sheet.capacitance_voltage, steepness) - sheet.reverse_capacitance

    steepness = math.exp(brentq(excess, math.log(0.02), math.log(100.0), xtol=1e-10))
    return least, least + step(steepness), steepness
