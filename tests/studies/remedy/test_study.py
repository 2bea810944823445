# SPDX-License-Identifier: GPL-3.0-or-later
"""Every remedy that is named, applied to the file, is judged `holds` by a check of its own."""

from __future__ import annotations

import math

import pytest

import heatsim as hs
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, CheckResult, case_deck
from heatsim.studies.check.limits.drive import WEAK_PULL_UP
from heatsim.studies.remedy import Remedies, Tried, find_remedies, fixed_text, in_line
from heatsim.studies.remedy import changes as ways
from heatsim.studies.remedy.predict import predicted_measures
from heatsim.studies.remedy.result import without_superfluous
from heatsim.verdict import Finding
from tests.support.failing import failing
from tests.support.once import checked


def searched(scenario: Scenario, **bounds: int) -> tuple[CheckResult, Remedies]:
    """With one process, so that searches take turns in their order and the first to end is the same on every machine."""
    result = checked(scenario)
    return result, find_remedies(result, jobs=1, seconds=math.inf, **bounds)


def assert_what_is_named_holds(scenario: Scenario, remedies: Remedies) -> None:
    for remedy in remedies.found:
        applied = hs.check(Scenario.from_text(fixed_text(scenario, remedy), scenario.label, scenario.folder))
        assert applied.verdict == "holds", [each.words for each in remedy.changes]
        for case in applied.cases:
            assert case.measures == remedy.cases[case.name].measures


@pytest.fixture(scope="module")
def small(checkout):
    return searched(hs.load(checkout / "scenarios" / "bench-heater-small-rings.toml"), enough=1)


def test_the_small_rings_are_mended(small):
    result, remedies = small
    assert remedies.found and remedies.single and not remedies.why_not
    kinds = [{change.kind for change in remedy.changes} for remedy in remedies.found]
    assert all("chokes" in each for each in kinds)  # the winding as it is cannot be threaded
    assert_what_is_named_holds(result.scenario, remedies)


def test_a_new_winding_keeps_the_power_and_comes_first(small):
    result, remedies = small
    first = remedies.found[0]
    assert [change.kind for change in first.changes] == ["chokes"]
    assert first.measure("workpiece.power_w") > 0.95 * result["loaded"].measures["workpiece.power_w"]


def test_predictions_of_what_was_found_are_near(small):
    """Peak within 10 %, temperature rise within 25 %, currents within 5 %: enough to order candidates."""
    result, remedies = small
    for remedy in remedies.found:
        for name, case in remedy.cases.items():
            near = predicted_measures(result[name], case.heater)
            found = case.measures
            assert near["supply.mean_current_a"] == pytest.approx(found["supply.mean_current_a"], rel=0.05)
            assert near["choke.left.peak_current_a"] == pytest.approx(found["choke.left.peak_current_a"], rel=0.1)
            rise = found["choke.left.temperature_c"] - case.heater.ambient
            assert near["choke.left.temperature_c"] - case.heater.ambient == pytest.approx(rise, rel=0.25)


def test_nothing_is_searched_for_where_nothing_can_be_found(checkout):
    scenario = hs.load(checkout / "scenarios" / "bench-heater.toml")
    assert "nothing to mend" in find_remedies(checked(scenario)).why_not
    bare = Scenario.from_text(scenario.text.replace('current_rating = "24 A"\n', ""))
    result = hs.check(bare.change(supply__rise_time="300 us"), ["loaded"])
    remedies = find_remedies(result)
    assert "capacitors, current of one capacitor, rms" in remedies.why_not and not remedies.tried
    assert isinstance(result.findings[0][1], Finding) and remedies.simulations == 0


@pytest.mark.slow
def test_a_bound_on_simulations_is_kept_and_told(small):
    remedies = find_remedies(small[0], seconds=math.inf, most=1)
    assert remedies.simulations == 1 and not remedies.found and remedies.ended == "the limit of simulations was reached"
    late = find_remedies(small[0], seconds=0.0)
    assert late.simulations == 0 and not late.found and late.ended == "time ran out"


def test_a_change_that_another_remedy_does_without_is_left_out(checkout):
    scenario = hs.load(checkout / "scenarios" / "bench-heater.toml")
    fewer, more = (ways.supply_at(scenario, 30.0),), (ways.supply_at(scenario, 30.0), ways.air_at(scenario, 2.0))
    tried = [Tried(changes, scenario, {}, ("loaded",)) for changes in (more, fewer, (ways.air_at(scenario, 2.0),))]
    assert [each.changes for each in without_superfluous(tried)] == [fewer, (ways.air_at(scenario, 2.0),)]


@pytest.mark.parametrize(("pull_up", "kept"), [("100 ohm", False), ("47 ohm", True)])
def test_advice_gives_way_to_a_gate_value_that_was_simulated(checkout, pull_up, kept):
    scenario = hs.load(checkout / "scenarios" / "bench-heater.toml")
    late = Finding("gate.left", "gate drive reached", 8.0, 10.0, "V", -0.2, "fails", "rating", "", WEAK_PULL_UP)
    heater = scenario.heater("loaded")
    case = CaseResult("loaded", "settled", "", {}, (late,), heater, case_deck(scenario, "loaded"), None, None, (), 0.0)
    result = CheckResult(scenario, (case,), "0", "none", 0.0)
    change = ways.Change("gates", {"gate.pull_up": pull_up}, f"Use gate pull-ups of {pull_up}")
    found = Tried((change,), scenario.change(change.fields), {}, ("loaded",))
    told = in_line(result, Remedies((found,), (found,), {}, "", "", 1, 0.0))["loaded"].findings[0].remedy
    assert (told == WEAK_PULL_UP) == kept and ("Do not use a smaller pull-up" in told) != kept
    assert in_line(result, None) is result


@pytest.mark.timeout(900)
@pytest.mark.slow
@pytest.mark.parametrize("number", [1, 7])
def test_every_remedy_of_a_random_heater_holds_when_applied(number):
    """Two of the seventy-two, one of them sound; `python -m tests.support.remedies_applied` tries them all."""
    scenario = failing(number)
    result, remedies = searched(scenario, enough=1)
    if result.verdict == "holds":
        assert "nothing to mend" in remedies.why_not
    assert remedies.found or remedies.why_not or remedies.ended
    assert_what_is_named_holds(scenario, remedies)
