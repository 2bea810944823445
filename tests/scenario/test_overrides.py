# SPDX-License-Identifier: GPL-3.0-or-later
"""Which of several settings of a field wins: a side, a case, the command line; nothing is lost without a word."""

from __future__ import annotations

import pytest
import tomlkit

from heatsim.errors import InputError
from heatsim.scenario.overrides import by_reach, path_of, put
from heatsim.scenario.scenario import Scenario


@pytest.fixture(scope="module")
def text(checkout) -> str:
    """The bench heater's file; [choke] turns = 20, 42 V."""
    return (checkout / "scenarios" / "bench-heater.toml").read_text(encoding="utf-8")


def with_side(text: str, *lines: str) -> str:
    return text + "\n[choke.left]\n" + "\n".join(lines) + "\n"


def in_case(text: str, settings: str) -> str:
    return text.replace("[case.idle]", f"[case.idle]\nset = {{{settings}}}")


def turns(scenario: Scenario, case: str = "idle") -> list[int]:
    return [choke.core.winding.turns for choke in scenario.heater(case).chokes]


def told(scenario: Scenario) -> list[str]:
    return [str(each) for each in scenario.replaced]


def test_a_change_wins_over_a_side_of_the_file_and_says_so(text) -> None:
    scenario = Scenario.from_text(with_side(text, "turns = 19"))
    assert turns(scenario) == [19, 20] and not scenario.replaced
    changed = scenario.change({"choke.turns": 18})
    assert turns(changed) == [18, 18]
    assert told(changed) == ["choke.turns = 18 also replaces choke.left.turns = 19"]


def test_a_change_wins_over_what_a_case_sets_and_says_so(text) -> None:
    scenario = Scenario.from_text(in_case(text, '"supply.voltage" = "36 V", "gate.resistor" = "10 ohm"'))
    changed = scenario.change({"supply.voltage": "38 V"})
    assert [changed.heater(case).supply.voltage for case in ("idle", "loaded")] == [38.0, 38.0]
    assert changed.heater("idle").gate.resistor == 10.0
    assert told(changed) == ["supply.voltage = 38 V also replaces supply.voltage = 36 V in [case.idle]"]


def test_what_a_case_sets_for_both_sides_wins_over_one_side_of_the_file(text) -> None:
    scenario = Scenario.from_text(with_side(in_case(text, '"choke.turns" = 18'), "turns = 19"))
    assert turns(scenario) == [18, 18] and turns(scenario, "loaded") == [19, 20]
    assert told(scenario.case("idle")) == ["choke.turns = 18 also replaces choke.left.turns = 19"]


def test_a_change_of_one_side_leaves_the_other_to_the_case(text) -> None:
    changed = Scenario.from_text(in_case(text, '"choke.turns" = 18')).change({"choke.left.turns": 15})
    assert turns(changed) == [15, 18] and turns(changed, "loaded") == [15, 20]
    assert told(changed) == ["choke.left.turns = 15 also replaces choke.left.turns = 18 in [case.idle]"]


def test_a_whole_table_replaces_the_keys_below_it(text) -> None:
    scenario = Scenario.from_text(with_side(in_case(text, '"choke.left.wire.strands" = 2'), "wire.strands = 3"))
    changed = scenario.change({"choke.wire": {"diameter": "1.2 mm"}})
    assert [choke.core.winding.strands for choke in changed.heater("idle").chokes] == [1, 1]
    assert told(changed) == [
        "the table choke.wire also replaces the table choke.left.wire",
        "the table choke.wire also replaces choke.left.wire.strands = 2 in [case.idle]",
    ]


@pytest.mark.parametrize("fields", [
    {"choke.turns": 17, "choke.left.turns": 15},
    {"choke.left.turns": 15, "choke.turns": 17},
])  # fmt: skip
def test_of_changes_made_at_once_the_side_wins(text, fields) -> None:
    assert turns(Scenario.from_text(text).change(fields)) == [15, 17]
    assert turns(Scenario.from_text(in_case(text, ", ".join(f'"{k}" = {v}' for k, v in fields.items())))) == [15, 17]


def test_of_changes_made_one_after_another_the_later_wins(text) -> None:
    changed = Scenario.from_text(text).change({"choke.left.turns": 15}).change({"choke.turns": 17})
    assert turns(changed) == [17, 17] and told(changed) == ["choke.turns = 17 also replaces choke.left.turns = 15"]


