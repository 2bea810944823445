# SPDX-License-Identifier: GPL-3.0-or-later
"""Nuisance parameters: what may differ from the scenario without being a fault."""

from __future__ import annotations

from dataclasses import dataclass

from heatsim.parts.curves import LinearCurve
from heatsim.parts.heater import Heater
from heatsim.studies.match.faults import can_scale, sides_of
from heatsim.studies.match.parameters import ModelParameters


@dataclass(frozen=True)
class NuisanceParameter:
    """A spread of sound parts: its name, standard deviation, and the changes of model parameters per unit of it."""

    name: str
    deviation: float
    changes: ModelParameters


def nuisance_parameters(heater: Heater) -> tuple[NuisanceParameter, ...]:
    """Ordinary spread of sound parts, normal law.

    Standard deviations: capacitors 2.5 %, coil 1.25 % (an LCR meter), its resistance 7 %, workpiece 10 %, powder rings 4 % in
    common and 1.4 % between two, the current at which they give way 3.5 %, copper 7 % between two, thresholds 0.1 V and 0.07 V
    between banks, gate supply 2 %, gate resistors and pull-up 3 %, supply 0.4 % (it is measured). Common practice, no source. The
    same for every case of a circuit: a workpiece that is not there has no effect.
    """
    sides = sides_of(heater)
    two, scaled = len(sides) == 2, can_scale(heater)
    bent = scaled and not any(isinstance(choke.curve, LinearCurve) for choke in heater.chokes)
    every: list[tuple[bool, str, float, ModelParameters]] = [
        (True, "capacitance", 0.025, {"log_capacitance": 1.0}),
        (True, "coil", 0.0125, {"log_coil": 1.0}),
        (True, "coil_resistance", 0.07, {"log_coil_resistance": 1.0}),
        (True, "load", 0.1, {"log_load": 1.0}),
        (scaled, "ring", 0.04, {f"log_strength_{side}": 1.0 for side in sides}),
        (bent, "reach", 0.035, {f"log_reach_{side}": 1.0 for side in sides}),
        (scaled and two, "ring_split", 0.014, {"log_strength_left": 0.5, "log_strength_right": -0.5}),
        (two, "copper_split", 0.07, {"log_copper_left": 0.5, "log_copper_right": -0.5}),
        (True, "threshold", 0.1, {"threshold": 1.0}),
        (True, "threshold_split", 0.07, {"threshold_split": 1.0}),
        (True, "gate_supply", 0.02, {"log_gate_supply": 1.0}),
        (True, "pull_up", 0.03, {"log_pull_up": 1.0}),
        (True, "gate_resistor", 0.03, {"log_gate_resistor": 1.0}),
        (True, "supply", 0.004, {"log_supply": 1.0}),
    ]
    return tuple(NuisanceParameter(name, deviation, changes) for applies, name, deviation, changes in every if applies)
