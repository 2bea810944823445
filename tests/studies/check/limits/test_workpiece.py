# SPDX-License-Identifier: GPL-3.0-or-later
"""A bar of steel through a whole check: the field of the simulated current against the one its permeability is for."""

import math
from dataclasses import replace

import pytest

from heatsim.engine import Run
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import check
from heatsim.studies.check.study import judge_run

BAR = """[case.loaded.workpiece]
material = "steel"
diameter = "30 mm"
length = "120 mm"
"""
COIL = """[coil]
turns = 8
diameter = "60 mm"
length = "80 mm"
tube_diameter = "6 mm"
tube_wall = "1 mm"
"""


@pytest.fixture(scope="module")
def scenario(checkout):
    text = (checkout / "scenarios" / "bench-heater.toml").read_text(encoding="utf-8")
    start, drawer, bar = (text.index(mark) for mark in ("[coil]", "[wind]", "[case.loaded.workpiece.measured]"))
    return Scenario.from_text(text[:start] + COIL + text[drawer:bar] + BAR, "steel.toml")


@pytest.fixture(scope="module")
def checked(scenario):
    return check(scenario, ["loaded"]).cases[0]


def test_the_simulated_current_makes_the_field_that_the_permeability_is_for(checked):
    piece, measures = checked.heater.workpiece, checked.measures
    assert checked.outcome == "settled"
    assert measures["workpiece.permeability_ratio"] == piece.permeability
    assert measures["workpiece.surface_field_a_per_m"] == pytest.approx(piece.field, rel=0.05)
    assert measures["workpiece.field_departure_ratio"] < 0.05
    finding = {each.limit: each for each in checked.findings}["field against the one its permeability is for"]
    assert (finding.grade, finding.basis) == ("holds", "estimate")


def test_power_in_the_bar_is_that_of_its_resistance(checked):
    """I^2 dR; a measured power in the run's own energy books."""
    heater = checked.heater
    added = heater.workpiece.resistance - heater.coil.resistance
    assert checked.measures["workpiece.power_w"] == pytest.approx(checked.measures["coil.rms_current_a"] ** 2 * added, rel=0.05)


@pytest.mark.slow
def test_power_in_the_bar_is_ten_times_what_a_permeability_of_one_draws(scenario, checked):
    wrong = check(scenario.change({"case.loaded.workpiece.permeability": 1}), ["loaded"]).cases[0]
    assert checked.measures["workpiece.power_w"] > 8 * wrong.measures["workpiece.power_w"]


def test_a_permeability_of_another_field_is_found_out(scenario, checked):
    """The same run judged for a heater whose steel was taken at half the current."""
    piece = checked.heater.workpiece
    heater = replace(checked.heater, workpiece=replace(piece, current=piece.current / 2, field=piece.field / 2))
    run = Run("settled", "", checked.waveforms, checked.deck)
    finding = {each.limit: each for each in judge_run(scenario, "loaded", heater, run).findings}[
        "field against the one its permeability is for"
    ]
    assert finding.grade == "fails" and finding.value == pytest.approx(1.0, abs=0.1)
    assert math.isfinite(finding.value) and "a different one" in finding.cause
