# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits, cautions and measures of the switches' warmth: without a simulation, and on a run of the demo."""

import re

import pytest

import heatsim as hs
from heatsim.measures.energy import mean_power
from heatsim.parts.sink import CEILING
from heatsim.studies.check import CaseResult, case_limits, temperature_measures
from heatsim.studies.check.silicon import DESTROYED_JUNCTION, PARTS
from heatsim.studies.check.warning import check_warnings
from heatsim.verdict import judge

LOSSES = {"conduction": 1.44, "overlap": 4.2, "diode": 0.0, "avalanche": 0.0, "gate": 0.01}
NAMES = ("junction temperature", "temperature of the sink", "energy of one avalanche")


@pytest.fixture(scope="module")
def scenario(checkout):
    return hs.load(checkout / "scenarios" / "bench-heater-cooled.toml")


@pytest.fixture(scope="module")
def run(scenario):
    return hs.check(scenario, ["loaded"])["loaded"]


def measures(scenario, run=None, **losses):
    """Measures of switches that lose so much each [W]."""
    found = {f"switch.{side}.peak_current_a": 14.5 for side in ("left", "right")}
    for side in ("left", "right"):
        parts = LOSSES | losses
        found |= {f"switch.{side}.{name}_loss_w": parts[name] for name in PARTS}
        found |= {f"switch.{side}.loss_w": sum(parts.values()), f"switch.{side}.avalanche_energy_j": 0.0}
    return found | temperature_measures(scenario.heater("loaded"), found, run)


def findings(scenario, found):
    limits = case_limits(scenario.case("loaded"), scenario.heater("loaded"), found)
    named = [each for each in limits if each.name.startswith(NAMES)]
    return {(each.part, each.limit): each for each in judge(found, named, 0.1)}


def test_without_the_table_there_is_no_limit_and_one_line_says_so(checkout):
    bare = hs.load(checkout / "scenarios" / "bench-heater.toml")
    assert findings(bare, measures(bare)) == {}
    assert "switch.left.junction_temperature_c" not in measures(bare)
    cases = [CaseResult(name, "settled", "", {}, (), bare.heater(name), None, None, None, (), 0.0) for name in bare.cases]
    told = [each for each in check_warnings(bare, cases) if "silicon" in each.text]
    assert [(each.cases, each.text) for each in told] == [
        (("idle", "loaded"), "The silicon's temperature is not judged: give [switch.cooling].")
    ]


def test_a_fan_makes_the_demo_hold_and_without_it_the_sink_fails_first(scenario):
    found = findings(scenario, measures(scenario))
    assert {each.grade for each in found.values()} == {"holds"} and len(found) == 6
    still = scenario.change({"switch.cooling.air_speed": "0 m/s"})
    failing = findings(still, measures(still))["switch.left", "temperature of the sink"]
    assert failing.grade == "fails" and "fan" in failing.remedy


def test_the_cause_tells_losses_band_and_what_was_assumed(scenario):
    still = scenario.change({"switch.cooling.air_speed": "0 m/s", "switch.cooling.junction_limit": "100 °C"})
    finding = findings(still, measures(still))["switch.left", "junction temperature"]
    assert finding.grade == "fails" and finding.basis == "estimate"
    for words in (
        "most of it by turning on and off",
        "in still air",
        "From cold it reaches 100 °C after",
        "Between",
        "devices 10 % apart",
    ):
        assert words in finding.cause
    assert not re.search(r"\d", finding.remedy) and "use devices with less gate-drain charge" in finding.remedy


def test_runaway_is_told_and_fails(scenario):
    hot = scenario.change({"switch.cooling.air_speed": "0 m/s", "switch.cooling.sink_resistance": "12 K/W"})
    found = measures(hot, conduction=8.0)
    assert found["switch.left.heat_state"] == "runaway"
    assert found["switch.left.junction_temperature_c"] == DESTROYED_JUNCTION > CEILING
    judged = findings(hot, found)
    assert judged["switch.left", "junction temperature"].grade == "fails"
    assert "thermal runaway" in judged["switch.left", "junction temperature"].cause
    assert judged["switch.left", "temperature of the sink"].grade == "unknown"


