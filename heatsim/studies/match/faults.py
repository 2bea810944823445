# SPDX-License-Identifier: GPL-3.0-or-later
"""The causes a capture is tried with, each in the kinds a bench meets, and how far their parameters may go.

Beforehand every fault is as likely as the others, and so is every kind of a cause. A parameter is beforehand spread evenly (on a
logarithmic scale where it spans more than an octave) over its range, of which the ends count less than the middle. Ranges are
common practice, no source, unless a formula stands beside them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from heatsim.parts.curves import LinearCurve
from heatsim.parts.heater import Heater
from heatsim.parts.hysteresis import HystereticCurve
from heatsim.studies.match.parameters import Knobs

SATURATING, WEAKER = "both chokes saturating", "one choke weaker than the other"
GATE_RINGING, GATE_DRIVE = "gate ringing", "late or weak gate drive"
LOAD, SUPPLY = "heavy load", "supply ripple or foldback"
CAPACITOR, TURN = "tank capacitor failing or bank unequal", "shorted turn in choke or coil"
CONNECTION, PROBE, NOTHING = "loose connection", "probe or scope", "nothing wrong"
CAUSES = (NOTHING, SATURATING, WEAKER, GATE_RINGING, GATE_DRIVE, LOAD, SUPPLY, CAPACITOR, TURN, CONNECTION, PROBE)


@dataclass(frozen=True)
class Parameter:
    """A quantity that a kind is about. key, label and unit as in `Estimate`; mild, bad: ends of its range [SI], mild being nearer
    to nothing wrong; even: spread evenly instead of logarithmically."""

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

    def place(self, value: float) -> float:
        """Inverse of `value`."""
        if self.even:
            return (value - self.mild) / (self.bad - self.mild)
        return math.log(value / self.mild) / math.log(self.bad / self.mild)


@dataclass(frozen=True)
class Kind:
    """name: in words; parameters: none to two; knobs: of parameter values, in their order; replaces: tolerances that the kind's
    own parameters stand for; doubt: share of what the kind does to the lines by which the model may be off; anchors: how often the
    slopes in the tolerances are simulated anew, where the kind changes them (0 to 2); grid: points along the parameters, where the
    usual ones are too few; keeps: tolerances whose slopes it changes by less than 0.3e-4 of the fundamental a standard deviation
    (measured), which are not simulated anew; sides: how many kinds are the same but for the side, this one among them: together
    they are as likely as any other kind of the cause."""

    name: str
    cause: str
    parameters: tuple[Parameter, ...]
    knobs: Callable[[tuple[float, ...]], Knobs]
    replaces: tuple[str, ...] = ()
    doubt: float = 0.012
    anchors: int = 0
    grid: tuple[int, ...] | None = None
    sides: int = 1
    keeps: tuple[str, ...] = ()


CHOKES = ("ring", "reach", "ring_split", "copper_split")
"""Tolerances of the chokes."""

MINOR = ("copper_split", "threshold_split", "gate_resistor", "supply")
"""Tolerances that matter little and alike whichever choke is weak."""


def kinds_of(heater: Heater) -> tuple[Kind, ...]:
    """Every kind that this circuit can have, nothing wrong first; those of the probe are in `match_probes`."""
    sound = Kind(NOTHING, NOTHING, (), lambda _: {})
    found = [sound, *_gates(heater), *_tank(heater), _foldback()]
    if can_scale(heater):
        found += _chokes(heater)
    return (*found, *_feeds(heater), *_turns(heater))


def can_scale(heater: Heater) -> bool:
    """Whether the chokes' curves can be made weaker."""
    return not any(isinstance(choke.curve, HystereticCurve) for choke in heater.chokes)


def sides_of(heater: Heater) -> tuple[str, ...]:
    """Sides of the chokes."""
    return tuple(choke.side for choke in heater.chokes)


