# SPDX-License-Identifier: GPL-3.0-or-later
"""What drives the gates, and the heat of the parts round them, in words."""

from __future__ import annotations

from dataclasses import dataclass

from heatsim.measures.gather import SIDES
from heatsim.parts.gate import GateDrive, TotemPole
from heatsim.parts.heater import Heater
from heatsim.report.base.words import listed, number, value_text
from heatsim.studies.check import HEATED, CaseResult, unrated

WARM = 0.25
"""Heat [W] from which a part without a rating is spoken of on the terminal: what a common small resistor stands (common practice,
no source)."""

NOTHING = 1e-4
"""Heat [W] below which a part is cold."""


@dataclass(frozen=True)
class HeatRow:
    """Heat of a part of the gate network, in words; allowed is a dash where no rating is given."""

    name: str
    left: str
    right: str
    allowed: str


def heat_rows(case: CaseResult) -> list[HeatRow]:
    """The parts round the gates and what each turns into heat; none for a run without powers."""
    rows = []
    for each in HEATED:
        powers = [number(case.measures, f"gate.{side}.{each.measure}_w") for side in SIDES]
        if any(power is not None for power in powers):
            rating = getattr(case.heater.gate.ratings, each.rating)
            left, right = (_heat_text(power) for power in powers)
            rows.append(HeatRow(each.name, left, right, value_text(rating, "W")))
    return rows


def _heat_text(power: float | None) -> str:
    """A heat; one below NOTHING, what a capacitance still keeps of a period, has no sign."""
    if power is not None and abs(power) < NOTHING:
        return f"below {value_text(NOTHING, 'W')}"
    return value_text(power, "W", 2)


def not_judged(case: CaseResult, least: float = 0.0) -> str:
    """That the heat of some parts is not judged, with the fields that would let it be; empty if all is. least: heat [W] below
    which a part is passed over."""
    told = []
    for each in unrated(case.heater.gate):
        powers = [number(case.measures, f"gate.{side}.{each.measure}_w") for side in SIDES]
        most = max((power for power in powers if power is not None), default=-1.0)
        if most >= least:
            told.append(f"{each.name} {_heat_text(most)} ({each.field})")
    return f"Heat not judged, because no rating is given: {listed(told)}." if told else ""


def drive_words(heater: Heater) -> str:
    """What drives the gates, in a sentence."""
    gate = heater.gate
    supply = "the main supply" if gate.from_main else f"a gate supply of {value_text(gate.supply_voltage, 'V')}"
    pull_up = value_text(gate.pull_up, "ohm")
    if gate.driver is None:
        return f"Each gate is pulled up from {supply} through {pull_up}."
    return f"{_driver_words(gate)} on {supply} drives each bank's gates; its input is pulled up through {pull_up}."


def _driver_words(gate: GateDrive) -> str:
    driver = gate.driver
    assert driver is not None
    output = (
        f"{value_text(driver.source_current, 'A')} up and {value_text(driver.sink_current, 'A')} down, behind "
        f"{value_text(driver.source_resistance, 'ohm')} and {value_text(driver.sink_resistance, 'ohm')}"
    )
    if isinstance(driver, TotemPole):
        return f"A totem pole ({output}, current gain {driver.gain:g})"
    return (
        f"An integrated driver ({output}, input thresholds {value_text(driver.low, 'V')} and "
        f"{value_text(driver.high, 'V')}, delay {value_text(driver.delay, 's')})"
    )
