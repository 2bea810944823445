# SPDX-License-Identifier: GPL-3.0-or-later
"""A fitted heater written as a scenario file: the user's own text with the fitted values in it.

What a fit leaves as it was keeps its words. A choke that differs is written as a measured one (it wins over geometry, which stays
for copper and cooling): a table of inductance against current. Values are rounded to five digits.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from heatsim.parts.choke import Choke
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario

Field = str | int | list[list[str]]
SAME = 1e-6
"""Relative difference below which a value was left as it is."""

POINTS = 16
"""Rows of a choke's table."""


def fitted_fields(scenario: Scenario, case: str, heater: Heater) -> dict[str, Field]:
    """Dotted fields that turn the scenario's case into a heater with the values of `heater`."""
    own = scenario.heater(case)
    found: dict[str, Field] = {}

    def put(field: str, value: float, was: float, unit: str) -> None:
        if abs(value - was) > SAME * abs(was):
            found[field] = format_quantity(value, unit, 5)

    put("supply.voltage", heater.supply.voltage, own.supply.voltage, "V")
    put("capacitors.capacitance", heater.capacitors.unit, own.capacitors.unit, "F")
    loss = scenario.case(case).tables.capacitors.dissipation_factor
    # the scenario takes the loss factor at 1/(2 pi sqrt(L C)) of the empty coil, so R goes with it and sqrt(L/C)
    shift = heater.capacitors.capacitance / own.capacitors.capacitance * own.coil.inductance / heater.coil.inductance
    ratio = heater.capacitors.resistance / own.capacitors.resistance * math.sqrt(shift)
    put("capacitors.dissipation_factor", loss * ratio, loss, "%")
    put("coil.lead_resistance", heater.coil.lead_resistance, own.coil.lead_resistance, "ohm")
    _tank(found, case, heater, own)
    for name, unit in (("supply_voltage", "V"), ("pull_up", "ohm"), ("resistor", "ohm"), ("inductance", "H")):
        put(f"gate.{name}", getattr(heater.gate, name), getattr(own.gate, name), unit)
    for name, unit in (("threshold", "V"), ("gate_resistance", "ohm")):
        put(f"switch.{name}", getattr(heater.switch, name), getattr(own.switch, name), unit)
    put("switch.threshold_spread", max(heater.switch.threshold_spread, 0.0), own.switch.threshold_spread, "V")
    for new, old in zip(heater.chokes, own.chokes, strict=True):
        found |= _choke_fields(new, old)
    return found


def _tank(found: dict[str, Field], case: str, heater: Heater, own: Heater) -> None:
    """Coil and workpiece as measured values; a shorted turn of an empty coil becomes the coil's own."""
    coil, was = heater.coil, own.coil
    if own.workpiece is None and heater.workpiece is not None:
        found["coil.measured"] = _measured(heater.workpiece.inductance, heater.workpiece.resistance)
        return
    if (coil.inductance, coil.resistance) != (was.inductance, was.resistance):
        found["coil.measured"] = _measured(coil.inductance, coil.resistance)
    work = heater.workpiece
    if work is not None and work != own.workpiece:
        found[f"case.{case}.workpiece.measured"] = _measured(work.inductance, work.resistance)
        found[f"case.{case}.workpiece.share"] = "100 %"


def _measured(inductance: float, resistance: float) -> Any:
    return {"inductance": format_quantity(inductance, "H", 6), "resistance": format_quantity(resistance, "ohm", 6)}


def _choke_fields(new: Choke, old: Choke) -> dict[str, Field]:
    side, found = new.side, {}
    if new.curve != old.curve or new.resistance != old.resistance:
        found[f"choke.{side}.measured"] = measured_choke(new)
    if new.short is not None and new.short != old.short:
        found[f"choke.{side}.short_resistance"] = format_quantity(new.short.resistance, "ohm", 5)
        found[f"choke.{side}.short_inductance"] = format_quantity(new.short.inductance, "H", 5)
    return found


def measured_choke(choke: Choke) -> Any:
    """[choke.SIDE.measured] of a choke's curve."""
    zero, air = choke.curve.inductance_zero, choke.curve.inductance_air
    grid = np.geomspace(0.05, 400.0, 400)
    shares = choke.curve.inductance(grid) / zero
    top = float(np.interp(-max(1.15 * air / zero, 0.02), -shares, grid))
    currents = [0.0, *np.geomspace(max(top / 60, 0.2), max(top, 1.0), POINTS - 1)]
    values = np.minimum.accumulate(np.array([zero, *choke.curve.inductance(np.array(currents[1:]))]))
    table = [
        [format_quantity(i, "A", 4) if i else "0 A", format_quantity(float(x), "H", 5)]
        for i, x in zip(currents, values, strict=True)
    ]
    floor = min(air, float(values[-1]) * 0.999)
    return {
        "resistance": format_quantity(choke.resistance, "ohm", 5),
        "table": table,
        "air_inductance": format_quantity(floor, "H", 4),
    }
