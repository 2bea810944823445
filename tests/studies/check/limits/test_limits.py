# SPDX-License-Identifier: GPL-3.0-or-later
"""The limits of a case without a simulation: what each allows, and that its remedy is enough."""

import re

import pytest

import heatsim as hs
from heatsim.engine import Outcome
from heatsim.studies.check import case_limits
from heatsim.studies.check.limits import outcome_finding
from heatsim.studies.check.limits.oscillator import OUTCOMES
from heatsim.verdict import judge


@pytest.fixture(scope="module")
def scenario(checkout):
    return hs.load(checkout / "scenarios" / "bench-heater.toml")


def limits(scenario, measures=None):
    """Limits of the loaded case by part and name."""
    found = case_limits(scenario.case("loaded"), scenario.heater("loaded"), measures or {})
    named = {(limit.part, limit.name): limit for limit in found}
    assert len(named) == len(found)
    return named


def test_every_part_has_its_limits_in_a_fixed_order(scenario):
    parts = list(dict.fromkeys(part for part, _ in limits(scenario)))
    assert parts == [
        "switch.left",
        "gate.left",
        "switch.right",
        "gate.right",
        "capacitors",
        "supply",
        "tank",
        "run",
        "choke.left",
        "choke.right",
    ]


def test_without_measures_nothing_is_passed(scenario):
    findings = judge({}, limits(scenario).values(), 0.1)
    assert {finding.grade for finding in findings} == {"unknown"}
    assert all("nan" not in finding.cause + finding.remedy for finding in findings)


def test_a_remedy_says_in_words_what_moves_its_limit(scenario):
    """Numbers in advice come from simulated remedies alone."""
    far_off = {limit.key: 1e9 for limit in limits(scenario).values()}
    found = limits(scenario, far_off)
    assert all(limit.remedy for limit in found.values())
    assert not [limit.remedy for limit in found.values() if re.search(r"\d|estimated", limit.remedy)]


def test_a_rating_that_is_not_given_is_unknown_and_asked_for(scenario):
    text = scenario.text.replace('current_rating = "24 A"\n', "")
    assert text != scenario.text
    limit = limits(scenario.from_text(text), {"capacitor.rms_current_a": 100.0})["capacitors", "current of one capacitor, rms"]
    (finding,) = judge({"capacitor.rms_current_a": 100.0}, [limit], 0.1)
    assert finding.grade == "unknown" and finding.remedy.startswith("Give the capacitor's current rating")


def test_the_energy_balance_is_judged_at_one_per_cent(scenario):
    limit = limits(scenario)["run", "energy balance"]
    grades = [judge({limit.key: value}, [limit], 0.1)[0].grade for value in (0.0099, 0.0101)]
    assert grades == ["holds", "fails"]


def test_every_outcome_of_a_run_has_its_finding_and_only_settled_holds():
    assert set(OUTCOMES) == set(Outcome.__args__)
    grades = {outcome: outcome_finding(outcome, "") for outcome in OUTCOMES}
    assert [outcome for outcome, finding in grades.items() if finding.grade == "holds"] == ["settled"]
    assert all(finding.cause and finding.remedy for outcome, finding in grades.items() if outcome != "settled")


@pytest.mark.parametrize("detail", ["the time step became too small", "the time step became too small."])
def test_the_simulators_detail_is_a_sentence_of_its_own(detail):
    assert outcome_finding("unsolved", detail).cause.endswith("circuit. The time step became too small.")
    assert outcome_finding("settled", detail).cause == ""
