# SPDX-License-Identifier: GPL-3.0-or-later
"""Builds side by side: fields that differ, headroom here and there, measures with their differences. Results made by hand."""

import json
from dataclasses import replace

import pytest

import heatsim as hs
from heatsim.errors import InputError
from heatsim.report.base.plain import as_json
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import build_names, compared
from heatsim.studies.check.compare import EFFICIENCY
from heatsim.verdict import Finding
from tests.support.results import checks as made

TEXT = made.SCENARIO.read_text(encoding="utf-8")


def fields(*texts):
    """Differing fields of scenarios by their texts: name -> values."""
    result = made.result()
    results = [replace(result, scenario=Scenario.from_text(text)) for text in texts]
    return {row.field: row.values for row in compared(results).fields}


def finding(limit, headroom, grade="holds", part="supply"):
    return Finding(part, limit, 1.0, 2.0, "A", headroom, grade, "rating")


def beside(first, *others, measures=None):
    """Comparison of builds with one case each, by their findings; measures: of the others."""
    changed = made.MEASURES | (measures or {})
    cases = [made.case(findings=tuple(first)), *(made.case(findings=tuple(other), measures=changed) for other in others)]
    return compared([made.result(case) for case in cases])


def measure(comparison, key):
    return next(row for row in comparison.measures if row.key == key)


def test_fields_are_told_as_written_with_their_units() -> None:
    other = TEXT.replace('voltage = "42 V"', 'voltage = "38 V"').replace("stack = 2", "stack = 3")
    assert fields(TEXT, other) == {"supply.voltage": ("42 V", "38 V"), "choke.core.stack": ("2", "3")}


def test_comments_order_and_spelling_do_not_count() -> None:
    start, end = TEXT.index("[supply]"), TEXT.index("[choke] ")
    moved = TEXT[:start] + TEXT[end:] + "\n# another remark\n" + TEXT[start:end]
    spelled = moved.replace('pull_down = "10 kohm"', 'pull_down = "10000 ohm"').replace('name = "Bench heater"', 'name = "Another"')
    assert moved != TEXT and spelled != moved and fields(TEXT, spelled) == {}


def test_a_default_that_is_written_out_does_not_count_and_another_value_does() -> None:
    written = TEXT.replace("[wind]", "[wind]\nmost_strands = 4")
    assert fields(TEXT, written) == {}
    assert fields(TEXT, written.replace("strands = 4", "strands = 3")) == {"wind.most_strands": (None, "3")}


def test_a_field_of_both_chokes_equals_the_same_on_each_side() -> None:
    split = TEXT.replace("turns = 20\n", "") + "\n[choke.left]\nturns = 20\n[choke.right]\nturns = 20\n"
    assert fields(TEXT, split) == {}
    assert fields(TEXT, split.replace("right]\nturns = 20", "right]\nturns = 22")) == {"choke.right.turns": ("20", "22")}
    assert fields(TEXT, split.replace("turns = 20", "turns = 22")) == {"choke.turns": ("20", "22")}


def test_tables_of_a_list_are_told_apart_by_their_names() -> None:
    start, end = TEXT.index("[[wind.wire]]"), TEXT.index('[[wind.wire]]\nname = "1.6')
    assert set(fields(TEXT, TEXT[:start] + TEXT[end:])) == {
        f"wind.wire.1.0 mm enamelled.{key}" for key in ("name", "diameter", "on_hand", "price_per_metre")
    }


def test_every_build_is_against_the_first_and_changes_count_as_fields() -> None:
    one = made.result()
    others = [replace(one, scenario=one.scenario.change({"supply.voltage": volts})) for volts in ("38 V", "42 V")]
    (row,) = compared([one, *others]).fields
    assert (row.field, row.values) == ("supply.voltage", ("42 V", "38 V", "42 V"))


def test_limits_are_sorted_by_the_largest_change_either_way() -> None:
    first = [finding("a", 0.5), finding("b", 0.4), finding("c", 0.3)]
    found = beside(first, [finding("c", 0.31), finding("a", 0.2, "marginal"), finding("b", 0.9)])
    assert [(row.limit, round(row.largest, 6)) for row in found.limits] == [("b", 0.5), ("a", -0.3), ("c", 0.01)]
    assert found.limits[1].grades == ("holds", "marginal") and found.limits[1].changes[0] == 0.0


