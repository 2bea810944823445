# SPDX-License-Identifier: GPL-3.0-or-later
"""How well the MOSFET model of the netlist meets the datasheet's figures that the scenario gives."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from heatsim.parts.heater import Heater
from heatsim.parts.mosfet_curves import curve_points
from heatsim.parts.mosfet_model import DatasheetPoint, datasheet_points, no_swing
from heatsim.parts.switch import Origin, Switch, figure_unit
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.verdict import Limit

DIFFERENCE, CURVE_DIFFERENCE = "switch.model_difference_ratio", "switch.curve_difference_ratio"
"""Keys of the largest relative difference from the datasheet's figures, and from points of its curves."""

MODEL_LIMIT = 0.05
"""Largest relative difference [1] at which the model still describes the device; working value, a fraction of the spread between
two devices of a type."""

CURVE_LIMIT = 0.3
"""The same [1] for points that the model is compared with and not fitted to; working value, what capacitances of devices of a type
differ by (memory)."""

WEAK, RATINGS = ("memory", "common practice"), ("voltage_rating", "current_rating", "gate_rating", "on_gate_voltage")
"""Provenances of figures that are of no particular device; figures that limits are read from."""

TOLD = 0.005
"""Differences below this [1] are not spoken of."""


def judged_points(scenario: Scenario, heater: Heater) -> tuple[DatasheetPoint, ...]:
    """The figures that the model is to meet; a miller_voltage of the scenario's own stands in place of the reverse capacitance."""
    own = scenario.tables.switch.miller_voltage is not None or heater.switch.origin("miller_voltage") is not None
    return tuple(each for each in datasheet_points(heater.switch) if not (own and each.name == "reverse capacitance"))


def model_difference(scenario: Scenario, heater: Heater) -> float | None:
    """The largest relative difference [1], without sign; None for a user's own model."""
    return max((abs(each.difference) for each in judged_points(scenario, heater)), default=None)


def device_measures(scenario: Scenario, heater: Heater) -> dict[str, float | None]:
    """The largest relative differences of the model, without sign; of curves only where points of them are given."""
    found: dict[str, float | None] = {DIFFERENCE: model_difference(scenario, heater)}
    if points := curve_points(heater.switch):
        found[CURVE_DIFFERENCE] = max(abs(each.difference) for each in points)
    return found


def rests_on_device(heater: Heater, limit: Limit) -> Limit:
    """A limit of switches or gates with the basis of what is worst known of the device: an estimate, a device of the catalogue."""
    switch = heater.switch
    if limit.part.split(".")[0] not in ("switch", "gate") or limit.basis in ("memory", "estimate", "unknown"):
        return limit
    if switch.estimated:
        return replace(limit, basis="estimate")
    known = [each for each in switch.origins if each.basis not in ("assumed", "model file")]
    if weak := [each.basis for each in known if each.basis in WEAK]:
        return replace(limit, basis=weak[0])
    rated = [each.basis for each in known if each.field in RATINGS]
    return replace(limit, basis=rated[0]) if rated and limit.basis == "rating" else limit


def rests_on_capacitor(heater: Heater, limit: Limit) -> Limit:
    """A limit of the capacitors with the basis of the catalogue's part where its rating is what is judged."""
    bank = heater.capacitors
    rating = {"A": "current_rating", "V": "voltage_rating"}.get(limit.unit)
    if (
        limit.part != "capacitors"
        or limit.basis != "rating"
        or rating is None
        or bank.part is None
        or not bank.rests_on_part(rating)
    ):
        return limit
    return replace(limit, basis=bank.part.provenance)


def capacitor_cautions(heater: Heater) -> Iterator[str]:
    """What the capacitors of the catalogue are not, in a plain sentence; nothing where all figures are the scenario's own."""
    bank, part = heater.capacitors, heater.capacitors.part
    if part is None or part.provenance not in WEAK:
        return
    if bank.unit == part.capacitance or bank.rests_on_part("voltage_rating") or bank.rests_on_part("current_rating"):
        yield (
            f"The capacitors are {part.name} of the catalogue: figures of a class from memory, not of a part one can buy. Put the "
            "datasheet figures of the part chosen into [capacitors] before building."
        )


def missed(points: tuple[DatasheetPoint, ...]) -> str:
    """The figures that are missed, in words: "reverse capacitance 60 pF, in the model 90 pF (+50 %)"."""
    told = (
        f"{each.name} {format_quantity(each.given, each.unit)}, in the model {format_quantity(each.model, each.unit)} "
        f"({100 * each.difference:+.2g} %)"
        for each in points
        if abs(each.difference) > TOLD
    )
    return "; ".join(told)


def device_cautions(scenario: Scenario, heater: Heater) -> Iterator[str]:
    """What the model of the switches is not, in plain sentences."""
    switch = heater.switch
    if switch.user_model:
        yield (
            f"The switches are the model {switch.user_name} as its file has it: nothing of it is fitted to the datasheet figures "
            "of [switch], and whether it meets them is not checked."
        )
    yield from _of_no_device(heater)
    judged = judged_points(scenario, heater)
    if told := missed(judged):
        yield f"The MOSFET model misses its datasheet: {told}."
    if not switch.user_model and no_swing(switch):
        yield (
            "The gate-drain charge cannot have been measured at transconductance_current: more than half of "
            "gate_drain_charge_voltage would drop in the on-resistance."
        )
    if told := missed(tuple(each for each in datasheet_points(switch) if each not in judged)):
        yield f"switch.miller_voltage stands in place of the reverse capacitance: {told}."


def _of_no_device(heater: Heater) -> Iterator[str]:
    """Figures of a class of devices, and estimates with their bands."""
    switch = heater.switch
    if any(each.basis in WEAK for each in switch.origins):
        yield (
            f"The switches are {switch.device} from the catalogue: figures for a class, from memory, not for a device you can buy. "
            "Put the datasheet figures of your device into [switch] before building."
        )
    told = "; ".join(_estimate(switch, each) for each in switch.estimated)
    if told:
        rests = (
            "What is counted from it, not the waves, rests" if switch.user_model else "Gate and drain waves while switching rest"
        )
        yield f"Of the switches it is estimated, not known: {told}. {rests} on it; the datasheet's figure in [switch] settles it."


def _estimate(switch: Switch, origin: Origin) -> str:
    """An estimated figure with its band and rule."""
    value = format_quantity(getattr(switch, origin.field), figure_unit(origin.field), 3)
    return f"{origin.field} {value}, within a factor of {origin.band:g} ({origin.words})"
