# SPDX-License-Identifier: GPL-3.0-or-later
"""Findings in words: limits with their direction, the verdict's sentence, advice told once."""

import pytest

from heatsim.report.check import words
from heatsim.verdict.finding import Finding
from tests.support.results import checks as made


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
        "2 of 12 limits fail; the worst: right choke, inductance left at the peak: 30.5 %, at least 50 % allowed "
        "(case loaded, headroom −39 %)."
    )


def test_a_verdict_that_holds_names_the_tightest():
    text = words.verdict_sentence(made.result(made.result().cases[0]))
    assert text.startswith("Everything asked for holds: 4 of 4 limits. The tightest is left choke, current density")
    assert "headroom +43 %" in text


@pytest.mark.parametrize(
    ("grade", "told"),
    [("marginal", "1 of 1 limits holds with less headroom than wanted"), ("unknown", "1 of 1 limits cannot be judged")],
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
    assert "the worst: oscillator, starts and settles (case idle)" in words.verdict_sentence(result)
    advice = words.advice(result.findings)
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
    assert numbers["choke temperature, highest"] == "72.5 °C"
    assert numbers["choke remaining inductance, lowest"] == "30.5 %"
    assert numbers["workpiece power"] == "930 W"
    assert dict(words.headlines(made.case("idle")))["workpiece power"] == "–"


def test_grades_are_counted():
    assert words.tally(made.FINDINGS) == "2 fail, 1 unknown, 1 marginal, 4 hold"
