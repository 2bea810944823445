# SPDX-License-Identifier: GPL-3.0-or-later
"""Plans of sweeps: cases, grids, axes in step, tolerance samples, and every value checked before anything runs."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.quantity import parse_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.sweep import SweepPlan

VOLTAGES, GATES = "supply.voltage = 24 V, 36 V, 48 V", "gate.supply_voltage = 12 V, 14 V"


@pytest.fixture(scope="module")
def heater(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def test_points_are_numbered_in_the_users_order(heater: Scenario) -> None:
    plan = SweepPlan.read(heater, [VOLTAGES, GATES])
    told = [(point.case, *(value for _, value in point.fields)) for point in plan.points()]
    assert told == list(product(["idle", "loaded"], ["24 V", "36 V", "48 V"], ["12 V", "14 V"]))
    assert plan.shape == (2, 3, 2, 1) and len(plan) == 12
    assert plan.point(7) == list(plan.points())[7]
    for beyond in (-1, 12):
        with pytest.raises(InputError, match=f"has no such point; given {beyond}; allowed: 0 to 11"):
            plan.point(beyond)


def test_axes_in_step_go_side_by_side(heater: Scenario) -> None:
    plan = SweepPlan.read(heater, [VOLTAGES, "gate.resistor = 3 ohm, 4 ohm, 5 ohm"], cases=["loaded"], in_step=True)
    assert [tuple(value for _, value in point.fields) for point in plan.points()] == [
        ("24 V", "3 ohm"),
        ("36 V", "4 ohm"),
        ("48 V", "5 ohm"),
    ]


def test_equal_numbers_make_equal_points_however_written(heater: Scenario) -> None:
    plans = [
        SweepPlan.read(heater, [f"supply.voltage = {text}"], cases=["loaded"])
        for text in ("42 V, 43 V", "42.0 V, 4.3e1 V", "42000 mV, 0.043 kV", "42 V to 43 V in 2")
    ]
    keys = [[key for key, _ in plan.keyed(heater)] for plan in plans]
    assert keys == [keys[0]] * 4
    assert keys[0] != [key for key, _ in plans[0].keyed(heater.change(gate__resistor="5 ohm"))]


def test_the_plan_of_one_million_points_is_made_at_once(heater: Scenario) -> None:
    plan = SweepPlan.read(
        heater, ["supply.voltage = 24 V to 60 V in 1000", "gate.resistor = 3 ohm to 6 ohm in 1000"], cases=["loaded"]
    )
    assert len(plan) == 1_000_000
    assert plan.point(999_999).fields == (("supply.voltage", "60 V"), ("gate.resistor", "6 ohm"))


@pytest.mark.parametrize("spread", ["uniform", "normal"])
def test_samples_fill_the_band_round_the_nominal_value(heater: Scenario, spread) -> None:
    plan = SweepPlan.read(
        heater,
        tolerance=["capacitors.capacitance = 5 %", "gate.resistor = ± 0.5 ohm"],
        cases=["loaded"],
        samples=256,
        spread=spread,
    )
    values = np.array(
        [[parse_quantity(point.fields[0][1], "F"), parse_quantity(point.fields[1][1], "ohm")] for point in plan.points()]
    )
    offsets = (values - [330e-9, 4.7]) / [0.05 * 330e-9, 0.5]
    # Standard deviation of a uniform spread over +-1 is 1/sqrt(3); of a normal one with 3 sigma at 1 it is 1/3.
    expected = 3**-0.5 if spread == "uniform" else 1 / 3
    assert offsets.mean(axis=0) == pytest.approx([0, 0], abs=0.01)
    assert offsets.std(axis=0) == pytest.approx([expected] * 2, rel=0.02)
    assert abs(np.corrcoef(offsets.T)[0, 1]) < 0.05
    assert spread == "normal" or np.abs(offsets).max() <= 1


def test_samples_are_the_seeds_and_grow_by_appending(heater: Scenario) -> None:
    def fields(count: int, seed: int) -> list:
        plan = SweepPlan.read(heater, tolerance=["gate.resistor = 10 %"], cases=["loaded"], samples=count, seed=seed)
        return [point.fields for point in plan.points()]

    assert fields(20, 3) == fields(50, 3)[:20]
    assert fields(20, 3) != fields(20, 4)


def test_samples_go_round_each_cases_own_nominal_value(checkout: Path) -> None:
    text = (checkout / "scenarios" / "bench-heater.toml").read_text() + '\n[case.strong.set]\n"gate.resistor" = "10 ohm"\n'
    changed = Scenario.from_text(text)
    plan = SweepPlan.read(changed, tolerance=["gate.resistor = 1 %"], samples=4)
    for case, nominal in (("loaded", 4.7), ("strong", 10.0)):
        varied = [changed.change(dict(point.fields)) for point in plan.points() if point.case == case]
        assert [each.heater(case).gate.resistor for each in varied] == pytest.approx([nominal] * 4, rel=0.01)
    plan = SweepPlan.read(changed, tolerance=["gate.pull_down = 1 %"], samples=4)
    assert {point.case for point in plan.points()} == {"idle", "loaded", "strong"}


def test_a_choke_field_of_both_sides_and_of_one(heater: Scenario) -> None:
    plan = SweepPlan.read(heater, tolerance=["choke.core.area = 5 %", "choke.left.core.height = 2 %"], cases=["idle"])
    areas = [parse_quantity(point.fields[0][1], "m2") for point in plan.points()]
    assert [min(areas), max(areas)] == pytest.approx([107e-6 * 0.95, 107e-6 * 1.05], rel=0.005)
    uneven = heater.change({"choke.left.core.area": "100 mm2"})
    with pytest.raises(InputError, match=r"choke\.left\.core\.area and choke\.right\.core\.area"):
        SweepPlan.read(uneven, tolerance=["choke.core.area = 5 %"])


def test_a_field_of_one_case_sweeps_that_case_only(heater: Scenario) -> None:
    vary = ["case.loaded.workpiece.measured.inductance = 1.5 uH, 1.6 uH"]
    assert SweepPlan.read(heater, vary).cases == ("loaded",)
    with pytest.raises(InputError, match="does not apply to this case; given idle; allowed: loaded"):
        SweepPlan.read(heater, vary, cases=["idle"])


@pytest.mark.parametrize(("options", "words"), [
    ({"vary": ["suply.voltage = 24 V"]}, ["axis suply.voltage", "did you mean supply.voltage"]),
    ({"vary": ["voltage = 24 V"]}, ["did you mean supply.voltage"]),
    ({"vary": ["supply.voltage = 24 V to 600 V in 5"]}, ["axis supply.voltage", "given 600 V", "5 V to 400 V"]),
    ({"vary": ["choke.turns = 10, 2000"]}, ["axis choke.turns", "2000"]),
    ({"vary": ["heater.topology = two-choke, three-choke"]}, ["axis heater.topology", "three-choke", "one-choke"]),
    ({"vary": ["choke.core.material = fe-si-al-60, cheese"]}, ["axis choke.core.material", "given cheese", "fe-si-al-60"]),
    ({"vary": ["choke.centre.turns = 10, 11"]}, ["axis choke.centre.turns", "two-choke"]),
    ({"vary": [VOLTAGES, VOLTAGES]}, ["axis supply.voltage", "varied twice"]),
    ({"vary": [VOLTAGES], "tolerance": ["supply.voltage = 5 %"]}, ["axis supply.voltage", "varied twice"]),
    ({"vary": [VOLTAGES, GATES], "in_step": True}, ["supply.voltage 3, gate.supply_voltage 2"]),
    ({"vary": [VOLTAGES], "cases": ["frozen"]}, ["no such case", "frozen", "idle, loaded"]),
    ({"tolerance": ["supply.voltage = 95 %"]}, ["axis supply.voltage", "5 V to 400 V"]),
    ({"tolerance": ["supply.voltage = 100 %"]}, ["tolerance of supply.voltage", "below 100 %"]),
    ({"tolerance": ["choke.turns = 5 %"]}, ["tolerance of choke.turns", "whole numbers"]),
    ({"tolerance": ["choke.core.gap = 5 %"]}, ["tolerance of choke.core.gap", "no value in this scenario"]),
    ({"tolerance": ["supply.voltage = 5 %"], "samples": 0}, ["samples", "out of range"]),
    ({"vary": ["supply.voltage = 5 V to 400 V in 5000", "gate.resistor = 1 ohm to 9 ohm in 5000"]}, ["at most 10,000,000"]),
    ({}, ["nothing to vary"]),
])  # fmt: skip
def test_what_cannot_be_swept_is_refused_at_once(heater: Scenario, options, words) -> None:
    with pytest.raises(InputError) as caught:
        SweepPlan.read(heater, **options)
    assert all(word in str(caught.value) for word in words), str(caught.value)


def test_contradictions_that_another_axis_may_mend_are_left_to_the_points(heater: Scenario) -> None:
    plan = SweepPlan.read(heater, ["choke.turns = 20, 500"], cases=["idle"])  # 500 turns do not fit the bore
    assert len(plan) == 2


def test_a_plan_is_plain_data(heater: Scenario) -> None:
    plan = SweepPlan.read(heater, [VOLTAGES], ["gate.resistor = 10 %"], ["loaded"], samples=8, seed=2)
    assert plan.as_dict() == {
        "cases": ["loaded"],
        "groups": [[{"field": "supply.voltage", "kind": "quantity", "unit": "V", "values": ["24 V", "36 V", "48 V"],
                     "numbers": [24.0, 36.0, 48.0]}]],
        "samples": {"fields": [{"field": "gate.resistor", "kind": "quantity", "unit": "ohm", "width": 0.1,
                                "relative": True, "nominal": {"loaded": 4.7}}], "count": 8, "seed": 2, "spread": "uniform"},
    }  # fmt: skip
