# SPDX-License-Identifier: GPL-3.0-or-later
"""The causes a capture is tried with, each with the fault models a bench meets, and how far their parameters may go.

A priori every cause is as likely as the others, and so is every fault model of a cause. The prior of a parameter covers its range,
on a logarithmic scale where it spans more than an octave, and is lower at the ends than in the middle. Ranges are common practice,
no source, unless a formula stands beside them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from heatsim.parts.curves import LinearCurve
from heatsim.parts.heater import Heater
from heatsim.parts.hysteresis import HystereticCurve
from heatsim.studies.match.parameters import ModelParameters

SATURATING, WEAKER = "both chokes saturating", "one choke weaker than the other"
GATE_RINGING, GATE_DRIVE = "gate ringing", "late or weak gate drive"
LOAD, SUPPLY = "heavy load", "supply ripple or foldback"
CAPACITOR, TURN = "tank capacitor failing or bank unequal", "shorted turn in choke or coil"
CONNECTION, PROBE, NOTHING = "loose connection", "probe or scope", "nothing wrong"
CAUSES = (NOTHING, SATURATING, WEAKER, GATE_RINGING, GATE_DRIVE, LOAD, SUPPLY, CAPACITOR, TURN, CONNECTION, PROBE)


@dataclass(frozen=True)
class FaultParameter:
    """A quantity that a fault is about.

    key, label, unit: as in `FittedQuantity`
    mild, bad: ends of its range [SI], mild being nearer to nothing wrong
    even: spread evenly instead of logarithmically
    """

    key: str
    label: str
    unit: str
    mild: float
    bad: float
    even: bool = False

    def value(self, u: float) -> float:
        """Value at a place in the range, 0 mild to 1 bad."""
        if self.even:
            return self.mild + u * (self.bad - self.mild)
        return self.mild * math.exp(u * math.log(self.bad / self.mild))


@dataclass(frozen=True)
class FaultModel:
    """One way in which a cause shows.

    name, cause: in words
    parameters: none to two
    changes: of the model parameters, from values of `parameters`
    replaces: nuisance parameters that the fault's own parameters stand for
    discrepancy: share of its effect on the lines by which the model may be off
    anchors: how often the sensitivities to the nuisance parameters are simulated anew, where the fault changes them (0 to 2)
    grid: points along the parameters, where the usual ones are too few
    keeps: nuisance parameters whose sensitivities are not simulated anew, since it changes them by less than 0.3e-4 of the
        fundamental a standard deviation (measured)
    sides: how many models are the same but for the side, this one among them; together they are as likely as any other
    """

    name: str
    cause: str
    parameters: tuple[FaultParameter, ...]
    changes: Callable[[tuple[float, ...]], ModelParameters]
    replaces: tuple[str, ...] = ()
    discrepancy: float = 0.012
    anchors: int = 0
    grid: tuple[int, ...] | None = None
    sides: int = 1
    keeps: tuple[str, ...] = ()


CHOKES = ("ring", "reach", "ring_split", "copper_split")
"""Nuisance parameters of the chokes."""

MINOR = ("copper_split", "threshold_split", "gate_resistor", "supply")
"""Nuisance parameters that matter little and alike whichever choke is weak."""


def fault_models(heater: Heater) -> tuple[FaultModel, ...]:
    """Every fault model that this circuit can have, nothing wrong first; those of the probe are in `probes`."""
    sound = FaultModel(NOTHING, NOTHING, (), lambda _: {})
    found = [sound, *_gates(heater), *_tank(heater), _foldback()]
    if can_scale(heater):
        found += [*_both_chokes(heater), *_one_choke(heater)]
    return (*found, *_feeds(heater), *_turns(heater))


def can_scale(heater: Heater) -> bool:
    """Whether the chokes' curves can be made weaker."""
    return not any(isinstance(choke.curve, HystereticCurve) for choke in heater.chokes)


def sides_of(heater: Heater) -> tuple[str, ...]:
    """Sides of the chokes."""
    return tuple(choke.side for choke in heater.chokes)


def _ratio(key: str, label: str, mild: float, bad: float, even: bool = False) -> FaultParameter:
    return FaultParameter(f"{key}_ratio", label, "ratio", mild, bad, even)


