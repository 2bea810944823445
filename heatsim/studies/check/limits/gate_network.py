# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits of the parts round a gate: heat of resistors, clamp, diode and driver, and what diode and driver must block.

Heat is judged where a rating is given; where none is, it is shown and said not to be judged (`unrated`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from heatsim.parts.gate import GateDrive
from heatsim.scenario.schema import GateTable
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.studies.check.limits.drive import HIGH_FOR_DRIVER, HOT_CLAMP, HOT_DIODE, HOT_DRIVER, HOT_PULL_UP, HOT_RESISTOR
from heatsim.verdict import Limit


@dataclass(frozen=True)
class Heated:
    """A part of the gate network that gets warm. rating: of `GateRatings`; measure: stem of its key; field: where a scenario has
    the rating; name, cause, remedy: in words."""

    rating: str
    measure: str
    field: str
    name: str
    cause: str
    remedy: str


HEATED = (
    Heated(
        "pull_up",
        "pull_up_loss",
        "gate.pull_up_rating",
        "pull-up",
        "The whole gate supply is across the pull-up while its gate is held low, and the rest of it while the clamp conducts.",
        HOT_PULL_UP,
    ),
    Heated(
        "clamp",
        "clamp_loss",
        "gate.clamp_rating",
        "clamp",
        "The gate supply is above the clamp voltage, so the clamp takes what the pull-up lets through half of the time.",
        HOT_CLAMP,
    ),
    Heated(
        "pull_down",
        "pull_down_loss",
        "gate.pull_down_rating",
        "pull-down",
        "The gate voltage is across the pull-down half of the time.",
        "Use a pull-down of more ohms or with a higher power rating.",
    ),
    Heated(
        "resistor",
        "resistor_loss",
        "gate.resistor_rating",
        "gate resistor of a device",
        "Each charge and discharge of the gate, and its ring, pass through the resistor.",
        HOT_RESISTOR,
    ),
    Heated(
        "diode",
        "diode_loss",
        "gate.diode_loss_rating",
        "coupling diode",
        "It carries the pull-up's current half of the time and recovers against the other drain.",
        HOT_DIODE,
    ),
    Heated(
        "driver",
        "driver_loss",
        "gate.driver.loss_rating",
        "driver",
        "The driver charges and discharges the gates through its own resistance, as far as it has any.",
        HOT_DRIVER,
    ),
)


def heat(case: JudgedCase, side: str) -> Iterator[Limit]:
    """Heat of each part of the network whose rating is given."""
    for each in HEATED:
        rating = getattr(case.heater.gate.ratings, each.rating)
        if rating is not None:
            key = f"gate.{side}.{each.measure}_w"
            yield Limit(f"gate.{side}", f"{each.name}, heat", key, rating, "W", "rating", cause=each.cause, remedy=each.remedy)


def unrated(gate: GateDrive) -> tuple[Heated, ...]:
    """Parts of a gate network that get warm and whose rating is not known."""
    here = (each for each in HEATED if each.rating != "driver" or gate.driver)
    return tuple(each for each in here if getattr(gate.ratings, each.rating) is None)


def reverse_voltage(case: JudgedCase, side: str) -> Limit | None:
    """What the coupling diode blocks against its rating; where none is given only if it comes near the one that is assumed."""
    gate, key = case.heater.gate, f"gate.{side}.diode_reverse_voltage_v"
    given = gate.ratings.diode_voltage is not None
    if not given and not case.number(key) * (1 + case.scenario.tables.heater.wanted_headroom) > gate.diode_rating:
        return None
    assumed = "" if given else f" No rating is given (gate.diode_rating); {gate.diode_rating:g} V is assumed."
    return Limit(
        f"gate.{side}",
        "coupling diode, reverse voltage",
        key,
        gate.diode_rating,
        "V",
        "rating" if given else "estimate",
        cause=f"The diode blocks the other drain, which reaches pi times the supply.{assumed}",
        remedy="Use diodes with a higher voltage rating, or lower the supply voltage.",
    )


def driver_supply(case: JudgedCase, side: str) -> Limit | None:
    """The driver's supply against the driver's rating; None without a driver."""
    gate = case.heater.gate
    if gate.driver is None:
        return None
    return Limit(
        f"gate.{side}",
        "driver, supply voltage",
        f"gate.{side}.driver_supply_voltage_v",
        gate.ratings.driver_voltage,
        "V",
        "rating",
        cause="The driver runs off the main supply." if gate.from_main else "The gate supply is more than the driver can take.",
        unknown="" if gate.ratings.driver_voltage else "the driver's voltage rating is not given",
        settle="Give the driver's voltage rating (gate.driver.voltage_rating).",
        remedy=HIGH_FOR_DRIVER,
    )


def gate_cautions(gate: GateTable) -> Iterator[str]:
    """Fields of [gate] that are without effect, in plain sentences."""
    if gate.supply == "main":
        for field in ("supply_voltage", "supply_delay", "supply_rise"):
            if field in gate.model_fields_set and getattr(gate, field) is not None:
                yield f"gate.{field} has no effect: with gate.supply = main the gates run off the main supply."
    if gate.driver is not None and gate.drive == "pull-up":
        yield "[gate.driver] has no effect: gate.drive = pull-up has no driver."
