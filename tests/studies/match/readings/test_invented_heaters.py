# SPDX-License-Identifier: GPL-3.0-or-later
"""Meter readings of three invented heaters, from the independent integration, recovered within their stated errors."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.readings import ReadingsResult, match_readings, parse_readings
from tests.support.captures.causes import part_loaded
from tests.support.meter_readings import Bench, invented

pytestmark = [pytest.mark.slow, pytest.mark.ngspice]


def scenario_of(checkout: Path, name: str, only: str | None = None) -> Scenario:
    """A demo scenario, with a single case where that is enough."""
    text = (checkout / "scenarios" / f"{name}.toml").read_text()
    if only == "loaded":
        text = text.replace("[case.idle]\n", "")
    return Scenario.from_text(text, f"{name}.toml", checkout / "scenarios")


def matched(scenario: Scenario, bench: Bench, *free: str) -> ReadingsResult:
    return match_readings(scenario, parse_readings(scenario, bench.texts), free, jobs=1)


def recovered(result: ReadingsResult, truth: dict[str, float]) -> None:
    """At most one value outside its 95 % interval (of some ten, half a one is expected), none beyond 3.5 standard deviations."""
    off = {}
    for each in result.estimates:
        if each.key in truth:
            deviation = math.log(each.high / each.value) / 1.96
            off[each.key] = math.log(truth[each.key] / each.value) / deviation
    assert len(off) == len(truth) >= 10
    assert sum(abs(x) > 1.96 for x in off.values()) <= 1 and max(map(abs, off.values())) < 3.5, off


def told(result: ReadingsResult) -> dict[str, str]:
    return {each.key: each.told for each in result.estimates}


def test_a_sound_heater_idle_and_loaded(checkout: Path) -> None:
    scenario = scenario_of(checkout, "bench-heater")
    wanted = [(case, key, None) for case in ("idle", "loaded") for key in ("supply.mean_current", "tank.frequency")]
    bench = invented(scenario, 1, wanted)
    result = matched(scenario, bench)
    assert result.consistent and result.exit_code == 0
    recovered(result, bench.truth)
    assert told(result)["case.loaded.coil.resistance_ohm"] == "yes" and told(result)["gate.pull_up_ohm"] == "no"
    assert result.proposals and result.proposals[0].gain >= result.proposals[-1].gain
    assert result.checked is not None


def test_a_workpiece_that_is_not_known(checkout: Path) -> None:
    """Half as heavy again as the scenario's, far outside the ordinary spread."""
    scenario = scenario_of(checkout, "bench-heater", only="loaded")
    wanted = [("loaded", key, None) for key in ("supply.mean_current", "tank.frequency", "choke.left.mean_current")]
    bench = invented(scenario, 5, wanted, change=lambda heater: part_loaded(heater, 1.5))
    result = matched(scenario, bench, "load")
    assert result.consistent
    recovered(result, bench.truth)
    assert [(each.name, each.told) for each in result.free] == [("load", "yes")]


def test_rings_that_are_not_known(checkout: Path) -> None:
    """Half as much inductance again, and a current 1.6 times as high at which it gives way."""
    scenario = scenario_of(checkout, "bench-heater-small-rings", only="loaded")
    wanted = [
        ("loaded", "supply.mean_current", None),
        ("loaded", "tank.frequency", None),
        ("loaded", "choke.left.ripple_current", 24.0),
        ("loaded", "choke.left.ripple_current", None),
        ("loaded", "choke.right.ripple_current", None),
    ]
    bench = invented(scenario, 2, wanted, ring=(1.5, 1.6))
    result = matched(scenario, bench, "ring", "reach")
    assert result.consistent
    recovered(result, bench.truth)
    assert told(result)["choke.left.inductance_h"] == "yes"
    assert all(each.shrinkage > 0.5 for each in result.free)


def test_a_reading_that_is_wrong_is_named(checkout: Path) -> None:
    """Read with a meter that cannot follow: a third of the ripple current."""
    scenario = scenario_of(checkout, "bench-heater", only="loaded")
    texts = ["supply.mean_current = 27.6 A", "tank.frequency = 86.47 kHz", "choke.left.ripple_current = 1.5 A ± 4 %"]
    result = match_readings(scenario, parse_readings(scenario, texts), jobs=1)
    assert not result.consistent and result.exit_code == 1 and not result.proposals and result.checked is None
    assert result.furthest.reading.text == texts[2] and "No intervals are given" in result.fitted
