# SPDX-License-Identifier: GPL-3.0-or-later
"""Headroom, grades, and that nothing unknown is passed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.verdict import Limit, grade, headroom, judge, worst


def limit(**changes):
    return Limit(
        **{
            "part": "p",
            "name": "n",
            "key": "k",
            "allowed": 100.0,
            "unit": "V",
            "basis": "rating",
            "cause": "Because.",
            "remedy": "Do.",
        }
        | changes
    )


@pytest.mark.parametrize(
    ("value", "changes", "room", "found"),
    [
        (80.0, {}, 0.2, "holds"),
        (90.0, {}, 0.1, "holds"),
        (95.0, {}, 0.05, "marginal"),
        (100.0, {}, 0.0, "marginal"),
        (101.0, {}, -0.01, "fails"),
        (0.9, {"allowed": 0.5, "lower": True}, 0.8, "holds"),
        (0.52, {"allowed": 0.5, "lower": True}, 0.04, "marginal"),
        (0.4, {"allowed": 0.5, "lower": True}, -0.2, "fails"),
        (-3.0, {"allowed": -20.0, "lower": True}, 0.85, "holds"),
        (-25.0, {"allowed": -20.0, "lower": True}, -0.25, "fails"),
        (480.0, {"share": 6}, 0.2, "holds"),
        (95.0, {"wanted": 0.0}, 0.05, "holds"),
    ],
)
def test_headroom_and_grade(value, changes, room, found):
    (finding,) = judge({"k": value}, [limit(**changes)], wanted=0.1)
    assert finding.headroom == pytest.approx(room)
    assert finding.grade == found
    assert bool(finding.cause) == bool(finding.remedy) == (found != "holds")


@pytest.mark.parametrize(
    ("measures", "changes", "word"),
    [
        ({}, {}, "could not be measured"),
        ({"k": None}, {}, "could not be measured"),
        ({"k": float("nan")}, {}, "could not be measured"),
        ({"k": 1.0}, {"allowed": None}, "not given"),
    ],
)
def test_what_is_not_known_is_unknown_never_passed(measures, changes, word):
    (finding,) = judge(measures, [limit(**changes)], wanted=0.1)
    assert finding.grade == "unknown" and finding.headroom is None and word in finding.cause
    assert finding.remedy


def test_what_settles_an_unknown_is_said_only_then():
    one = limit(unknown="its rating is on no sheet", settle="Give part.rating.")
    (found,) = judge({"k": None}, [one], wanted=0.1)
    assert (found.cause, found.remedy) == ("Cannot be judged: its rating is on no sheet.", "Give part.rating.")
    (failing,) = judge({"k": 2000.0}, [one], wanted=0.1)
    assert failing.grade == "fails" and "Give" not in failing.remedy and "sheet" not in failing.cause


@pytest.mark.parametrize(
    ("grades", "found"),
    [
        (["holds", "marginal"], "marginal"),
        (["holds", "unknown", "marginal"], "unknown"),
        (["fails", "unknown"], "fails"),
        (["holds"], "holds"),
        ([], "unknown"),
    ],
)
def test_a_verdict_is_the_worst_grade(grades, found):
    assert worst(grades) == found


@given(st.floats(0.1, 1e3), st.floats(0.1, 1e3), st.floats(0, 0.5))
def test_more_never_grades_better_against_an_upper_limit(value, allowed, wanted):
    order = ["holds", "marginal", "fails"]
    first, second = (order.index(grade(headroom(v, allowed), wanted)) for v in (value, 1.1 * value))
    assert second >= first