def _both_chokes(heater: Heater) -> list[FaultModel]:
    """Strength: inductance over the scenario's. Reach: current of half inductance, likewise."""
    if any(isinstance(choke.curve, LinearCurve) for choke in heater.chokes):
        return []
    own = (
        _ratio("chokes.reach", "current at which both chokes give way, over the scenario's", 0.7, 0.08),
        _ratio("chokes.strength", "inductance of both chokes, over the scenario's", 1.25, 0.35),
    )

    def saturating(v: tuple[float, ...]) -> ModelParameters:
        named = zip(("reach", "strength"), v, strict=True)
        return {f"log_{name}_{side}": math.log(x) for name, x in named for side in sides_of(heater)}

    return [
        FaultModel(
            "both chokes saturate", SATURATING, own, saturating, ("ring", "reach"), anchors=2, grid=(7, 5), keeps=("gate_resistor",)
        )
    ]


def _one_choke(heater: Heater) -> list[FaultModel]:
    """Fewer turns n: strength n^2, reach 1/n, copper n. A smaller or another ring: strength and reach below one."""
    found: list[FaultModel] = []
    sides = sides_of(heater) if len(heater.chokes) > 1 else ()
    for side in sides:
        common = partial(FaultModel, cause=WEAKER, replaces=("ring_split",), anchors=1, sides=len(sides), keeps=MINOR)
        turns = _ratio(f"choke.{side}.turns", f"turns of the {side} choke, over the scenario's", 0.92, 0.4)
        ring = (
            _ratio(f"choke.{side}.strength", f"inductance of the {side} choke, over the scenario's", 0.85, 0.2),
            _ratio(f"choke.{side}.reach", f"current at which the {side} choke gives way, over the scenario's", 1.4, 0.18),
        )
        found += [
            common(f"{side} choke with fewer turns", parameters=(turns,), changes=partial(_fewer_turns, side)),
            common(f"{side} choke on a weaker ring", parameters=ring, changes=partial(_weaker_ring, side), grid=(6, 5)),
        ]
    return found


def _fewer_turns(side: str, v: tuple[float, ...]) -> ModelParameters:
    n = math.log(v[0])
    return {f"log_strength_{side}": 2 * n, f"log_reach_{side}": -n, f"log_copper_{side}": n}


def _weaker_ring(side: str, v: tuple[float, ...]) -> ModelParameters:
    return {f"log_strength_{side}": math.log(v[0]), f"log_reach_{side}": math.log(v[1])}


def _loose_feed(side: str, v: tuple[float, ...]) -> ModelParameters:
    return {f"feed_{side}": v[0]}


def _shorted(side: str, v: tuple[float, ...]) -> ModelParameters:
    return {f"short_resistance_{side}": v[0], f"short_inductance_{side}": v[1]}


def _feeds(heater: Heater) -> list[FaultModel]:
    """Resistance in the feed of one choke: from some ten times its copper."""
    found = []
    for side in sides_of(heater):
        label = f"resistance in the feed of the {side} choke"
        own = FaultParameter(f"choke.{side}.feed_resistance_ohm", label, "ohm", 0.05, 1.6)
        name = f"loose feed of the {side} choke"
        found.append(FaultModel(name, CONNECTION, (own,), partial(_loose_feed, side), sides=len(heater.chokes)))
    return found


