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


@pytest.mark.parametrize(
    ("key", "part", "name", "value"),
    [
        ("supply.mean_current_a", "supply", "mean current", 60.0),
        ("capacitor.peak_voltage_v", "capacitors", "peak voltage", 700.0),
        ("drain.left.peak_voltage_v", "switch.left", "drain voltage", 260.0),
    ],
)
def test_the_supply_voltage_of_a_remedy_leaves_the_wanted_headroom(scenario, key, part, name, value):
    limit = limits(scenario, {key: value})[part, name]
    volts = float(re.search(r"below ([\d.]+) V", limit.remedy)[1])
    wanted = scenario.tables.heater.wanted_headroom
    (finding,) = judge({key: value * volts / 42.0}, [limit], wanted)
    assert finding.headroom >= wanted - 1e-9
    (finding,) = judge({key: value * (volts + 0.5) / 42.0}, [limit], wanted)
    assert finding.headroom < wanted


def test_the_number_of_devices_of_a_remedy_is_the_least_that_is_enough(scenario):
    key, switch = "switch.left.peak_current_a", scenario.heater("loaded").switch
    value = 1.7 * switch.current_rating
    limit = limits(scenario, {key: value})["switch.left", "peak current of a device"]
    needed = int(re.search(r"Put (\d+) devices", limit.remedy)[1])
    wanted = scenario.tables.heater.wanted_headroom
    shares = [value * switch.count / count for count in (needed, needed - 1)]
    enough, short = (judge({key: share}, [limit], wanted)[0].headroom for share in shares)
    assert enough >= wanted > short


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
