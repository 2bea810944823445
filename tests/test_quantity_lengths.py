# SPDX-License-Identifier: GPL-3.0-or-later
"""Lengths in inches, fractions and feet: 25.4 mm and 304.8 mm exactly (international yard and pound agreement of 1959)."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.quantity import QuantityError, parse_quantity

READ = [
    ("3/8 in", "9.525"),
    ("3/8in", "9.525"),
    ("3 / 8 inch", "9.525"),
    ('3/8"', "9.525"),
    ("3/8''", "9.525"),
    ("3/8″", "9.525"),
    ("1 1/2 in", "38.1"),
    ("1-1/2 in", "38.1"),
    ("1 - 1/2 in.", "38.1"),
    ('1 1/2 "', "38.1"),
    ("0.25 inch", "6.35"),
    (".25 in", "6.35"),
    ("2.5e-1 in", "6.35"),
    ("2 inches", "50.8"),
    ("9/8 in", "28.575"),
    ("1 IN", "25.4"),
    ("2 ft", "609.6"),
    ("1 foot", "304.8"),
    ("1.5 feet", "457.2"),
    ("1/2 ft", "152.4"),
    ("2 ft 6 in", "762"),
    ("2ft6in", "762"),
    ("2 Ft. 6 In.", "762"),
    ("2' 6\"", "762"),
    ("2′6″", "762"),
    ("2'-6 1/2\"", "774.7"),
    ("2 ft 6.5 in", "774.7"),
    ("0 ft 1/4 in", "6.35"),
    ("-3/8 in", "-9.525"),
    ("-2 ft 6 in", "-762"),
    ("1/64 in", "0.396875"),
    ("1/3 in", None),
]
"""Text and millimetres, worked out by hand."""

REFUSED = [
    ("3/8", "no unit"),
    ("1 1/2", "no unit"),
    ("1/2 mm", "fractions go with inches and feet"),
    ("1/0 in", "over zero"),
    ("1 1/0 in", "over zero"),
    ("1 9/8 in", "one or more behind a whole number"),
    ("1 2 in", "the unit '2 in'"),
    ("2.5 ft 6 in", "the unit 'ft 6 in'"),
    ("6 in 2 ft", "the unit 'in 2 ft'"),
    ("2 ft 6", "the unit 'ft 6'"),
    ("2 ft, 6 in", "comma"),
    ("1/2/3 in", "the unit"),
    ("1½ in", "the unit '½ in'"),
    ("in", "not a number"),
    ("1 mil", "the unit 'mil'"),
    ("14 AWG", "the unit 'AWG'"),
]


@pytest.mark.parametrize(("text", "millimetres"), READ)
def test_reads_inches_and_feet(text, millimetres):
    expected = Fraction(127, 15000) if millimetres is None else Fraction(millimetres) / 1000
    assert parse_quantity(text, "m") == float(expected)


@pytest.mark.parametrize(("text", "why"), REFUSED)
def test_refuses_what_is_no_length_and_names_both_forms(text, why):
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, "m")
    assert why in caught.value.what
    assert '"1.6 mm" or "3/8 in"' in caught.value.allowed


@pytest.mark.parametrize("unit", ["s", "H", "m2", "V", "m/s"])
def test_only_lengths_have_inches(unit):
    for text in ("3/8 in", "1 in", "2 ft", "2 ft 6 in"):
        with pytest.raises(QuantityError) as caught:
            parse_quantity(text, unit)
        assert "3/8 in" not in caught.value.allowed


@given(st.integers(0, 10_000), st.integers(0, 400), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_a_broken_length_is_its_exact_value_rounded_once(feet, whole, under):
    for over in range(under):
        inches = whole + Fraction(over, under)
        assert parse_quantity(f"{whole} {over}/{under} in", "m") == float(inches * Fraction(254, 10_000))
        expected = float((12 * feet + inches) * Fraction(254, 10_000))
        assert parse_quantity(f"{feet} ft {whole}-{over}/{under} in", "m") == expected


@given(st.decimals(0, 1000, places=4), st.sampled_from(["in", "inch", '"']))
def test_decimal_inches_are_25_4_millimetres_each(number, unit):
    assert parse_quantity(f"{number:f} {unit}", "m") == float(Fraction(number) * Fraction(254, 10_000))


@given(st.text(alphabet="0123456789/.- '\"infet″", max_size=30))
def test_no_text_of_such_signs_makes_anything_but_a_number_or_a_quantity_error(text):
    try:
        assert math.isfinite(parse_quantity(text, "m"))
    except QuantityError as error:
        assert error.what
