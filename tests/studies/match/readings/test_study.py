# SPDX-License-Identifier: GPL-3.0-or-later
"""The study of readings on a simulator that answers by formulas: what it asks, concludes and proposes."""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.readings import ReadingsResult, match_readings, parse_readings, study

BASE = {"supply.mean_current": 20.0, "tank.frequency": 85e3, "choke.left.ripple_current": 8.0}
EXPONENTS = {
    "supply.mean_current": {"capacitance": 1.0, "load": 1.0},
    "tank.frequency": {"capacitance": -0.5, "coil": -0.5},
    "choke.left.ripple_current": {"ring": -1.0},
}
"""Readings as powers of the parts, as the ideal stage has them."""


class Formulas:
    """In place of `Simulator`."""

    def __init__(self, pool: Any, bench: Any, used: int, reads: Any, *rest: Any) -> None:
        self.bench, self.used, self.reads = bench, used, reads
        self.values = np.full((len(bench.conditions), len(reads)), np.nan)
        self.exponents = np.zeros((len(reads), len(bench.unknowns)))
        for q, each in enumerate(reads):
            for name, power in EXPONENTS.get(each.what.key, {}).items():
                k = bench.named[name]
                self.exponents[q, k] = power * bench.unknowns[k].deviation
        self.base = np.array([BASE.get(each.what.key, np.nan) for each in reads])

    def _at(self, t: np.ndarray, rows: range) -> None:
        for k in rows:
            self.values[k] = self.base * np.exp(self.exponents @ t)

    def __call__(self, t: np.ndarray) -> np.ndarray:
        self._at(t, range(self.used))
        return self.values

    def slopes(self, t: np.ndarray) -> np.ndarray:
        found = self.values[:, :, None] * self.exponents
        found[self.used :] = np.nan
        return found

    def further(self, t: np.ndarray) -> np.ndarray:
        self._at(t, range(self.used, len(self.values)))
        found = self.values[:, :, None] * self.exponents
        found[: self.used] = np.nan
        return found


class Pool(SimpleNamespace):
    def __enter__(self) -> Pool:
        return self

    def __exit__(self, *error: object) -> None:
        pass


@pytest.fixture
def scenario(checkout: Path, monkeypatch: pytest.MonkeyPatch) -> Scenario:
    monkeypatch.setattr(study, "Simulator", Formulas)
    pool = Pool(version="none", simulations=0, spared=0, checked=lambda scenarios: [None for _ in scenarios])
    monkeypatch.setattr(study, "MatchPool", lambda *_: pool)
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def matched(scenario: Scenario, *texts: str, free: tuple[str, ...] = ()) -> ReadingsResult:
    return match_readings(scenario, parse_readings(scenario, texts), free)


def test_something_unknown_is_read_off(scenario: Scenario) -> None:
    """A ripple current of half of what the scenario leads to expect: twice the inductance, within the meter's error."""
    result = matched(scenario, "loaded choke.left.ripple_current = 4.00 A ± 2 %", free=("ring",))
    choke = next(each for each in result.estimates if each.key == "choke.left.inductance_h")
    assert choke.expected is not None and result.consistent and choke.told == "yes"
    assert choke.value == pytest.approx(2 * choke.expected, rel=2e-3) and choke.low < 2 * choke.expected < choke.high
    meter_and_model = math.hypot(0.02, 1.96 * 0.01)
    assert math.log(choke.high / choke.value) == pytest.approx(meter_and_model, rel=0.15)  # with the spread between both chokes


def test_readings_that_contradict_each_other_are_refused_and_the_wrong_one_is_named(scenario: Scenario) -> None:
    good = "loaded supply.mean_current = 20.1 A", "idle supply.mean_current = 20.0 A"
    result = matched(scenario, *good, "loaded tank.frequency = 60 kHz")
    assert not result.consistent and result.exit_code == 1 and not result.proposals and result.checked is None
    assert result.furthest.reading.text == "loaded tank.frequency = 60 kHz"


def test_the_next_reading_is_of_what_is_not_known(scenario: Scenario) -> None:
    """Only the ripple current depends on the ring; a case that was not read is proposed as well."""
    result = matched(scenario, "loaded supply.mean_current = 20 A", free=("ring",))
    assert result.consistent and {each.key for each in result.proposals} == {"choke.left.ripple_current"}
    assert result.proposals[0].gain > 0.9 > result.proposals[1].gain
    assert result.proposals[0].meter == "AC current probe"
    assert {each.condition.case for each in result.proposals} <= {"idle", "loaded"}


def test_what_was_read_already_is_not_proposed(scenario: Scenario) -> None:
    result = matched(scenario, "loaded supply.mean_current = 20 A")
    taken = ("loaded", "supply.mean_current")
    assert result.proposals and taken not in {(each.condition.case, each.key) for each in result.proposals}


def test_what_heatsim_cannot_tell_is_refused(scenario: Scenario) -> None:
    with pytest.raises(InputError, match="cannot be told from this scenario"):
        matched(scenario, "loaded coil.rms_current = 100 A")
