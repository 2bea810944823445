# SPDX-License-Identifier: GPL-3.0-or-later
"""What a builder can change besides the winding: supply, air, capacitors, switches, gates; in values one can buy."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from heatsim.constants import E12
from heatsim.parts.bank import terminal_inductance
from heatsim.parts.rails import CONNECTIONS
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import RAISED

AIR = (1.0, 2.0, 3.0, 5.0)
"""Speeds of air [m/s] that a fan of the usual sizes moves over a choke; common practice, no source."""

AT = {"same end": "one and the same end", "opposite ends": "opposite ends", "middle": "the middle"}
"""Ways of connecting the coil to a capacitor bank, in words."""

MOST_CAPACITORS, MOST_SWITCHES = 40, 8
"""Parts in parallel beyond which nobody builds a bank or a side; common practice, no source."""

LEAST_SUPPLY = 0.3
"""Share of the supply voltage below which a remedy is none: a tenth of the power is left."""


@dataclass(frozen=True)
class Change:
    """One thing that is changed.

    kind: supply, rise or limit (of it), chokes, air, capacitors, connection (of the coil), switches or gates; fields: dotted
    fields of the scenario and what they are set to; None takes a field out; words: what to do; cost: what to buy or to wind for it,
    empty for nothing.
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
    words = f"Run the supply at {volts:g} V instead of {scenario.tables.supply.voltage:g} V"
    return Change("supply", {"supply.voltage": f"{volts:g} V"}, words)


def supply_grid(scenario: Scenario) -> list[float]:
    """Lower supply voltages [V] on a grid of half volts, rising."""
    top = scenario.tables.supply.voltage
    first = math.ceil(2 * max(LEAST_SUPPLY * top, 5.0))
    return [half / 2 for half in range(first, math.ceil(2 * top))]


def air_at(scenario: Scenario, speed: float) -> Change:
    """Air moved over the chokes at a speed [m/s]."""
    before = scenario.tables.heater.air_speed
    words = f"Blow air over the chokes at {speed:g} m/s" + (f" instead of {before:g} m/s" if before else " with a fan")
    return Change("air", {"heater.air_speed": f"{speed:g} m/s"}, words, "a fan")


def faster_air(scenario: Scenario) -> list[float]:
    """Speeds [m/s] above the scenario's."""
    return [speed for speed in AIR if speed > scenario.tables.heater.air_speed]


def connections_of(scenario: Scenario) -> Iterator[Change]:
    """Other ways of connecting the coil to the bars of the capacitor bank, with the inductance that the bank then has where that
    can be told.
    """
    heater = scenario.heater(scenario.cases[0])
    bank, rails = heater.capacitors, heater.capacitors.rails
    for way in CONNECTIONS if rails else ():
        if rails and way != rails.coil:
            words = f"Connect the coil to the bars of the capacitor bank at {AT[way]} instead of {AT[rails.coil]}"
            fields: dict[str, str] = {"capacitors.rails.coil_connection": way}
            seen = terminal_inductance(bank, replace(rails, coil=way), heater.frequency)
            if seen is not None:
                fields["capacitors.inductance"] = format_quantity(seen, "H")
            yield Change("connection", fields, words)


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


SINKS = (0.7, 0.5, 0.35, 0.25, 0.15)
"""Factors on the resistance of a sink, tried in this order."""


def fans_of(scenario: Scenario) -> Iterator[Change]:
    """Faster air through the switches' sink, where it is known what that does; none without [switch.cooling]."""
    table = scenario.tables.switch.cooling
    if table is None or (table.sink_resistance is not None and table.sink_resistance_fan is None):
        return
    for speed in AIR:
        if speed > table.air_speed:
            more = f" instead of {table.air_speed:g} m/s" if table.air_speed else " with a fan"
            words = f"Blow air through the switches' sink at {speed:g} m/s{more}"
            yield Change("sink air", {"switch.cooling.air_speed": f"{speed:g} m/s"}, words, "a fan")


def sinks_of(scenario: Scenario) -> Iterator[Change]:
    """Larger sinks for the switches, as heavy for their resistance as the present one."""
    table = scenario.tables.switch.cooling
    if table is None or table.sink_resistance is None:
        return
    for factor in SINKS:
        fields, told = {}, []
        for name, where in (
            ("sink_resistance", "in still air"),
            ("sink_resistance_fan", f"in air at {table.fan_speed or 0:g} m/s"),
        ):
            before = getattr(table, name)
            if before is not None:
                text = f"{before * factor:.2g} K/W"
                fields[f"switch.cooling.{name}"] = text
                told.append(f"{text} {where} instead of {before:g} K/W")
        if table.sink_mass is not None:
            fields["switch.cooling.sink_mass"] = f"{table.sink_mass / factor:.2g} kg"
        yield Change("sink", fields, f"Use a sink of {' and '.join(told)} for the switches", "a larger sink")


def devices_of(scenario: Scenario) -> Iterator[Change]:
    """More devices in parallel, up to `MOST_SWITCHES`."""
    return (switches_of(scenario, count) for count in range(scenario.tables.switch.count + 1, MOST_SWITCHES + 1))