def _chokes(heater: Heater) -> list[Kind]:
    """Strength: inductance over the scenario's; reach: current of half inductance likewise. Fewer turns n: strength n^2, reach
    1/n, copper n; a smaller or another ring: strength and reach below one."""
    sides = sides_of(heater)
    straight = any(isinstance(choke.curve, LinearCurve) for choke in heater.chokes)
    both = (
        Parameter("chokes.reach_ratio", "current at which both chokes give way, over the scenario's", "ratio", 0.7, 0.08),
        Parameter("chokes.strength_ratio", "inductance of both chokes, over the scenario's", "ratio", 1.25, 0.35),
    )
    found = (
        []
        if straight
        else [
            Kind(
                "both chokes saturate",
                SATURATING,
                both,
                lambda v: {
                    f"log_{name}_{side}": math.log(x) for side in sides for name, x in (("reach", v[0]), ("strength", v[1]))
                },
                ("ring", "reach"),
                anchors=2,
                grid=(7, 5),
                keeps=("gate_resistor",),
            )
        ]
    )
    if len(sides) < 2:
        return found
    for side in sides:
        own = (
            Parameter(f"choke.{side}.strength_ratio", f"inductance of the {side} choke, over the scenario's", "ratio", 0.85, 0.2),
            Parameter(
                f"choke.{side}.reach_ratio", f"current at which the {side} choke gives way, over the scenario's", "ratio", 1.4, 0.18
            ),
        )
        turns = (Parameter(f"choke.{side}.turns_ratio", f"turns of the {side} choke, over the scenario's", "ratio", 0.92, 0.4),)
        found.append(
            Kind(
                f"{side} choke with fewer turns",
                WEAKER,
                turns,
                partial(_fewer_turns, side),
                ("ring_split",),
                anchors=1,
                sides=len(sides),
                keeps=MINOR,
            )
        )
        found.append(
            Kind(
                f"{side} choke on a weaker ring",
                WEAKER,
                own,
                partial(_weaker_ring, side),
                ("ring_split",),
                anchors=1,
                grid=(6, 5),
                sides=len(sides),
                keeps=MINOR,
            )
        )
    return found


def _fewer_turns(side: str, v: tuple[float, ...]) -> Knobs:
    n = math.log(v[0])
    return {f"log_strength_{side}": 2 * n, f"log_reach_{side}": -n, f"log_copper_{side}": n}


def _weaker_ring(side: str, v: tuple[float, ...]) -> Knobs:
    return {f"log_strength_{side}": math.log(v[0]), f"log_reach_{side}": math.log(v[1])}


def _loose_feed(side: str, v: tuple[float, ...]) -> Knobs:
    return {f"feed_{side}": v[0]}


def _shorted(side: str, v: tuple[float, ...]) -> Knobs:
    return {f"short_resistance_{side}": v[0], f"short_inductance_{side}": v[1]}


def _feeds(heater: Heater) -> list[Kind]:
    """Resistance in the feed of one choke: from some ten times its copper."""
    return [
        Kind(
            f"loose feed of the {side} choke",
            CONNECTION,
            (Parameter(f"choke.{side}.feed_resistance_ohm", f"resistance in the feed of the {side} choke", "ohm", 0.05, 1.6),),
            partial(_loose_feed, side),
            sides=len(heater.chokes),
        )
        for side in sides_of(heater)
    ]


def _turns(heater: Heater) -> list[Kind]:
    """Of a choke: as the winding sees the turn, its impedance a hundredth to a third of the choke's own reactance; resistance
    from some tenth of that to more than it. Of the coil: 10 to 55 % of the inductance cancelled, reactance 1.5 to 15 times the
    resistance."""
    found = []
    for choke in heater.chokes:
        side = choke.side
        reactance = 2 * math.pi * heater.frequency * choke.curve.inductance_zero
        own = (
            Parameter(
                f"choke.{side}.short_resistance_ohm",
                f"resistance of the turn, as the whole {side} winding sees it",
                "ohm",
                0.4 * reactance,
                0.008 * reactance,
            ),
            Parameter(
                f"choke.{side}.short_inductance_h",
                f"leakage of the turn, as the whole {side} winding sees it",
                "H",
                0.6 * choke.curve.inductance_zero,
                0.05 * choke.curve.inductance_zero,
            ),
        )
        found.append(Kind(f"shorted turn in the {side} choke", TURN, own, partial(_shorted, side), sides=len(heater.chokes)))
    coil = (
        Parameter("coil.turn_share_ratio", "share of the coil's inductance that the turn can cancel", "ratio", 0.1, 0.55, True),
        Parameter("coil.turn_quality_ratio", "reactance of the turn over its resistance", "ratio", 15.0, 1.5),
    )
    return [
        *found,
        Kind(
            "shorted turn in the coil",
            TURN,
            coil,
            lambda v: {"coil_turn_share": v[0], "coil_turn_ratio": v[1]},
            anchors=1,
            keeps=CHOKES,
        ),
    ]


