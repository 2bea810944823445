# SPDX-License-Identifier: GPL-3.0-or-later
"""Axes of operating maps: ranges in words, defaults, grain, and what cannot be an axis."""

import pytest

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.map.axis import default_axes, read_map_axis


@pytest.fixture(scope="module")
def scenario(checkout):
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def read(scenario, text, case="loaded", accuracy=0.005):
    return read_map_axis(scenario, text, case, accuracy)


def test_by_default_it_is_supply_voltage_against_load_or_without_a_workpiece_against_capacitance(scenario):
    assert default_axes(scenario, "loaded") == ("load = 0 % to 100 %", "supply.voltage = 21 V to 63 V")
    assert default_axes(scenario, "idle")[0] == "capacitors.capacitance = 165 nF to 495 nF"


def test_a_range_in_words(scenario):
    axis = read(scenario, "supply.voltage = 24 to 60 V")
    assert (axis.low, axis.high, axis.own, axis.reference) == (24.0, 60.0, 42.0, 42.0)
    assert axis.share(42.0) == 0.5 and axis.number(0.5) == 42.0
    load = read(scenario, "load = 0 % to 150 %")
    assert (load.own, load.reference) == (1.0, 1.0)
    assert read(scenario, "load = 0 % to 80 %").reference == 0.8
    assert read(scenario, "choke.turns = 10 to 30").own == 20.0


@pytest.mark.parametrize(
    ("text", "accuracy"),
    [
        ("supply.voltage = 20 V to 60 V", 0.005),
        ("load = 0 % to 100 %", 0.001),
        ("capacitors.capacitance = 100 nF to 470 nF", 0.005),
    ],
)
def test_coordinates_are_round_fine_and_stay_where_they_are(scenario, text, accuracy):
    axis = read(scenario, text, accuracy=accuracy)
    assert axis.grain <= accuracy * axis.span / 20
    for share in (0.0, 0.123456789, 1 / 3, 0.987654321, 1.0):
        once = axis.snapped(axis.number(share))
        assert abs(once - axis.number(share)) <= 0.501 * axis.grain
        assert axis.snapped(axis.number(axis.share(once))) == once
        assert len(axis.field.written(once)) <= 9
        assert axis.low <= once <= axis.high


def test_whole_numbers_keep_whole(scenario):
    axis = read(scenario, "capacitors.count = 3 to 9")
    assert axis.tolerance(0.005) == 1.0
    assert [axis.snapped(number) for number in (3.4, 3.6, 9.2)] == [3.0, 4.0, 9.0]
    assert axis.field.written(axis.snapped(4.4)) == 4


@pytest.mark.parametrize(
    ("text", "case", "words"),
    [
        ("supply.voltage = 24 V", "loaded", "FIELD = LOW to HIGH"),
        ("supply.voltage = 60 V to 24 V", "loaded", "has no width"),
        ("supply.voltage = 24 V to 6000 V", "loaded", "5 V to 400 V"),
        ("supply.voltage = 24 A to 60 A", "loaded", "has the unit 'A'"),
        ("suply.voltage = 24 V to 60 V", "loaded", "did you mean supply.voltage"),
        ("choke.core.material = a to b", "loaded", "is a word"),
        ("capacitors.count = 3 to 4", "loaded", "three whole numbers"),
        ("load = 0 % to 100 %", "idle", "needs a case with a workpiece; given idle; allowed: loaded"),
        ("case.loaded.workpiece.share = 0 % to 50 %", "idle", "does not apply to case idle"),
    ],
)
def test_what_cannot_be_an_axis_is_told(scenario, text, case, words):
    with pytest.raises(InputError, match=words):
        read(scenario, text, case)


def test_what_is_varied_wins_over_what_the_case_sets(scenario):
    fixed = Scenario.from_text(scenario.text.replace("[case.idle]", '[case.idle]\nset = {"supply.voltage" = "30 V"}'), "x.toml")
    axis = read(fixed, "supply.voltage = 24 V to 60 V", "idle")
    assert fixed.change({axis.field.path: axis.field.written(60.0)}).heater("idle").supply.voltage == 60.0
