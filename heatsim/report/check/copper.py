# SPDX-License-Identifier: GPL-3.0-or-later
"""Conductors and the coil's water in rows and sentences, for terminal and page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from heatsim.errors import printable
from heatsim.parts.conductor import JOINT_BAND, Conductor, Joint
from heatsim.parts.thermal import CEILING
from heatsim.report.base.words import number, value_text
from heatsim.studies.check import CaseResult

HEADINGS = ("rms", "R, direct", "R, tank", "R, its own", "loss", "temperature", "allowed", "copper", "needed", "L")
"""Of the columns beside the conductor's name: resistances to direct current, at the tank's frequency and to its own current."""


@dataclass(frozen=True)
class Row:
    """name; what: kind, and what it carries; numbers: one a heading."""

    name: str
    what: str
    numbers: tuple[str, ...]


def conductors(case: CaseResult) -> list[Row]:
    """A row a conductor; none where the case was not measured."""
    return [
        _row(case, each) for each in case.heater.conductors if number(case.measures, f"conductor.{each.key}.loss_w") is not None
    ]


def _row(case: CaseResult, each: Conductor | Joint) -> Row:
    def told(name: str, unit: str) -> str:
        return value_text(number(case.measures, f"conductor.{each.key}.{name}"), unit).replace("mm2", "mm²")

    several = f"{each.count} × " if each.count > 1 else ""
    numbers = (
        told("rms_current_a", "A"),
        told("resistance_direct_ohm", "ohm"),
        told("resistance_tank_ohm", "ohm"),
        told("resistance_ohm", "ohm"),
        told("loss_w", "W"),
        _temperature(case, each.key),
        value_text(each.limit, "°C"),
        told("area_m2", "m2"),
        told("area_needed_m2", "m2"),
        told("inductance_h", "H"),
    )
    return Row(printable(each.name), f"{several}{each.kind}; {each.carries}", numbers)


def _temperature(case: CaseResult, key: str) -> str:
    """With its band: "71.8 °C (58 to 91)"."""
    warm, low, high = (number(case.measures, f"conductor.{key}.temperature{which}_c") for which in ("", "_low", "_high"))
    if warm is None or low is None or high is None:
        return "not known" if warm is None else value_text(warm, "°C")
    if warm > CEILING:
        return f"above {value_text(CEILING, '°C')}"
    return f"{value_text(warm, '°C')} ({low:.0f} to {high:.0f})".replace("-", "−")


def notes(case: CaseResult) -> Iterator[str]:
    """What the table rests on, and what its inductances mean for the tank."""
    yield (
        "R: resistance to direct current, at the tank's frequency, and to the current that flows; all of them hot. "
        "Losses are part of what the circuit books for supply, leads or switches, not added to it. Temperatures: heat given off "
        "along the whole length, none at the ends; in brackets what bands of cooling and resistance allow. Needed: the copper at "
        "which the temperature allowed is just kept, by a strip's width or a cable's section. Solder counts as the "
        "copper it stands for."
    )
    for each in case.heater.conductors:
        chart = number(case.measures, f"conductor.{each.key}.chart_rise_k")
        warm = number(case.measures, f"conductor.{each.key}.temperature_c")
        if chart is not None and warm is not None:
            yield (
                f"{each.name}: the charts of IPC-2221 say a rise of {value_text(chart, 'K')} (up to 35 A, 10 mm, 100 K; direct "
                f"current), the heat balance {value_text(warm - each.air.ambient, 'K')}."
            )
        if isinstance(each, Joint) and each.band > 1:
            yield (
                f"{each.name}: its contact resistance is not measured; {value_text(each.resistance, 'ohm')} are assumed, within a "
                f"factor of {JOINT_BAND:g} (common practice, no source)."
            )
    yield from _tank(case)


def _tank(case: CaseResult) -> Iterator[str]:
    """What the conductors of the tank's current add to its inductance."""
    of_tank = [each for each in case.heater.conductors if each.carries == "tank" and each.inductance]
    if not of_tank:
        return
    together, whole = sum(each.inductance or 0.0 for each in of_tank), case.heater.loaded_inductance
    lead, names = case.heater.coil.lead_inductance, ", ".join(each.name for each in of_tank)
    yield (
        f"Conductors of the tank's current ({names}) have {value_text(together, 'H')} by themselves, "
        f"{value_text(together / whole, 'ratio')} of the tank's {value_text(whole, 'H')}; less where their return lies beside "
        f"them. It is not added to the circuit: coil.lead_inductance, {value_text(lead, 'H')} here, has to include it."
    )


WATER = {
    "heat into the water": ("coil.water_heat_w", "W"),
    "flow": ("coil.water_flow_m3_per_s", "m3/s"),
    "flow for the rise wanted": ("coil.water_flow_wanted_m3_per_s", "m3/s"),
    "inlet": ("coil.water_inlet_c", "°C"),
    "outlet": ("coil.water_outlet_c", "°C"),
    "hottest wall of the bore": ("coil.wall_temperature_c", "°C"),
    "boils at": ("coil.boiling_temperature_c", "°C"),
    "pressure drop": ("coil.pressure_drop_pa", "Pa"),
    "runs dry": ("coil.dry_time_s", "s"),
}
"""Label -> key and unit of the rows about the water."""


def water_note(case: CaseResult) -> str:
    """What the rows about the water rest on."""
    circuit = case.heater.water
    if circuit is None:
        return ""
    return (
        f"Heat: the losses of coil and leads as the circuit books them, and {value_text(circuit.workpiece_share, 'ratio')} of the "
        "workpiece's power (coil.cooling.workpiece_share: next to nothing when it is cold or lagged, up to a third when it glows). "
        f"Hottest wall: {circuit.hottest_flux:g} times the mean heat flux (coil.cooling.hottest_flux: an estimate, 1 to 3). "
        "Friction and heat transfer of a clean, wound tube within some 20 %; lime adds to the wall. Runs dry: time in which the "
        f"tube's copper alone, without any cooling, reaches {value_text(circuit.dry_temperature, '°C')}."
    )


def water(case: CaseResult) -> list[tuple[str, str]]:
    """Label and text of the rows about the coil's water; none without its table or a measured run."""
    if case.heater.water is None or number(case.measures, "coil.water_heat_w") is None:
        return []
    return [(label, value_text(number(case.measures, key), unit)) for label, (key, unit) in WATER.items()]


def lines(case: CaseResult) -> Iterator[str]:
    """For the terminal: the conductor nearest to its limit, and the water."""
    known = [
        (each, warm) for each in case.heater.conductors if (warm := number(case.measures, f"conductor.{each.key}.temperature_c"))
    ]
    if known:
        each, warm = max(known, key=lambda pair: (pair[1] - pair[0].air.ambient) / (pair[0].limit - pair[0].air.ambient))
        yield (
            f"{printable(case.name)}: conductor nearest to its limit: {printable(each.name)}, {_temperature(case, each.key)}, "
            f"{value_text(each.limit, '°C')} allowed"
        )
    rows = dict(water(case))
    if rows:
        yield (
            f"{printable(case.name)}: water {rows['inlet']} in, {rows['outlet']} out, {rows['flow']} at {rows['pressure drop']}, "
            f"hottest wall {rows['hottest wall of the bore']}, boils at {rows['boils at']}"
        )
