# SPDX-License-Identifier: GPL-3.0-or-later
"""Bad scenario files: every message names file, line, field, what was given and what is allowed. Nothing is swallowed."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario

MISTAKES = [  # text to replace, by what, parts of the message that must be there
    ('voltage = "42 V"', 'voltage = "42"', ["supply.voltage", "has no unit", "'42'", '"48 V"']),
    ('voltage = "42 V"', "voltage = 42", ["supply.voltage", "bare number", "42"]),
    ('voltage = "42 V"', 'voltage = "42 A"', ["supply.voltage", "the unit 'A'", "unit V"]),
    ('voltage = "42 V"', 'voltage = "-42 V"', ["supply.voltage", "out of range", "5 V to 400 V"]),
    ('voltage = "42 V"', 'voltage = "0 V"', ["supply.voltage", "out of range"]),
    ('voltage = "42 V"', 'voltage = "42 kV"', ["supply.voltage", "out of range"]),
    ('voltage = "42 V"', 'voltage = "4,2 V"', ["supply.voltage", "comma"]),
    ('voltage = "42 V"', 'volage = "42 V"', ["supply.volage", "not a known key", "did you mean voltage?"]),
    ('voltage = "42 V"\n', "", ["supply.voltage", "is missing", "5 V to 400 V"]),
    ("turns = 20", 'turns = "20"', ["choke.turns", "must be a whole number", "from 1 to 1000"]),
    ("turns = 20", "turns = 0", ["choke.turns", "out of range", "a whole number from 1 to 1000"]),
    ("turns = 20", "turns = 20.5", ["choke.turns"]),
    ("turns = 20", "turn = 20", ["choke.turn", "did you mean turns?"]),
    ("stack = 2", "stack = 9", ["choke.core.stack", "a whole number from 1 to 4"]),
    ("strands = 2", "strands = 40", ["choke.wire", "does not fit the bore", "at most"]),
    ('material = "fe-si-al-60"', 'material = "unobtainium"', ["choke.core.material", "not in the catalogue", "fe-si-al-60"]),
    ('material = "fe-si-al-60"', 'material = "mnzn-power-ferrite"', ["choke.core.gap", "is missing"]),
    ('inner_diameter = "24.1 mm"', 'inner_diameter = "44.1 mm"', ["choke.core.inner_diameter", "smaller than outer"]),
    ('topology = "two-choke"', 'topology = "three-choke"', ["heater.topology", "'two-choke' or 'one-choke'"]),
    ('reverse_capacitance = "60 pF"', 'reverse_capacitance = "900 pF"', ["switch.reverse_capacitance", "output_capacitance"]),
    ('threshold = "3.6 V"', 'threshold = "8 V"\non_gate_voltage = "7 V"', ["switch.threshold", "below on_gate_voltage"]),
    ('supply_voltage = "14 V"', 'supply_voltage = "3 V"', ["gate.supply_voltage", "above the switch threshold"]),
    ('pull_down = "10 kohm"', 'pull_down = "20 ohm"', ["gate.pull_down", "larger than pull_up"]),
    ('resistance = "110 mohm"', 'resistance = "5 mohm"', ["case.loaded.workpiece", "more resistance"]),
    ('resistance = "110 mohm"', 'resistance = "4 ohm"', ["case.loaded.workpiece", "coupling factor"]),
    ("[case.idle]", "[case.Idle]", ["case.Idle", "signs that are not allowed"]),
    ("[case.idle]", '[case.idle]\nset = {"supply.volts" = "3 V"}', ["supply.volts", "did you mean voltage?"]),
    ("[coil.measured]", "[coil.mesured]", ["coil.mesured", "did you mean measured?"]),
    ("[gate]", "[gates]", ["gates", "did you mean gate?"]),
    ("[limits]", "[limits", ["is not TOML", "[limits"]),
    ('name = "Bench heater"', 'name = "Bench heater', ["is not TOML"]),
    ("count = 6", "count = 6\ncount = 7", ["is not TOML"]),
]


@pytest.fixture(scope="module")
def text(checkout):
    return (checkout / "scenarios" / "bench-heater.toml").read_text(encoding="utf-8")


def build_everything(text):
    scenario = Scenario.from_text(text, "heater.toml")
    for case in scenario.cases:
        scenario.heater(case)


@pytest.mark.parametrize(("old", "new", "words"), MISTAKES, ids=[str(words[:2]) for _, _, words in MISTAKES])
def test_a_mistake_is_named_with_file_line_field_and_what_is_allowed(text, old, new, words):
    assert old in text
    wrong = text.replace(old, new, 1)
    with pytest.raises(InputError) as caught:
        build_everything(wrong)
    message = str(caught.value)
    for word in words:
        assert word in message
    assert re.search(r"^heater\.toml:\d+: ", message, re.MULTILINE)


def test_the_line_is_that_of_the_field(text):
    lines = text.splitlines()
    with pytest.raises(InputError) as caught:
        build_everything(text.replace('diameter = "1.6 mm"', 'diameter = "1.6"'))
    number = next(k for k, line in enumerate(lines, start=1) if line.startswith('diameter = "1.6 mm"'))
    assert str(caught.value).startswith(f"heater.toml:{number}: choke.wire.diameter")


def test_every_mistake_is_listed_at_once_and_only_once(text):
    wrong = text.replace('"42 V"', '"42"').replace('"20 mohm"', "20").replace("turns = 20", "turns = -1")
    with pytest.raises(InputError) as caught:
        build_everything(wrong)
    fields = [problem.where.split(": ")[1] for problem in caught.value.problems]
    assert sorted(fields) == ["choke.turns", "supply.resistance", "supply.voltage"]


@pytest.mark.parametrize(
    ("content", "word"), [(b"\xff\xfe\x00", "UTF-8"), (b"x" * 2_000_000, "too long"), (b"", "is missing"), (b"\x00", "is not TOML")]
)
def test_files_of_another_kind(tmp_path, content, word):
    path = tmp_path / "x.toml"
    path.write_bytes(content)
    with pytest.raises(InputError, match=word):
        Scenario.from_file(path)


def test_missing_file_and_folder(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        Scenario.from_file(tmp_path / "nowhere.toml")
    with pytest.raises(InputError, match="is a folder"):
        Scenario.from_file(tmp_path)


@pytest.mark.parametrize(
    "hostile",
    [
        "x\\n.control\\nshell touch owned\\n.endc",
        "a; quit",
        'say \\"hi\\"',
        "name' .include /etc/passwd",
        "$(id)",
        "`id`",
        "{x}",
        "<script>alert(1)</script>",
        "x\\r.end",
        "\\u2028.control",
        " leading",
        "",
        "x" * 100,
    ],
)
def test_text_fields_take_one_line_of_a_safe_alphabet(text, hostile):
    with pytest.raises(InputError, match="signs that are not allowed"):
        build_everything(text.replace('name = "Bench heater"', f'name = "{hostile}"'))


@given(st.integers(0, 2_000), st.binary(min_size=1, max_size=4))
def test_a_damaged_file_is_read_or_refused_but_never_crashes(place, damage):
    from pathlib import Path

    data = bytearray((Path(__file__).parents[2] / "scenarios" / "bench-heater.toml").read_bytes())
    place %= len(data)
    data[place : place + len(damage)] = damage
    try:
        build_everything(data.decode("utf-8", errors="replace"))
    except InputError as error:
        assert all(problem.what for problem in error.problems)
