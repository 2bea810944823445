# SPDX-License-Identifier: GPL-3.0-or-later
"""The curves that a datasheet prints, of the netlist's model: capacitances, output and transfer curves, and the gate-charge test.

Closed forms of the netlist's VDMOS with its parameters (`parts.mosfet_model`); the currents stand behind drain and source
resistance and are found by bisection. The body diode, which carries current only below zero volts, is left out.
"""

from __future__ import annotations

import math

import numpy as np

from heatsim.parts.mosfet_model import TRANSFER_VOLTAGE, DatasheetPoint, channel, datasheet_points, gate_drain, vdmos_parameters
from heatsim.parts.switch import Switch
from heatsim.physics.mosfet import channel_current, effective_overdrive
from heatsim.physics.numeric import FloatArray as Array

STEPS = 60
"""Halvings of a bracket."""


def capacitances(switch: Switch, drain_voltage: float | Array) -> tuple[Array, Array, Array]:
    """Input, output and reverse capacitance [F] of a device at drain voltages [V], the gate at its source.

    Ciss = Cgs + Cgd, Coss = Cds + Cgd, Crss = Cgd(-v), Cds = Cjo/(1 + v/Vj)^m.
    """
    p, v = vdmos_parameters(switch), np.asarray(drain_voltage, dtype=float)
    curve = gate_drain(switch, channel(switch))
    reverse = np.vectorize(curve.capacitance, otypes=[float])(-v)
    junction = p["cjo"] / (1 + v / p["vj"]) ** p["m"]
    return p["cgs"] + reverse, junction + reverse, reverse


def drain_current(switch: Switch, gate_voltage: float | Array, drain_voltage: float | Array) -> Array:
    """Drain current [A] of a device at gate and drain voltages [V] at its leads.

    Root of i = Id(u, vd - i (Rd + Rs)), u the overdrive at vg - i Rs; Id rises with both, so the root is the only one.
    """
    p = vdmos_parameters(switch)
    gate, drain = np.broadcast_arrays(np.asarray(gate_voltage, dtype=float), np.asarray(drain_voltage, dtype=float))

    def channel_at(i: Array) -> Array:
        over = effective_overdrive(gate - i * p["rs"] - p["vto"], p["ksubthres"])
        inside = np.maximum(drain - i * (p["rd"] + p["rs"]), 0.0)
        return np.asarray(channel_current(over, inside, p["kp"], 0.0, p["lambda"], p["mtriode"]))

    low, high = np.zeros(gate.shape), np.maximum(channel_at(np.zeros(gate.shape)), 1e-15)
    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        below = channel_at(middle) > middle
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray(0.5 * (low + high))


def gate_voltage(switch: Switch, current: float, drain_voltage: float = TRANSFER_VOLTAGE) -> float:
    """Gate voltage [V] at which a device carries a current [A] at a drain voltage [V]; bisection up to 40 V."""
    p, low, high = vdmos_parameters(switch), 0.0, 40.0
    inside = max(drain_voltage - current * (p["rd"] + p["rs"]), 0.0)
    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        over = effective_overdrive(middle - current * p["rs"] - p["vto"], p["ksubthres"])
        carried = channel_current(over, inside, p["kp"], 0.0, p["lambda"], p["mtriode"])
        low, high = (middle, high) if carried < current else (low, middle)
    return 0.5 * (low + high)


def total_gate_charge(switch: Switch) -> float:
    """Charge [C] that takes the gate from 0 V to the on-resistance's gate voltage in the gate-charge test.

    Cgs over the gate's swing, and the gate-drain capacitance from the drain's voltage off to the drop of the transconductance's
    current in the channel; as in `mosfet_model.swing`, behind the drain resistance.
    """
    law, p = channel(switch), vdmos_parameters(switch)
    on, current = switch.on_gate_voltage, switch.transconductance_current
    across = current * max(switch.on_resistance - law.drain, 0.0)
    curve = gate_drain(switch, law)
    return p["cgs"] * on + curve.charge(-switch.gate_drain_charge_voltage, on - across)


def curve_points(switch: Switch) -> tuple[DatasheetPoint, ...]:
    """The points read off the datasheet's curves against the model; none for a user's own model.

    A transfer point is compared by the gate voltage at its current: near the threshold a current says little.
    """
    if switch.user_model:
        return ()
    curves, points = switch.curves, []
    for volts, *given in curves.capacitance:
        for name, sheet, model in zip(("input", "output", "reverse"), given, capacitances(switch, volts), strict=True):
            points.append(DatasheetPoint(f"{name} capacitance at {volts:g} V", "F", sheet, float(model)))
    for gate, current in curves.transfer:
        points.append(DatasheetPoint(f"gate voltage at {current:g} A", "V", gate, gate_voltage(switch, current)))
    if curves.plateau_voltage:
        plateau = channel(switch).plateau(switch.transconductance_current)
        points.append(DatasheetPoint("plateau of the gate", "V", curves.plateau_voltage, plateau))
    if curves.gate_charge:
        points.append(DatasheetPoint("gate charge in all", "C", curves.gate_charge, total_gate_charge(switch)))
    return tuple(each for each in points if each.given > 0 and math.isfinite(each.model))


def compared_points(switch: Switch) -> tuple[DatasheetPoint, ...]:
    """Every point that the model is compared with: the figures, then those of the curves; none for a user's own model."""
    return (*datasheet_points(switch), *curve_points(switch))
