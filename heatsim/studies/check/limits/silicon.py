# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits of what the switches warm: junction, sink, and the energy of one avalanche."""

from __future__ import annotations

import math

from heatsim.parts.sink import CEILING, PlateSink, ThermalPath
from heatsim.quantity import format_quantity
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.studies.check.limits.choke import AFTER
from heatsim.verdict import Limit

LOSSES = {
    "conduction": ("conduction", "Put more devices in parallel on each side, or use ones with a lower on-resistance"),
    "overlap": ("turning on and off", "Use devices with less gate-drain charge, or pull the gates up through a smaller resistor"),
    "diode": ("the body diodes", "Turn the gates on when their drain is down, so that the channel carries what the diode does now"),
    "avalanche": ("avalanche", "Lower the supply voltage, or use devices with a higher voltage rating"),
    "gate": ("the chips' gate resistance", "Use devices with less gate charge"),
}
"""What a device loses most by -> in words, and what helps."""

GIVE_MASS = "Give what the sink weighs (switch.cooling.sink_mass), or leave out heater.run."


def junction_temperature(case: JudgedCase, side: str) -> Limit | None:
    """Junction temperature of a bank's worst device: after the scenario's run, or for ever where it states none."""
    path, part, run = case.heater.silicon, f"switch.{side}", case.scenario.tables.heater.run
    if path is None:
        return None
    key, unknown = f"{part}.junction_temperature_c", ""
    name = "junction temperature"
    if run is not None:
        key, name = f"{part}.run_junction_temperature_c", f"{name}{AFTER}{format_quantity(run, 's')} from cold"
        unknown = "" if path.sink.capacity is not None else "how much heat the sink takes up is not known"
    cause, remedy = _cause(case, path, part), _remedy(case, path, part)
    allowed = path.junction_limit
    settle = GIVE_MASS if unknown else ""
    return Limit(part, name, key, allowed, "°C", "estimate", cause=cause, remedy=remedy, unknown=unknown, settle=settle)


def sink_temperature(case: JudgedCase, side: str) -> Limit | None:
    """Temperature of the sink against the scenario's own limit, where it has one."""
    path, part, run = case.heater.silicon, f"switch.{side}", case.scenario.tables.heater.run
    if path is None or path.sink_limit is None:
        return None
    key = f"{part}.sink_temperature_c" if run is None else f"{part}.run_sink_temperature_c"
    name = "temperature of the sink" + ("" if run is None else f"{AFTER}{format_quantity(run, 's')} from cold")
    unknown = "the switches run away, so that there is no lasting temperature" if _runs_away(case, part) else ""
    settle = "Cool the switches better first." if unknown else GIVE_MASS if run is not None and path.sink.capacity is None else ""
    cause = f"The sink cools {SHARED[path.shared]}; the worst device alone loses {_power(case, part)}."
    remedy = f"{better_sink(path)}."
    return Limit(part, name, key, path.sink_limit, "°C", "estimate", cause=cause, remedy=remedy, unknown=unknown, settle=settle)


def avalanche_energy(case: JudgedCase, side: str) -> Limit | None:
    """Energy of the largest single avalanche of the run, switching on included, against one device's rating, where it is given."""
    path = case.heater.silicon
    if path is None or path.avalanche_energy is None:
        return None
    cause = (
        "The drain reaches the breakdown voltage, which the model has at the voltage rating; of devices in parallel the one that "
        "breaks down first takes all of it (common practice, no source)."
    )
    remedy = "Lower the supply voltage, or use devices with a higher voltage rating."
    key, part = f"switch.{side}.avalanche_energy_j", f"switch.{side}"
    return Limit(part, "energy of one avalanche", key, path.avalanche_energy, "J", "rating", cause=cause, remedy=remedy)


SHARED = {"all": "the devices of both sides", "side": "the devices of its side", "device": "one device"}
"""What one sink carries, in words."""


def better_sink(path: ThermalPath) -> str:
    """What cools a sink better."""
    if path.sink.speed > 0:
        return "Blow more air through the sink, or use a larger one"
    if isinstance(path.sink, PlateSink):
        return "Blow air along the plate with a fan (switch.cooling.air_speed), or use a larger plate or a finned sink"
    return "Blow air through the sink with a fan (switch.cooling.air_speed), or use a larger sink"


def _runs_away(case: JudgedCase, part: str) -> bool:
    return case.measures.get(f"{part}.heat_state") == "runaway"


def _power(case: JudgedCase, part: str) -> str:
    return format_quantity(case.number(f"{part}.worst_device_loss_w"), "W")


def _largest(case: JudgedCase, part: str) -> str:
    """What a device loses most by."""
    sizes = {name: case.number(f"{part}.{name}_loss_w") for name in LOSSES}
    return max(sizes, key=lambda name: sizes[name] if math.isfinite(sizes[name]) else -math.inf)


def _cause(case: JudgedCase, path: ThermalPath, part: str) -> str:
    """Losses, way to the air, band and what was assumed, in words."""
    most, loss = LOSSES[_largest(case, part)][0], format_quantity(case.number(f"{part}.loss_w"), "W")
    head = f"Each device loses {loss} as simulated, most of it by {most}."
    if _runs_away(case, part):
        ceiling = format_quantity(CEILING, "°C")
        head += (
            " The hotter it gets the more its on-resistance and loss grow, and faster than heat is carried away: there is no "
            f"balance below {ceiling} (thermal runaway)."
        )
    else:
        sink, case_c = (format_quantity(case.number(f"{part}.{name}_temperature_c"), "°C") for name in ("sink", "case"))
        head += f" Hot, the worst one loses {_power(case, part)}; its case reaches {case_c}, the sink {sink}{_air(path)}."
    return f"{head}{_time(case, path, part)} {_band(case, part)}{_assumed(case, path)}"


def _air(path: ThermalPath) -> str:
    if path.sink.speed == 0:
        return " in still air"
    return f" in air at {path.sink.speed:g} m/s"


def _time(case: JudgedCase, path: ThermalPath, part: str) -> str:
    reached = case.measures.get(f"{part}.time_to_limit_s")
    if not isinstance(reached, float):
        return ""
    return f" From cold it reaches {format_quantity(path.junction_limit, '°C')} after {format_quantity(reached, 's')}."


def _band(case: JudgedCase, part: str) -> str:
    low, high = (case.number(f"{part}.junction_temperature_{end}_c") for end in ("low", "high"))
    upper = "thermal runaway" if high > CEILING else format_quantity(high, "°C")
    return f"Between {format_quantity(low, '°C')} and {upper} within what is known of sink, layer and on-resistance"


def _assumed(case: JudgedCase, path: ThermalPath) -> str:
    """The estimates that stand in place of figures not given."""
    given = case.scenario.tables.switch.cooling
    own = given.model_fields_set if given is not None else set()
    assumed = {
        "junction_limit": f"limit {path.junction_limit:g} °C",
        "on_resistance_temperature": f"switch.on_resistance given for {path.resistance_c:g} °C",
        "on_resistance_ratio": "on-resistance at 150 °C 2.24 times that at 25 °C",
        "on_resistance_spread": f"devices {100 * path.resistance_spread:g} % apart either way"
        if case.heater.switch.count > 1
        else "",
    }
    told = [words for field, words in assumed.items() if field not in own and words]
    return f"; assumed: {', '.join(told)}." if told else "."


def _remedy(case: JudgedCase, path: ThermalPath, part: str) -> str:
    helps = LOSSES[_largest(case, part)][1]
    return f"{better_sink(path)}; or lose less: {helps[0].lower()}{helps[1:]}."