def test_a_run_from_cold_is_judged_at_its_end_and_needs_the_sinks_mass(scenario):
    short = scenario.change({"heater.run": "2 min", "switch.cooling.air_speed": "0 m/s"})
    found = measures(short, run=120.0)
    judged = findings(short, found)["switch.left", "junction temperature after 2 min from cold"]
    assert judged.value == found["switch.left.run_junction_temperature_c"] < found["switch.left.junction_temperature_c"] - 30
    assert judged.grade == "holds"
    text = short.text.replace('sink_mass = "180 g"\n', "")
    massless = short.from_text(text).change({"heater.run": "2 min"})
    (left, *_) = (each for each in findings(massless, measures(massless, run=120.0)).values() if each.limit.startswith("junction"))
    assert left.grade == "unknown" and "sink_mass" in left.remedy


def test_one_avalanche_is_judged_against_one_device(scenario):
    found = measures(scenario) | {"switch.left.avalanche_energy_j": 0.25}
    judged = findings(scenario, found)["switch.left", "energy of one avalanche"]
    assert (judged.grade, judged.allowed, judged.basis) == ("fails", pytest.approx(0.18), "rating")


def test_an_on_resistance_for_another_temperature_is_told_with_the_value_to_put_in(scenario):
    cold = scenario.change({"switch.cooling.on_resistance_temperature": "25 °C"})
    heater = cold.heater("loaded")

    def told(one):
        case = CaseResult("loaded", "settled", "", measures(one), (), one.heater("loaded"), None, None, None, (), 0.0)
        return [each.text for each in check_warnings(one, [case]) if "on-resistance" in each.text]

    (text,) = told(cold)
    ratio = measures(cold)["switch.left.on_resistance_ratio"]
    value = re.search(r'switch\.on_resistance = "([\d.]+) mohm"', text)
    assert value and float(value[1]) == pytest.approx(1e3 * heater.switch.on_resistance * ratio, rel=0.01)
    temperature = re.search(r'on_resistance_temperature = "(\d+) °C"', text)
    settled = cold.change(
        {"switch.on_resistance": f"{value[1]} mohm", "switch.cooling.on_resistance_temperature": temperature[1] + " °C"}
    )
    bank = {"conduction": LOSSES["conduction"] * ratio}
    at = temperature_measures(settled.heater("loaded"), measures(settled, **bank), None)
    assert at["switch.left.on_resistance_ratio"] == pytest.approx(1.0, abs=0.02)


@pytest.mark.ngspice
def test_the_split_of_a_run_adds_up_to_the_ledger(run):
    """The ledger's own entries and numbers; the parts are what the wave is told apart into."""
    for side in ("left", "right"):
        count, part = run.heater.switch.count, f"switch.{side}"
        total = run.measures[f"loss.{part}_w"]
        assert count * run.measures[f"{part}.loss_w"] == pytest.approx(total, rel=1e-9)
        parts = sum(run.measures[f"{part}.{name}_loss_w"] for name in PARTS)
        assert count * parts == pytest.approx(total, rel=1e-9)
        steady = run.waveforms.between(*run.window)
        booked = sum(mean_power(steady, entry) for entry in run.deck.ledger.losses if entry.part == part)
        assert booked == pytest.approx(total, rel=1e-12)


@pytest.mark.ngspice
def test_conduction_of_a_run_is_current_squared_times_the_on_resistance(run):
    """While the channel is on: a few per cent above, for the gate rises slowly through the lowest overdrives."""
    for side in ("left", "right"):
        rms = run.measures[f"switch.{side}.rms_current_a"]
        ideal = rms**2 * run.heater.switch.on_resistance
        assert run.measures[f"switch.{side}.conduction_loss_w"] == pytest.approx(ideal, rel=0.06)


@pytest.mark.ngspice
def test_the_demo_holds_with_its_fan(run):
    assert run.grade == "holds"
    assert 50 < run.measures["switch.right.junction_temperature_c"] < 70
