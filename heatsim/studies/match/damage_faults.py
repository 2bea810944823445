# SPDX-License-Identifier: GPL-3.0-or-later
"""Fault models of damaged and wrong parts: open devices, mixed types, clamps, leaks, contacts, steel, taps, leads, ceramics, and
chokes too close together.

Most act nearly in proportion, so that four points along a parameter and the sound heater's sensitivities do. Ranges are common
practice, no source, unless a formula stands beside them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from heatsim.parts.damage import SIDES, voltage_coefficient
from heatsim.parts.heater import Heater
from heatsim.studies.match.fault_model import (
    AT_ITS_KNEE,
    BENT,
    CLAMP,
    COUPLED,
    INTERMITTENT,
    LEAKY,
    LOAD_OFF,
    OPEN,
    RESONANCE,
    SLOW_DIODES,
    STEEL,
    TAP,
    THRESHOLDS,
    FaultModel,
    FaultParameter,
    Values,
    ratio,
)
from heatsim.studies.match.parameters import ModelParameters

GATES_OFF = 0.12
"""Discrepancy of what acts through a threshold, as that of the gate drive."""

SHAPE_OFF = 0.1
"""Discrepancy of what bends a curve whose law is one of many: steel, ceramics, oxide films; an estimate."""

FEW = (4,)
"""Points along a parameter whose effect is nearly in proportion to it."""


def damage_faults(heater: Heater) -> tuple[FaultModel, ...]:
    """Those that this circuit can have."""
    peak = math.pi * heater.supply.voltage
    found = [*_banks(heater), *_clamps(heater), *_leaks(peak), _film(), *_taps(), _bent(peak), _slow_diodes(heater)]
    if heater.workpiece and not heater.tapped:
        found.append(_steel())
    return (*found, *([] if heater.tapped else [_leads(heater), *_coupled()]))


Changes = Callable[[Values], ModelParameters]


def _times(name: str, factor: float) -> Changes:
    """A model parameter that is the value times a factor."""
    return lambda v: {name: factor * v[0]}


def _logarithm(name: str) -> Changes:
    """A factor as its logarithm."""
    return lambda v: {name: math.log(v[0])}


def _inverse(name: str) -> Changes:
    """A conductance from the value as resistance."""
    return lambda v: {name: 1 / v[0]}


def _banks(heater: Heater) -> Iterator[FaultModel]:
    """Thresholds 0.4 to 2.2 V apart beyond what the scenario says."""
    for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
        apart = FaultParameter("switch.threshold_split_v", f"threshold of the {side} bank above the other's", "V", 0.4, 2.2)
        name, changes = f"higher threshold on the {side}", _times("threshold_split", sign)
        yield FaultModel(name, THRESHOLDS, (apart,), changes, ("threshold_split",), GATES_OFF, grid=FEW, sides=2)
        if heater.switch.count > 1:
            yield FaultModel(f"one device of the {side} bank open", OPEN, (), _one(f"open_devices_{side}"), (), GATES_OFF, sides=2)


def _one(name: str) -> Changes:
    return lambda _: {name: 1.0}


def _clamps(heater: Heater) -> Iterator[FaultModel]:
    """No clamps: seen only where the gate supply stands above them, 1.03 to 1.9 times. Leaky: the gate's high level pulled down to
    0.9 to 0.5 of itself, 1.5 V above the threshold at least."""
    gate = heater.gate
    high = FaultParameter(
        "gate.supply_v", "gate supply, with no clamps", "V", 1.03 * gate.clamp_voltage, 1.9 * gate.clamp_voltage, True
    )
    yield FaultModel(
        "no clamps and a high gate supply",
        CLAMP,
        (high,),
        lambda v: {"no_clamps": 1.0, "log_gate_supply": math.log(v[0] / gate.supply_voltage)},
        ("gate_supply",),
        GATES_OFF,
        grid=FEW,
    )
    level = min(gate.supply_voltage, gate.clamp_voltage)
    mild, bad = (gate.pull_up / (gate.supply_voltage / at - 1) for at in (0.9 * level, _lowest(heater, level)))
    for side in SIDES:
        leak = FaultParameter(f"gate.{side}.clamp_leakage_ohm", f"leak of the {side} gates' clamp", "ohm", mild, bad)
        name, changes = f"leaky clamp on the {side}", _inverse(f"clamp_leakage_{side}")
        yield FaultModel(name, CLAMP, (leak,), changes, (), GATES_OFF, grid=FEW, sides=2)


def _slow_diodes(heater: Heater) -> FaultModel:
    """Rectifier diodes between gates and opposite drains, with transit times of 0.25 to 2.5 us in place of a fast diode's tens of
    nanoseconds: they go on conducting when the drain rises, and hold the gate they have let go with it."""
    known = heater.gate.diode_recovery
    wait = FaultParameter(
        "gate.diode_recovery_s", "transit time of the gate diodes", "s", max(0.25e-6, 2 * known), max(2.5e-6, 20 * known)
    )
    return FaultModel(
        "slow diodes from gates to drains",
        SLOW_DIODES,
        (wait,),
        lambda v: {"log_diode_recovery": math.log(v[0] / known)},
        (),
        GATES_OFF,
        grid=(5,),
    )


def _lowest(heater: Heater, level: float) -> float:
    """Lowest high level [V] that a gate is pulled down to."""
    return min(max(0.5 * level, heater.switch.threshold + 1.5), 0.8 * level)


def _leaks(peak: float) -> Iterator[FaultModel]:
    """One that takes 8 to 400 W of a half sine every other half period, v^2/(4 R)."""
    mild, bad = (peak**2 / (4 * watts) for watts in (8.0, 400.0))
    for side in SIDES:
        leak = FaultParameter(f"switch.{side}.leakage_ohm", f"leak from the {side} drain to ground", "ohm", mild, bad)
        yield FaultModel(f"leak at the {side} drain", LEAKY, (leak,), _inverse(f"drain_leakage_{side}"), grid=FEW, sides=2)


def _film() -> FaultModel:
    """0.6 to 4 V."""
    drop = FaultParameter("coil.contact_drop_v", "voltage drop of an oxide film in the tank's leads", "V", 0.6, 4.0)
    return FaultModel(
        "oxide film in the tank's leads", INTERMITTENT, (drop,), lambda v: {"contact_drop": v[0]}, (), SHAPE_OFF, grid=FEW
    )


def _taps() -> Iterator[FaultModel]:
    """0.94 to 0.55 of the turns, or 1.06 to 1.5: the coil's impedance with and without workpiece by the square of it."""
    label = "turns of the coil in use, over the scenario's"
    for name, ends in (("too few turns of the coil in use", (0.94, 0.55)), ("too many turns of the coil in use", (1.06, 1.5))):
        own = ratio("coil.turns_in_use", label, *ends)
        changes = _logarithm("log_turns")
        yield FaultModel(name, TAP, (own,), changes, (), LOAD_OFF, grid=FEW)


