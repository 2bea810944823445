# SPDX-License-Identifier: GPL-3.0-or-later
"""Temperatures of conductors and water at another supply voltage, as a remedy's search expects them, against the simulation."""

from __future__ import annotations

from pathlib import Path

import pytest

import heatsim as hs
from heatsim.scenario.scenario import Scenario
from heatsim.studies.remedy.predict import predicted_measures
from tests.support.once import checked

COPPER = Scenario.from_file(Path(__file__).resolve().parents[3] / "scenarios" / "bench-heater-copper.toml")


def test_rises_of_conductors_and_water_come_within_a_sixth() -> None:
    """From 42 V to 34 V; convection and radiation do not go quite with the rise, copper resists less when colder."""
    lower = COPPER.change({"supply.voltage": "34 V"})
    known, simulated = (checked(each, ["loaded"])["loaded"] for each in (COPPER, lower))
    expected = predicted_measures(known, lower.heater("loaded"))
    keys = [f"conductor.{each.key}.temperature_c" for each in known.heater.conductors]
    for key in (*keys, "coil.water_outlet_c", "coil.wall_temperature_c"):
        was, rise = (case[key] - 25.0 for case in (known.measures, simulated.measures))
        assert rise < 0.8 * was
        assert expected[key] - 25.0 == pytest.approx(rise, rel=1 / 6), key


def test_what_has_no_balance_is_not_promised_one() -> None:
    heater = COPPER.heater("loaded")
    measures = {"conductor.tank_bars.temperature_c": 250.1, "coil.water_outlet_c": None}
    case = hs.studies.check.CaseResult("loaded", "settled", "", measures, (), heater, None, None, None, (), 0.0)
    found = predicted_measures(case, COPPER.change({"supply.voltage": "34 V"}).heater("loaded"))
    assert found["conductor.tank_bars.temperature_c"] == 250.1 and found["coil.water_outlet_c"] is None
