# SPDX-License-Identifier: GPL-3.0-or-later
"""Measures, limits and cautions of a bank along bars, on invented currents."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

import heatsim as hs
from heatsim.engine.simulate import simulate
from heatsim.parts.bank import divided, terminal_inductance
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import BY_CONNECTION, case_deck, case_limits, judge_run
from heatsim.studies.check.bank import bank_cautions, bank_measures, tank_currents
from heatsim.verdict import Finding, judge
from heatsim.waves import Waveforms

FREQUENCY, PERIODS = 84e3, 4
RAILS = {
    "coil_connection": "same end",
    "segment_inductance": "200 nH",
    "segment_resistance": "1 mohm",
    "thermal_resistance": "20 K/W",
    "temperature_limit": "85 °C",
}


@pytest.fixture(scope="module")
def bench(checkout) -> Scenario:
    return hs.load(checkout / "scenarios" / "bench-heater.toml")


def along_bars(bench: Scenario, **fields: Any) -> Scenario:
    """The loaded case of the bench heater with bars, and the bank's inductance as these make it."""
    rails = {name: value for name, value in (RAILS | fields).items() if value is not None}
    scenario = bench.change({f"capacitors.rails.{name}": value for name, value in rails.items()}).case("loaded")
    bank = scenario.heater("loaded").capacitors
    inductance = terminal_inductance(bank, bank.rails, FREQUENCY) or 8e-9
    return scenario.change(capacitors__inductance=f"{inductance * 1e9:.6g} nH")


def record(third: float = 0.0) -> Waveforms:
    """100 A rms in the bank, less in the coil; third: harmonic's rms [A]."""
    time = np.linspace(0, PERIODS / FREQUENCY, 4001)
    turn = 2 * np.pi * FREQUENCY * time
    bank = math.sqrt(2) * (100 * np.sin(turn) + third * np.sin(3 * turn))
    return Waveforms(
        time, {"capacitor.current": bank, "coil.current": -0.98 * bank}, {"capacitor.current": "A", "coil.current": "A"}
    )


def measures(scenario: Scenario, third: float = 0.0) -> dict[str, Any]:
    found: dict[str, Any] = {"capacitor.peak_voltage_v": 140.0, "tank.frequency_hz": FREQUENCY, "supply.power_w": 1000.0}
    return found | bank_measures(scenario.heater("loaded"), record(third), PERIODS, found)


def judged(scenario: Scenario, found: dict[str, Any]) -> dict[str, Finding]:
    limits = [limit for limit in case_limits(scenario, scenario.heater("loaded"), found) if limit.part == "capacitors"]
    return {finding.limit.split(",")[0]: finding for finding in judge(found, limits, 0.1)}


def test_without_bars_there_is_nothing_new(bench: Scenario) -> None:
    case = bench.case("loaded")
    assert bank_measures(case.heater("loaded"), record(), PERIODS, {}) == {}
    limits = [limit.name for limit in case_limits(case, case.heater("loaded"), {}) if limit.part == "capacitors"]
    assert limits == ["current of one capacitor, rms", "peak voltage"]


def test_harmonics_are_those_of_the_record(bench: Scenario) -> None:
    found = tank_currents(along_bars(bench).heater("loaded"), record(5.0), PERIODS)
    assert found.frequency == pytest.approx(FREQUENCY) and found.bank.size == 40
    assert np.abs(found.bank[:4]) == pytest.approx([100, 0, 5, 0], abs=1e-3)
    assert found.coil_left == pytest.approx(-0.98 * found.bank) and found.rest < 0.1


def test_each_capacitor_has_its_current_and_temperature(bench: Scenario) -> None:
    scenario = along_bars(bench)
    heater, found = scenario.heater("loaded"), measures(scenario)
    currents = [found[f"capacitor.{k}.rms_current_a"] for k in range(1, 7)]
    assert found[BY_CONNECTION["same end"]] == currents and sum(currents) == pytest.approx(100, rel=1e-3)
    assert currents == sorted(currents) and found["capacitor.worst_rms_current_a"] == pytest.approx(1.05 * currents[-1])
    loss = currents[-1] ** 2 * 6 * heater.capacitors.resistance
    assert found["capacitor.6.temperature_c"] == pytest.approx(25 + 20 * loss)
    assert found["capacitor.worst_temperature_c"] == pytest.approx(25 + 20 * 1.05 * loss)
    assert found["capacitor.worst_peak_voltage_v"] == pytest.approx(140 * 6 * currents[-1] / sum(currents))


