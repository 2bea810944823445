# SPDX-License-Identifier: GPL-3.0-or-later
"""Written and read back: scenarios with their changes, and quantities from number to text to number."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatsim.quantity import EXAMPLES, exact_quantity, format_quantity, parse_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.written import with_fields
from tests.support.deciding_code import ROOT

FILES = sorted(path.name for path in (ROOT / "scenarios").glob("*.toml"))
BENCH = Scenario.from_file(ROOT / "scenarios" / "bench-heater.toml")


def again(scenario: Scenario, fields: dict[str, object], folder: Path) -> Scenario:
    """Written with some fields changed, and read back."""
    path = folder / "written.toml"
    path.write_text(with_fields(scenario, fields, "made for a test"), encoding="utf-8")
    return Scenario.from_text(path.read_text("utf-8"), "written.toml", ROOT / "scenarios")


@pytest.mark.parametrize("name", FILES)
def test_every_demo_comes_back_as_it_was(name: str, tmp_path: Path) -> None:
    scenario = Scenario.from_file(ROOT / "scenarios" / name)
    back = again(scenario, {}, tmp_path)
    assert back.hash == scenario.hash and back.cases == scenario.cases and back.raw == scenario.raw


FIELDS = st.fixed_dictionaries(
    {},
    optional={
        "supply.voltage": st.floats(5.0, 60.0).map(lambda x: exact_quantity(x, "V")),
        "supply.reservoir": st.floats(1e-5, 1e-2).map(lambda x: exact_quantity(x, "F")),
        "choke.turns": st.integers(5, 30),
        "choke.right.turns": st.integers(5, 30),
        "switch.count": st.integers(1, 4),
        "gate.resistor": st.floats(0.5, 20.0).map(lambda x: exact_quantity(x, "ohm")),
        "capacitors.capacitance": st.floats(1e-8, 1e-6).map(lambda x: exact_quantity(x, "F")),
        "coil.measured": st.just({"inductance": "1.9 uH", "resistance": "15 mohm"}),
        "heater.topology": st.sampled_from(["two-choke", "one-choke"]),
        "case.loaded.workpiece.share": st.floats(0.1, 1.2).map(lambda x: exact_quantity(x, "%")),
    },
)


def fit(fields: dict[str, object]) -> bool:
    """Whether fields can be set together: a heater with one choke has no right one."""
    return not ("choke.right.turns" in fields and fields.get("heater.topology") == "one-choke")


@settings(max_examples=25, derandomize=True)
@given(FIELDS.filter(fit))
def test_a_changed_scenario_comes_back_as_the_changed_one(fields: dict[str, object]) -> None:
    text = with_fields(BENCH, fields, "made for a test")
    back, changed = Scenario.from_text(text), BENCH.change(fields)
    assert back.hash == changed.hash and back.tables == changed.tables
    assert Scenario.from_text(with_fields(back, {}, "once more")).hash == back.hash


UNITS = sorted(EXAMPLES.keys() - {"H/turn2"})


@pytest.mark.parametrize("unit", UNITS)
@settings(max_examples=60)
@given(st.floats(1e-13, 1e11, allow_subnormal=False), st.booleans())
def test_an_exact_quantity_is_read_back_to_the_last_bit(unit: str, value: float, negative: bool) -> None:
    number = -value if negative else value
    assert parse_quantity(exact_quantity(number, unit), unit) == number


@pytest.mark.parametrize("unit", UNITS)
def test_an_example_is_its_own_number(unit: str) -> None:
    number = parse_quantity(EXAMPLES[unit], unit)
    assert parse_quantity(exact_quantity(number, unit), unit) == number
    assert parse_quantity(format_quantity(number, unit, 9), unit) == pytest.approx(number, rel=1e-8)


def test_one_side_and_all_sides_set_at_once_are_written_as_they_are_read(tmp_path: Path) -> None:
    """What is set of one side wins over what is set of all, in whatever order they are named."""
    fields = {"choke.right.turns": 5, "choke.turns": 6}
    back = again(BENCH, fields, tmp_path)
    assert back.tables == BENCH.change(fields).tables
    assert back.heater("idle").chokes != BENCH.heater("idle").chokes
