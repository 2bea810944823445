# SPDX-License-Identifier: GPL-3.0-or-later
"""What to do about a gate drive, in words, and which way each of these words moves which part.

Every remedy that speaks of pull-up, gate resistor or gate supply stands here, so that one answer never asks for both a larger and a
smaller one (`heatsim.studies.check.advice`).
"""

from __future__ import annotations

from collections.abc import Mapping

Moves = Mapping[str, int]
"""Part of the gate drive -> 1 for more of it, -1 for less."""

PULL_UP, RESISTOR, SUPPLY = "pull-up", "gate resistor", "gate supply"

LATE_GATE = "Lower the pull-up or the gate resistor so that the gate rises earlier in its half cycle; check the coupling diodes."
EARLY_GATE = "Weaken the pull-up a little (a larger resistor) or add tank capacitance; check the coupling diodes."
"""For a drain that is up again by the time its gate comes on, and for one that is not down yet."""

LATE_FALL = "Lower the gate resistor so that the gate falls earlier; check the coupling diodes."
TOO_HIGH = "Lower the gate supply or the clamp voltage, or add gate resistance."
TOO_LOW = "Add gate resistance or shorten the gate loop."
WEAK_PULL_UP = "Lower the pull-up so that the gate is charged within the half cycle."
WEAK_SUPPLY = "Raise the gate supply."
DEAD = "Raise the gate supply, lower the pull-up, or lighten the load."
LATCHED = (
    "Lower the pull-up, let the supply rise faster or switch it on after the gate supply is up; lighten the load; fit a fuse "
    "or breaker that acts on the supply."
)

MOVES: Mapping[str, Moves] = {
    LATE_GATE: {PULL_UP: -1, RESISTOR: -1},
    EARLY_GATE: {PULL_UP: 1},
    LATE_FALL: {RESISTOR: -1},
    TOO_HIGH: {SUPPLY: -1, RESISTOR: 1},
    TOO_LOW: {RESISTOR: 1},
    WEAK_PULL_UP: {PULL_UP: -1},
    WEAK_SUPPLY: {SUPPLY: 1},
    DEAD: {SUPPLY: 1, PULL_UP: -1},
    LATCHED: {PULL_UP: -1},
}

LOWERED = {f"Lower the {part} from": {part: -1} for part in (PULL_UP, RESISTOR)}
"""How a value that was simulated to start a heater is told (`heatsim.studies.check.start`)."""

SIZES = {PULL_UP: ("smaller", "larger"), RESISTOR: ("smaller", "larger"), SUPPLY: ("lower", "higher")}
"""Less and more of each part, in words."""

INSTEAD = {
    PULL_UP: "fewer or smaller devices on each gate, or more capacitance in the tank",
    RESISTOR: "a shorter gate loop, or a coupling diode that recovers faster",
    SUPPLY: "MOSFETs with a higher gate rating, or with a lower threshold",
}
"""What moves the same limits where no value of a part serves all of them."""
