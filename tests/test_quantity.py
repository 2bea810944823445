# SPDX-License-Identifier: GPL-3.0-or-later
"""Quantities: SI prefixes as in the SI brochure (BIPM, 9th edition, table 7), and what must be refused."""

import math
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.constants import OERSTED
from heatsim.quantity import EXAMPLES, QuantityError, format_quantity, parse_quantity, shown

READ = [
    ("47 uH", "H", 47e-6),
    ("2.2 µF", "F", 2.2e-6),
    ("2.2 μF", "F", 2.2e-6),
    ("48V", "V", 48.0),
    ("20 mΩ", "ohm", 0.02),
    ("20 mohm", "ohm", 0.02),
    ("1.5 kohm", "ohm", 1500.0),
    ("1.6 mm", "m", 1.6e-3),
    ("3 m", "m", 3.0),
    ("85 °C", "°C", 85.0),
    ("-5 degC", "°C", -5.0),
    ("10 %", "%", 0.1),
    ("6 A/mm2", "A/m2", 6e6),
    ("1 Oe", "A/m", OERSTED),
    ("2 T", "T", 2.0),
    ("120 nC", "C", 120e-9),
    ("1e-6 H", "H", 1e-6),
    ("107 mm²", "m2", 107e-6),
    ("0.2 uohm*m", "ohm*m", 2e-7),
    ("85 kHz", "Hz", 85e3),
    ("1 MHz", "Hz", 1e6),
    ("+3 V", "V", 3.0),
    (".5 V", "V", 0.5),
]
REFUSED = [
    ("47", "H", "no unit"),
    ("47 uF", "H", "the unit 'uF'"),
    ("3,3 uF", "F", "comma"),
    ("10 meg", "ohm", "'meg'"),
    ("ten V", "V", "not a number"),
    ("", "V", "not a number"),
    ("nan V", "V", "not a number"),
    ("1e999 V", "V", "not finite"),
    ("5 V; .control", "V", "'V; .control'"),
    ("5 V\n.control\nshell id", "V", "the unit"),
    ("1 2 V", "V", "'2 V'"),
    ("0x10 V", "V", "'x10 V'"),
    (47, "H", "bare number"),
    (4.7, "H", "bare number"),
    (True, "H", "not true or false"),
    (None, "H", "not nothing"),
    (["5 V"], "V", "not a list"),
    ({"a": 1}, "V", "not a table"),
    (date(2024, 5, 1), "V", "not a date"),
    ("1e9999999 V", "V", "not finite"),
    ("-1e9999999 V", "V", "not finite"),
    ("1" + " " * 150_000 + "x", "V", "too long"),
    ("9" * 20_000 + " V", "V", "too long"),
    ("5\0 V", "V", "the unit"),
    ("5 v", "V", "'v'"),
    ("5 KV", "V", "'KV'"),
]


@pytest.mark.parametrize(("text", "unit", "value"), READ)
def test_reads_quantities_in_si(text, unit, value):
    assert parse_quantity(text, unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(("text", "unit", "why"), REFUSED)
def test_refuses_what_is_no_quantity_and_says_what_would_be(text, unit, why):
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, unit)
    assert why in str(caught.value)
    assert EXAMPLES[unit] in caught.value.allowed


@pytest.mark.parametrize("unit", EXAMPLES)
def test_every_example_is_accepted_for_its_own_unit(unit):
    assert math.isfinite(parse_quantity(EXAMPLES[unit], unit))


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (4.7e-5, "H", "47 µH"),
        (0.02, "ohm", "20 mΩ"),
        (85123.0, "Hz", "85.1 kHz"),
        (0.1, "ratio", "10 %"),
        (0.0, "V", "0 V"),
        (25.0, "°C", "25 °C"),
        (6e6, "A/m2", "6 A/mm2"),
        (None, "V", "-"),
        (float("nan"), "V", "-"),
        (-3.2, "V", "-3.2 V"),
        (8.1e-8, "H/turn2", "81 nH/turn2"),
        (999.6, "V", "1 kV"),
    ],
)
def test_renders_engineering_units(value, unit, text):
    assert format_quantity(value, unit) == text


@given(st.floats(1e-12, 1e9), st.sampled_from(["H", "F", "V", "A", "m", "s", "Hz"]))
def test_what_is_rendered_is_read_back(value, unit):
    assert parse_quantity(format_quantity(value, unit, 6), unit) == pytest.approx(value, rel=1e-5)


@given(st.text(max_size=40))
def test_no_text_makes_anything_but_a_number_or_a_quantity_error(text):
    try:
        assert math.isfinite(parse_quantity(text, "V"))
    except QuantityError as error:
        assert error.allowed


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("x", "'x'"),
        ("x" * 5000, "'" + "x" * 40 + "..." + "x" * 20 + "'"),
        (True, "true"),
        (4.5, "4.5"),
        pytest.param(1 << 40_000, "a number of many digits", id="digits"),
        (math.inf, "inf"),
        ([1], "a list"),
        ({}, "a table"),
        (date(2024, 5, 1), "a date or time"),
    ],
)
def test_what_was_given_is_shown_short_and_without_class_names(value, text):
    assert shown(value) == text


@pytest.mark.parametrize(("text", "seconds"), [("3 min", 180.0), ("90 s", 90.0), ("2000 h", 7.2e6), ("0.5 min", 30.0)])
def test_minutes_and_hours(text: str, seconds: float) -> None:
    assert parse_quantity(text, "s") == seconds


def test_numbers_of_arrays_are_rendered_as_those_of_python() -> None:
    assert [format_quantity(each, "A") for each in np.array([-0.0123, 0.0, 4.7])] == ["-12.3 mA", "0 A", "4.7 A"]


def test_long_times_are_told_in_minutes_and_hours() -> None:
    assert [format_quantity(each, "s") for each in (90.0, 180.0, 7200.0, 3.6e6)] == ["90 s", "3 min", "2 h", "1000 h"]
