# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits are monotone: a measure that gets worse never gets a better grade or more headroom, and grades change in their order."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.scenario.scenario import Scenario
from heatsim.studies.check.limits import case_limits
from heatsim.verdict import Limit, judge
from tests.support.deciding_code import ROOT

ORDER = {"holds": 0, "marginal": 1, "fails": 2}
FILES = ("bench-heater", "bench-heater-small-rings", "bench-heater-long-bank")
VALUES = st.floats(-1e6, 1e6, allow_subnormal=False)


def judged(limit: Limit, value: float, wanted: float = 0.1) -> tuple[int, float]:
    """Grade, the worse the larger, and headroom."""
    (found,) = judge({limit.key: value}, [limit], wanted)
    assert found.headroom is not None
    return ORDER[found.grade], found.headroom


@given(VALUES, st.floats(0.0, 1e6), st.floats(1e-3, 1e6), st.booleans(), st.floats(0.0, 0.5), st.integers(1, 8))
def test_worse_never_gives_a_better_grade(
    value: float, more: float, allowed: float, lower: bool, wanted: float, share: int
) -> None:
    limit = Limit("p", "n", "k", allowed, "V", "rating", lower=lower, share=float(share))
    worse = value - more if lower else value + more
    here, there = judged(limit, value, wanted), judged(limit, worse, wanted)
    assert there[0] >= here[0] and there[1] <= here[1]


@given(VALUES, st.floats(0.0, 0.5), st.floats(0.0, 0.5), st.booleans())
def test_more_headroom_wanted_never_gives_a_better_grade(value: float, wanted: float, more: float, lower: bool) -> None:
    limit = Limit("p", "n", "k", 50.0, "V", "rating", lower=lower)
    assert judged(limit, value, wanted + more)[0] >= judged(limit, value, wanted)[0]


@given(VALUES, st.floats(1e-3, 1e6), st.floats(0.0, 1e6))
def test_a_higher_rating_never_gives_a_worse_grade(value: float, allowed: float, more: float) -> None:
    limit = Limit("p", "n", "k", allowed, "V", "rating")
    assert judged(replace(limit, allowed=allowed + more), abs(value))[0] <= judged(limit, abs(value))[0]


@pytest.mark.parametrize("file", FILES)
def test_every_limit_of_a_case_is_monotone_in_its_own_measure(file: str) -> None:
    """What a limit allows may hang on other measures, and must not rise with the one that it judges."""
    scenario = Scenario.from_file(ROOT / "scenarios" / f"{file}.toml")
    heater, case = scenario.heater("loaded"), scenario.case("loaded")
    seen = 0
    for limit in case_limits(case, heater, {}):
        if limit.allowed is None:
            continue
        grades, rooms = [], []
        size = abs(limit.allowed * limit.share)
        for step in range(-8, 9):
            value = limit.allowed * limit.share + (-1 if limit.lower else 1) * step / 4 * size
            same = next(
                each for each in case_limits(case, heater, {limit.key: value}) if (each.part, each.name) == (limit.part, limit.name)
            )
            told = judged(same, value)
            grades.append(told[0])
            rooms.append(told[1])
        assert grades == sorted(grades) and rooms == sorted(rooms, reverse=True), (limit.part, limit.name)
        assert {grades[0], grades[-1]} == {0, 2} or limit.wanted == 0.0, (limit.part, limit.name)
        seen += 1
    assert seen > 15
