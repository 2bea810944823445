# SPDX-License-Identifier: GPL-3.0-or-later
"""How far the MOSFET model is from its datasheet: judged, told, and never silent."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.parts.mosfet_curves import capacitances
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check.limits import case_limits
from heatsim.studies.check.limits.device import DIFFERENCE, device_cautions, device_measures, model_difference
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


FEW = {"voltage_rating": "200 V", "on_resistance": "16 mohm", "threshold": "3.6 V", "input_capacitance": "4.2 nF"}
"""With a reverse capacitance, the least that [switch] must give."""


def switched(**fields: object) -> Scenario:
    """The demo with two devices a side and these figures alone."""
    return BENCH.change({"switch": {"count": 2, **fields}})


def bases(scenario: Scenario, parts: tuple[str, ...] = ("switch", "gate")) -> set[str]:
    """What the limits of some parts rest on, the load left out."""
    limits = case_limits(scenario.case("idle"), scenario.heater("idle"), {"drain.left.peak_voltage_v": 130.0})
    return {limit.basis for limit in limits if limit.part.split(".")[0] in parts}


def test_limits_of_switches_and_gates_rest_on_what_is_worst_known_of_the_device(tmp_path: Path) -> None:
    assert bases(BENCH) == {"rating", "common practice"}
    assert bases(switched(**FEW, reverse_capacitance="60 pF")) == {"estimate"}
    assert bases(switched(device="generic 200 V 20 mohm")) == {"memory"}
    assert bases(switched(device="generic 200 V 20 mohm"), ("choke", "tank", "supply")) == bases(BENCH, ("choke", "tank", "supply"))
    own = tmp_path / "own.toml"
    rows = [f'{name} = "{value}"' for name, value in {**BENCH_TEXT, "provenance": "published", "source": "its datasheet"}.items()]
    own.write_text("\n".join(["[device.mine]", *rows]), encoding="utf-8")
    mine = BENCH.change({"heater.catalogue": str(own), "switch": {"device": "mine"}})
    assert bases(mine) == {"published", "common practice"}
    assert "class from memory" not in told(mine)


BENCH_TEXT = {
    **FEW,
    "current_rating": "60 A",
    "gate_rating": "20 V",
    "transconductance": "70 S",
    "transconductance_current": "40 A",
    "output_capacitance": "420 pF",
    "reverse_capacitance": "60 pF",
    "gate_drain_charge": "24 nC",
}


def test_a_generic_device_is_told_to_be_none_that_can_be_bought() -> None:
    assert "generic 200 V 20 mohm from the catalogue: figures for a class, from memory" in told(
        switched(device="generic 200 V 20 mohm")
    )


def test_estimates_are_told_with_value_band_and_rule() -> None:
    words = told(switched(**FEW, reverse_capacitance="60 pF", current_rating="60 A", transconductance_current="40 A"))
    assert re.search(r"it is estimated, not known: transconductance 61.5 S, within a factor of 1.8 \(square law", words)
    assert "gate_drain_charge" in words and "output_capacitance" in words


@pytest.mark.parametrize(("share", "grade"), [(1.0, "holds"), (1.6, "fails")])
def test_points_of_the_curves_are_limited_apart_and_named(share: float, grade: str) -> None:
    ciss, coss, crss = (float(each) for each in capacitances(BENCH.heater("loaded").switch, 80.0))
    row = ["80 V", *(f"{1e12 * each:.6f} pF" for each in (ciss, share * coss, crss))]
    scenario = BENCH.change({"switch.curves.capacitance": [row]})
    heater = scenario.heater("loaded")
    measures = device_measures(scenario, heater)
    findings = {each.limit: each for each in judge(measures, case_limits(scenario.case("loaded"), heater, measures), 0.1)}
    assert findings["MOSFET model against its datasheet"].grade == "holds"
    found = findings["MOSFET model against the datasheet's curves"]
    assert found.grade == grade and found.basis == "estimate"
    assert found.value == pytest.approx(1 - 1 / share, abs=1e-6)
    assert ("output capacitance at 80 V" in found.cause) == (grade == "fails")


def test_without_points_there_is_no_such_limit_nor_measure() -> None:
    heater = BENCH.heater("loaded")
    assert list(device_measures(BENCH, heater)) == [DIFFERENCE]
    assert not [each for each in case_limits(BENCH.case("loaded"), heater, {}) if "curves" in each.name]
