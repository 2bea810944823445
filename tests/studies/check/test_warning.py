# SPDX-License-Identifier: GPL-3.0-or-later
"""What a verdict must say besides its limits: loads that are not there, inputs without effect, limits not judged."""

import re
from dataclasses import replace

import numpy as np
import pytest

import heatsim as hs
from heatsim.studies.check import CaseResult, CheckResult, case_limits
from heatsim.studies.check.warning import check_warnings
from heatsim.verdict import judge

PIECE = """[case.loaded.workpiece.measured] # the same meter with the cold bar in the coil
inductance = "1.60 uH"
resistance = "110 mohm"
"""

NOT_COOLED = "The silicon's temperature is not judged: give [switch.cooling]."
"""Told of every scenario here; tests/studies/check/limits/test_silicon.py."""

FIELDS = np.linspace(0.0, 4e4, 4001)


@pytest.fixture(scope="module")
def scenario(checkout):
    return hs.load(checkout / "scenarios" / "bench-heater.toml")


def result(scenario, outcome="settled"):
    """A check of every case whose limits were all judged on nothing, as far as its outcome allows."""
    cases = []
    for name in scenario.cases:
        heater = scenario.heater(name)
        findings = judge({}, case_limits(scenario.case(name), heater, {}), 0.1) if outcome == "settled" else ()
        cases.append(CaseResult(name, outcome, "", {}, findings, heater, None, None, None, (), 0.0))
    return CheckResult(scenario, tuple(cases), "0", "none", 0.0, check_warnings(scenario, cases))


def warned(scenario, outcome="settled"):
    return {warning.text: warning.cases for warning in result(scenario, outcome).warnings if warning.text != NOT_COOLED}


def without_workpiece(scenario, name="loaded"):
    assert PIECE in scenario.text
    return scenario.from_text(scenario.text.replace(PIECE, f"[case.{name}]\n"))


def test_nothing_to_warn_of(scenario):
    assert warned(scenario) == {}


def test_a_case_called_loaded_without_a_workpiece(scenario):
    found = warned(without_workpiece(scenario))
    assert any('called "loaded" but has no workpiece' in text and cases == ("loaded",) for text, cases in found.items())
    assert any('repeats case "idle"' in text and cases == ("loaded",) for text, cases in found.items())
    assert any(text.startswith("No case has a workpiece") and cases == ("idle", "loaded") for text, cases in found.items())


@pytest.mark.parametrize("name", ["unloaded", "no-load", "idle-hot", "second"])
def test_a_case_that_says_it_is_empty_is_not_taken_for_a_loaded_one(scenario, name):
    assert not [text for text in warned(without_workpiece(scenario, name)) if "is called" in text]


def test_a_workpiece_without_effect(scenario):
    none = warned(scenario.change({"case.loaded.workpiece.share": "0 %"}))
    assert any("share is 0 %" in text for text in none)
    little = warned(scenario.change({"case.loaded.workpiece.measured.resistance": "14.01 mohm"}))
    assert any("less than a thousandth" in text for text in little)
    enough = {"resistance": "15 mohm", "inductance": "1.74 uH"}
    assert warned(scenario.change({f"case.loaded.workpiece.measured.{key}": value for key, value in enough.items()})) == {}


def test_a_setting_without_effect_is_told_with_the_verdict(scenario):
    measured = scenario.change({"choke.measured.inductance": "65 uH", "choke.measured.resistance": "8 mohm"})
    found = warned(measured.change({"choke.core.area": "90 mm2", "coil.turns": 7}))
    assert any("coil.turns = 7 changes nothing of cases idle and loaded" in text for text in found)


def test_a_setting_of_a_case_without_effect(scenario):
    text = scenario.text.replace("[case.idle]\n", '[case.idle]\nset = { "coil.turns" = 7, "supply.voltage" = "40 V" }\n')
    found = warned(scenario.from_text(text))
    assert found == {"Its own setting coil.turns = 7 changes nothing.": ("idle",)}


def test_limits_that_a_run_did_not_come_to_are_counted(scenario):
    found = warned(scenario, "latched")
    (text,) = found
    count = len(case_limits(scenario.case("loaded"), scenario.heater("loaded"), {}))
    assert text.startswith(f"{count} of {count + 1} limits were not judged") and found[text] == ("idle", "loaded")


def test_a_limit_that_vanished(scenario):
    measured = {"choke.measured.inductance": "65 uH", "choke.measured.resistance": "8 mohm"}
    found = warned(scenario.change(measured))
    assert any("no such limit any more: choke: windability, copper fill" in text for text in found)


@pytest.mark.parametrize(
    ("material", "left", "warns"), [("mpp-60", 0.52, True), ("mpp-60", 0.70, False), ("fe-si-al-60", 0.56, False)]
)
def test_inductance_kept_only_by_the_middle_of_an_uncertain_curve(scenario, material, left, warns):
    """MPP's curve is known to 10 points and more, Fe-Si-Al's to 5: 52 % left of 50 % asked for may be 42 %."""
    chosen = scenario.change({"choke.core.material": material})
    heater = chosen.heater("loaded")
    core, curve = heater.chokes[0].core, heater.chokes[0].core.material.bias
    peak = float(np.interp(-left, -curve.share(FIELDS), FIELDS)) * core.ring.path_length / core.winding.turns
    measures = {"choke.left.inductance_remaining_ratio": left, "choke.left.peak_current_a": peak}
    findings = judge(measures, case_limits(chosen.case("loaded"), heater, measures), 0.0)
    case = CaseResult("loaded", "settled", "", measures, findings, heater, None, None, None, (), 0.0)
    texts = [warning.text for warning in check_warnings(chosen, (case,)) if "known within a band" in warning.text]
    assert bool(texts) == warns
    if warns:
        percent = int(re.search(r"as little as (\d+) %", texts[0])[1])
        assert 30 <= percent <= 42 and "left choke" in texts[0]
        bench = {"choke.measured.table": [["0 A", "65 uH"], ["200 A", "30 uH"]], "choke.measured.resistance": "8 mohm"}
        assert not any("known within" in warning.text for warning in check_warnings(chosen.change(bench), (case,)))


def test_a_swing_that_was_judged_at_its_worst_is_told(scenario):
    cases = [replace(case, outcome_detail="the supply still swings by 2 %") for case in result(scenario).cases]
    assert [warning.text for warning in check_warnings(scenario, cases)] == ["The supply still swings by 2 %.", NOT_COOLED]
    drifting = [replace(case, outcome="drifting") for case in cases]
    assert "The supply still swings by 2 %." not in [warning.text for warning in check_warnings(scenario, drifting)]


@pytest.mark.parametrize(
    ("change", "told"),
    [({}, True), ({"temperature": "600 °C"}, True), ({"temperature": "900 °C"}, False), ({"material": "copper"}, False)],
)
def test_cold_steel_is_said_to_load_it_more_on_its_way(checkout, change, told):
    """The demo of the heat shows it: its hardest moment is a bar at 500 °C to 600 °C throughout, not the cold one."""
    forge = hs.load(checkout / "scenarios" / "bench-heater-forging.toml")
    case = forge.tables.heat.case
    changed = forge.change({f"case.{case}.workpiece.{name}": value for name, value in change.items()})
    found = [each.text for each in result(changed).warnings if "heatsim heat judges" in each.text]
    assert bool(found) is told
    assert all("770" in text or "768" in text for text in found)


def test_a_measured_piece_has_no_temperature_to_warn_of(scenario):
    assert not [each for each in result(scenario).warnings if "heatsim heat judges" in each.text]
