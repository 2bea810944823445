# SPDX-License-Identifier: GPL-3.0-or-later
"""What is fitted, how wide it is beforehand, and what it changes."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.faults import nuisance_parameters
from heatsim.studies.match.readings import Condition
from heatsim.studies.match.readings.quantities import fitted_text, quantities
from heatsim.studies.match.readings.unknowns import Bench


@pytest.fixture(scope="module")
def scenario(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def bench(scenario: Scenario, *free: str, error: float | None = None) -> Bench:
    return Bench.of(scenario, [Condition("idle", 40.0, error), Condition("loaded", 42.0)], free)


def unit(bench: Bench, name: str) -> np.ndarray:
    return np.eye(len(bench.unknowns))[bench.named[name]]


def test_nothing_free_is_the_ordinary_spread(scenario: Scenario) -> None:
    found, spread = bench(scenario), nuisance_parameters(scenario.heater("idle"))
    assert [(each.name, each.deviation) for each in found.unknowns] == [(each.name, each.deviation) for each in spread]
    assert found.matter == list(range(len(spread)))


def test_what_is_free_is_wide_and_what_matters(scenario: Scenario) -> None:
    found = bench(scenario, "ring", "pull_up")
    assert found.matter == sorted((found.named["ring"], found.named["pull_up"]))
    own = scenario.heater("idle")
    twice = found.changed(own, unit(found, "ring"))
    assert twice.chokes[0].curve.inductance_zero == pytest.approx(2 * own.chokes[0].curve.inductance_zero)
    assert found.unknowns[found.named["pull_up"]].deviation == pytest.approx(5 * 0.025)


def test_what_does_not_exist_cannot_be_free(scenario: Scenario) -> None:
    with pytest.raises(InputError, match="--free: names nothing that can be fitted.*did you mean ring"):
        bench(scenario, "rings")


def test_each_condition_has_its_case_and_its_supply(scenario: Scenario) -> None:
    found = bench(scenario, error=0.01)
    moved = unit(found, "supply")
    assert found.heater(0, moved).supply.voltage == pytest.approx(40.0 * math.exp(0.01))  # as stated with the reading
    assert found.heater(1, moved).supply.voltage == pytest.approx(42.0 * math.exp(0.0025))  # the ordinary one
    assert found.heater(0, moved).workpiece is None and found.heater(1, moved).workpiece is not None


def test_quantities_carry_the_covariance_of_the_fit(scenario: Scenario) -> None:
    """L goes with exp(t d), so that its 95 % interval is exp(1.96 d s) to both sides."""
    found = bench(scenario, "ring")
    covariance = np.eye(len(found.unknowns))
    k = found.named["ring"]
    covariance[k, k] = 0.05**2
    covariance[found.named["ring_split"], found.named["ring_split"]] = 1e-12
    rows, _ = quantities(found, scenario, 0.5 * unit(found, "ring"), covariance)
    choke = next(each for each in rows if each.key == "choke.left.inductance_h")
    zero = scenario.heater("idle").chokes[0].curve.inductance_zero
    assert choke.expected == pytest.approx(zero) and choke.value == pytest.approx(math.sqrt(2) * zero)
    assert math.log(choke.high / choke.value) == pytest.approx(1.96 * 0.05 * math.log(2), rel=1e-3) and choke.told == "yes"
    assert {"case.idle.coil.resistance_ohm", "case.loaded.coil.resistance_ohm"} < {each.key for each in rows}
    assert sum(each.key == "gate.pull_up_ohm" for each in rows) == 1


def test_the_fitted_file_is_the_fitted_heater_in_every_case_at_its_own_supply(scenario: Scenario) -> None:
    found = bench(scenario)
    t = 0.8 * unit(found, "capacitance") - 1.1 * unit(found, "load")
    rows, tied = quantities(found, scenario, t, np.eye(t.size) * 0.5)
    text = fitted_text(scenario, found, t, rows, tied, True)
    written = Scenario.from_text(text, "fitted.toml", scenario.folder)
    for case in scenario.cases:
        expected, heater = found.changed(scenario.heater(case), t), written.heater(case)
        assert heater.capacitors.capacitance == pytest.approx(expected.capacitors.capacitance, rel=1e-4)
        assert heater.loaded_resistance == pytest.approx(expected.loaded_resistance, rel=1e-4)
        assert heater.supply.voltage == pytest.approx(42.0, rel=1e-6)
    assert text.startswith("# Fitted to meter readings\n") and "capacitance of the bank: " in text
    assert "No intervals are given" in fitted_text(scenario, found, t, rows, tied, False)
