# SPDX-License-Identifier: GPL-3.0-or-later
"""Devices in parallel never share evenly: the one that carries most is judged, in the steady state, at switch-on and in a latch."""

from dataclasses import replace

import pytest

import heatsim as hs
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, case_deck, case_limits
from heatsim.studies.check.limits.switch import START_CURRENT
from heatsim.studies.check.warning import _surge
from heatsim.verdict import Finding, judge

PEAK = "peak current of a device"


@pytest.fixture(scope="module")
def bench(checkout) -> Scenario:
    return hs.load(checkout / "scenarios" / "bench-heater.toml")


def findings(scenario: Scenario, **measures: float) -> dict[str, Finding]:
    """The left side's findings by name; a measure's dots are written as double underscores."""
    known = {key.replace("__", "."): value for key, value in measures.items()}
    limits = case_limits(scenario.case("loaded"), scenario.heater("loaded"), known)
    return {each.limit: each for each in judge(known, limits, 0.0) if each.part == "switch.left"}


def carried(count: int, spread: float) -> float:
    """Current [A] of one of `count` resistors across a common voltage, a mean of 1 A each: Ohm's and Kirchhoff's laws."""
    own, other = 1 / (1 - spread), 1 / (1 + spread)
    return own * count / (own + (count - 1) * other)


@pytest.mark.parametrize(("count", "spread"), [(1, 0.1), (2, 0.1), (2, 0.0), (2, 0.25), (6, 0.1)])
def test_the_device_that_carries_most_is_judged(bench: Scenario, checkout, count: int, spread: float) -> None:
    cooled = hs.load(checkout / "scenarios" / "bench-heater-cooled.toml")
    scenario = cooled.change({"switch.count": count, "switch.cooling.on_resistance_spread": f"{100 * spread:g} %"})
    found = findings(scenario, switch__left__peak_current_a=50.0)[PEAK]
    assert found.value == pytest.approx(50.0 * carried(count, spread))
    assert found.allowed == 60.0


def test_a_mean_below_the_rating_does_not_hold_where_one_device_is_above(bench: Scenario) -> None:
    """Without [switch.cooling] the usual spread is taken; 57 A in the mean of two is 62.7 A in one."""
    found = findings(bench, switch__left__peak_current_a=57.0)[PEAK]
    assert (found.grade, found.value) == ("fails", pytest.approx(62.7))
    assert "1.1 times the mean" in found.cause and "10 % apart" in found.cause
    assert findings(bench, switch__left__peak_current_a=54.0)[PEAK].grade == "holds"


@pytest.mark.parametrize(("current", "grade"), [(100.0, "holds"), (108.0, "holds"), (112.0, "fails")])
def test_the_start_is_held_against_the_pulse_rating(bench: Scenario, current: float, grade: str) -> None:
    """120 A for a single pulse, 1.1 times the mean in one of the two devices."""
    pulsed = bench.change({"switch.pulse_current": "120 A"})
    assert findings(pulsed, startup__left_device_peak_current_a=current)[START_CURRENT].grade == grade
    assert START_CURRENT not in findings(pulsed), "a followed state has no start"
    assert START_CURRENT not in findings(bench, startup__left_device_peak_current_a=current), "nothing to hold it against"


def case_of(scenario: Scenario, at_start: float, later: float) -> CaseResult:
    measures = {f"startup.{side}_device_peak_current_a": at_start for side in ("left", "right")}
    measures |= {f"switch.{side}.peak_current_a": later for side in ("left", "right")}
    heater, deck = scenario.heater("loaded"), case_deck(scenario, "loaded")
    return CaseResult("loaded", "settled", "", measures, (), heater, deck, None, None, (), 0.0, 0.05)


@pytest.mark.parametrize(
    ("at_start", "later", "told"), [(75.0, 40.0, True), (56.0, 40.0, True), (54.0, 40.0, False), (75.0, 56.0, False)]
)
def test_a_current_beyond_the_rating_at_the_start_only_is_a_warning(
    bench: Scenario, at_start: float, later: float, told: bool
) -> None:
    """Two devices a side, 60 A each; what goes beyond in the steady state is a limit of its own."""
    case = case_of(bench, at_start, later)
    assert bool(list(_surge(case))) is told
    assert all("switch.pulse_current" in text and f"{1.1 * at_start:.3g} A" in text for text in _surge(case))
    rated = replace(case, heater=replace(case.heater, switch=replace(case.heater.switch, pulse_current=200.0)))
    assert not list(_surge(rated)), "it is a limit then"
    assert not list(_surge(replace(case, measures={})))
