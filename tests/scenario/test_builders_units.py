# SPDX-License-Identifier: GPL-3.0-or-later
"""Inches, feet and gauges in scenario files, drawers and catalogues, and what `--set` is told."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.scenario.catalogue import catalogue_with
from heatsim.scenario.scenario import Scenario, json_schema


@pytest.fixture(scope="module")
def scenario(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


@pytest.mark.parametrize("gauge", ["AWG 14", "14 AWG"])
def test_a_wires_diameter_is_a_gauge_in_either_order(scenario: Scenario, gauge: str) -> None:
    left = scenario.change(choke__wire__diameter=gauge).tables.choke["left"].wire
    assert left is not None and left.diameter == pytest.approx(1.627727e-3, rel=1e-6)  # ASTM B258


def test_wire_in_the_drawer_by_gauge_and_length_in_feet(scenario: Scenario) -> None:
    first = scenario.text.index("[[wind.wire]]")
    rest = scenario.text[first:]
    end = first + rest.index("\n\n") if "\n\n" in rest else len(scenario.text)
    wire = '[[wind.wire]]\nname = "of the shop"\ndiameter = "18 AWG"\noverall_diameter = "0.044 in"\non_hand = "65 ft 6 in"\n'
    wind = Scenario.from_text(scenario.text[:first] + wire + scenario.text[end:], "heater.toml", scenario.folder).tables.wind
    assert wind is not None and wind.wire[0].name == "of the shop"
    assert wind.wire[0].diameter == pytest.approx(1.023687e-3, rel=1e-6)  # ASTM B258
    assert wind.wire[0].overall_diameter == 1.1176e-3 and wind.wire[0].on_hand == 19.9644


def test_a_ring_of_a_catalogue_in_inches(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(
        '[ring.own]\nouter_diameter = "1 9/16 in"\ninner_diameter = \'15/16"\'\nheight = "9/16 in"\npath_rule = "logarithmic"\n'
        'provenance = "measured"\nsource = "callipers"\n'
    )
    assert catalogue_with("own.toml", tmp_path).rings["own"].size == (39.6875e-3, 23.8125e-3, 14.2875e-3)


@pytest.mark.parametrize("field", ["choke.core.height", "choke.wire.overall_diameter", "choke.wire.looseness"])
def test_a_gauge_is_no_other_length(scenario: Scenario, field: str) -> None:
    with pytest.raises(InputError, match=r"has the unit 'AWG'.*\"1.6 mm\" or \"3/8 in\""):
        scenario.change({field: "14 AWG"})


def test_a_thicker_gauge_than_the_field_takes_is_out_of_range(scenario: Scenario) -> None:
    with pytest.raises(InputError, match="is out of range; given 'AWG 2/0'; allowed: 50 µm to 6 mm"):
        scenario.change(choke__wire__diameter="AWG 2/0")


def test_the_schema_shows_every_form() -> None:
    properties = json_schema()["$defs"]["WireTable"]["properties"]
    diameter, overall = (properties[name]["anyOf"][0] for name in ("diameter", "overall_diameter"))
    assert {"1.6 mm", "AWG 14", "1/16 in"} == set(diameter["examples"]) and diameter["x-gauge"] is True
    assert overall["examples"] == ["1.6 mm", "3/8 in"] and "x-gauge" not in overall
    assert "inches and feet too" in overall["description"] and "AWG 14" in diameter["description"]


TOLD = [
    ("supply.voltage", "abc", "--set supply.voltage=abc: is not a number with a unit"),
    ("choke.turns", -1, "--set choke.turns=-1: is out of range"),
    ("choke.left.wire.diameter", "AWG x", "--set choke.left.wire.diameter=AWG x: is not a number with a unit"),
    ("choke.core", "abc", "--set choke.core=abc: must be a table"),
    ("supply.volts", "3 V", "--set supply.volts=3 V: is not a known key"),
    ("nosuch.x", 1, "--set nosuch.x=1: is not a known key"),
    ("supply.voltage.x", 3, "--set supply.voltage.x=3: runs through a field that is not a table"),
]


@pytest.mark.parametrize(("field", "value", "start"), TOLD)
def test_what_an_option_set_is_told_as_that(scenario: Scenario, field: str, value: object, start: str) -> None:
    with pytest.raises(InputError) as caught:
        scenario.change_by("--set", {field: value})
    told = {str(problem) for problem in caught.value.problems}
    assert len(told) == 1 and told.pop().startswith(start)


def test_an_option_is_told_of_what_only_shows_with_other_parts_or_in_a_case(scenario: Scenario) -> None:
    changed = pickle.loads(pickle.dumps(scenario.change_by("--set", {"choke.core.material": "nosuch"})))
    with pytest.raises(InputError, match="^--set choke.core.material=nosuch: is not in the catalogue"):
        changed.heater("loaded")
    with pytest.raises(InputError, match="^--set case.loaded.set.supply.voltage=abc: is not a number"):
        scenario.change_by("--set", {"case.loaded.set.supply.voltage": "abc"}).case("loaded")


def test_what_the_file_says_keeps_its_line_beside_an_option(scenario: Scenario) -> None:
    changed = scenario.change_by("--set", {"supply.voltage": "40 V"})
    with pytest.raises(InputError, match=r"bench-heater.toml:\d+: supply.resistance: has no unit"):
        changed.change(supply__resistance="3")
    with pytest.raises(InputError, match=r"bench-heater.toml:\d+: supply.voltage: has no unit"):
        changed.change(supply__voltage="3")  # no longer that of the option


def test_an_option_makes_no_other_scenario(scenario: Scenario) -> None:
    by_option, plain = scenario.change_by("--set", {"supply.voltage": "40 V"}), scenario.change(supply__voltage="40 V")
    assert by_option == plain and by_option.hash == plain.hash
