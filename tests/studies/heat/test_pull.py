# SPDX-License-Identifier: GPL-3.0-or-later
"""A workpiece pulled out of the running bench heater and put in: judged, and held against another integration."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.engine import Outcome, Run
from heatsim.errors import InputError
from heatsim.netlist.generate import make_deck
from heatsim.parts.tank import Movement
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, check, judge_run
from heatsim.studies.heat.pull import Moved, PullResult, pulled
from heatsim.studies.heat.pull import study as pull
from heatsim.studies.heat.pull.measures import at_worst, extremes, findings
from heatsim.waves import Waveforms
from tests.support.independent.circuit import mutual_inductance
from tests.support.independent.moved import after_step, before

BENCH = Scenario.from_file(Path(__file__).resolve().parents[3] / "scenarios" / "bench-heater.toml")
STURDY = BENCH.change({"switch.voltage_rating": "300 V", "supply.current_rating": "60 A"})
"""The bench heater with devices that do not break down when the workpiece leaves."""

COMPARED = ("tank.peak_voltage_v", "capacitor.peak_voltage_v", "coil.peak_current_a", "supply.max_current_a")
COMPARED += tuple(
    f"{part}" for side in ("left", "right") for part in (f"drain.{side}.peak_voltage_v", f"choke.{side}.peak_current_a")
)


def made_up(**changed: float) -> dict[str, float | None]:
    """Measures of a movement, all of them far from any limit but those changed."""
    found: dict[str, float | None] = {"capacitor.peak_voltage_v": 100.0, "supply.max_current_a": 20.0}
    for side in ("left", "right"):
        found |= {f"drain.{side}.peak_voltage_v": 120.0, f"switch.{side}.peak_current_a": 20.0}
        found |= {f"gate.{side}.max_voltage_v": 14.0, f"gate.{side}.min_voltage_v": -1.0}
        found |= {f"choke.{side}.peak_current_a": 16.0, f"choke.{side}.inductance_remaining_ratio": 0.8}
    return found | {key.replace("__", "."): value for key, value in changed.items()}


def judged(leaves: bool = True, scenario: Scenario = BENCH, **changed: float) -> dict[str, str]:
    """Part and limit -> grade."""
    own = scenario.case("loaded")
    return {f"{each.part}: {each.limit}": each.grade for each in findings(own, own.heater("loaded"), leaves, made_up(**changed))}


def test_every_extreme_is_held_against_its_rating() -> None:
    found = judged()
    assert set(found.values()) == {"holds"}
    assert len(found) == 12 and all(name.endswith("when the workpiece leaves") for name in found)
    over = judged(False, drain__left__peak_voltage_v=201.0, gate__right__min_voltage_v=-21.0)
    assert [name for name, grade in over.items() if grade == "fails"] == [
        "switch.left: drain voltage when the workpiece is put in",
        "gate.right: lowest gate voltage when the workpiece is put in",
    ]


def test_a_device_s_current_is_held_against_its_pulse_rating() -> None:
    name = "switch.left: peak current of a device when the workpiece leaves"
    assert judged(switch__left__peak_current_a=70.0)[name] == "fails"
    assert judged(scenario=BENCH.change({"switch.pulse_current": "240 A"}), switch__left__peak_current_a=70.0)[name] == "holds"


def test_a_current_beyond_the_rating_of_the_supply_for_a_while_is_not_known_to_hold() -> None:
    assert judged(supply__max_current_a=36.0)["supply: highest current when the workpiece leaves"] == "unknown"


def test_each_measure_is_the_worst_of_the_instants() -> None:
    one, other = made_up(drain__left__peak_voltage_v=150.0), made_up(gate__left__min_voltage_v=-3.0)
    worst = at_worst([one | {"step.coil_current_a": 1.0}, other | {"step.coil_current_a": 2.0}])
    assert (worst["drain.left.peak_voltage_v"], worst["gate.left.min_voltage_v"]) == (150.0, -3.0)
    assert (worst["step.coil_current_a"], worst["step.least_drain_peak_voltage_v"]) == (1.0, 120.0)
    assert at_worst([one | {"settling.time_s": 1e-3}, other])["settling.time_s"] is None


def test_extremes_count_from_the_instant_of_the_step() -> None:
    heater, time = BENCH.heater("loaded"), np.linspace(0, 1e-3, 1001)
    names = [each.name for each in make_deck(heater, "x", movement=Movement(True, 5e-4, 1e-6)).signals]
    signals = {name: np.zeros(time.size) for name in names}
    signals["drain.left.voltage"] = np.where(time < 4e-4, 500.0, 1e5 * time)
    signals["switch.right.current"] = np.where(time < 4e-4, 500.0, -40.0)
    found = extremes(heater, Waveforms(time, signals, dict.fromkeys(names, ""), "made up"), 5e-4)
    assert found["drain.left.peak_voltage_v"] == pytest.approx(100.0)
    assert found["switch.right.peak_current_a"] == 20.0  # of two devices


def test_a_case_without_a_workpiece_is_refused() -> None:
    with pytest.raises(InputError, match="no workpiece"):
        pulled(BENCH, "idle")


def test_a_heater_that_does_not_start_is_a_result_with_its_cause(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        pull, "run_on", lambda pool, decks, limit, told: [Run("dead", "no oscillation", None, deck) for deck in decks]
    )
    found = pulled(BENCH, "loaded", 1)
    for each in (found.leaves, found.enters):
        assert (each.outcome, each.grade) == ("not simulated", "unknown")
        assert "no oscillation" in each.cause
    json.dumps(found.as_dict())


def test_what_stops_it_is_told() -> None:
    """One of the instants latches it: that is the outcome, and it fails."""
    outcomes: list[tuple[Outcome, str]] = [
        ("settled", ""),
        ("latched", "no oscillation while current stands high"),
        ("drifting", "still moves"),
        ("settled", ""),
    ]
    found = pull._Found()
    after = dead()
    for outcome, detail in outcomes:
        found.add(Run(outcome, detail, None, make_deck(BENCH.heater("loaded"), "x")), {}, None, after)
    assert found.worst == ("latched", "no oscillation while current stands high")
    assert pull.OUTCOMES[found.worst[0]] == ("latches", "fails")


def dead() -> CaseResult:
    """A check's result of a heater that does not start."""
    heater = BENCH.heater("idle")
    return judge_run(BENCH, "idle", heater, Run("dead", "no oscillation", None, make_deck(heater, "x")))