def _bent(peak: float) -> FaultModel:
    """5 to 50 % lost at the peak of the ideal stage, pi V; as stated without voltage."""
    lost = ratio("capacitors.lost_at_peak", "capacitance lost at the tank's peak", 0.05, 0.5)
    return FaultModel(
        "capacitance falls with voltage",
        BENT,
        (lost,),
        lambda v: {"voltage_coefficient": voltage_coefficient(v[0], peak)},
        (),
        SHAPE_OFF,
        grid=(5,),
    )


def _steel() -> FaultModel:
    """Peak flux 0.6 to 2 times that of the knee. Reactance 2 to 0.2 times the eddy resistance: what a workpiece adds at working
    current differs from what a meter sees at small ones, more so the further its flux gives way."""
    own = (
        ratio("workpiece.flux", "peak flux of the steel, over that of its knee", 0.6, 2.0),
        ratio("workpiece.steel_reactance", "reactance of the steel at working current, over its eddy resistance", 2.0, 0.2),
    )
    return FaultModel(
        AT_ITS_KNEE, STEEL, own, lambda v: {"steel_depth": v[0], "log_steel_reactance": math.log(v[1])}, (), SHAPE_OFF, grid=(5, 5)
    )


def _coupled() -> Iterator[FaultModel]:
    """Two rings stacked or side by side: coupling factors of 5 to 30 %, one way round or the other."""
    for way, sign in (("adding", 1.0), ("opposing", -1.0)):
        factor = ratio("chokes.coupling", f"coupling factor of the feed chokes, {way}", 0.05, 0.3)
        yield FaultModel(f"coupled feed chokes, {way}", COUPLED, (factor,), _times("choke_coupling", sign), grid=FEW, sides=2)


def _leads(heater: Heater) -> FaultModel:
    """Leads with 6 to 35 % of the coil's inductance, longer than the scenario's, and 0.7 to 7 % of the bank's capacitance at the
    coil."""
    coil, bank, given = heater.coil, heater.capacitors.capacitance, heater.coil.lead_inductance
    mild = max(0.06 * coil.inductance, 1.5 * given)
    own = (
        FaultParameter(
            "coil.lead_inductance_h", "inductance of the coil's leads", "H", mild, max(0.35 * coil.inductance, 3 * mild)
        ),
        FaultParameter("coil.capacitance_f", "capacitance across the coil", "F", 0.007 * bank, 0.07 * bank),
    )
    return FaultModel(
        "long leads to a coil with a capacitance across it",
        RESONANCE,
        own,
        lambda v: {"log_lead_inductance": math.log(v[0] / given), "coil_capacitance": v[1]},
        grid=(4, 3),
    )
