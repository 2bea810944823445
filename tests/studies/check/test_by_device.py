# SPDX-License-Identifier: GPL-3.0-or-later
"""Heaters whose switches are named, or given by the five figures that nothing stands in for: simulated and judged to the end."""

from __future__ import annotations

from pathlib import Path

import pytest

from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, check

pytestmark = pytest.mark.ngspice

BY_DEVICE = Scenario.from_file(Path(__file__).resolve().parents[3] / "scenarios" / "bench-heater-by-device.toml")
FIVE = {
    "count": 2,
    "voltage_rating": "200 V",
    "on_resistance": "20 mohm",
    "threshold": "4 V",
    "input_capacitance": "8 nF",
    "reverse_capacitance": "150 pF",
}
"""Of the demo's device, threshold_current apart."""


@pytest.fixture(scope="module")
def named() -> CaseResult:
    return check(BY_DEVICE)["loaded"]


@pytest.fixture(scope="module")
def five() -> CaseResult:
    return check(BY_DEVICE.change({"switch": FIVE}))["loaded"]


def basis(case: CaseResult) -> set[str]:
    return {each.basis for each in case.findings if each.part.split(".")[0] in ("switch", "gate")}


def test_a_heater_by_a_devices_name_oscillates_and_holds_in_every_limit(named: CaseResult) -> None:
    assert named.outcome == "settled" and named.measures["energy.imbalance_ratio"] < 0.01
    assert {each.grade for each in named.findings} == {"holds"}, [each for each in named.findings if each.grade != "holds"]
    assert basis(named) == {"memory"}


def test_its_results_say_where_its_figures_come_from(named: CaseResult) -> None:
    plain = named.as_dict()
    origins = {each["field"]: each for each in plain["switch_origins"]}
    assert origins["transconductance"]["words"] == "device generic 200 V 20 mohm of the catalogue"
    names = [each["name"] for each in plain["switch_model"]]
    assert "plateau of the gate" in names and "gate charge in all" in names
    assert named.measures["switch.curve_difference_ratio"] == pytest.approx(0.147, abs=0.005)


def test_five_figures_give_much_the_same_heater_and_say_that_it_is_an_estimate(named: CaseResult, five: CaseResult) -> None:
    """Silicon hardly moves the tank; what it does move, gates and edges, is told to rest on estimates."""
    assert five.outcome == "settled" and basis(five) == {"estimate"}
    for key in ("tank.frequency_hz", "tank.peak_voltage_v", "supply.mean_current_a"):
        assert five.measures[key] == pytest.approx(named.measures[key], rel=0.02)
    ungraded = {each.limit for each in five.findings if each.grade == "unknown"}
    assert ungraded == {"peak current of a device"}, "its current rating is not given"


def test_beside_a_model_file_a_voltage_rating_is_enough(tmp_path: Path) -> None:
    """Its losses are counted, and no temperature is asked of figures that are not there."""
    model = ".model mine vdmos(vto=3.8 kp=50 rd=9m rs=2m cgs=4n cgdmax=2n cgdmin=40p a=0.3 cjo=2n is=1p)\n"
    (tmp_path / "mine.lib").write_text(model, encoding="utf-8")
    fields = {"count": 2, "voltage_rating": "200 V", "model_file": str(tmp_path / "mine.lib"), "model": "mine"}
    cooling = {
        "junction_to_case": "0.5 K/W",
        "pad": "silicone pad",
        "pad_area": "2 cm2",
        "sink_for": "all",
        "sink_resistance": "2 K/W",
    }
    case = check(BY_DEVICE.change({"switch": {**fields, "cooling": cooling}}))["loaded"]
    assert case.outcome == "settled" and case.measures["energy.imbalance_ratio"] < 0.01
    assert case.measures["switch.left.loss_w"] > 1 and case.measures["switch.left.junction_temperature_c"] > 30
