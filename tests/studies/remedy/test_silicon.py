# SPDX-License-Identifier: GPL-3.0-or-later
"""Remedies of switches that get too warm: what is proposed, what is foreseen, and that a simulated one holds."""

import pytest

import heatsim as hs
from heatsim.studies.check import CaseResult, temperature_measures
from heatsim.studies.remedy import changes, find_remedies
from heatsim.studies.remedy.predict import predicted_measures

STILL = {"switch.cooling.air_speed": "0 m/s"}


@pytest.fixture(scope="module")
def still(checkout):
    return hs.load(checkout / "scenarios" / "bench-heater-cooled.toml").change(STILL)


def known(scenario, **losses):
    """The loaded case of switches that lose so much each [W], nothing else known."""
    parts = {"conduction": 1.4, "overlap": 4.2, "diode": 0.0, "avalanche": 0.0, "gate": 0.01} | losses
    found = {f"switch.{side}.{name}_loss_w": value for side in ("left", "right") for name, value in parts.items()}
    found |= {f"switch.{side}.peak_current_a": 14.5 for side in ("left", "right")}
    heater = scenario.heater("loaded")
    found |= temperature_measures(heater, found, None)
    return CaseResult("loaded", "settled", "", found, (), heater, None, None, None, (), 0.0)


def test_fans_are_faster_than_the_present_air_and_need_to_be_known(still, checkout):
    assert [each.fields["switch.cooling.air_speed"] for each in changes.fans_of(still)] == ["1 m/s", "2 m/s", "3 m/s", "5 m/s"]
    moving = still.change({"switch.cooling.air_speed": "3 m/s"})
    assert [each.words for each in changes.fans_of(moving)] == ["Blow air through the switches' sink at 5 m/s instead of 3 m/s"]
    bare = hs.load(checkout / "scenarios" / "bench-heater.toml")
    assert list(changes.fans_of(bare)) == list(changes.sinks_of(bare)) == []
    text = still.text
    for line in ('sink_resistance_fan = "1.1 K/W"\n', 'fan_speed = "3 m/s"\n', 'air_speed = "3 m/s"              # the fan runs\n'):
        assert line in text
        text = text.replace(line, "")
    assert list(changes.fans_of(still.from_text(text))) == []


def test_a_larger_sink_is_better_with_and_without_a_fan_and_heavier(still):
    first, *_ = changes.sinks_of(still)
    larger = still.change(first.fields).tables.switch.cooling
    before = still.tables.switch.cooling
    assert larger.sink_resistance == pytest.approx(0.7 * before.sink_resistance, rel=0.05)
    assert larger.sink_resistance_fan == pytest.approx(0.7 * before.sink_resistance_fan, rel=0.05)
    assert larger.sink_mass == pytest.approx(before.sink_mass / 0.7, rel=0.05)
    assert "instead of 4.5 K/W" in first.words and "instead of 1.1 K/W" in first.words


def test_a_better_sink_is_foreseen_as_it_comes_out(still):
    case, cooler = known(still), still.change({"switch.cooling.air_speed": "3 m/s"})
    foreseen = predicted_measures(case, cooler.heater("loaded"))
    assert foreseen["switch.left.junction_temperature_c"] == known(cooler).measures["switch.left.junction_temperature_c"]
    assert foreseen["switch.left.junction_temperature_c"] < case.measures["switch.left.junction_temperature_c"] - 50


def test_twice_the_devices_halve_what_each_conducts_and_changes_over(still):
    """At one bank current, a quarter of the conduction and half of changing over in each."""
    case, doubled = known(still), still.change({"switch.count": 4})
    foreseen = predicted_measures(case, doubled.heater("loaded"))
    assert foreseen["switch.left.conduction_loss_w"] == pytest.approx(1.4 / 4)
    assert foreseen["switch.left.overlap_loss_w"] == pytest.approx(4.2 / 2)
    sink = "switch.left.sink_temperature_c"
    assert foreseen[sink] < case.measures[sink]


@pytest.mark.slow
@pytest.mark.ngspice
def test_a_fan_is_found_and_holds_as_simulated(still):
    """With one process the searches take turns in their order; with more, which comes first depends on the machine."""
    found = find_remedies(hs.check(still), jobs=1, seconds=None, most=4, enough=1).found
    (fan,) = (each for each in found if [change.kind for change in each.changes] == ["sink air"])
    assert all(case.grade == "holds" for case in fan.cases.values()) and set(fan.cases) == {"idle", "loaded"}
    assert fan.measure("switch.right.sink_temperature_c") < 0.9 * 70
