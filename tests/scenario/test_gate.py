# SPDX-License-Identifier: GPL-3.0-or-later
"""Gate drives from a scenario file: what stands where nothing is given, and what is refused."""

from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.parts.gate import IntegratedDriver, TotemPole
from heatsim.scenario.gate import DELAY, INPUT_HIGH, INPUT_LOW
from heatsim.scenario.scenario import Scenario
from tests.support.drivers import INTEGRATED

FOLDER = Path(__file__).resolve().parents[2] / "scenarios"
PULL_UP, PUSH_PULL = (Scenario.from_file(FOLDER / f"bench-heater{name}.toml") for name in ("", "-push-pull"))


def test_without_a_word_on_it_the_gates_are_pulled_up_from_a_supply_of_their_own() -> None:
    gate = PULL_UP.heater("loaded").gate
    assert (gate.driver, gate.from_main, gate.supply_voltage) == (None, False, 14.0)
    assert PULL_UP.heater("loaded").gate_supply_voltage == 14.0
    assert gate.ratings.diode_voltage is None and gate.diode_rating == 600.0


def test_gates_on_the_main_supply_have_its_voltage_and_no_delay_of_their_own() -> None:
    heater = PULL_UP.change({"gate.supply": "main", "gate.supply_delay": "2 ms"}).heater("loaded")
    assert heater.gate_supply_voltage == heater.supply.voltage == 42.0
    assert (heater.gate.supply_delay, heater.gate.supply_rise) == (0.0, 0.0)


def test_the_demo_has_a_totem_pole_and_every_rating() -> None:
    gate = PUSH_PULL.heater("idle").gate
    assert gate.driver == TotemPole(1.0, 0.7, 4.0, 4.0, 30e-12, 120.0)
    assert None not in vars(gate.ratings).values()


def test_an_integrated_driver_without_figures_of_its_input_has_estimates() -> None:
    driver = PULL_UP.change({"gate.drive": "push-pull", "gate.driver": INTEGRATED}).heater("idle").gate.driver
    assert driver == IntegratedDriver(2.0, 1.0, 3.0, 5.0, 30e-12, INPUT_LOW, INPUT_HIGH, DELAY)


def test_a_driver_that_is_not_used_is_left_out() -> None:
    assert PUSH_PULL.change({"gate.drive": "pull-up"}).heater("idle").gate.driver is None


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"gate.drive": "push-pull"}, ["gate.driver", "is missing", "[gate.driver]"]),
        ({"gate.driver": INTEGRATED | {"current_gain": 50}}, ["gate.driver.current_gain", "kind = integrated"]),
        ({"gate.driver": INTEGRATED | {"kind": "totem-pole", "delay": "30 ns"}}, ["gate.driver.delay", "kind = totem-pole"]),
        ({"gate.driver": INTEGRATED | {"input_low": "3 V"}}, ["gate.driver.input_high", "above input_low, 3 V"]),
        ({"gate.drive": "push-pull", "gate.driver": INTEGRATED | {"input_high": "15 V"}}, ["gate.supply_voltage", "above 15 V"]),
        ({"gate.drive": "half-bridge"}, ["gate.drive", "'pull-up' or 'push-pull'"]),
        (
            {"gate.supply": "main", "supply.voltage": "6 V", "switch.threshold": "7 V"},
            ["supply.voltage", "above the switch threshold"],
        ),
        ({"gate.driver": {"kind": "integrated"}}, ["gate.driver.source_resistance", "is missing"]),
    ],
    ids=str,
)
def test_what_contradicts_itself_is_refused(change: dict[str, object], said: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        PULL_UP.change(change).heater("idle")
    assert all(words in str(caught.value) for words in said), str(caught.value)


def test_a_regulated_gate_supply_needs_a_voltage() -> None:
    text = PULL_UP.text.replace('supply_voltage = "14 V"\n', "")
    with pytest.raises(InputError, match="gate.supply_voltage") as caught:
        Scenario.from_text(text, "x.toml").heater("idle")
    assert "is missing" in str(caught.value) and 'supply = "main"' in str(caught.value)
    assert Scenario.from_text(text.replace("[gate]\n", '[gate]\nsupply = "main"\n'), "x.toml").heater("idle").gate.from_main