def test_of_several_builds_the_largest_change_counts() -> None:
    found = beside(
        [finding("a", 0.5), finding("b", 0.5)], [finding("a", 0.4), finding("b", 0.6)], [finding("a", 0.0), finding("b", 0.5)]
    )
    assert [row.limit for row in found.limits] == ["a", "b"] and found.limits[0].changes == pytest.approx((0.0, -0.1, -0.5))


def test_a_grade_that_changes_without_a_number_comes_first_and_a_limit_of_one_build_last() -> None:
    found = beside(
        [finding("a", 0.5), finding("word", None), finding("own", 0.1)],
        [finding("a", -0.5, "fails"), finding("word", None, "fails")],
    )
    assert [(row.limit, row.shared) for row in found.limits] == [("word", True), ("a", True), ("own", False)]
    assert found.limits[2].findings[1] is None and found.limits[2].changes == (0.0, None)


def test_measures_have_their_difference_as_a_share_and_temperatures_none() -> None:
    found = beside([], [], measures={"tank.peak_voltage_v": 118.71, "choke.left.temperature_c": 64.0, "supply.power_w": 1108.9})
    peak, warm, power = (measure(found, key) for key in ("tank.peak_voltage_v", "choke.left.temperature_c", "supply.power_w"))
    assert peak.changes == (0.0, pytest.approx(-0.1)) and not peak.within_errors[1]
    assert warm.changes == (None, None) and warm.differences == (0.0, pytest.approx(-7.0))
    assert power.within_errors[1], "0.1 W of 1.1 kW is rounding"


def test_efficiency_is_useful_power_over_both_supplies() -> None:
    found = measure(beside([], [], measures={"workpiece.power_w": 465.0}), EFFICIENCY)
    assert found.values == pytest.approx((930 / 1111.8, 465 / 1111.8)) and found.changes[1] == pytest.approx(-0.5)


def test_an_idle_case_has_neither_efficiency_nor_power_in_a_workpiece() -> None:
    keys = {row.key for row in compared([made.result(made.case("idle"))] * 2).measures}
    assert "supply.power_w" in keys and not keys & {EFFICIENCY, "workpiece.power_w"}


def test_a_case_that_one_build_does_not_have_is_told_and_not_compared() -> None:
    found = compared([made.result(), made.result(made.case())])
    assert [(row.name, row.compared) for row in found.cases] == [("idle", False), ("loaded", True)]
    assert {row.case for row in found.limits} | {row.case for row in found.measures} == {"loaded"}


def test_verdicts_and_the_exit_code_are_told() -> None:
    sound, failing = made.result(made.case(findings=(finding("a", 0.5),))), made.result()
    assert not compared([sound, sound]).verdicts_differ and compared([sound, sound]).exit_code == 0
    assert compared([sound, failing]).verdicts == ("holds", "fails") and compared([sound, failing]).exit_code == 1
    unsolved = made.result(made.failed("loaded", "unsolved"))
    assert compared([failing, unsolved, sound]).exit_code == 3


def test_a_build_that_came_to_nothing_has_no_numbers() -> None:
    found = compared([made.result(made.case()), made.result(made.failed("loaded", "dead"))])
    assert all(row.values[1] is None and row.differences[1] is None and not row.within_errors[1] for row in found.measures)


def test_plain_data_is_json_with_an_entry_a_build() -> None:
    data = json.loads(as_json(beside([finding("a", 0.5)], [finding("a", 0.4)]).as_dict()))
    assert data["schema"] == "heatsim.compare/1" and [build["name"] for build in data["builds"]] == [
        "bench-heater",
        "bench-heater-2",
    ]
    assert data["limits"][0]["headroom"] == [0.5, 0.4] and data["limits"][0]["headroom_change"][1] == pytest.approx(-0.1)
    assert all(len(row["values"]) == 2 for row in data["measures"]) and data["verdicts_differ"] is False


def test_names_are_the_files_and_none_comes_twice() -> None:
    assert build_names(["a/x.toml", "b/x.toml", "y.toml"]) == ("x", "x-2", "y")
    assert build_names(["a/x.toml", "b/x.toml", "x-2.toml"]) == ("x", "x-3", "x-2")


def test_from_python_one_against_another_and_nothing_against_itself() -> None:
    one = made.result()
    other = replace(one, scenario=one.scenario.change(supply__voltage="38 V"))
    assert [row.field for row in hs.compare(one, other).fields] == ["supply.voltage"]
    with pytest.raises(InputError, match="two builds"):
        hs.compare(one)
