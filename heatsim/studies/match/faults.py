# SPDX-License-Identifier: GPL-3.0-or-later
"""The causes a capture is tried with, each with the fault models a bench meets and how far their parameters may go, and what may
differ from the scenario without being a fault: the nuisance parameters.

How likely a cause is a priori stands in `search`; every fault model of a cause is as likely as the others. The prior of a parameter
covers its range, on a logarithmic scale where it spans more than an octave, and is lower at the ends than in the middle. Ranges are
common practice, no source, unless a formula stands beside them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial

from heatsim.parts.choke import Choke
from heatsim.parts.curves import LinearCurve
from heatsim.parts.heater import Heater
from heatsim.parts.hysteresis import HystereticCurve
from heatsim.studies.match.damage_faults import damage_faults
from heatsim.studies.match.fault_model import (
    CAPACITOR,
    CONNECTION,
    GATE_DRIVE,
    GATE_RINGING,
    HEAVIER,
    LOAD,
    LOAD_OFF,
    LOOSE_LEAD,
    NOTHING,
    SATURATING,
    SUPPLY,
    TURN,
    WEAKER,
    FaultModel,
    FaultParameter,
    Values,
    ratio,
)
from heatsim.studies.match.parameters import ModelParameters


def fault_models(heater: Heater) -> tuple[FaultModel, ...]:
    """Every fault model that this circuit can have, nothing wrong first; those of the probe are in `probes`."""
    found = [FaultModel(NOTHING, NOTHING, (), lambda _: {}), *_gates(heater), *_tank(heater)]
    if _saturates(heater):
        found.append(_both_chokes([choke.side for choke in heater.chokes]))
    if _can_scale(heater) and len(heater.chokes) > 1:
        found += [fault for choke in heater.chokes for fault in _one_choke(choke.side)]
    alike = len(heater.chokes)
    found += [_loose_feed(choke.side, alike) for choke in heater.chokes]
    found += [_shorted_choke(choke, heater.frequency, alike) for choke in heater.chokes]
    return (*found, _shorted_coil(), *damage_faults(heater))


def _can_scale(heater: Heater) -> bool:
    """Whether the chokes' curves can be made weaker."""
    return not any(isinstance(choke.curve, HystereticCurve) for choke in heater.chokes)


def _saturates(heater: Heater) -> bool:
    """Whether the chokes' curves can give way earlier."""
    return _can_scale(heater) and not any(isinstance(choke.curve, LinearCurve) for choke in heater.chokes)


def _both_chokes(sides: list[str]) -> FaultModel:
    """Strength: inductance over the scenario's. Reach: current of half inductance, likewise."""
    own = (
        ratio("chokes.reach", "current at which both chokes give way, over the scenario's", 0.7, 0.08),
        ratio("chokes.strength", "inductance of both chokes, over the scenario's", 1.25, 0.35),
    )

    def changes(v: Values) -> ModelParameters:
        return {f"log_{name}_{side}": math.log(x) for name, x in zip(("reach", "strength"), v, strict=True) for side in sides}

    nuisance = ("ring", "reach")
    return FaultModel("both chokes saturate", SATURATING, own, changes, nuisance, grid=(7, 5))


def _one_choke(side: str) -> list[FaultModel]:
    """Of two. Fewer turns n: strength n^2, reach 1/n, copper n. A smaller or another ring: strength and reach below one."""
    turns = ratio(f"choke.{side}.turns", f"turns of the {side} choke, over the scenario's", 0.92, 0.4)
    ring = (
        ratio(f"choke.{side}.strength", f"inductance of the {side} choke, over the scenario's", 0.85, 0.2),
        ratio(f"choke.{side}.reach", f"current at which the {side} choke gives way, over the scenario's", 1.4, 0.18),
    )

    def fewer(v: Values) -> ModelParameters:
        n = math.log(v[0])
        return {f"log_strength_{side}": 2 * n, f"log_reach_{side}": -n, f"log_copper_{side}": n}

    def weaker(v: Values) -> ModelParameters:
        return {f"log_strength_{side}": math.log(v[0]), f"log_reach_{side}": math.log(v[1])}

    common = partial(FaultModel, cause=WEAKER, replaces=("ring_split",), sides=2)
    return [
        common(f"{side} choke with fewer turns", parameters=(turns,), changes=fewer),
        common(f"{side} choke on a weaker ring", parameters=ring, changes=weaker, grid=(6, 5)),
    ]


def _loose_feed(side: str, alike: int) -> FaultModel:
    """Resistance in the feed of one choke: from some ten times its copper."""
    label = f"resistance in the feed of the {side} choke"
    own = FaultParameter(f"choke.{side}.feed_resistance_ohm", label, "ohm", 0.05, 1.6)
    return FaultModel(f"loose feed of the {side} choke", CONNECTION, (own,), lambda v: {f"feed_{side}": v[0]}, sides=alike)


