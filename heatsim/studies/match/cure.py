# SPDX-License-Identifier: GPL-3.0-or-later
"""A fitted heater written as a scenario file, and with its cause put right: simulated before it is proposed.

What a fit leaves as it was keeps its words. A choke that differs is written as a measured one (it wins over geometry, which stays
for copper and cooling): a table of inductance against current. Values are rounded to five digits.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from heatsim.measures.gather import MeasureContext, measure
from heatsim.parts.choke import Choke
from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.written import with_fields
from heatsim.studies.match.advice import ADVICE
from heatsim.studies.match.fault_model import NOTHING, PROBE
from heatsim.studies.match.fit import RIPPLE, HypothesisFit
from heatsim.studies.match.parameters import with_changes
from heatsim.studies.match.pool import MatchPool
from heatsim.studies.match.refinement import nuisance_changes
from heatsim.studies.match.response_library import ResponseLibrary
from heatsim.studies.match.result import Cure
from heatsim.studies.match.solver import Solution
from heatsim.tasks import Failed

Field = str | int | list[list[str]]
SAME = 1e-6
"""Relative difference below which a value was left as it is."""

SHOWN = (
    *(f"tank.{name}" for name in ("thd_ratio", "even_harmonic_ratio", "odd_harmonic_ratio", "peak_voltage_v", "frequency_hz")),
    "supply.mean_current_a",
    *(f"drain.{side}.peak_voltage_v" for side in ("left", "right")),
    *(f"choke.{side}.peak_current_a" for side in ("left", "right", "centre")),
)
PERIODS = 4
"""Measures told of the fitted and of the cured heater, over so many periods."""

POINTS = 16
"""Rows of a choke's table."""


def fitted_fields(scenario: Scenario, case: str, heater: Heater) -> dict[str, Field]:
    """Dotted fields that turn the scenario's case into a heater with the values of `heater`, but for its damage."""
    own, heater = scenario.heater(case), _at_working_current(heater)
    found: dict[str, Field] = {}

    def put(field: str, value: float, was: float, unit: str) -> None:
        if abs(value - was) > SAME * abs(was):
            found[field] = format_quantity(value, unit, 5)

    def compare(part: str, **units: str) -> None:
        for name, unit in units.items():
            put(f"{part}.{name}", getattr(getattr(heater, part), name), getattr(getattr(own, part), name), unit)

    compare("supply", voltage="V")
    put("capacitors.capacitance", heater.capacitors.unit, own.capacitors.unit, "F")
    loss = scenario.case(case).tables.capacitors.dissipation_factor
    # the scenario takes the loss factor at 1/(2 pi sqrt(L C)) of the empty coil, so R goes with it and sqrt(L/C)
    shift = heater.capacitors.capacitance / own.capacitors.capacitance * own.coil.inductance / heater.coil.inductance
    ratio = heater.capacitors.resistance / own.capacitors.resistance * math.sqrt(shift)
    put("capacitors.dissipation_factor", loss * ratio, loss, "%")
    compare("coil", lead_resistance="ohm", lead_inductance="H")
    _tank(found, case, heater, own)
    compare("gate", supply_voltage="V", pull_up="ohm", resistor="ohm", inductance="H", diode_recovery="s")
    compare("switch", threshold="V", gate_resistance="ohm", on_resistance="ohm", transconductance="S", miller_voltage="V")
    compare("switch", input_capacitance="F", output_capacitance="F", gate_drain_charge="C", drain_inductance="H")
    if any(field.startswith("switch.") for field in found):  # it follows from the other figures where it is not given
        found["switch.miller_voltage"] = format_quantity(heater.switch.miller_voltage, "V", 5)
    compare("capacitors", inductance="H")
    put("heater.bus_inductance", heater.bus_inductance, own.bus_inductance, "H")
    put("switch.threshold_spread", heater.switch.threshold_spread, own.switch.threshold_spread, "V")
    for new, old in zip(heater.chokes, own.chokes, strict=True):
        if new.curve != old.curve or new.resistance != old.resistance:
            found[f"choke.{new.side}.measured"] = measured_choke(new)
        if new.short is not None and new.short != old.short:
            found[f"choke.{new.side}.short_resistance"] = format_quantity(new.short.resistance, "ohm", 5)
            found[f"choke.{new.side}.short_inductance"] = format_quantity(new.short.inductance, "H", 5)
    return found


def _at_working_current(heater: Heater) -> Heater:
    """The heater with a steel that does not saturate, as it is at the working current."""
    steel, work = heater.damage.steel, heater.workpiece
    if steel is None or work is None:
        return heater
    coil = replace(heater.coil, inductance=heater.coil.inductance + steel.seen_inductance)
    work = replace(work, inductance=work.inductance + steel.seen_inductance, resistance=work.resistance + steel.seen_resistance)
    return replace(heater, coil=coil, workpiece=work, damage=replace(heater.damage, steel=None))


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


def measured_choke(choke: Choke) -> Any:
    """[choke.SIDE.measured] of a choke's curve."""
    zero, air = choke.curve.inductance_zero, choke.curve.inductance_air
    grid = np.geomspace(0.05, 400.0, 400)
    shares = choke.curve.inductance(grid) / zero
    top = float(np.interp(-max(1.15 * air / zero, 0.02), -shares, grid))
    currents = [0.0, *np.geomspace(max(top / 60, 0.2), max(top, 1.0), POINTS - 1)]
    values = np.minimum.accumulate(np.array([zero, *choke.curve.inductance(np.array(currents[1:]))]))
    rows = zip(currents, values, strict=True)
    table = [[format_quantity(i, "A", 4) if i else "0 A", format_quantity(float(x), "H", 5)] for i, x in rows]
    floor = format_quantity(min(air, float(values[-1]) * 0.999), "H", 4)
    return {"resistance": format_quantity(choke.resistance, "ohm", 5), "table": table, "air_inductance": floor}


def cure_of(
    pool: MatchPool, scenario: Scenario, case: str, library: ResponseLibrary, best: HypothesisFit, fitted: Solution, steps: int
) -> tuple[Cure, str] | None:
    """The cure, not yet judged, and the text of the cured scenario; None where there is nothing to put right in the heater, or the
    cured heater cannot be simulated.

    case: the library's
    fitted: the best fit's solution
    """
    hypothesis = best.hypothesis
    if hypothesis.cause in (NOTHING, PROBE) or hypothesis.name == RIPPLE:
        return None
    heater = with_changes(library.heater, nuisance_changes(library, best))
    answer = pool.one(("solve", (heater, library.signals, steps, library.start)))
    if isinstance(answer, Failed):
        return None
    before, after = _numbers(fitted), _numbers(answer)
    ill, well = (fitted_fields(scenario, case, each) for each in (fitted.heater, heater))
    fields = {key: value for key, value in well.items() if isinstance(value, str) and ill.get(key) != value}
    clean = after.get("tank.thd_ratio", 1.0) <= scenario.tables.limits.thd
    return Cure(ADVICE[hypothesis.cause][1], fields, before, after, clean), cured_text(scenario, well)


def cured_text(scenario: Scenario, fields: Mapping[str, Any]) -> str:
    """The cured scenario at the scenario's own supply voltage; fields: those that make the captured case the cured one."""
    return with_fields(scenario, {name: value for name, value in fields.items() if name != "supply.voltage"}, "put right")


def _numbers(solution: Solution) -> dict[str, float]:
    waves = solution.waveforms.repeated(PERIODS)
    found = measure(waves, MeasureContext(from_rest=False, periods=PERIODS - 1))
    return {key: value for key in SHOWN if isinstance(value := found.get(key), float)}