SMALLER, LARGER = (0.68, 0.47, 0.22, 0.1, 0.047), (1.5, 2.2, 3.3)
"""Factors on gate resistor and pull-up, tried in this order."""

ALONE = 2
"""Steps in which the pull-up goes down without the gate resistor."""

GATE_PARTS = {"pull-up": ("gate.pull_up", "gate pull-ups"), "gate resistor": ("gate.resistor", "gate resistors")}
"""Part of the gate drive -> its field and what it is called."""


def gate_values(scenario: Scenario, asked: frozenset[tuple[str, int]]) -> Iterator[Change]:
    """Gate resistors and pull-ups in standard values, moved the ways that the failing limits ask for.

    asked: part of the gate drive and 1 for a larger one or -1 for a smaller one; a part asked for both ways stays. Where both
    parts shall be smaller the pull-up, which charges the gates, goes down by itself at first.
    """
    ways = {part: way for part, way in asked if part in GATE_PARTS and (part, -way) not in asked}
    together = ways == dict.fromkeys(GATE_PARTS, -1)
    for step in range(len(SMALLER)):
        factors = {part: (SMALLER if way < 0 else LARGER)[step : step + 1] for part, way in sorted(ways.items())}
        alone = together and step < ALONE
        change = _gates(scenario, {part: each[0] for part, each in factors.items() if each and not (alone and part != "pull-up")})
        if change:
            yield change


def _gates(scenario: Scenario, factors: Mapping[str, float]) -> Change | None:
    """Parts of the gate drive times factors; None where no standard value is another than what is there."""
    fields, told, parts = {}, [], []
    for part, factor in factors.items():
        field, label = GATE_PARTS[part]
        before = getattr(scenario.tables.gate, field.split(".")[1])
        value = nearest(before * factor)
        if abs(value / before - 1) > 0.02:
            text, old = _ohms(value), _ohms(before)
            fields[field] = text
            told.append(f"{label} of {text} instead of {old}")
            parts.append(text)
    return Change("gates", fields, "Use " + " and ".join(told), f"resistors of {' and '.join(parts)}") if fields else None


SLOWER = (3.0, 10.0, 30.0)
"""Factors on the supply's rise, tried in this order; a rise longer than a scenario may have is refused as any such value is."""

OTHER_PULL_UPS = (1.5, 0.68, 2.2, 0.47)
"""Factors on the gates' pull-up, tried in this order."""


def earlier_gates(scenario: Scenario) -> Iterator[Change]:
    """The gate supply up with the main supply; none where it is."""
    delay = scenario.tables.gate.supply_delay
    if delay:
        words = f"Bring the gate supply up with the main supply instead of {format_quantity(delay, 's')} after it"
        yield Change("gates", {"gate.supply_delay": "0 s"}, words)


def calmer_starts(scenario: Scenario) -> Iterator[Change]:
    """The gates up first, slower rises of the supply, other pull-ups: what may keep the drains low at switch-on."""
    yield from earlier_gates(scenario)
    rise = scenario.heater(scenario.cases[0]).supply.rise_time
    for factor in SLOWER:
        text = format_quantity(float(f"{factor * rise:.2g}"), "s")
        words = f"Ramp the supply up over {text} instead of {format_quantity(rise, 's')}"
        yield Change("rise", {"supply.rise_time": text}, words)
    for factor in OTHER_PULL_UPS:
        change = _gates(scenario, {"pull-up": factor})
        if change:
            yield change


LIMIT_FIELDS = {knob.field: knob.words for knob in RAISED}
"""Fields of a supply's current limit -> what they are called."""


def started_with(scenario: Scenario, field: str, text: str) -> Change:
    """The one value that a heater which did not start was found to start with."""
    if field == "supply.rise_time":
        before = format_quantity(scenario.tables.supply.rise_time, "s")
        return Change("rise", {field: text}, f"Ramp the supply up over {text} instead of {before}")
    if field == "gate.supply_delay":
        before = format_quantity(scenario.tables.gate.supply_delay, "s")
        return Change("gates", {field: text}, f"Bring the gate supply up {text} after the main supply instead of {before}")
    if field in LIMIT_FIELDS:
        label, source = LIMIT_FIELDS[field], scenario.tables.supply.source
        before = format_quantity(getattr(source, field.rsplit(".", 1)[1]), "A")
        words = f"Use a supply with a {label} of {text} instead of {before}"
        return Change("limit", {field: text}, words, f"a supply with a {label} of {text}")
    label = next(label for own, label in GATE_PARTS.values() if own == field)
    before = _ohms(getattr(scenario.tables.gate, field.split(".")[1]))
    return Change("gates", {field: text}, f"Use {label} of {text} instead of {before}", f"resistors of {text}")


def _ohms(value: float) -> str:
    """A resistance [ohm] as a scenario has it and a remedy tells it."""
    return format_quantity(value, "ohm").replace("Ω", "ohm")


def nearest(value: float) -> float:
    """The E12 value nearest by ratio."""
    decade = math.floor(math.log10(value))
    around = (step * 10.0**power for power in (decade - 1, decade, decade + 1) for step in E12)
    return float(f"{min(around, key=lambda each: abs(math.log(each / value))):.6g}")
