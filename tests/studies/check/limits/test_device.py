# SPDX-License-Identifier: GPL-3.0-or-later
"""How far the MOSFET model is from its datasheet: judged, told, and never silent."""

from __future__ import annotations

from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check.limits import case_limits
from heatsim.studies.check.limits.device import DIFFERENCE, device_cautions, model_difference
from heatsim.verdict import Finding, judge

ROOT = Path(__file__).resolve().parents[4]
BENCH = Scenario.from_file(ROOT / "scenarios" / "bench-heater.toml")


def finding(scenario: Scenario) -> Finding | None:
    """That of the model against its datasheet."""
    heater = scenario.heater("loaded")
    measures = {DIFFERENCE: model_difference(scenario, heater)}
    found = judge(measures, case_limits(scenario.case("loaded"), heater, measures), 0.1)
    return next((each for each in found if each.limit == "MOSFET model against its datasheet"), None)


def told(scenario: Scenario) -> str:
    """What is warned of."""
    return " ".join(device_cautions(scenario, scenario.heater("loaded")))


@pytest.mark.parametrize("file", ["bench-heater", "bench-heater-small-rings"])
def test_the_demo_meets_its_datasheet(file: str) -> None:
    scenario = Scenario.from_file(ROOT / "scenarios" / f"{file}.toml")
    found = finding(scenario)
    assert found is not None and found.value is not None
    assert found.grade == "holds" and found.value < 1e-6
    assert told(scenario) == ""


def test_figures_that_cannot_be_met_together_fail_the_heater_and_are_named() -> None:
    """60 pF at 25 V take up more than 3 nC over 100 V, whatever the curve."""
    scenario = BENCH.change({"switch.gate_drain_charge": "3 nC"})
    found = finding(scenario)
    assert found is not None and found.grade == "fails"
    assert "reverse capacitance 60 pF, in the model" in found.cause
    assert "misses its datasheet: reverse capacitance 60 pF" in told(scenario)


def test_a_miller_voltage_of_ones_own_stands_for_the_reverse_capacitance_and_that_is_told() -> None:
    scenario = BENCH.change({"switch.miller_voltage": "2 V"})
    found = finding(scenario)
    assert found is not None and found.grade == "holds"
    assert "stands in place of the reverse capacitance: reverse capacitance 60 pF, in the model" in told(scenario)


def test_of_the_users_own_model_it_is_told_that_nothing_is_fitted(tmp_path: Path) -> None:
    model = tmp_path / "mine.lib"
    model.write_text(".model mine vdmos(vto=3.5 kp=60)\n", encoding="utf-8")
    scenario = BENCH.change({"switch.model_file": str(model), "switch.model": "mine"})
    assert finding(scenario) is None
    assert "the model mine as its file has it: nothing of it is fitted" in told(scenario)


def test_a_charge_that_cannot_have_been_measured_is_told() -> None:
    assert "cannot have been measured" in told(BENCH.change({"switch.on_resistance": "3 ohm"}))


def test_the_charge_is_meant_from_half_the_rating_or_the_voltage_given() -> None:
    assert BENCH.heater("loaded").switch.gate_drain_charge_voltage == 100.0
    given = BENCH.change({"switch.gate_drain_charge_voltage": "160 V"}).heater("loaded").switch
    assert given.gate_drain_charge_voltage == 160.0
    assert given.miller_voltage > BENCH.heater("loaded").switch.miller_voltage
    with pytest.raises(InputError, match="gate_drain_charge_voltage.*must not be above voltage_rating"):
        BENCH.change({"switch.gate_drain_charge_voltage": "210 V"}).heater("loaded")