def _shorted_choke(choke: Choke, frequency: float, alike: int) -> FaultModel:
    """As the winding sees the turn, its impedance a hundredth to a third of the choke's own reactance; resistance from some tenth
    of that to more than it."""
    side, inductance = choke.side, choke.curve.inductance_zero
    reactance, seen = 2 * math.pi * frequency * inductance, f"of the turn, as the whole {side} winding sees it"
    own = (
        FaultParameter(f"choke.{side}.short_resistance_ohm", f"resistance {seen}", "ohm", 0.4 * reactance, 0.008 * reactance),
        FaultParameter(f"choke.{side}.short_inductance_h", f"leakage {seen}", "H", 0.6 * inductance, 0.05 * inductance),
    )
    names = f"short_resistance_{side}", f"short_inductance_{side}"
    return FaultModel(f"shorted turn in the {side} choke", TURN, own, lambda v: dict(zip(names, v, strict=True)), sides=alike)


def _shorted_coil() -> FaultModel:
    """10 to 55 % of the inductance cancelled, reactance of the turn 1.5 to 15 times its resistance."""
    own = (
        ratio("coil.turn_share", "share of the coil's inductance that the turn can cancel", 0.1, 0.55, True),
        ratio("coil.turn_quality", "reactance of the turn over its resistance", 15.0, 1.5),
    )
    names = "coil_turn_share", "coil_turn_ratio"
    return FaultModel("shorted turn in the coil", TURN, own, lambda v: dict(zip(names, v, strict=True)))


def _gates(heater: Heater) -> list[FaultModel]:
    """Late: pull-up and input capacitance take 0.17 to 0.6 of a half period. Weak: 3.2 to 1.2 V over the threshold. Ringing: gate
    loops of 60 to 500 nH with a quality of 1.1 to 7."""
    gate, switch = heater.gate, heater.switch
    charge = 1 / (2 * heater.frequency * switch.count * switch.input_capacitance)
    over = gate.supply_voltage - switch.threshold
    low = min(gate.supply_voltage, switch.threshold + 5.4)
    resistance = gate.resistor + switch.gate_resistance
    mild, bad = max(0.17 * charge, 1.4 * gate.pull_up), max(0.6 * charge, 3 * gate.pull_up)
    pull_up = FaultParameter("gate.pull_up_ohm", "pull-up of the gates", "ohm", mild, bad)
    mild, bad = min(3.4, 0.6 * over), min(1.2, 0.3 * over)
    drive = FaultParameter("gate.overdrive_v", "gate supply above the switches' threshold", "V", mild, bad)
    mild, bad = max(60e-9, 2 * gate.inductance), max(500e-9, 8 * gate.inductance)
    lead = FaultParameter("gate.inductance_h", "inductance of each gate loop", "H", mild, bad)
    quality = ratio("gate.loop_quality", "quality of the gate loop", 1.1, 7.0)

    def slow(v: Values) -> ModelParameters:
        return {"log_pull_up": math.log(v[0] / gate.pull_up)}

    def weak(v: Values) -> ModelParameters:
        return {"log_gate_supply": math.log((switch.threshold + v[0]) / gate.supply_voltage)}

    def high(v: Values) -> ModelParameters:
        return {"log_gate_supply": math.log(low / gate.supply_voltage), "threshold": low - v[0] - switch.threshold}

    def ringing(v: Values) -> ModelParameters:
        total = math.sqrt(v[0] / switch.input_capacitance) / v[1]
        return {"log_gate_inductance": math.log(v[0] / gate.inductance), "log_gate_resistor": math.log(total / resistance)}

    late = partial(FaultModel, cause=GATE_DRIVE, discrepancy=0.12)
    both = ("gate_supply", "threshold")
    return [
        late("gate pull-up too large", parameters=(pull_up,), changes=slow, replaces=("pull_up",)),
        late("gate supply too low", parameters=(drive,), changes=weak, replaces=both[:1]),
        late("threshold too high for the gate supply", parameters=(drive,), changes=high, replaces=both),
        FaultModel("gate leads ring", GATE_RINGING, (lead, quality), ringing, ("gate_resistor", "gate_inductance"), 0.2),
    ]


def _tank(heater: Heater) -> list[FaultModel]:
    """Resistances: up to the loaded coil's own. Heavy load: 1.45 to 3.6 times what the scenario's workpiece does to resistance, and
    0.35 to 1.25 of that to inductance: how one goes with the other depends on steel, gap and frequency. Foldback: a supply that
    gives way to 93 to 35 % of its voltage."""
    own = heater.loaded_resistance
    low, high = max(10e-3, 0.06 * own), max(0.09, 0.9 * own)
    least = min(0.5, 1 - 1 / heater.capacitors.count)
    lost = ratio("capacitors.share", "capacitance left, over the scenario's", 0.94, least, True)
    series = FaultParameter("capacitors.resistance_added_ohm", "series resistance of the bank, added", "ohm", low, high)
    lead = FaultParameter("coil.lead_resistance_added_ohm", "resistance between coil and capacitors, added", "ohm", low, high)
    load = (
        ratio("workpiece.share", "effect of the workpiece on resistance, over the scenario's", 1.45, 3.6),
        ratio("workpiece.inductance_share", "its effect on inductance over that on resistance, likewise", 1.25, 0.35, True),
    )
    left = ratio("supply.voltage", "voltage the supply holds, over the stated one", 0.93, 0.35, True)

    def loaded(v: Values) -> ModelParameters:
        return {"log_load": math.log(v[0]), "log_load_inductance": math.log(v[1])}

    return [
        FaultModel("less capacitance", CAPACITOR, (lost,), lambda v: {"log_capacitance": math.log(v[0])}, ("capacitance",)),
        FaultModel("series resistance in the bank", CAPACITOR, (series,), lambda v: {"capacitor_resistance": v[0]}),
        FaultModel(LOOSE_LEAD, CONNECTION, (lead,), lambda v: {"lead_resistance": v[0]}),
        *([FaultModel(HEAVIER, LOAD, load, loaded, ("load",), LOAD_OFF)] if heater.workpiece else []),
        FaultModel("supply voltage lower than stated", SUPPLY, (left,), lambda v: {"log_supply": math.log(v[0])}, ("supply",)),
    ]


