# SPDX-License-Identifier: GPL-3.0-or-later
"""The ordinary spread of sound parts and probes: what may differ from the scenario without being a fault."""

from __future__ import annotations

from dataclasses import dataclass

from heatsim.parts.curves import LinearCurve
from heatsim.parts.heater import Heater
from heatsim.studies.match.faults import can_scale, sides_of
from heatsim.studies.match.parameters import Knobs


@dataclass(frozen=True)
class Tolerance:
    """A spread of sound parts: name, standard deviation, and the knobs it turns, per unit of itself."""

    name: str
    deviation: float
    knobs: Knobs


def tolerances_of(heater: Heater) -> tuple[Tolerance, ...]:
    """Ordinary spread of sound parts, normal law, standard deviations: capacitors 2.5 %, coil 1.25 % (an LCR meter), its
    resistance 7 %, powder rings 4 % in common and 1.4 % between two, the current at which they give way 3.5 %, workpiece 10 %,
    copper 7 % between two, thresholds 0.1 V and 0.07 V between banks, gate supply 2 %, gate resistors and pull-up 3 %, supply 0.4 %
    (it is measured). Common practice, no source. The same for every case of a circuit: a workpiece that is not there has no effect.
    """
    sides = sides_of(heater)
    found = [
        Tolerance("capacitance", 0.025, {"log_capacitance": 1.0}),
        Tolerance("coil", 0.0125, {"log_coil": 1.0}),
        Tolerance("coil_resistance", 0.07, {"log_coil_resistance": 1.0}),
    ]
    found.append(Tolerance("load", 0.1, {"log_load": 1.0}))
    if can_scale(heater):
        found.append(Tolerance("ring", 0.04, {f"log_strength_{side}": 1.0 for side in sides}))
        if not any(isinstance(choke.curve, LinearCurve) for choke in heater.chokes):
            found.append(Tolerance("reach", 0.035, {f"log_reach_{side}": 1.0 for side in sides}))
        if len(sides) == 2:
            found.append(Tolerance("ring_split", 0.014, {"log_strength_left": 0.5, "log_strength_right": -0.5}))
    if len(sides) == 2:
        found.append(Tolerance("copper_split", 0.07, {"log_copper_left": 0.5, "log_copper_right": -0.5}))
    return (
        *found,
        Tolerance("threshold", 0.1, {"threshold": 1.0}),
        Tolerance("threshold_split", 0.07, {"threshold_split": 1.0}),
        Tolerance("gate_supply", 0.02, {"log_gate_supply": 1.0}),
        Tolerance("pull_up", 0.03, {"log_pull_up": 1.0}),
        Tolerance("gate_resistor", 0.03, {"log_gate_resistor": 1.0}),
        Tolerance("supply", 0.004, {"log_supply": 1.0}),
    )


GAIN = 0.0125
"""Standard deviation of a probe's gain: 2.5 % at two of them; common practice, no source."""
