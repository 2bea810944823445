# SPDX-License-Identifier: GPL-3.0-or-later
"""From [switch.cooling] to the thermal path of the switches, with the checks that need more than one field."""

from __future__ import annotations

import math
from collections.abc import Iterator

from heatsim.constants import ZERO_CELSIUS
from heatsim.parts.sink import ALUMINIUM_SPECIFIC_HEAT, OWN_BAND, PADS, Pad, PlateSink, RatedSink, ThermalPath, pad_resistance
from heatsim.scenario.problems import Fault, refuse
from heatsim.scenario.schema import ScenarioTables, SwitchCoolingTable
from heatsim.scenario.source import Where

EXPONENT, EXPONENT_BAND = 2.3, (2.0, 2.5)
"""Of the on-resistance over the absolute temperature, where no ratio is given (memory, `physics.mosfet.warm_resistance_ratio`); its
band as ratios of the resistance at 150 °C to that at 25 °C."""

GIVEN_BAND = 1.1
"""Factor, both ways, of an interface resistance that is given; common practice, no source."""

PLATE = ("plate_width", "plate_height", "plate_thickness")


def thermal_path(tables: ScenarioTables, where: Where) -> ThermalPath | None:
    """How the switches are cooled; None where the scenario does not say. Raises InputError when fields contradict one another."""
    table = tables.switch.cooling
    if table is None:
        return None
    faults = ((wrong, ("switch", "cooling", *field), what, given, allowed) for wrong, field, what, given, allowed in _faults(table))
    refuse(where, faults)
    interface, band = _interface(table)
    rows = tuple(table.chain or ())
    total = table.junction_to_case if table.junction_to_case is not None else sum(row[0] for row in rows)
    at_once = total - sum(row[0] for row in rows)
    return ThermalPath(
        chain=((at_once, 0.0), *rows) if at_once > 0 else rows,
        interface=interface,
        interface_band=band,
        sink=_sink(table),
        shared=table.sink_for,
        warm_exponent=_exponent(table.on_resistance_ratio) if table.on_resistance_ratio else EXPONENT,
        warm_exponent_band=_exponents(table),
        resistance_c=table.on_resistance_temperature,
        resistance_spread=table.on_resistance_spread,
        threshold_mismatch=table.threshold_mismatch,
        junction_limit=table.junction_limit,
        sink_limit=table.sink_limit,
        avalanche_energy=table.avalanche_energy,
        ambient=tables.heater.ambient,
    )


def _faults(table: SwitchCoolingTable) -> Iterator[Fault]:
    """(whether it is wrong, field, what, given, allowed)."""
    plate = [getattr(table, name) is not None for name in PLATE]
    own = table.pad_thickness is not None, table.pad_conductivity is not None
    ways = (table.interface is not None) + (table.pad is not None) + any(own)
    chain = sum(row[0] for row in table.chain or ())
    junction = table.junction_to_case
    yield junction is None and not table.chain, (), "has no junction_to_case", "", "junction_to_case or chain, from the datasheet"
    beyond = junction is not None and chain > 1.001 * junction
    yield beyond, ("chain",), "is more than junction_to_case", f"{chain:.4g} K/W", f"up to {junction or 0:g} K/W"
    yield ways != 1, ("interface",), "must be given in one way", "", "interface, or pad, or pad_thickness with pad_conductivity"
    needs = table.pad is not None or any(own)
    yield needs and table.pad_area is None, ("pad_area",), "is missing", "", "the area of the case's metal, such as 1.5 cm2"
    yield own[0] != own[1], ("pad_thickness",), "goes together with pad_conductivity", "", "both or neither"
    rated = table.sink_resistance is not None
    yield (
        rated == any(plate),
        ("sink_resistance",),
        "must be given in one way",
        "",
        f"sink_resistance, or all of {', '.join(PLATE)}",
    )
    yield (
        any(plate) and not all(plate),
        (PLATE[plate.index(False)] if False in plate else PLATE[0],),
        "is missing",
        "",
        "all of a plate",
    )
    fan = table.sink_resistance_fan, table.fan_speed
    yield (fan[0] is None) != (fan[1] is None), ("fan_speed",), "goes together with sink_resistance_fan", "", "both or neither"
    blind = rated and table.air_speed > 0 and fan[0] is None
    yield (
        blind,
        ("air_speed",),
        "needs sink_resistance_fan and fan_speed: how moving air helps this sink is not known",
        "",
        "both, or 0 m/s",
    )
    worse = rated and fan[0] is not None and table.sink_resistance is not None and fan[0] > table.sink_resistance
    yield (
        worse,
        ("sink_resistance_fan",),
        "is more than in still air",
        f"{fan[0] or 0:g} K/W",
        f"up to {table.sink_resistance or 0:g} K/W",
    )


def _interface(table: SwitchCoolingTable) -> tuple[float, float]:
    """Case to sink [K/W], and the factor, both ways, within which it is."""
    if table.interface is not None:
        return table.interface, GIVEN_BAND
    if table.pad is not None:
        pad = PADS[table.pad]
    else:
        assert table.pad_thickness is not None and table.pad_conductivity is not None
        pad = Pad(table.pad_thickness, table.pad_conductivity, OWN_BAND)
    assert table.pad_area is not None
    return pad_resistance(pad, table.pad_area), pad.band


def _sink(table: SwitchCoolingTable) -> RatedSink | PlateSink:
    if table.sink_resistance is None:
        width, height, thickness = (float(getattr(table, name)) for name in PLATE)
        return PlateSink(width, height, thickness, table.plate_emissivity, table.air_speed)
    capacity = None if table.sink_mass is None else table.sink_mass * ALUMINIUM_SPECIFIC_HEAT
    return RatedSink(table.sink_resistance, table.sink_resistance_fan, table.fan_speed, table.air_speed, capacity)


def _exponent(ratio: float) -> float:
    """Exponent of the absolute temperature that gives a ratio of the on-resistance at 150 °C to that at 25 °C."""
    return math.log(ratio) / math.log((150.0 + ZERO_CELSIUS) / (25.0 + ZERO_CELSIUS))


def _exponents(table: SwitchCoolingTable) -> tuple[float, float]:
    own = table.on_resistance_ratio
    low, high = (own, own) if own else EXPONENT_BAND
    return _exponent(low), _exponent(high)
