# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits of the parts round a gate, without a simulation: judged where a rating is given, and said not to be where none is."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.report.check.gates import drive_words, heat_rows, not_judged
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_limits
from heatsim.studies.check.limits import drive
from heatsim.studies.check.limits.gate_network import HEATED, gate_cautions, unrated
from heatsim.studies.check.start import seen
from heatsim.verdict import judge
from heatsim.waves import Waveforms
from tests.support.drivers import INTEGRATED
from tests.support.results import checks

FOLDER = Path(__file__).resolve().parents[4] / "scenarios"
PULL_UP, PUSH_PULL = (Scenario.from_file(FOLDER / f"bench-heater{name}.toml") for name in ("", "-push-pull"))


def found(scenario, measures, name):
    """The findings of the left gate by one limit's name."""
    limits = case_limits(scenario.case("loaded"), scenario.heater("loaded"), measures)
    return judge(measures, [each for each in limits if each.part == "gate.left" and each.name == name], 0.1)


@pytest.mark.parametrize(("power", "grade"), [(0.5, "holds"), (0.58, "marginal"), (0.7, "fails")])
def test_heat_is_judged_against_the_rating_that_is_given(power, grade):
    (finding,) = found(PUSH_PULL, {"gate.left.pull_up_loss_w": power}, "pull-up, heat")
    assert (finding.grade, finding.allowed) == (grade, 0.6)


def test_heat_without_a_rating_is_no_limit_but_is_told_not_to_be_judged():
    assert found(PULL_UP, {"gate.left.pull_up_loss_w": 5.0}, "pull-up, heat") == ()
    assert {each.rating for each in unrated(PULL_UP.heater("idle").gate)} == {each.rating for each in HEATED} - {"driver"}
    assert unrated(PUSH_PULL.heater("idle").gate) == ()
    case = checks.case()
    measures = {"gate.left.pull_up_loss_w": 1.31, "gate.right.pull_up_loss_w": 1.4, "gate.left.clamp_loss_w": 0.01}
    told = not_judged(replace(case, measures=measures), 0.25)
    assert told == "Heat not judged, because no rating is given: pull-up 1.4 W (gate.pull_up_rating)."


def test_a_coupling_diode_without_a_rating_is_judged_only_near_the_one_that_is_assumed():
    key, name = "gate.left.diode_reverse_voltage_v", "coupling diode, reverse voltage"
    assert found(PULL_UP, {key: 130.0}, name) == ()
    (finding,) = found(PULL_UP, {key: 590.0}, name)
    assert finding.grade == "marginal" and "No rating is given (gate.diode_rating); 600 V is assumed" in finding.cause
    (finding,) = found(PUSH_PULL, {key: 130.0}, name)
    assert (finding.grade, finding.allowed, finding.basis) == ("holds", 400.0, "rating")


def test_a_driver_without_a_voltage_rating_is_unknown_and_asked_for():
    scenario = PULL_UP.change({"gate.drive": "push-pull", "gate.driver": INTEGRATED})
    (finding,) = found(scenario, {"gate.left.driver_supply_voltage_v": 14.0}, "driver, supply voltage")
    assert finding.grade == "unknown" and "gate.driver.voltage_rating" in finding.remedy


def test_only_an_edge_that_switches_more_than_once_is_found():
    name = "crossings of the threshold per edge"
    assert found(PULL_UP, {"gate.left.rise_crossings": 1.0, "gate.left.fall_crossings": 1.0}, name) == ()
    (finding,) = found(PULL_UP, {"gate.left.rise_crossings": 1.0, "gate.left.fall_crossings": 3.0}, name)
    assert finding.grade == "fails" and "As it falls, the gate crosses its threshold 3 times" in finding.cause
    assert finding.remedy == drive.TOO_LOW


def test_remedies_speak_of_the_drive_that_is_there():
    main = PULL_UP.change({"gate.supply": "main"}).heater("idle").gate
    integrated = PULL_UP.change({"gate.drive": "push-pull", "gate.driver": INTEGRATED}).heater("idle").gate
    plain, totem = PULL_UP.heater("idle").gate, PUSH_PULL.heater("idle").gate
    assert drive.remedy(drive.WEAK_SUPPLY, main) == drive.LOW_MAIN
    assert drive.remedy(drive.WEAK_PULL_UP, integrated) == drive.SLOW_DRIVER
    assert {drive.remedy(words, gate) for gate in (plain, totem) for words in (drive.WEAK_PULL_UP,)} == {drive.WEAK_PULL_UP}


def test_what_is_without_effect_is_said():
    assert list(gate_cautions(PULL_UP.tables.gate)) == list(gate_cautions(PUSH_PULL.tables.gate)) == []
    told = list(gate_cautions(PULL_UP.change({"gate.supply": "main", "gate.driver": INTEGRATED}).tables.gate))
    assert [text.split(" has no effect")[0] for text in told] == ["gate.supply_voltage", "gate.supply_rise", "[gate.driver]"]


def test_the_heat_of_each_part_is_told_beside_its_rating():
    measures = {"gate.left.pull_up_loss_w": 0.18, "gate.right.pull_up_loss_w": 0.2, "gate.left.clamp_loss_w": -1e-6}
    rows = heat_rows(replace(checks.case(), measures=measures, heater=PUSH_PULL.heater("loaded")))
    assert [(row.name, row.left, row.right, row.allowed) for row in rows] == [
        ("pull-up", "180 mW", "200 mW", "600 mW"),
        ("clamp", "below 100 µW", "–", "500 mW"),
    ]


def test_the_drive_is_told_in_a_sentence():
    assert drive_words(PULL_UP.heater("idle")) == "Each gate is pulled up from a gate supply of 14 V through 68 Ω."
    assert "from the main supply" in drive_words(PULL_UP.change({"gate.supply": "main"}).heater("idle"))
    assert drive_words(PUSH_PULL.heater("idle")).startswith("A totem pole (4 A up and 4 A down, behind 1 Ω and 700 mΩ")


def test_a_latch_behind_an_input_that_is_not_pulled_low_enough_is_told_so():
    """Inputs of 1.3 V, above the 1.0 V at which the driver lets go; the charging time of a pull-up is not spoken of."""
    heater = PULL_UP.change({"gate.drive": "push-pull", "gate.driver": INTEGRATED}).heater("loaded")
    time = np.linspace(0.0, 1e-3, 1001)
    held = {f"gate_drive.{side}.driver_input_voltage": np.full(1001, 1.3) for side in ("left", "right")}
    gates = {f"gate.{side}.voltage": np.full(1001, 14.0) for side in ("left", "right")}
    waves = Waveforms(time, held | gates, dict.fromkeys(held | gates, "V"), "made by hand")
    told = list(seen(replace(checks.case(), heater=heater, waveforms=waves)))
    assert sum("driver's input is not pulled low: it stays at 1.3 V" in each for each in told) == 2
    assert any("gate.driver.input_low" in each for each in told) and not any("pull-up charges" in each for each in told)
