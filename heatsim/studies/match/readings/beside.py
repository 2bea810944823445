# SPDX-License-Identifier: GPL-3.0-or-later
"""Texts of readings that were taken beside captures, as data of the captures' fit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from heatsim.errors import InputError, Problem
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.captures import CaptureRequest
from heatsim.studies.match.meter_reading import MeterReading
from heatsim.studies.match.readings.meters import model_error
from heatsim.studies.match.readings.parse import WHERE, Reading, parse_readings


def readings_beside(scenario: Scenario, texts: Sequence[str], requests: Sequence[CaptureRequest]) -> tuple[MeterReading, ...]:
    """Readings of the conditions in which captures were taken. Raises InputError for texts that are none, and for what cannot be
    fitted together with a capture."""
    conditions = [each.condition(scenario) for each in requests]
    readings = parse_readings(scenario, texts, None, conditions) if texts else ()
    problems = [problem for each in readings for problem in _unfit(each)]
    if problems:
        raise InputError(*problems)
    return tuple(_plain(scenario, each) for each in readings)


def _unfit(reading: Reading) -> Iterator[Problem]:
    if reading.what.timed:
        allowed = "readings of the steady state; temperatures without captures"
        yield Problem(WHERE, "cannot be fitted together with a capture: it follows the capture by minutes", reading.text, allowed)
    if reading.condition.supply_error is not None:
        allowed = "--supply of the capture"
        yield Problem(WHERE, "is of a case whose supply voltage is a reading with an error", reading.text, allowed)


def _plain(scenario: Scenario, reading: Reading) -> MeterReading:
    condition, what = reading.condition, reading.what
    ambient = scenario.heater(condition.case).ambient
    error = float(np.hypot(reading.error, model_error(what, reading.value, ambient)))
    return MeterReading(reading.text, condition.case, condition.supply_voltage, what.measure, what.unit, reading.value, error)