def test_losses_of_equal_shares_are_the_ledgers(bench: Scenario) -> None:
    """Warmth of all capacitors together comes from the loss that the circuit has, I^2 R of the bank."""
    scenario = along_bars(bench, segment_inductance="0.1 nH", segment_resistance="1 uohm")
    found, bank = measures(scenario), scenario.heater("loaded").capacitors
    watts = sum((found[f"capacitor.{k}.temperature_c"] - 25) / 20 for k in range(1, 7))
    assert watts == pytest.approx(100**2 * bank.resistance, rel=1e-3)


def test_the_worst_one_is_judged(bench: Scenario) -> None:
    scenario = along_bars(bench).change(capacitors__current_rating="18 A")
    found = measures(scenario)
    findings = judged(scenario, found)
    current = findings["current of the most loaded capacitor"]
    assert current.value == found["capacitor.worst_rms_current_a"] and current.allowed == 18.0
    assert current.grade == "fails" and "number 6 the most" in current.cause and "opposite ends" in current.remedy
    assert not any(sign.isdigit() for sign in current.remedy)
    assert findings["peak voltage of one capacitor"].value == found["capacitor.worst_peak_voltage_v"]
    assert findings["temperature of the warmest capacitor"].allowed == 85.0


def test_another_connection_is_not_named_where_it_is_no_better(bench: Scenario) -> None:
    scenario = along_bars(bench, coil_connection="middle")
    finding = judged(scenario, measures(scenario) | {"capacitor.worst_rms_current_a": 30.0})["current of the most loaded capacitor"]
    assert finding.grade == "fails" and finding.remedy.startswith("Bring the capacitors closer")


@pytest.mark.parametrize("name", ["thermal_resistance", "temperature_limit"])
def test_an_unknown_temperature_is_unknown(bench: Scenario, name: str) -> None:
    scenario = along_bars(bench, **{name: None})
    finding = judged(scenario, measures(scenario))["temperature of the warmest capacitor"]
    assert finding.grade == "unknown" and finding.remedy == f"Give capacitors.rails.{name}."


def test_an_unknown_current_rating_is_unknown(bench: Scenario) -> None:
    text = bench.text.replace('current_rating = "24 A"\n', "")
    scenario = along_bars(bench.from_text(text))
    finding = judged(scenario, measures(scenario))["current of the most loaded capacitor"]
    assert finding.grade == "unknown" and "capacitors.rails.rating" in finding.remedy


def test_a_rating_by_frequency_is_taken_at_the_tanks(bench: Scenario) -> None:
    text = bench.text.replace('current_rating = "24 A"\n', "")
    scenario = along_bars(bench.from_text(text), rating=[["42 kHz", "40 A"], ["168 kHz", "10 A"]])
    assert judged(scenario, measures(scenario))["current of the most loaded capacitor"].allowed == pytest.approx(20.0)
    beyond = along_bars(bench.from_text(text), rating=[["42 kHz", "40 A"], ["80 kHz", "30 A"]])
    finding = judged(beyond, measures(beyond))["current of the most loaded capacitor"]
    assert finding.allowed == pytest.approx(30.0) and finding.basis == "estimate"


def test_a_string_shares_voltage_and_loss(bench: Scenario) -> None:
    one, two = (measures(along_bars(bench, in_series=count, tolerance="10 %")) for count in (1, 2))
    share = 1.1 / (1.1 + 0.9)
    assert two["capacitor.worst_peak_voltage_v"] == pytest.approx(share * one["capacitor.worst_peak_voltage_v"])
    assert two["capacitor.3.temperature_c"] - 25 == pytest.approx((one["capacitor.3.temperature_c"] - 25) / 2)


class Case:
    """What `bank_cautions` reads of a case."""

    def __init__(self, scenario: Scenario, found: dict[str, Any]) -> None:
        self.heater, self.measures = scenario.heater("loaded"), found


def cautions(scenario: Scenario, found: dict[str, Any]) -> str:
    return " ".join(bank_cautions(Case(scenario, found)))  # type: ignore[arg-type]


