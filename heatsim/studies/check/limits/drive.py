# SPDX-License-Identifier: GPL-3.0-or-later
"""What to do about a gate drive, in words, and which way each of these words moves which part.

Every remedy that speaks of pull-up, gate resistor or gate supply stands here, so that one answer never asks for both a larger and a
smaller one (`heatsim.studies.check.advice`).
"""

from __future__ import annotations

from collections.abc import Mapping

from heatsim.parts.gate import GateDrive, IntegratedDriver

Moves = Mapping[str, int]
"""Part of the gate drive -> 1 for more of it, -1 for less."""

PULL_UP, RESISTOR, SUPPLY = "pull-up", "gate resistor", "gate supply"

LATE_GATE = "Use a smaller pull-up or gate resistor so that the gate rises earlier in its half cycle; check the coupling diodes."
EARLY_GATE = "Weaken the pull-up a little (a larger resistor) or add tank capacitance; check the coupling diodes."
"""For a drain that is up again by the time its gate comes on, and for one that is not down yet."""

LATE_FALL = "Use a smaller gate resistor so that the gate falls earlier; check the coupling diodes."
TOO_HIGH = "Lower the gate supply or the clamp voltage, or add gate resistance."
TOO_LOW = "Add gate resistance or shorten the gate loop."
WEAK_PULL_UP = "Use a smaller pull-up so that the gate is charged within the half cycle."
WEAK_SUPPLY = "Raise the gate supply."
DEAD = "Raise the gate supply, use a smaller pull-up, or lighten the load."
LATCHED = (
    "Use a smaller pull-up, let the supply rise faster or switch it on after the gate supply is up; lighten the load; fit a fuse "
    "or breaker that acts on the supply."
)

HOT_PULL_UP = "Use pull-ups with a higher power rating, or of more ohms."
HOT_CLAMP = "Make the pull-up larger, so that less flows through the clamp, or use clamps with a higher power rating."
HOT_RESISTOR = "Use gate resistors with a higher power rating."
HOT_DIODE = "Use diodes that recover faster or have a higher power rating; a larger pull-up eases their load too."
HOT_DRIVER = "Add gate resistance, which takes part of the heat, or use a driver with a better heat path."
HIGH_FOR_DRIVER = "Use a driver with a higher voltage rating, or a regulated gate supply of a lower voltage."
"""For parts of the gate network that turn more into heat than they are rated for, and a driver whose supply is too high."""

LOW_MAIN = "Raise the main supply, or give the gates their own supply."
HIGH_FROM_MAIN = "Lower the clamp voltage, or add gate resistance."
DEAD_FROM_MAIN = "Raise the main supply, use a smaller pull-up, or lighten the load."
"""Where the gates hang on the main supply."""

SLOW_DRIVER = "Use a driver with more current or a smaller gate resistor, so that the gate is charged within the half cycle."
LATE_DRIVER = "Use a driver with a shorter delay, or a totem pole, which has almost none."
"""Where an integrated driver charges the gates; the pull-up at its input does not."""

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
    HOT_PULL_UP: {PULL_UP: 1},
    HOT_CLAMP: {PULL_UP: 1},
    HOT_DIODE: {PULL_UP: 1},
    HOT_DRIVER: {RESISTOR: 1},
    HIGH_FOR_DRIVER: {SUPPLY: -1},
    HIGH_FROM_MAIN: {RESISTOR: 1},
    DEAD_FROM_MAIN: {PULL_UP: -1},
    SLOW_DRIVER: {RESISTOR: -1},
}

FROM_MAIN = {WEAK_SUPPLY: LOW_MAIN, TOO_HIGH: HIGH_FROM_MAIN, DEAD: DEAD_FROM_MAIN}
INTEGRATED = {WEAK_PULL_UP: SLOW_DRIVER, LATE_GATE: LATE_DRIVER, LATE_FALL: LATE_DRIVER}
"""What is said instead of the common words where the gates hang on the main supply, and where an integrated driver drives them."""


def remedy(words: str, gate: GateDrive) -> str:
    """What to do, as it is said of this gate drive."""
    if gate.from_main:
        words = FROM_MAIN.get(words, words)
    return INTEGRATED.get(words, words) if isinstance(gate.driver, IntegratedDriver) else words


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