def test_a_state_short_of_full_supply_is_told() -> None:
    settled = replace(dead(), outcome="settled", outcome_detail="", measures={"supply.limited_ratio": 0.99})
    assert pull._short_of_full(settled) == ""
    assert "current limit" in pull._short_of_full(replace(settled, measures={"supply.limited_ratio": 0.6}))
    assert "current limit" in pull._short_of_full(replace(settled, measures={"supply.trips_count": 3.0}))
    assert "still moves" in pull._short_of_full(replace(settled, outcome="drifting", outcome_detail="it still moves"))


def moved(**changed: float) -> Moved:
    """A step out of the bench heater, judged."""
    own, found = BENCH.case("loaded"), made_up(**changed)
    judged_so = findings(own, own.heater("loaded"), True, found)
    return Moved(True, 1e-6, 4, "runs on", "", found, judged_so)


@pytest.mark.parametrize("key, value, too_much", [
    ("drain__left__peak_voltage_v", 190.0, True),
    ("supply__max_current_a", 36.0, True),
    ("supply__max_current_a", 20.0, False),
])  # fmt: skip
def test_a_slower_movement_is_tried_where_the_step_is_too_much(key: str, value: float, too_much: bool) -> None:
    assert pull._too_much(moved(**{key: value}), 35.0) is too_much


def test_a_rating_that_is_not_given_asks_for_no_slower_movement() -> None:
    found = moved()
    unrated = replace(found, findings=(replace(found.findings[0], grade="unknown", allowed=None), *found.findings[1:]))
    assert unrated.grade == "unknown" and not pull._too_much(unrated, None)


def test_findings_of_the_step_tell_what_a_slower_movement_comes_to() -> None:
    step, slow = moved(drain__left__peak_voltage_v=200.3), moved(drain__left__peak_voltage_v=131.8)
    told = pull._beside(step.findings, slow.findings)
    assert told[0].grade == "fails" and told[1:] == step.findings[1:]
    assert told[0].cause.endswith("Moved in 10 ms, ten times as fast as a hand, it holds (131.8 V).")
    assert "a hand takes 0.1 s or more" in told[0].cause


@pytest.fixture(scope="module")
def sturdy() -> PullResult:
    """Both ways."""
    return pulled(STURDY, "loaded")


@pytest.mark.slow
@pytest.mark.ngspice
def test_the_workpiece_is_really_gone_and_really_in(sturdy: PullResult) -> None:
    """The steady state after the step is that of `check`'s own case, from rest: 0.2 % of frequency, 0.3 % of the tank's peak."""
    cases = {case.name: case.measures for case in check(STURDY, ["idle", "loaded"]).cases}
    for moved, name in ((sturdy.leaves, "idle"), (sturdy.enters, "loaded")):
        assert (moved.outcome, moved.cause) == ("runs on", "")
        for key, share in (("tank.frequency_hz", 2e-3), ("tank.peak_voltage_v", 3e-3), ("supply.mean_current_a", 5e-3)):
            assert moved.measures[f"after.{key}"] == pytest.approx(cases[name][key], rel=share), (name, key)


@pytest.mark.slow
@pytest.mark.ngspice
def test_another_integration_comes_to_the_same_peaks(sturdy: PullResult) -> None:
    """SciPy on equations written by hand, the same step at two instants of the period; all within 2 %."""
    heater = STURDY.heater("loaded")
    for leaves, moved in ((True, sturdy.leaves), (False, sturdy.enters)):
        settled = before(heater, leaves)
        runs = [after_step(heater, settled, leaves, 0.1 / heater.frequency, phase, 0.3e-3) for phase in (0.0, 0.25)]
        for key in COMPARED:
            value = max(map(lambda signals, key=key: peak(signals, key), runs))  # type: ignore[misc]
            assert moved.measures[key] == pytest.approx(value, rel=0.02), (leaves, key)


def peak(signals: dict[str, np.ndarray], key: str) -> float:
    """Largest absolute value of the signal that a measure is of; the supply's and the drains' never have it below zero."""
    name = key.replace("peak_", "").replace("max_", "").rsplit("_", 1)[0]
    return float(np.abs(signals[name]).max()) if not name.startswith("supply") else float(signals[name].max())


def test_the_compared_heater_is_one_whose_coil_changes_its_inductance() -> None:
    """So that the share of the workpiece's flux in the coil is compared too."""
    heater = STURDY.heater("loaded")
    assert mutual_inductance(heater)[0] > 1.01 * heater.coil.inductance
    assert replace(heater, workpiece=None).branch is None