def test_a_circuit_with_another_inductance_than_the_bars_is_told_and_does_not_hold(bench: Scenario) -> None:
    fitting = along_bars(bench).change(capacitors__current_rating="40 A")
    assert "comes to" not in cautions(fitting, measures(fitting))
    assert judged(fitting, measures(fitting))["current of the most loaded capacitor"].grade == "holds"
    other = fitting.change(capacitors__inductance="8 nH")
    told = cautions(other, measures(other))
    assert "comes to" in told and "capacitors.inductance, 8 nH" in told
    finding = judged(other, measures(other))["current of the most loaded capacitor"]
    assert finding.grade == "unknown" and finding.remedy == "Give capacitors.inductance as the bars make it."
    failing = other.change(capacitors__current_rating="18 A")
    assert judged(failing, measures(failing))["current of the most loaded capacitor"].grade == "fails"
    assert measures(along_bars(bench, coil_connection="opposite ends"))["capacitor.rails_inductance_h"] is None


def test_drains_that_connect_elsewhere_than_the_coil_are_told(bench: Scenario) -> None:
    """Five segments of 8 nH from the first to the last of six; of the tank's 1.7 uH they are 2.4 %."""
    scenario = along_bars(bench, segment_inductance="8 nH", drain_connection="far end")
    told = cautions(scenario, measures(scenario))
    assert "elsewhere than the coil: between them lie 40 nH, 2.4 % of" in told
    for near in ({"drain_connection": "same end"}, {}, {"drain_connection": "far end", "segment_inductance": "2 nH"}):
        other = along_bars(bench, **({"segment_inductance": "8 nH"} | near))
        assert "elsewhere" not in cautions(other, measures(other))


def test_bars_that_lose_much_are_told(bench: Scenario) -> None:
    scenario = along_bars(bench)
    found = measures(scenario)
    assert "lose" in cautions(scenario, found | {"capacitor.rails_loss_w": 21.0})
    assert "lose" not in cautions(scenario, found | {"capacitor.rails_loss_w": 19.0})


def test_a_resonance_near_a_harmonic_is_told_and_keeps_the_current_from_holding(bench: Scenario) -> None:
    """Six capacitors of 330 nF: a segment that puts the first resonance on 3.1 times the tank frequency."""
    q, own = 4 * math.sin(math.pi / 12) ** 2, 20e-9
    segment = q / (330e-9 * (2 * math.pi * 3.1 * FREQUENCY) ** 2) - own * q
    scenario = along_bars(bench, segment_inductance=f"{segment * 1e9:.6g} nH", tolerance="0 %")
    quiet, loud = measures(scenario, third=1e-3), measures(scenario, third=2.0)
    assert quiet["capacitor.near_resonance_hz"] is None
    assert loud["capacitor.near_resonance_hz"] == pytest.approx(3.1 * FREQUENCY, rel=1e-4)
    assert "harmonic 3" in cautions(scenario, loud)
    enough = loud["capacitor.worst_rms_current_a"] * 1.2
    roomy = replace(scenario, tables=scenario.tables).change(capacitors__current_rating=f"{enough:.6g} A")
    finding = judged(roomy, loud)["current of the most loaded capacitor"]
    assert loud["capacitor.near_resonance_current_a"] > enough
    assert finding.grade == "unknown" and "resonance" in finding.cause
    assert judged(roomy, quiet)["current of the most loaded capacitor"].grade == "holds"


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_the_demo_fails_at_the_same_end_and_holds_at_opposite_ends(session, checkout) -> None:
    """And what the bars lose is booked in the circuit, as the division of its currents over the bars finds it afterwards."""
    scenario = hs.load(checkout / "scenarios" / "bench-heater-long-bank.toml")
    found = {}
    for way in ("same end", "opposite ends"):
        chosen = scenario.change({"capacitors.rails.coil_connection": way})
        heater, run = chosen.heater("loaded"), simulate(session, case_deck(chosen, "loaded"), 800)
        found[way] = judge_run(chosen, "loaded", heater, run)
        measures, window = found[way].measures, found[way].window
        assert window is not None and run.waveforms is not None
        currents = tank_currents(heater, run.waveforms.between(*window), 20)
        afterwards = divided(heater.capacitors, heater.capacitors.rails, currents).rails_loss
        assert measures["loss.capacitor_bars_w"] == measures["capacitor.rails_loss_w"] == pytest.approx(afterwards, rel=0.04)
        assert abs(measures["energy.imbalance_ratio"]) < 2e-3
    failing = [finding for finding in found["same end"].findings if finding.grade != "holds"]
    assert [(one.grade, one.limit) for one in failing] == [("fails", "current of the most loaded capacitor, rms")]
    assert "number 10 the most" in failing[0].cause and "opposite ends" in failing[0].remedy
    assert found["opposite ends"].grade == "holds"
    told, given = found["same end"].measures["capacitor.rails_inductance_h"], scenario.tables.capacitors.inductance
    assert told == pytest.approx(given, rel=0.01)
