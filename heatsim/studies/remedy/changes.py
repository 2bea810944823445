# SPDX-License-Identifier: GPL-3.0-or-later
"""What a builder can change besides the winding: supply, air, capacitors, switches, gates; in values one can buy."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario

E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
"""Values of a decade of resistors and capacitors; IEC 60063, from memory."""

AIR = (1.0, 2.0, 3.0, 5.0)
"""Speeds of air [m/s] that a fan of the usual sizes moves over a choke; common practice, no source."""

MOST_CAPACITORS, MOST_SWITCHES = 40, 8
"""Parts in parallel beyond which nobody builds a bank or a side; common practice, no source."""

LEAST_SUPPLY = 0.3
"""Share of the supply voltage below which a remedy is none: a tenth of the power is left."""


@dataclass(frozen=True)
class Change:
    """One thing that is changed.

    kind: supply, chokes, air, capacitors, switches or gates; fields: dotted fields of the scenario and what they are set
    to; None takes a field out; words: what to do; cost: what to buy or to wind for it, empty for nothing.
    """

    kind: str
    fields: Mapping[str, Any]
    words: str
    cost: str = ""


def fields_of(changes: Sequence[Change]) -> dict[str, Any]:
    """All fields of joint changes."""
    return {name: value for change in changes for name, value in change.fields.items()}


def supply_at(scenario: Scenario, volts: float) -> Change:
    """The supply at another voltage [V]."""
    words = f"Keep the supply at {volts:g} V instead of {scenario.tables.supply.voltage:g} V"
    return Change("supply", {"supply.voltage": f"{volts:g} V"}, words)


def supply_grid(scenario: Scenario) -> list[float]:
    """Lower supply voltages [V] on a grid of half volts, rising."""
    top = scenario.tables.supply.voltage
    first = math.ceil(2 * max(LEAST_SUPPLY * top, 5.0))
    return [half / 2 for half in range(first, math.ceil(2 * top))]


def air_at(scenario: Scenario, speed: float) -> Change:
    """Air moved over the chokes at a speed [m/s]."""
    before = scenario.tables.heater.air_speed
    words = f"Move air over the chokes at {speed:g} m/s" + (f" instead of {before:g} m/s" if before else " with a fan")
    return Change("air", {"heater.air_speed": f"{speed:g} m/s"}, words, "a fan")


def faster_air(scenario: Scenario) -> list[float]:
    """Speeds [m/s] above the scenario's."""
    return [speed for speed in AIR if speed > scenario.tables.heater.air_speed]


def capacitors_of(scenario: Scenario, count: int) -> Change:
    """The bank as `count` capacitors of the standard value that keeps its capacitance nearest."""
    table = scenario.tables.capacitors
    value = nearest(table.capacitance * table.count / count)
    text = format_quantity(value, "F")
    words = (
        f"Spread the bank over {count} capacitors of {text} instead of {table.count} of {format_quantity(table.capacitance, 'F')}"
    )
    fields = {"capacitors.count": count, "capacitors.capacitance": text}
    return Change("capacitors", fields, words, f"{count} capacitors of {text} with the ratings of the present ones")


def switches_of(scenario: Scenario, count: int) -> Change:
    """`count` devices in parallel on each side."""
    before, sides = scenario.tables.switch.count, 2
    words = f"Put {count} devices in parallel on each side instead of {before}"
    return Change("switches", {"switch.count": count}, words, f"{sides * (count - before)} more devices")


def gate_values(scenario: Scenario, ends: frozenset[str]) -> Iterator[Change]:
    """Gate resistors and pull-ups in standard values, those first that the failing limits `ends` speak for."""
    table = scenario.tables.gate
    rings = ends & {"highest gate voltage", "lowest gate voltage"}
    factors = ((1.0, 1.5), (1.0, 2.2), (1.0, 3.3)) if rings else ((0.68, 1.0), (0.47, 1.0), (0.33, 0.68), (0.22, 0.47), (1.5, 1.0))
    for pull_up, resistor in factors:
        new = nearest(table.pull_up * pull_up), nearest(table.resistor * resistor)
        fields, told, parts = {}, [], []
        for name, value, before, label in (
            ("gate.pull_up", new[0], table.pull_up, "the gates' pull-up"),
            ("gate.resistor", new[1], table.resistor, "the gate resistors"),
        ):
            if abs(value / before - 1) > 0.02:
                text = format_quantity(value, "ohm").replace("Ω", "ohm")
                fields[name] = text
                told.append(f"{label} {text} instead of {format_quantity(before, 'ohm').replace('Ω', 'ohm')}")
                parts.append(text)
        if fields:
            yield Change("gates", fields, "Make " + " and ".join(told), f"resistors of {' and '.join(parts)}")


def nearest(value: float) -> float:
    """The E12 value nearest by ratio."""
    decade = math.floor(math.log10(value))
    around = (step * 10.0**power for power in (decade - 1, decade, decade + 1) for step in E12)
    return float(f"{min(around, key=lambda each: abs(math.log(each / value))):.6g}")
