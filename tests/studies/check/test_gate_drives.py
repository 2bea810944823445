# SPDX-License-Identifier: GPL-3.0-or-later
"""`check` of heaters whose gates have a driver or hang on the main supply: what starts and holds, and what does not and why."""

import pytest

import heatsim as hs
from heatsim.studies.check.limits.gate_network import HEATED

pytestmark = pytest.mark.ngspice

SIDES = ("left", "right")


@pytest.fixture(scope="module")
def driven(checkout):
    return hs.check(hs.load(checkout / "scenarios" / "bench-heater-push-pull.toml"), cases=["loaded"])


@pytest.fixture(scope="module")
def on_main(checkout):
    scenario = hs.load(checkout / "scenarios" / "bench-heater.toml")
    return hs.check(
        scenario.change({"gate.supply": "main", "gate.pull_up": "220 ohm", "gate.pull_up_rating": "3 W"}), cases=["loaded"]
    )


def parts_of(measures, side, devices=2):
    """All that the ledger books under the gate drive of a side, part by part [W]."""
    keys = ["pull_up", "clamp", "pull_down", "diode", "driver"]
    return (
        sum(measures.get(f"gate.{side}.{key}_loss_w") or 0.0 for key in keys) + devices * measures[f"gate.{side}.resistor_loss_w"]
    )


def test_totem_poles_start_and_hold(driven):
    case = driven["loaded"]
    assert (case.outcome, driven.verdict) == ("settled", "holds"), [f for _, f in driven.findings if f.grade != "holds"]
    judged = {finding.limit for finding in case.findings}
    assert {f"{each.name}, heat" for each in HEATED} <= judged
    assert {"driver, supply voltage", "coupling diode, reverse voltage"} <= judged
    assert case.measures["gate.left.driver_supply_voltage_v"] == pytest.approx(14.0, rel=1e-6)
    assert case.measures["gate.left.max_voltage_v"] < 14.0
    assert case.measures["gate.left.rise_crossings"] == case.measures["gate.right.fall_crossings"] == 1.0


def test_a_driver_spares_the_pull_up(driven):
    """(V - V_diode)^2/R while the input is held low, less than half of the time; and what a driver takes is Q V f and its own."""
    measures = driven["loaded"].measures
    for side in SIDES:
        assert measures[f"gate.{side}.pull_up_loss_w"] == pytest.approx(0.5 * (14 - 0.7) ** 2 / 470, rel=0.1)
        assert 0.05 < measures[f"gate.{side}.driver_loss_w"] < 0.5


@pytest.mark.parametrize("which", ["driven", "on_main"])
def test_energy_balances_and_the_parts_of_a_gate_network_make_up_its_loss(which, request):
    measures = request.getfixturevalue(which)["loaded"].measures
    assert measures["energy.imbalance_ratio"] < 0.01
    booked = sum(value for key, value in measures.items() if key.startswith("loss.") and value is not None)
    given = measures["supply.power_w"] + (measures["gate_supply.power_w"] or 0.0)
    assert booked + measures["workpiece.power_w"] == pytest.approx(given, rel=0.01)
    for side in SIDES:
        assert parts_of(measures, side) == pytest.approx(measures[f"loss.gate_drive.{side}_w"], rel=1e-9)


def test_a_gate_supply_gives_what_its_networks_take_but_what_comes_back_from_the_drains(driven):
    measures = driven["loaded"].measures
    taken = sum(parts_of(measures, side) for side in SIDES)
    assert measures["gate_supply.power_w"] == pytest.approx(taken, rel=0.15)


def test_pull_ups_on_the_main_supply_start_and_get_hot(on_main):
    case = on_main["loaded"]
    assert case.outcome == "settled"
    assert case.measures["gate_supply.power_w"] is None
    found = {f.part: f for f in case.findings if f.limit == "pull-up, heat"}
    assert {f.grade for f in found.values()} == {"fails"} and set(found) == {"gate.left", "gate.right"}
    assert found["gate.left"].value == case.measures["gate.left.pull_up_loss_w"] > 4.0
    assert "ohms" in found["gate.left"].remedy
    assert any("gate.supply_voltage has no effect" in warning.text for warning in on_main.warnings)
