# SPDX-License-Identifier: GPL-3.0-or-later
"""Wires by gauge and size; ASTM B258, tests/support/references.py, section 1."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.parts.gauge import LARGEST, SMALLEST, gauge_name, gauge_number, read_wire, wire_diameter
from heatsim.quantity import QuantityError
from tests.support import references as ref
from tests.support.book import MEMORY, known, listed


@pytest.mark.parametrize("row", ref.AWG, ids=lambda row: f"AWG{row[0]}")
@pytest.mark.parametrize("form", ["AWG {}", "{} AWG", "awg{}", "{}awg", "AWG #{}", "#{} AWG", "AWG-{}", " {}-AWG "])
def test_both_orders(row: tuple, form: str) -> None:
    assert 1e3 * wire_diameter(form.format(row[0])) == listed("AWG", "d", row)


@pytest.mark.parametrize(
    ("names", "inch", "off"),  # ASTM B258 (memory): 4/0 and 36 define the series; the others as printed, to half the last digit
    [
        (("AWG 4/0", "4/0 AWG", "AWG 0000"), 0.46, 1e-12),
        (("AWG 2/0", "AWG 00", "00 AWG"), 0.3648, 0.5e-4),
        (("AWG 1/0", "AWG 0", "0 AWG"), 0.3249, 0.5e-4),
        (("AWG 1", "AWG 01"), 0.2893, 0.5e-4),
        (("AWG 36",), 0.005, 1e-12),
    ],
)
def test_large_gauges_are_counted_in_noughts(names: tuple[str, ...], inch: float, off: float) -> None:
    for name in names:
        assert wire_diameter(name) / 25.4e-3 == known(inch, f"diameter of {name}", "ASTM B258", MEMORY, unit="in", abs=off)


@given(st.integers(LARGEST, SMALLEST))
def test_names_are_read_back(number: int) -> None:
    name = gauge_name(number)
    swapped = " ".join(reversed(name.split()))
    assert gauge_number(name) == gauge_number(swapped) == number


def test_sizes_are_lengths() -> None:
    assert wire_diameter("1.6 mm") == 1.6e-3
    assert wire_diameter("1/16 in") == 1.5875e-3


@pytest.mark.parametrize(
    "wrong", ["AWG", "14", "AWG fourteen", "AWG 57", "57 AWG", "5/0 AWG", "14 SWG", "14 gauge", "AWG 14 AWG", ""]
)
def test_anything_else_is_refused_with_what_is_read(wrong: str) -> None:
    with pytest.raises(InputError, match='"AWG 14" or a diameter'):
        wire_diameter(wrong)
    with pytest.raises(QuantityError):
        read_wire(wrong)


def test_a_gauge_outside_the_standard_is_told_its_range() -> None:
    with pytest.raises(QuantityError, match="AWG 4/0 to AWG 56"):
        read_wire("AWG 57")