def _turns(heater: Heater) -> list[FaultModel]:
    """Of a choke: as the winding sees the turn, its impedance a hundredth to a third of the choke's own reactance; resistance
    from some tenth of that to more than it. Of the coil: 10 to 55 % of the inductance cancelled, reactance 1.5 to 15 times the
    resistance."""
    found = []
    for choke in heater.chokes:
        side, inductance = choke.side, choke.curve.inductance_zero
        reactance, seen = 2 * math.pi * heater.frequency * inductance, f"of the turn, as the whole {side} winding sees it"
        own = (
            FaultParameter(f"choke.{side}.short_resistance_ohm", f"resistance {seen}", "ohm", 0.4 * reactance, 0.008 * reactance),
            FaultParameter(f"choke.{side}.short_inductance_h", f"leakage {seen}", "H", 0.6 * inductance, 0.05 * inductance),
        )
        name = f"shorted turn in the {side} choke"
        found.append(FaultModel(name, TURN, own, partial(_shorted, side), sides=len(heater.chokes)))
    coil = (
        _ratio("coil.turn_share", "share of the coil's inductance that the turn can cancel", 0.1, 0.55, True),
        _ratio("coil.turn_quality", "reactance of the turn over its resistance", 15.0, 1.5),
    )

    def shorted(v: tuple[float, ...]) -> ModelParameters:
        return {"coil_turn_share": v[0], "coil_turn_ratio": v[1]}

    return [*found, FaultModel("shorted turn in the coil", TURN, coil, shorted, anchors=1, keeps=CHOKES)]


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
    quality = _ratio("gate.loop_quality", "quality of the gate loop", 1.1, 7.0)

    def slow(v: tuple[float, ...]) -> ModelParameters:
        return {"log_pull_up": math.log(v[0] / gate.pull_up)}

    def weak(v: tuple[float, ...]) -> ModelParameters:
        return {"log_gate_supply": math.log((switch.threshold + v[0]) / gate.supply_voltage)}

    def high(v: tuple[float, ...]) -> ModelParameters:
        return {"log_gate_supply": math.log(low / gate.supply_voltage), "threshold": low - v[0] - switch.threshold}

    def ringing(v: tuple[float, ...]) -> ModelParameters:
        total = math.sqrt(v[0] / switch.input_capacitance) / v[1]
        return {"log_gate_inductance": math.log(v[0] / gate.inductance), "log_gate_resistor": math.log(total / resistance)}

    late = partial(FaultModel, cause=GATE_DRIVE, discrepancy=0.12, anchors=1, keeps=(*CHOKES, "supply"))
    both = ("gate_supply", "threshold")
    return [
        late("gate pull-up too large", parameters=(pull_up,), changes=slow, replaces=("pull_up",)),
        late("gate supply too low", parameters=(drive,), changes=weak, replaces=both[:1]),
        late("threshold too high for the gate supply", parameters=(drive,), changes=high, replaces=both),
        FaultModel("gate leads ring", GATE_RINGING, (lead, quality), ringing, ("gate_resistor",), 0.2),
    ]


def _tank(heater: Heater) -> list[FaultModel]:
    """Resistances: up to the loaded coil's own. Heavy load: 1.45 to 3.6 times what the scenario's workpiece does."""
    own = heater.loaded_resistance
    low, high = max(10e-3, 0.06 * own), max(0.09, 0.9 * own)
    least = min(0.5, 1 - 1 / heater.capacitors.count)
    lost = _ratio("capacitors.share", "capacitance left, over the scenario's", 0.94, least, True)
    series = FaultParameter("capacitors.resistance_added_ohm", "series resistance of the bank, added", "ohm", low, high)
    lead = FaultParameter("coil.lead_resistance_added_ohm", "resistance between coil and capacitors, added", "ohm", low, high)
    load = _ratio("workpiece.share", "effect of the workpiece, over the scenario's", 1.45, 3.6)
    found = [
        FaultModel("less capacitance", CAPACITOR, (lost,), lambda v: {"log_capacitance": math.log(v[0])}, ("capacitance",)),
        FaultModel("series resistance in the bank", CAPACITOR, (series,), lambda v: {"capacitor_resistance": v[0]}),
        FaultModel("loose lead between coil and bank", CONNECTION, (lead,), lambda v: {"lead_resistance": v[0]}),
        FaultModel(
            "workpiece heavier", LOAD, (load,), lambda v: {"log_load": math.log(v[0])}, ("load",), anchors=2, keeps=CHOKES[:3]
        ),
    ]
    return found if heater.workpiece else found[:-1]


def _foldback() -> FaultModel:
    """A supply that gives way to 93 to 35 % of its voltage."""
    left = _ratio("supply.voltage", "voltage the supply holds, over the stated one", 0.93, 0.35, True)
    return FaultModel("supply voltage lower than stated", SUPPLY, (left,), lambda v: {"log_supply": math.log(v[0])}, ("supply",))
