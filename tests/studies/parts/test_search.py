# SPDX-License-Identifier: GPL-3.0-or-later
"""Parts found by words, and rings by their size."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.parts.ring import RingEntry
from heatsim.physics.ringcore import RingSize
from heatsim.studies.parts import nearest, ring_size
from heatsim.studies.parts.part import ring_part
from heatsim.studies.parts.search import has_word

BENCH = RingSize(40e-3, 24e-3, 14.5e-3)


@pytest.mark.parametrize(
    ("text", "word", "found"),
    [
        ("fe-si-al-60", "60", True),
        ("fe-si-al-160", "60", False),
        ("600 v", "60", False),
        ("60.5 mm", "60", False),
        ("at 60.", "60", True),
        ("fe-si-al-60", "si", True),
        ("fe-si-al-60", "fe-si-al", True),
        ("awg 14", "awg", True),
        ("powder-26.9x14.7x11.2", "26.9", True),
        ("powder-26.9x14.7x11.2", "14.7", False),  # begins within a word
        ("steel c45", "stee", True),
        ("steel c45", "teel", False),
        ("a (b)", "(b", True),
        ("50 %", "%", True),
        ("a.b", "axb", False),
    ],
)
def test_a_word_begins_where_a_word_begins(text: str, word: str, found: bool) -> None:
    assert has_word(text, word) is found


@pytest.mark.parametrize(
    "text",
    [
        "40 x 24 x 14.5 mm",
        "40x24x14.5mm",
        "40 mm × 24 mm × 14.5 mm",
        "40 mm x 24000 um x 0.0145 m",
        " 40 * 24 * 14.5 mm ",
        "40 by 24 by 14.5 mm",
    ],
)
def test_a_size_is_read_however_it_is_written(text: str) -> None:
    assert ring_size(text) == pytest.approx(BENCH, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    ["1 9/16 x 15/16 x 9/16 in", '1 9/16" x 15/16" x 9/16"', "1-9/16 X 15/16 X 9/16 inch", "39.6875 mm x 15/16 in x 9/16 in"],
)
def test_a_size_in_inches(text: str) -> None:
    assert ring_size(text) == (39.6875e-3, 23.8125e-3, 14.2875e-3)  # 25/16, 15/16 and 9/16 of 25.4 mm


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("40 x 24 mm", "is not a ring's size"),
        ("", "is not a ring's size"),
        ("40 x 24 x 14.5 x 2 mm", "is not a ring's size"),
        ("40 x 24 x 14.5", "has no unit"),
        ("40 x 24 x 14,5 mm", "comma"),
        ("40 x twenty x 14.5 mm", "is not a number"),
        ("40 x 24 x 14.5 kg", "the unit 'kg'"),
        ("24 x 40 x 14.5 mm", "inner diameter that is not smaller"),
        ("40 x 0 x 14.5 mm", "inner diameter that is out of range"),
        ("40 x 24 x -14.5 mm", "height that is out of range"),
        ("40 x 24 x 1e999 mm", "not finite"),
        ("4000 x 24 x 14.5 mm", "outer diameter that is out of range"),
        ("x" * 100_000, "is not a ring's size"),
    ],
)
def test_what_is_no_size_is_refused_with_what_is(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        ring_size(text, "--near")
    assert str(caught.value).startswith("--near: ") and len(str(caught.value)) < 400


@given(st.text(max_size=60))
def test_no_text_makes_anything_but_a_size_or_an_input_error(text: str) -> None:
    try:
        assert all(1e-3 <= length <= 1.0 for length in ring_size(text))
    except InputError as error:
        assert error.problems[0].allowed


def listed(size: RingSize, coating: float = 0.0) -> RingEntry:
    return RingEntry(f"{size.outer_diameter}", size, "logarithmic", "measured", "callipers", coating=coating)


def test_the_nearest_ring_comes_first_and_the_distance_is_relative() -> None:
    off = RingSize(40e-3 * 1.02, 24e-3 * 1.02, 14.5e-3 * 1.02)
    parts = [ring_part(listed(size)) for size in (off, RingSize(80e-3, 48e-3, 29e-3), BENCH)]
    found = nearest(parts, BENCH, 3)
    assert [each.part.figures["outer_diameter_m"] for each in found] == [40e-3, 40.8e-3, 80e-3]
    assert [each.distance for each in found] == pytest.approx([0.0, math.log(1.02), math.log(2.0)], abs=1e-12)
    assert len(nearest(parts, BENCH, 2)) == 2


def test_a_ring_measured_with_its_coating_is_that_ring() -> None:
    (found,) = nearest([ring_part(listed(BENCH, 0.4e-3))], RingSize(40.8e-3, 23.2e-3, 15.3e-3), 1)
    assert found.coated and found.distance == pytest.approx(0.0, abs=1e-12)
    (bare,) = nearest([ring_part(listed(BENCH, 0.4e-3))], BENCH, 1)
    assert not bare.coated and bare.distance == 0.0


@given(st.tuples(*[st.floats(0.9, 1.1)] * 3))
def test_the_distance_is_some_mean_of_the_differences(factors: tuple[float, float, float]) -> None:
    (found,) = nearest([ring_part(listed(BENCH))], RingSize(*(a * b for a, b in zip(BENCH, factors, strict=True))), 1)
    differences = [abs(math.log(factor)) for factor in factors]
    assert min(differences) - 1e-12 <= found.distance <= max(differences) + 1e-12
