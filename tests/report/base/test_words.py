# SPDX-License-Identifier: GPL-3.0-or-later
"""Words: units from keys, parts and sides, limits with their direction, the verdict's sentence, advice told once."""

import math

import pytest

from heatsim.report.base import words
from heatsim.verdict.finding import Finding
from tests.support.results import checks as made


@pytest.mark.parametrize(
    ("key", "stem", "unit"),
    [
        ("tank.frequency_hz", "tank.frequency", "Hz"),
        ("choke.left.flux_swing_wb", "choke.left.flux_swing", "Wb"),
        ("choke.left.current_density_a_per_m2", "choke.left.current_density", "A/m2"),
        ("tank.harmonic_ratios", "tank.harmonic", "ratio"),
        ("startup.outcome", "startup.outcome", ""),
        ("choke.right.temperature_c", "choke.right.temperature", "°C"),
        ("window.periods", "window.periods", ""),
    ],
)
def test_a_key_ends_in_its_unit(key, stem, unit):
    assert words.split_key(key) == (stem, unit)


def test_every_measure_made_has_a_unit_or_is_a_word():
    assert [key for key in made.MEASURES if not words.split_key(key)[1]] == ["startup.outcome"]


@pytest.mark.parametrize(
    ("part", "text"),
    [
        ("choke.left", "left choke"),
        ("switch.right", "right switch"),
        ("gate_supply", "gate supply"),
        ("run", "run"),
        ("choke.left.copper", "left choke copper"),
    ],
)
def test_parts_are_named_as_people_name_them(part, text):
    assert words.part_words(part) == text


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (83210.0, "Hz", "83.2 kHz"),
        (6e6, "A/m2", "6 A/mm²"),
        (0.0173, "ratio", "1.73 %"),
        (None, "V", "–"),
        (math.nan, "V", "–"),
        (math.inf, "ratio", "–"),
        (-0.7, "V", "−700 mV"),
        (2e-6, "ratio", "< 0.01 %"),
        (0.0, "ratio", "0 %"),
        ([1.0, 0.5], "ratio", "100 %, 50 %"),
        ("settled", "", "settled"),
        (20.0, "", "20"),
        (5.5e-5, "H", "55 µH"),
    ],
)
def test_values_read_well(value, unit, text):
    assert words.value_text(value, unit) == text


def limit(value, allowed, headroom):
    return Finding("part", "limit", value, allowed, "V", headroom, "holds", "rating")


@pytest.mark.parametrize(
    ("value", "allowed", "headroom", "text"),
    [
        (130.0, 200.0, 0.35, "≤ 200 V"),
        (230.0, 200.0, -0.15, "≤ 200 V"),
        (12.0, 10.0, 0.2, "≥ 10 V"),
        (8.0, 10.0, -0.2, "≥ 10 V"),
        (-0.7, -20.0, 0.965, "≥ −20 V"),
        (-25.0, -20.0, -0.25, "≥ −20 V"),
        (10.0, 10.0, 0.0, "10 V"),
        (None, 10.0, None, "10 V"),
        (10.0, None, None, "–"),
    ],
)
def test_a_limit_tells_its_direction(value, allowed, headroom, text):
    assert words.allowed_text(limit(value, allowed, headroom)) == text


def test_the_verdict_names_the_worst_finding():
    assert words.verdict_sentence(made.result()) == (
        "2 of 12 limits are not kept, first of all right choke, inductance left at the peak: 30.5 %, at least 50 % allowed "
        "(case loaded, headroom −39 %)."
    )


def test_a_verdict_that_holds_names_the_tightest():
    text = words.verdict_sentence(made.result(made.result().cases[0]))
    assert text.startswith("Everything that was asked for holds: 4 of 4 limits. The tightest is left choke, current density")
    assert "headroom +43 %" in text


@pytest.mark.parametrize(
    ("grade", "told"),
    [("marginal", "1 of 1 limits is kept with less headroom than wanted"), ("unknown", "1 of 1 limits cannot be judged")],
)
def test_lesser_verdicts_are_told_as_such(grade, told):
    only = made.case(findings=tuple(f for f in made.FINDINGS if f.grade == grade))
    assert words.verdict_sentence(made.result(only)).startswith(told)


def test_nothing_to_judge_is_said():
    assert words.verdict_sentence(made.result(made.case(findings=()))) == "Nothing could be judged."


def test_advice_is_told_once_a_kind_of_part_and_never_for_what_holds():
    advice = words.advice(made.result().findings)
    assert [(item.worst.grade, item.places) for item in advice] == [
        ("fails", "left and right choke (loaded)"),
        ("unknown", "capacitors (loaded)"),
        ("marginal", "supply (loaded)"),
    ]
    assert advice[0].worst.remedy == "Put 3 of these rings under the same turns, right."


def test_a_heater_that_does_not_start_comes_before_all_else():
    result = made.result(made.case(), made.failed("idle", "latched"), made.failed("cold", "unsolved"))
    assert "first of all oscillator, starts and settles (case idle)" in words.verdict_sentence(result)
    advice = words.advice(words.ordered(result))
    assert [(item.worst.grade, item.places) for item in advice][:2] == [
        ("fails", "oscillator (idle)"),
        ("fails", "left and right choke (loaded)"),
    ]
    assert ("unknown", "oscillator (cold)") in [(item.worst.grade, item.places) for item in advice]


def test_sides_share_a_line_only_when_they_agree():
    lines = words.merged([("loaded", finding) for finding in made.FINDINGS])
    assert ("chokes, both", ("choke.left", "choke.right")) in [(line.name, line.parts) for line in lines]
    gates = [line.name for line in lines if line.finding.limit == "lowest gate voltage"]
    assert gates == ["left gate", "right gate"]  # 37 points of headroom apart
    assert sorted(part for line in lines for part in line.parts) == sorted(f.part for f in made.FINDINGS)


def test_cases_never_share_a_line():
    assert len(words.merged([("idle", made.FINDINGS[0]), ("loaded", made.FINDINGS[1])])) == 2


def test_headlines_take_the_worse_side():
    numbers = dict(words.headlines(made.case()))
    assert numbers["choke temperature, hottest"] == "72.5 °C"
    assert numbers["choke inductance left, lowest"] == "30.5 %"
    assert numbers["power into the workpiece"] == "930 W"
    assert dict(words.headlines(made.case("idle")))["power into the workpiece"] == "–"


def test_control_characters_never_reach_the_screen():
    assert words.printable("a\nb\x1b[31mc\u202ed") == "a b [31mc d"


def test_grades_are_counted():
    assert words.tally(made.FINDINGS) == "2 fail, 1 unknown, 1 marginal, 4 hold"