@dataclass(frozen=True)
class NuisanceParameter:
    """A spread of sound parts: its name, standard deviation, and the changes of model parameters per unit of it."""

    name: str
    deviation: float
    changes: ModelParameters


def nuisance_parameters(heater: Heater) -> tuple[NuisanceParameter, ...]:
    """Ordinary spread of sound parts, normal law.

    Standard deviations: capacitors 2.5 %, coil 1.25 % (an LCR meter), its resistance 7 %, workpiece 10 %, the ratio of reactance to
    resistance of the branch that stands for it by a factor of 1.6 (how its resistance rises with frequency is not measured), powder
    rings 4 % in common and 1.4 % between two, the current at which they give way 3.5 %, how steeply they do 15 % (between points
    the law is one of many), copper 7 % between two, thresholds 0.1 V and 0.07 V between banks, gate supply 2 %, pull-up 2.5 % (5 %
    is its tolerance), gate resistance 8 % (the chip's own is hardly known), supply 0.25 % (a meter's 0.5 % at two of them).
    Switches against their typical figures: input capacitance 6 %, output capacitance 12 %, gate-drain charge 15 %, on-resistance 8
    %, transconductance 25 %; the voltage on whose scale the reverse capacitance falls by a factor of 1.4, because the model's law
    is one of many. Inductance of drain leads, gate loops, capacitors and bus 30 %: they are guessed. Common practice, no source.
    The same for every case of a circuit: a workpiece that is not there has no effect.
    """
    sides = [choke.side for choke in heater.chokes]
    two, scaled, bent = len(sides) == 2, _can_scale(heater), _saturates(heater)
    every: list[tuple[bool, str, float, ModelParameters]] = [
        (True, "capacitance", 0.025, {"log_capacitance": 1.0}),
        (True, "coil", 0.0125, {"log_coil": 1.0}),
        (True, "coil_resistance", 0.07, {"log_coil_resistance": 1.0}),
        (True, "load", 0.1, {"log_load": 1.0}),
        (True, "branch", 0.5, {"log_branch": 1.0}),
        (scaled, "ring", 0.04, {f"log_strength_{side}": 1.0 for side in sides}),
        (bent, "reach", 0.035, {f"log_reach_{side}": 1.0 for side in sides}),
        (bent, "steepness", 0.15, {f"log_steepness_{side}": 1.0 for side in sides}),
        (scaled and two, "ring_split", 0.014, {"log_strength_left": 0.5, "log_strength_right": -0.5}),
        (two, "copper_split", 0.07, {"log_copper_left": 0.5, "log_copper_right": -0.5}),
        (True, "threshold", 0.1, {"threshold": 1.0}),
        (True, "threshold_split", 0.07, {"threshold_split": 1.0}),
        (True, "gate_supply", 0.02, {"log_gate_supply": 1.0}),
        (True, "pull_up", 0.025, {"log_pull_up": 1.0}),
        (True, "gate_resistor", 0.08, {"log_gate_resistor": 1.0}),
        (True, "supply", 0.0025, {"log_supply": 1.0}),
        (True, "input_capacitance", 0.06, {"log_input_capacitance": 1.0}),
        (True, "output_capacitance", 0.12, {"log_output_capacitance": 1.0}),
        (True, "gate_drain_charge", 0.15, {"log_gate_drain_charge": 1.0}),
        (True, "miller_voltage", 0.35, {"log_miller_voltage": 1.0}),
        (True, "on_resistance", 0.08, {"log_on_resistance": 1.0}),
        (True, "transconductance", 0.25, {"log_transconductance": 1.0}),
        (True, "gate_inductance", 0.3, {"log_gate_inductance": 1.0}),
        (True, "drain_inductance", 0.3, {"log_drain_inductance": 1.0}),
        (True, "capacitor_inductance", 0.3, {"log_capacitor_inductance": 1.0}),
        (True, "bus_inductance", 0.3, {"log_bus_inductance": 1.0}),
    ]
    return tuple(NuisanceParameter(name, deviation, changes) for applies, name, deviation, changes in every if applies)
