# SPDX-License-Identifier: GPL-3.0-or-later
"""What the switches lose and how warm they get, for page and terminal."""

from __future__ import annotations

from heatsim.measures.gather import SIDES
from heatsim.parts.sink import CEILING
from heatsim.report.base.words import number, value_text
from heatsim.studies.check import CaseResult, judged_junction

LOSSES = {
    "conduction": "conduction",
    "overlap": "turning on and off",
    "diode": "body diode",
    "avalanche": "avalanche",
    "gate": "gate resistance of the chip",
}
"""Name of a loss in its key -> in words."""

NOT_JUDGED = "Their temperature is not judged: give [switch.cooling]."


def rows(case: CaseResult) -> list[tuple[str, tuple[str, ...]]]:
    """(label, text of the left and of the right bank) of the table of losses and temperatures; empty without losses."""
    if number(case.measures, "switch.left.loss_w") is None:
        return []
    found = [(f"{words}, each device", _sides(case, f"{name}_loss_w", "W")) for name, words in LOSSES.items()]
    found.append(("all of it, each device", _sides(case, "loss_w", "W")))
    if case.heater.silicon is None:
        return found
    found.append(("worst device, hot", _sides(case, "worst_device_loss_w", "W")))
    found += [(f"{part} temperature", _sides(case, f"{part}_temperature_c", "°C")) for part in ("sink", "case")]
    found.append(("junction temperature", tuple(_junction(case, side) for side in SIDES)))
    if any(number(case.measures, f"switch.{side}.run_junction_temperature_c") is not None for side in SIDES):
        found.append(("sink after the run", _sides(case, "run_sink_temperature_c", "°C")))
        found.append(("junction after the run", tuple(_hot(judged_junction(case.measures, side)) for side in SIDES)))
    return found


def note(case: CaseResult) -> str:
    """What the table rests on, or that the temperature is not judged."""
    path = case.heater.silicon
    if path is None:
        return NOT_JUDGED
    layer = f"{value_text(path.junction_to_case, 'K/W')} in the device, {value_text(path.interface, 'K/W')} to the sink"
    air = "still air" if path.sink.speed == 0 else f"air at {path.sink.speed:g} m/s"
    return (
        f"Losses as simulated, with the on-resistance as at {value_text(path.resistance_c, '°C')}; temperatures of each bank's "
        f"worst device, loss and on-resistance in balance: {layer}, sink in {air} of {value_text(path.ambient, '°C')}."
    )


def line(case: CaseResult) -> str | None:
    """The hotter bank in one line; None where nothing is known of its temperature."""
    warm = {side: value for side in SIDES if isinstance(value := judged_junction(case.measures, side), float)}
    if case.heater.silicon is None or not warm:
        return None
    side = max(warm, key=lambda each: warm[each])
    loss = value_text(number(case.measures, f"switch.{side}.loss_w"), "W")
    largest = max(LOSSES, key=lambda name: number(case.measures, f"switch.{side}.{name}_loss_w") or 0.0)
    most = value_text(number(case.measures, f"switch.{side}.{largest}_loss_w"), "W")
    head = f"{case.name}: each {side} switch loses {loss} ({LOSSES[largest]} {most})"
    if number(case.measures, f"switch.{side}.run_junction_temperature_c") is not None:
        return f"{head}; junction {_hot(warm[side])} after the run"
    sink = number(case.measures, f"switch.{side}.sink_temperature_c")
    return f"{head}; junction {_junction(case, side)}" + ("" if sink is None else f", sink {value_text(sink, '°C')}")


def _sides(case: CaseResult, name: str, unit: str) -> tuple[str, ...]:
    return tuple(value_text(number(case.measures, f"switch.{side}.{name}"), unit) for side in SIDES)


def _hot(celsius: object) -> str:
    """A junction temperature; one that has no balance is not a number of degrees."""
    return "thermal runaway" if isinstance(celsius, float) and celsius > CEILING else value_text(celsius, "°C")


def _junction(case: CaseResult, side: str) -> str:
    """Junction temperature with its band."""
    low, high = (case.measures.get(f"switch.{side}.junction_temperature_{end}_c") for end in ("low", "high"))
    value = case.measures.get(f"switch.{side}.junction_temperature_c")
    return f"{_hot(value)} ({_hot(low)} to {_hot(high)})" if low != high else _hot(value)