def test_a_case_can_be_changed_alone(text) -> None:
    changed = Scenario.from_text(in_case(text, '"supply.voltage" = "36 V"')).change({"case.idle.set.supply.voltage": "38 V"})
    assert [changed.heater(case).supply.voltage for case in ("idle", "loaded")] == [38.0, 42.0]


def test_the_hash_tells_a_change_that_wins_over_a_case_from_a_file_that_lets_the_case_win(text) -> None:
    other = Scenario.from_text(in_case(text, '"supply.voltage" = "36 V"').replace('voltage = "42 V"', 'voltage = "38 V"'))
    changed = Scenario.from_text(in_case(text, '"supply.voltage" = "36 V"')).change({"supply.voltage": "38 V"})
    assert changed.heater("idle") != other.heater("idle") and changed.hash != other.hash


def test_a_value_that_is_there_already_is_no_loss(text) -> None:
    assert not Scenario.from_text(in_case(text, '"supply.voltage" = "36 V"')).change({"supply.voltage": "36 V"}).replaced


@pytest.mark.parametrize(("field", "value", "cases", "idle"), [
    ("case.loaded.workpiece.share", "50 %", ["idle"], True),
    ("case.loaded.workpiece.share", "50 %", ["idle", "loaded"], False),
    ("coil.turns", 9, ["idle", "loaded"], True),
    ("supply.voltage", "38 V", ["idle"], False),
    ("supply.voltage", "42 V", ["idle"], False),
    ("limits.thd", "4 %", ["idle"], False),
    ("simulate.longest", "9 ms", ["idle"], False),
])  # fmt: skip
def test_a_change_without_effect_is_known(text, field, value, cases, idle) -> None:
    assert Scenario.from_text(text).change({field: value}).without_effect(cases) == ((f"{field} = {value}",) if idle else ())


def test_what_is_varied_replaces_sides_and_cases_and_says_so(text) -> None:
    scenario = Scenario.from_text(with_side(in_case(text, '"supply.voltage" = "36 V"'), "turns = 19"))
    assert [str(each) for field in ("choke.turns", "supply.voltage", "gate.resistor") for each in scenario.replaced_by(field)] == [
        "choke.turns, which is varied, replaces choke.left.turns = 19",
        "supply.voltage, which is varied, replaces supply.voltage = 36 V in [case.idle]",
    ]


def test_a_field_through_a_value_is_refused(text) -> None:
    with pytest.raises(InputError, match="supply.voltage.peak: runs through a field that is not a table; given voltage"):
        put({"supply": {"voltage": "42 V"}}, "supply.voltage.peak", "38 V")


def test_a_field_of_very_many_parts_is_refused(text) -> None:
    with pytest.raises(InputError, match="too many parts"):
        Scenario.from_text(text).change({".".join("a" * 20_000): 1})


def test_a_document_keeps_its_comments(text) -> None:
    document = tomlkit.parse(with_side(in_case(text, '"choke.turns" = 18'), "turns = 19 # by eye"))
    replaced = put(document, "choke.turns", 17)
    assert [(each.field, each.value, each.case) for each in replaced] == [("choke.left.turns", 19, ""), ("choke.turns", 18, "idle")]
    again = Scenario.from_text(tomlkit.dumps(document))
    assert turns(again) == [17, 17] and text.splitlines()[0] in again.text


def test_paths_and_their_order() -> None:
    assert path_of("case.idle.set.supply.voltage") == ("case", "idle", "set", "supply.voltage")
    assert path_of("case.idle.workpiece.share") == ("case", "idle", "workpiece", "share")
    assert [field for field, _ in by_reach({"choke.left.core": {}, "choke.core.stack": 1, "choke.core": {}})] == [
        "choke.core",
        "choke.core.stack",
        "choke.left.core",
    ]


def test_a_table_that_is_set_is_not_shared_by_the_scenarios(text) -> None:
    """A later change of one of its fields alters neither the first scenario nor the caller's table."""
    bar = {"inductance": "1.6 uH", "resistance": "110 mohm"}
    first = Scenario.from_text(text).change({"case.loaded.workpiece.measured": bar})
    second = first.change({"case.loaded.workpiece.measured.resistance": "90 mohm"})
    found = [each.tables.case["loaded"].workpiece.measured.resistance for each in (first, second)]
    assert found == [0.11, 0.09] and bar["resistance"] == "110 mohm"
