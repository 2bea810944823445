# SPDX-License-Identifier: GPL-3.0-or-later
"""Conductors and water in a check: one simulated heater, its energies and currents, limits that fail, cautions, words."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from heatsim.report.check import copper as words
from heatsim.report.check.page import render_page
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, CheckResult, case_limits
from heatsim.studies.check.copper import water_measures
from heatsim.studies.check.limits.conductor import conductor_cautions
from heatsim.studies.check.limits.water import water_cautions
from heatsim.verdict import Finding, judge
from tests.support.once import checked

FOLDER = Path(__file__).resolve().parents[3] / "scenarios"
BENCH = Scenario.from_file(FOLDER / "bench-heater.toml")
COPPER = Scenario.from_file(FOLDER / "bench-heater-copper.toml")


@pytest.fixture(scope="module")
def result() -> CheckResult:
    return checked(COPPER, ["loaded"])


@pytest.fixture(scope="module")
def case(result: CheckResult) -> CaseResult:
    return result["loaded"]


def rejudged(case: CaseResult, part: str, scenario: Scenario, measures: dict[str, object]) -> list[Finding]:
    heater = scenario.heater("loaded")
    found = judge(measures, case_limits(scenario.case("loaded"), heater, measures), 0.1)
    return [each for each in found if each.part == part and ("water" in each.limit or "wall" in each.limit or part != "coil")]


def test_the_demo_holds_with_its_copper_and_water(result: CheckResult, case: CaseResult) -> None:
    assert result.verdict == "holds" and case.outcome == "settled"
    judged = {finding.part for finding in case.findings}
    assert {f"conductor.{each.key}" for each in case.heater.conductors} <= judged
    assert {"water temperature at the outlet", "hottest wall against boiling"} <= {finding.limit for finding in case.findings}


def test_currents_are_those_of_the_run(case: CaseResult) -> None:
    found = case.measures
    assert found["conductor.tank_bars.rms_current_a"] == pytest.approx(found["coil.rms_current_a"], rel=1e-9)
    bank = found["switch.left.rms_current_a"] * case.heater.switch.count
    assert found["conductor.drain_trace_left.rms_current_a"] == pytest.approx(bank, rel=1e-9)
    mean = found["supply.mean_current_a"]
    assert mean <= found["conductor.supply_cable.rms_current_a"] < 1.01 * mean


def test_loss_is_resistance_times_the_square_of_the_current(case: CaseResult) -> None:
    for each in case.heater.conductors:
        loss, resistance, current = (
            case.measures[f"conductor.{each.key}.{name}"] for name in ("loss_w", "resistance_ohm", "rms_current_a")
        )
        assert loss == pytest.approx(resistance * current**2, rel=1e-9)


def test_the_skin_of_the_bars_is_that_of_the_tanks_frequency(case: CaseResult) -> None:
    """One face of a bar that faces its return: rho l/(w delta), at 72 °C."""
    warm, frequency = case.measures["conductor.tank_bars.temperature_c"], case.measures["tank.frequency_hz"]
    rho = (1 + 3.93e-3 * (warm - 20)) / 58e6
    depth = math.sqrt(rho / (math.pi * frequency * 4e-7 * math.pi))
    assert case.measures["conductor.tank_bars.resistance_tank_ohm"] == pytest.approx(rho * 0.12 / (0.03 * depth), rel=2e-3)


def test_the_water_takes_what_the_ledger_books(case: CaseResult) -> None:
    found = case.measures
    heat = found["loss.coil_w"] + found["loss.leads_w"] + 0.1 * found["workpiece.power_w"]
    assert found["coil.water_heat_w"] == pytest.approx(heat, rel=1e-12)
    assert found["coil.water_rise_k"] == pytest.approx(heat / (0.995 * 4190 * 0.025), rel=5e-3)
    assert found["coil.water_outlet_c"] - found["coil.water_inlet_c"] == pytest.approx(found["coil.water_rise_k"])
    assert found["coil.boiling_margin_k"] == pytest.approx(99.974 - found["coil.wall_temperature_c"], abs=1e-3)


def test_the_energy_balance_is_untouched(case: CaseResult) -> None:
    assert case.measures["energy.imbalance_ratio"] < 0.01
    assert not any(key.startswith("loss.conductor") for key in case.measures)


def test_too_little_copper_fails_and_the_section_needed_is_named(case: CaseResult) -> None:
    found = dict(case.measures)
    found["conductor.supply_cable.temperature_c"] = 95.0
    (finding,) = rejudged(case, "conductor.supply_cable", COPPER, found)
    assert finding.grade == "fails" and "8.37 mm2 of copper is too little for 27.2 A rms" in finding.cause.replace("²", "2")
    assert "of copper or more, by its section" in finding.remedy


def test_a_trickle_of_water_fails_at_outlet_and_wall(case: CaseResult) -> None:
    scenario = COPPER.change({"coil.cooling.flow": "0.03 l/min"})
    found = dict(case.measures) | water_measures(scenario.heater("loaded"), case.measures)
    outlet, wall = rejudged(case, "coil", scenario, found)
    assert outlet.grade == "fails" and "l/min warm it by 10 K" in outlet.remedy
    assert wall.grade == "fails" and wall.allowed == pytest.approx(99.97, abs=0.01) and "boils" in wall.cause
    assert found["coil.boiling_margin_k"] < 0


def test_without_a_fan_the_water_is_warmer(case: CaseResult) -> None:
    still = COPPER.change({"coil.cooling.fan": "standing"}).heater("loaded")
    rise = water_measures(still, case.measures)["coil.water_outlet_c"] - case.measures["coil.water_outlet_c"]
    assert rise == pytest.approx((0.15 - 0.03) * case.measures["coil.water_heat_w"], rel=1e-3)


def test_a_joint_whose_bars_are_not_known_is_unknown() -> None:
    table = '\n[[conductor]]\nname = "joint"\nkind = "joint"\ncarries = "tank"\ntemperature_limit = "90 °C"\n'
    scenario = Scenario.from_text(BENCH.text + table)
    (finding,) = rejudged(None, "conductor.joint", scenario, {"conductor.joint.temperature_c": None})
    assert finding.grade == "unknown" and 'Give width and thickness of conductor "joint"' in finding.remedy


def test_losses_that_could_not_be_read_leave_the_water_unknown() -> None:
    assert water_measures(COPPER.heater("loaded"), {"loss.coil_w": None, "loss.leads_w": 3.0}) == {}
    assert {each.grade for each in rejudged(None, "coil", COPPER, {})} == {"unknown"}


def test_a_large_loss_without_the_table_is_told_and_a_small_one_is_not() -> None:
    heater = BENCH.heater("loaded")
    told = list(water_cautions(heater, {"loss.coil_w": 60.0, "loss.leads_w": 2.0}))
    assert told == ["The coil's cooling is not judged: give [coil.cooling]."]
    assert list(water_cautions(heater, {"loss.coil_w": 40.0, "loss.leads_w": 2.0})) == []


def test_what_happens_when_the_pump_fails_is_told(result: CheckResult, case: CaseResult) -> None:
    (told,) = [warning.text for warning in result.warnings if "pump fails" in warning.text]
    assert "150 °C in 35 s" in told and case.measures["coil.dry_time_s"] == pytest.approx(35, abs=1)
    assert list(water_cautions(case.heater, case.measures, [case.measures, {"coil.dry_time_s": 20.0}])) == []
    unknown = list(water_cautions(case.heater, {"loss.coil_w": 60.0, "coil.dry_time_s": None}))
    assert unknown == ["How long the coil lasts when the pump fails is not known: give coil.tube_diameter and coil.tube_wall."]


def test_what_holds_only_by_the_middle_of_its_band_is_told(case: CaseResult) -> None:
    heater = replace(case.heater, conductors=tuple(replace(each, limit=80.0) for each in case.heater.conductors))
    told = list(conductor_cautions(heater, case.measures))
    assert any("tank bars holds only by the middle" in text and "above the 80 °C allowed" in text for text in told)


def test_leads_of_less_than_they_are_made_of_are_told(case: CaseResult) -> None:
    assert not any("leads" in text for text in conductor_cautions(case.heater, case.measures))
    heater = replace(case.heater, coil=replace(case.heater.coil, lead_resistance=0.2e-3))
    told = list(conductor_cautions(heater, case.measures))
    assert any("the leads were simulated with 200 µΩ" in text for text in told)


def test_the_page_shows_conductors_and_water(result: CheckResult, case: CaseResult) -> None:
    page = render_page(result, {})
    for text in ("<h3>Conductors</h3>", "tank bars", "bar; tank", "<h3>Water through the coil</h3>", "1.5 l/min"):
        assert text in page
    assert "coil.lead_inductance, 60 nH here, has to include it" in " ".join(words.notes(case))


def test_the_terminal_has_a_line_for_each(case: CaseResult) -> None:
    first, second = words.lines(case)
    assert first.startswith("loaded: conductor nearest to its limit: coil clamps, ") and first.endswith("90 °C allowed")
    assert second.startswith("loaded: water 31.1 °C in, 33.4 °C out, 1.5 l/min at 0.46")


def test_nothing_is_shown_of_what_is_not_there() -> None:
    heater = BENCH.heater("loaded")
    bare = CaseResult("loaded", "settled", "", {}, (), heater, None, None, None, (), 0.0)
    assert words.conductors(bare) == [] and words.water(bare) == [] and list(words.lines(bare)) == []


def test_charts_and_assumed_joints_are_told_in_the_notes(case: CaseResult) -> None:
    tables = """
[[conductor]]
name = "thin trace"
kind = "trace"
carries = "supply"
length = "50 mm"
width = "5 mm"
copper = "2 oz"
temperature_limit = "90 °C"

[[conductor]]
name = "loose joint"
kind = "joint"
carries = "tank"
temperature_limit = "90 °C"
"""
    heater = Scenario.from_text(BENCH.text + tables).heater("loaded")
    measures = {"conductor.thin_trace.chart_rise_k": 12.0, "conductor.thin_trace.temperature_c": 35.0}
    told = " ".join(words.notes(replace(case, heater=heater, measures=measures)))
    assert "thin trace: the charts of IPC-2221 say a rise of 12 K" in told and "the heat balance 10 K" in told
    assert "loose joint: its contact resistance is not measured; 20 µΩ are assumed, within a factor of 4" in told
