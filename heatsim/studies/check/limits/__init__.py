# SPDX-License-Identifier: GPL-3.0-or-later
"""The limits of a case, one file a part; each limit is a function that gives its allowed value, cause and remedy.

A new limit is one function in the file of its part and one entry in a table below; findings come in the tables' order.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check.limits import (
    bank,
    capacitor,
    choke,
    coil,
    conductor,
    gate,
    gate_network,
    latch,
    run,
    silicon,
    start,
    supply,
    switch,
    tank,
    water,
    windability,
    workpiece,
)
from heatsim.studies.check.limits.base import JudgedCase, Measures
from heatsim.studies.check.limits.choke import AFTER
from heatsim.studies.check.limits.device import rests_on_capacitor, rests_on_device
from heatsim.studies.check.limits.oscillator import outcome_finding, over_voltage
from heatsim.studies.check.limits.run import ENERGY_LIMIT, RUN
from heatsim.verdict import Limit

__all__ = ["AFTER", "ENERGY_LIMIT", "RUN", "case_limits", "latched_limits", "outcome_finding", "over_voltage"]

OF_A_SIDE = (
    switch.drain_voltage,
    gate.highest_voltage,
    gate.lowest_voltage,
    gate.drive_reached,
    switch.peak_current,
    switch.turn_on_voltage,
    silicon.junction_temperature,
    silicon.sink_temperature,
    silicon.avalanche_energy,
    gate.crossings,
    gate_network.reverse_voltage,
    gate_network.driver_supply,
)
"""Limits of the left and of the right bank of switches; None where one does not apply."""

OF_A_START = (start.switch_on_voltage, switch.start_current)
"""Limits of a side's switches from switch-on, of runs from rest."""

OF_A_LATCHED_SIDE = (switch.drain_voltage, gate.highest_voltage, gate.lowest_voltage)
"""Those of them that a side which stays on has too, beside the current."""

LATCHED = "It does not oscillate: both banks conduct all the time; so far only resistance, or nothing at all, limits the current."
UNLATCH = "Get it to start first; until then a fuse or breaker in the supply protects what a rating cannot."
"""Cause and remedy of currents while it is latched."""

OF_THE_CASE = (
    capacitor.rms_current,
    capacitor.peak_voltage,
    bank.temperature,
    coil.current_density,
    water.outlet,
    water.wall,
    supply.mean_current,
    tank.distortion,
    workpiece.material,
    workpiece.field,
    run.energy_balance,
    run.datasheet,
    run.datasheet_curves,
)
"""Limits that stand once in a case; None where one does not apply."""

OF_A_CHOKE = (
    choke.inductance_left,
    choke.current_density,
    choke.temperature,
    choke.binder_life,
    windability.copper_fill,
    windability.hole_left,
)
"""Limits of each choke; None where one does not apply to it."""


def case_limits(scenario: Scenario, heater: Heater, measures: Measures) -> tuple[Limit, ...]:
    """Every limit of a case.

    scenario: of this case, its changes applied
    measures: flat, SI; a limit's cause and remedy rest on them, and none of them needs to be there
    """
    found = (rests_on_device(heater, limit) for limit in _limits(JudgedCase(scenario, heater, measures)))
    found = (rests_on_capacitor(heater, limit) for limit in found)
    return tuple(workpiece.rests_on_load(heater, limit) for limit in found)


def latched_limits(scenario: Scenario, heater: Heater, measures: Measures) -> tuple[Limit, ...]:
    """Limits of switches, gates and supply while it is latched; there is no other state to judge anything in.

    scenario, measures: see `case_limits`
    """
    case = JudgedCase(scenario, heater, measures)
    sides = (each(case, side) for side in ("left", "right") for each in OF_A_LATCHED_SIDE)
    currents = (*(switch.peak_current(case, side) for side in ("left", "right")), supply.mean_current(case))
    told = (each if each.allowed is None else replace(each, cause=LATCHED, remedy=UNLATCH) for each in currents)
    return tuple(rests_on_device(heater, limit) for limit in (*sides, *latch.fuse_limits(case), *told))


def _limits(case: JudgedCase) -> Iterator[Limit]:
    for side in ("left", "right"):
        yield from (found for limit in OF_A_SIDE if (found := limit(case, side)) is not None)
        yield from gate_network.heat(case, side)
        yield from (found for limit in OF_A_START if (found := limit(case, side)) is not None)
    yield from (found for limit in OF_THE_CASE if (found := limit(case)) is not None)
    for each in case.heater.chokes:
        yield from (found for limit in OF_A_CHOKE if (found := limit(case, each)) is not None)
    yield from (conductor.temperature(case, part) for part in case.heater.conductors)
