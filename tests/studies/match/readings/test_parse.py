# SPDX-License-Identifier: GPL-3.0-or-later
"""Readings as text: what they become, and what is said of those that cannot be used."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.readings import parse_readings


@pytest.fixture(scope="module")
def scenario(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def test_a_reading_names_case_quantity_value_and_error(scenario: Scenario) -> None:
    (found,) = parse_readings(scenario, ["idle supply.mean_current = 5.6 A ± 0.1 A"])
    assert (found.condition.case, found.condition.supply_voltage, found.what.measure) == ("idle", 42.0, "supply.mean_current_a")
    assert found.value == 5.6 and found.stated and found.after is None
    assert found.error == pytest.approx(0.1 / 1.96)  # half of a 95 % interval of the normal law


@pytest.mark.parametrize("text", ["loaded tank.frequency_hz=84.2kHz ± 0.5 %", "loaded tank.frequency = 84.2 kHz +/- 421 Hz"])
def test_an_error_is_a_share_or_a_quantity(scenario: Scenario, text: str) -> None:
    (found,) = parse_readings(scenario, [text])
    assert found.value == pytest.approx(84.2e3) and found.error == pytest.approx(421 / 1.96)


def test_without_an_error_it_is_the_meters_and_the_last_digits(scenario: Scenario) -> None:
    """A uniform law of width d has the standard deviation d/sqrt(12)."""
    coarse, fine = parse_readings(scenario, ["idle supply.mean_current = 4 A", "loaded supply.mean_current = 4.000 A"])
    meter = (0.015 * 4 + 0.02) / 1.96
    assert coarse.error == pytest.approx(math.hypot(meter, 1 / math.sqrt(12)))
    assert fine.error == pytest.approx(math.hypot(meter, 1e-3 / math.sqrt(12))) and not fine.stated
    (scaled,) = parse_readings(scenario, ["loaded tank.frequency = 84.2 kHz"])
    assert scaled.error == pytest.approx(math.hypot(84.2 / 1.96, 100 / math.sqrt(12)))


def test_voltage_and_time_stand_after_the_key(scenario: Scenario) -> None:
    texts = ["loaded choke.left.ripple_current at 24 V = 4 A", "idle choke.left.temperature after 10 min = 61 °C ± 2 K"]
    ripple, warm = parse_readings(scenario, texts)
    assert ripple.condition.supply_voltage == 24.0 and warm.after == 600.0
    assert warm.error == pytest.approx(2 / 1.96)


def test_the_supply_is_the_scenarios_the_options_or_read_itself(scenario: Scenario) -> None:
    (stated,) = parse_readings(scenario, ["idle supply.mean_current = 5 A"], "30 V")
    assert stated.condition.supply_voltage == 30.0 and stated.condition.supply_error is None
    texts = ["idle supply.mean_current = 5 A", "idle supply.voltage = 41.2 V ± 0.4 V", "loaded tank.frequency = 84 kHz"]
    idle, loaded = parse_readings(scenario, texts)
    assert idle.condition.supply_voltage == 41.2 and idle.condition.supply_error == pytest.approx(0.4 / 1.96 / 41.2)
    assert loaded.condition.supply_voltage == 42.0 and loaded.condition.supply_error is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("supply.mean_current", "is not a reading"),
        ("supply.mean_current = 5 A", "does not say which case was running"),
        ("idel supply.mean_current = 5 A", "did you mean idle"),
        ("idle supply.mean_curent = 5 A", "did you mean supply.mean_current"),
        ("idle supply.mean_current = 5", "has no unit"),
        ("idle supply.mean_current = 5 V", "has the unit 'V'"),
        ("idle supply.mean_current = 0 A", "must be positive"),
        ("idle supply.mean_current = 5 A ± 0 A", "must be positive"),
        ("idle supply.mean_current = 5 A ± 1 A ± 2 A", "more than one error"),
        ("idle supply.mean_current after 5 min = 5 A", "has a time, though it is a reading of the steady state"),
        ("idle supply.mean_current at 30 V at 20 V = 5 A", 'says "at" twice'),
        ("idle supply.mean_current roughly = 5 A", "not understood"),
        ("idle choke.left.temperature = 60 °C", "needs the time since a cold start"),
        ("idle choke.left.temperature after 10 min = 60 °C ± 2 %", "has the unit '%'"),
        ("idle supply.voltage at 30 V = 30 V", 'is itself what "at" would say'),
        ("idle supply.voltage = 42 V", "nothing to compare"),
        ("idle switch.left.case_temperature after 5 min = 60 °C", "no thermal model of the MOSFETs yet"),
        ("idle sink.temperature after 5 min = 60 °C", "no thermal model of the MOSFETs yet"),
    ],
)
def test_what_cannot_be_used_is_said(scenario: Scenario, text: str, words: str) -> None:
    with pytest.raises(InputError, match="--reading") as caught:
        parse_readings(scenario, [text])
    assert words in str(caught.value) and text in str(caught.value)


def test_all_that_is_wrong_is_said_at_once(scenario: Scenario) -> None:
    with pytest.raises(InputError) as caught:
        parse_readings(scenario, ["idle tank.frequency = 84", "hot tank.frequency = 84 kHz"])
    assert len(caught.value.problems) == 2


def test_the_same_thing_is_not_read_twice(scenario: Scenario) -> None:
    with pytest.raises(InputError, match="is given twice"):
        parse_readings(scenario, ["idle tank.frequency = 84 kHz", "idle tank.frequency = 85 kHz"])


def test_a_bad_supply_is_the_options(scenario: Scenario) -> None:
    with pytest.raises(InputError, match="--supply: has no unit"):
        parse_readings(scenario, ["idle tank.frequency = 84 kHz"], "42")