def _gates(heater: Heater) -> list[Kind]:
    """Late: pull-up and input capacitance take 0.17 to 0.6 of a half period. Weak: 3.2 to 1.2 V over the threshold. Ringing: gate
    loops of 60 to 500 nH with a quality of 1.1 to 7."""
    gate, switch = heater.gate, heater.switch
    charge = 1 / (2 * heater.frequency * switch.count * switch.input_capacitance)
    over = gate.supply_voltage - switch.threshold
    low = min(gate.supply_voltage, switch.threshold + 5.4)
    pull_up = Parameter(
        "gate.pull_up_ohm",
        "pull-up of the gates",
        "ohm",
        max(0.17 * charge, 1.4 * gate.pull_up),
        max(0.6 * charge, 3 * gate.pull_up),
    )
    drive = Parameter(
        "gate.overdrive_v", "gate supply above the switches' threshold", "V", min(3.4, 0.6 * over), min(1.2, 0.3 * over)
    )
    lead = Parameter(
        "gate.inductance_h", "inductance of each gate loop", "H", max(60e-9, 2 * gate.inductance), max(500e-9, 8 * gate.inductance)
    )
    quality = Parameter("gate.loop_quality_ratio", "quality of the gate loop", "ratio", 1.1, 7.0)
    resistance = gate.resistor + switch.gate_resistance

    def ringing(v: tuple[float, ...]) -> Knobs:
        total = math.sqrt(v[0] / switch.input_capacitance) / v[1]
        return {"log_gate_inductance": math.log(v[0] / gate.inductance), "log_gate_resistor": math.log(total / resistance)}

    return [
        Kind(
            "gate pull-up too large",
            GATE_DRIVE,
            (pull_up,),
            lambda v: {"log_pull_up": math.log(v[0] / gate.pull_up)},
            ("pull_up",),
            0.12,
            1,
            keeps=(*CHOKES, "supply"),
        ),
        Kind(
            "gate supply too low",
            GATE_DRIVE,
            (drive,),
            lambda v: {"log_gate_supply": math.log((switch.threshold + v[0]) / gate.supply_voltage)},
            ("gate_supply",),
            0.12,
            1,
            keeps=(*CHOKES, "supply"),
        ),
        Kind(
            "threshold too high for the gate supply",
            GATE_DRIVE,
            (drive,),
            lambda v: {"log_gate_supply": math.log(low / gate.supply_voltage), "threshold": low - v[0] - switch.threshold},
            ("gate_supply", "threshold"),
            0.12,
            1,
            keeps=(*CHOKES, "supply"),
        ),
        Kind("gate leads ring", GATE_RINGING, (lead, quality), ringing, ("gate_resistor",), 0.2),
    ]


def _tank(heater: Heater) -> list[Kind]:
    """Resistances: up to the loaded coil's own. Heavy load: 1.45 to 3.6 times what the scenario's workpiece does."""
    bank = heater.capacitors
    least = 1 / bank.count
    own = heater.loaded_resistance
    low, high = max(10e-3, 0.06 * own), max(0.09, 0.9 * own)
    lost = Parameter("capacitors.share_ratio", "capacitance left, over the scenario's", "ratio", 0.94, min(0.5, 1 - least), True)
    series = Parameter("capacitors.resistance_added_ohm", "series resistance of the bank, added", "ohm", low, high)
    lead = Parameter("coil.lead_resistance_added_ohm", "resistance between coil and capacitors, added", "ohm", low, high)
    found = [
        Kind("less capacitance", CAPACITOR, (lost,), lambda v: {"log_capacitance": math.log(v[0])}, ("capacitance",)),
        Kind("series resistance in the bank", CAPACITOR, (series,), lambda v: {"capacitor_resistance": v[0]}),
        Kind("loose lead between coil and bank", CONNECTION, (lead,), lambda v: {"lead_resistance": v[0]}),
    ]
    if heater.workpiece is None:
        return found
    share = Parameter("workpiece.share_ratio", "effect of the workpiece, over the scenario's", "ratio", 1.45, 3.6)
    return [
        *found,
        Kind("workpiece heavier", LOAD, (share,), lambda v: {"log_load": math.log(v[0])}, ("load",), anchors=2, keeps=CHOKES[:3]),
    ]


def _foldback() -> Kind:
    """A supply that gives way to 93 to 35 % of its voltage."""
    left = Parameter("supply.voltage_ratio", "voltage the supply holds, over the stated one", "ratio", 0.93, 0.35, True)
    return Kind("supply voltage lower than stated", SUPPLY, (left,), lambda v: {"log_supply": math.log(v[0])}, ("supply",))
