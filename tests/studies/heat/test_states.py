# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the states of a heat come from: store or simulator."""

from __future__ import annotations

from pathlib import Path

import pytest

from heatsim.parts.tank import Workpiece
from heatsim.scenario.scenario import Scenario
from heatsim.studies.heat.states import States, as_point
from heatsim.studies.points import Point, PointResult, failed
from heatsim.studies.store import Store
from tests.support.heating import bench, result_with
from tests.support.pools import Instant

ONE, OTHER = Workpiece(1.23456789e-6, 0.0123, "estimate"), Workpiece(1.1e-6, 0.02, "estimate")


class Answering(Instant):
    """Every load settles, but for one."""

    def __init__(self, workers: int | None = None) -> None:
        super().__init__()

    def result(self, scenario: Scenario, point: Point) -> PointResult:
        """Its resistance as a measure; stalled at 0.02 ohm."""
        ohms = float(dict(point.fields)["case.loaded.workpiece.measured.resistance"].split()[0])  # type: ignore[union-attr]
        return failed("stalled", "too much") if ohms == 0.02 else result_with({"seen_ohm": ohms})


@pytest.fixture
def pools(monkeypatch: pytest.MonkeyPatch) -> list[Answering]:
    """The pools that states open, in order: the one that follows, the one that confirms."""
    opened: list[Answering] = []

    def opening(workers: int | None = None) -> Answering:
        opened.append(Answering(workers))
        return opened[-1]

    monkeypatch.setattr("heatsim.studies.heat.states.local_pool", opening)
    return opened


def test_the_same_load_is_found_again(pools: list[Answering], tmp_path: Path) -> None:
    with Store.open(tmp_path / "states.db") as store, States(bench(), "loaded", store) as states:
        first, again = states.follow(ONE), states.follow(Workpiece(1.23456789e-6, 0.0123, "measured", origin="elsewhere"))
        assert (states.simulated, states.found) == (1, 1)
    assert first.measures == again.measures == {"seen_ohm": 0.0123}
    assert len(pools[0].seen) == 1 and all(pool.closed for pool in pools)


def test_states_are_kept_over_a_new_run_in_the_same_file(pools: list[Answering], tmp_path: Path) -> None:
    for simulated, found in ((1, 0), (0, 1)):
        with Store.open(tmp_path / "states.db") as store, States(bench(), "loaded", store) as states:
            assert states.follow(ONE).measures["seen_ohm"] == 0.0123
            assert (states.simulated, states.found) == (simulated, found)


def test_another_scenario_finds_nothing(pools: list[Answering], tmp_path: Path) -> None:
    with Store.open(tmp_path / "states.db") as store:
        for scenario in (bench(), bench().change({"supply.voltage": "28 V"})):
            with States(scenario, "loaded", store) as states:
                states.follow(ONE)
                assert (states.simulated, states.found) == (1, 0)


def test_what_stalled_is_not_kept(pools: list[Answering], tmp_path: Path) -> None:
    with Store.open(tmp_path / "states.db") as store, States(bench(), "loaded", store) as states:
        assert states.follow(OTHER).outcome == states.follow(OTHER).outcome == "stalled"
        assert (states.simulated, states.found) == (2, 0)


def test_without_a_store_all_is_simulated(pools: list[Answering]) -> None:
    with States(bench(), "loaded", None) as states:
        states.follow(ONE)
        states.follow(ONE)
        assert (states.simulated, states.found) == (2, 0)


def test_the_first_is_started_cold_and_the_next_follow_it(pools: list[Answering]) -> None:
    """A state to follow from makes the next path one that is not confirmed by a cold start; here none came with the result."""
    with States(bench(), "loaded", None) as states:
        states.follow(ONE)
        states._state = "a state of the circuit"
        states.follow(Workpiece(1.2e-6, 0.0123, "estimate"))
    first, second = pools[0].paths
    assert (first.start, first.confirm) == (None, True)
    assert (second.start, second.confirm) == ("a state of the circuit", False)


def test_a_confirmation_is_a_cold_start_beside_the_heat(pools: list[Answering]) -> None:
    with States(bench(), "loaded", None) as states:
        assert states.confirm(ONE).result(10.0).measures == {"seen_ohm": 0.0123}
        assert states.simulated == 0
    follows, confirms = pools
    assert not follows.paths and confirms.paths[0].start is None and confirms.paths[0].confirm


def test_a_point_has_the_load_as_measured_and_all_of_it() -> None:
    """It makes the same heater out of the scenario."""
    point = as_point("loaded", ONE)
    heater = bench().change(dict(point.fields)).heater("loaded")
    assert heater.workpiece is not None
    assert heater.workpiece.inductance == pytest.approx(ONE.inductance, rel=1e-8)
    assert heater.workpiece.resistance == pytest.approx(ONE.resistance, rel=1e-8)
    assert heater.workpiece.basis == "measured"


def test_with_one_process_the_same_one_follows_and_confirms(pools: list[Answering]) -> None:
    with States(bench(), "loaded", None, jobs=1) as states:
        awaited = states.confirm(ONE)
        assert states.follow(ONE).measures == awaited.result().measures == {"seen_ohm": 0.0123}
    assert len(pools) == 1 and len(pools[0].seen) == 2 and pools[0].closed
