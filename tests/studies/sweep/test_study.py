# SPDX-License-Identifier: GPL-3.0-or-later
"""Sweeps into a store: complete, resumable, together with others, and honest about how far they are."""

from __future__ import annotations

import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

import heatsim as hs
from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import ContinuationPath, Point, PointResult
from heatsim.studies.store import Store
from heatsim.studies.sweep import SweepPlan
from heatsim.studies.sweep import study as sweeps
from heatsim.studies.sweep.study import Keep, SweepProgress, sweep
from tests.support.pools import Instant, result_of

VOLTAGES = "supply.voltage = 10 V to 60 V in 50 steps"


@pytest.fixture(scope="module")
def heater(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


@pytest.fixture(scope="module")
def plan(heater: Scenario) -> SweepPlan:
    return SweepPlan.read(heater, [VOLTAGES], cases=["loaded"])


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "deep" / "points.db"


def test_every_point_is_evaluated_once_and_found_in_the_frame(heater, plan, path) -> None:
    pool = Instant()
    result = sweep(heater, plan, path, pool)
    assert sorted(pool.seen, key=str) == sorted(plan.points(), key=str)
    assert not pool.closed, "whoever made it closes it"
    frame = result.frame()
    assert len(frame) == 51 and list(frame.index) == list(range(51))
    assert frame["headroom"].iloc[40] == pytest.approx(40 / 50 - 1)
    assert (result.evaluated, result.progress.done, result.progress.total, result.stale) == (51, 51, 51, 0)


def test_a_failed_point_is_a_row_with_its_cause(heater, plan, path) -> None:
    result = sweep(heater, plan, path, Instant())
    row = result.frame().iloc[3]
    assert (row["outcome"], row["outcome_detail"]) == ("stalled", "thirteen is too much")
    assert result.progress.failed == 1


def test_a_second_call_evaluates_nothing_and_tells_the_same(heater, plan, path) -> None:
    first = sweep(heater, plan, path, Instant())
    again = sweep(heater, plan, path, pool := Instant())
    assert pool.seen == [] and again.evaluated == 0
    assert again.progress.failed == 1 and again.number == first.number
    assert again.progress.worst is not None and first.progress.worst is not None
    assert again.progress.worst.headroom == pytest.approx(first.progress.worst.headroom)


def test_an_interrupted_sweep_keeps_what_is_done_and_goes_on_at_once(heater, plan, path) -> None:
    with pytest.raises(KeyboardInterrupt):
        sweep(heater, plan, path, first := Instant(stop=17))
    begun = time.monotonic()
    result = sweep(heater, plan, path, second := Instant())
    assert time.monotonic() - begun < sweeps.LEASE / 2, "its claims were given back"
    assert (len(first.seen), len(second.seen)) == (17, 34)
    assert set(first.seen) | set(second.seen) == set(plan.points())
    assert (result.evaluated, result.progress.known, result.progress.done) == (34, 17, 51)


def test_a_store_that_fails_ends_the_sweep_with_its_words_and_can_go_on(heater, plan, path, monkeypatch) -> None:
    real = Store.put

    def full(store, key, result, keep_waveforms=False):
        if len(first.seen) > 9:
            raise InputError.single(str(path), "the disk is full")
        return real(store, key, result, keep_waveforms)

    first = Instant()
    monkeypatch.setattr(Store, "put", full)
    with pytest.raises(InputError, match="the disk is full"):
        sweep(heater, plan, path, first)
    assert first.cancelled, "nothing runs on"
    monkeypatch.setattr(Store, "put", real)
    assert sweep(heater, plan, path, Instant()).evaluated == 51 - 9


def test_points_of_another_sweep_are_not_evaluated_again(heater, plan, path) -> None:
    sweep(heater, plan, path, Instant())
    other = SweepPlan.read(heater, ["supply.voltage = 50.0 V to 70000 mV by 1 V"], cases=["loaded"])
    result = sweep(heater, other, path, pool := Instant())
    assert len(pool.seen) == 10 and result.number == 2 and len(result.frame()) == 21


def test_changed_inputs_are_evaluated_anew_and_said_to_be(heater, plan, path) -> None:
    sweep(heater, plan, path, Instant())
    edited = Scenario.from_text(heater.text.replace('resistor = "4.7 ohm"', 'resistor = "5.6 ohm"'), heater.label)
    result = sweep(edited, plan, path, pool := Instant())
    assert len(pool.seen) == 51 and result.stale == 51
    tried = sweep(heater.change(gate__resistor="5.6 ohm"), plan, path, pool := Instant())
    assert len(pool.seen) == 0 and tried.stale == 0, "the same content, however it came about"
    back = sweep(heater, plan, path, pool := Instant())
    assert pool.seen == [] and back.number == 1


class Stateful(Instant):
    """Each point ends in a state that tells its voltage."""

    def result(self, scenario: Scenario, point: Point) -> PointResult:
        return replace(super().result(scenario, point), state=dict(point.fields)["supply.voltage"])


def volts(path: ContinuationPath) -> list[float]:
    """Supply voltages of a path's points."""
    return [float(str(dict(point.fields)["supply.voltage"]).split()[0]) for point in path.points]


@pytest.mark.parametrize("size", [1, 2])
def test_a_path_starts_from_the_end_of_the_one_before(heater, plan, path, monkeypatch, size: int) -> None:
    monkeypatch.setattr(sweeps, "LONGEST", 10)
    sweep(heater, plan, path, pool := Stateful(size=size))
    fresh = [each for each in pool.paths if each.start is None]
    assert len(fresh) == size and len(pool.paths) > 5 and all(each.confirm for each in pool.paths)
    for each in pool.paths:
        if each.start is not None:
            assert abs(volts(each)[0] - float(each.start.split()[0])) == pytest.approx(1.0), "one step on"
    corners = {volts(each)[place] for each in pool.paths for place in each.samples}
    assert corners == {10.0, 60.0}


def test_a_path_does_not_start_from_where_points_are_missing(heater, plan, path, monkeypatch) -> None:
    monkeypatch.setattr(sweeps, "LONGEST", 10)
    with Store.open(path) as store:
        number = store.begin(sweeps.described(heater, plan), plan.keyed(heater))
        keys = [key for place, key in store.pending(number) if 5 <= place < 12 or 25 <= place < 27]
        store.claim(number, keys, "somebody else", 2.0)
    sweep(heater, plan, path, pool := Stateful(size=1))
    for each in pool.paths:
        if each.start is not None:
            assert abs(volts(each)[0] - float(each.start.split()[0])) == pytest.approx(1.0)
    assert sum(each.start is None for each in pool.paths) >= 2


def test_two_sweeps_at_once_share_the_work(heater, plan, path, monkeypatch) -> None:
    monkeypatch.setattr(sweeps, "LONGEST", 20)
    workers = [Instant(pause=0.01, size=1), Instant(pause=0.01, size=1)]
    threads = [threading.Thread(target=sweep, args=(heater, plan, path, worker)) for worker in workers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    seen = [point for worker in workers for point in worker.seen]
    assert len(seen) == len(set(seen)) == 51
    assert all(worker.seen for worker in workers), "both had work"


def test_claims_of_a_sweep_that_is_gone_run_out(heater, plan, path) -> None:
    with Store.open(path) as store:
        number = store.begin(sweeps.described(heater, plan), plan.keyed(heater))
        keys = [key for _, key in store.pending(number)][:20]
        assert store.claim(number, keys, "somebody who was killed", 2.0) == keys
    told: list[SweepProgress] = []
    result = sweep(heater, plan, path, Instant(), progress=told.append)
    assert result.evaluated == 51 and any("waiting" in progress.note for progress in told)


def test_claims_are_renewed_while_a_point_takes_long(heater, path, monkeypatch) -> None:
    monkeypatch.setattr(sweeps, "LEASE", 0.6)
    plan = SweepPlan.read(heater, ["supply.voltage = 20 V, 21 V"], cases=["loaded"])
    stolen: list[str] = []

    class Slow(Instant):
        def result(self, scenario, point):
            time.sleep(1.5)
            with Store.open(path) as store:
                keys = [key for _, key in store.pending(1)]
                stolen.extend(store.claim(1, keys[:1], "a thief", 0.1) if len(self.seen) == 1 else [])
            return super().result(scenario, point)

    assert sweep(heater, plan, path, Slow()).evaluated == 2
    assert stolen == []


def test_progress_is_told_after_every_point(heater, plan, path) -> None:
    told: list[SweepProgress] = []
    sweep(heater, plan, path, Instant(pause=0.005), progress=told.append)
    assert [progress.done for progress in told] == list(range(52))
    last = told[-1]
    assert last.rate is not None and 20 < last.rate < 200 and last.left_s == 0
    middle = told[25]
    assert middle.rate is not None and middle.left_s == pytest.approx(26 / middle.rate)
    worst = last.worst
    assert worst is not None and worst.headroom == pytest.approx(40 / 60 - 1)
    assert worst.point == Point((("supply.voltage", "60 V"),), "loaded") and worst.ends == "choke.left: temperature"


def kept(rule: str, headrooms: list[float]) -> list[int]:
    """Places a rule keeps when results come in this order."""
    keep = Keep.read(rule)
    base = result_of(Point((), "loaded"))
    return [
        place
        for place, headroom in enumerate(headrooms)
        if keep(place, replace(base, headroom=headroom, grade="fails" if headroom < 0 else "holds"))
    ]


def test_waveforms_are_kept_by_rule() -> None:
    headrooms = [0.3, -0.1, 0.2, -0.5, 0.1, -0.2, 0.4]
    assert kept("none", headrooms) == []
    assert kept("all", headrooms) == list(range(7))
    assert kept("failing", headrooms) == [1, 3, 5]
    assert kept("every 3", headrooms) == [0, 3, 6]
    assert kept("worst 2", headrooms) == [0, 1, 2, 3, 5]  # 0 and 2 were among the worst two when they came
    assert kept("worst 2", [-1.0] * 9) == [0, 1]
    for text in ("some", "worst", "worst 0", "every -1", "every 2.5"):
        with pytest.raises(InputError, match="none, all, failing, every N, worst N"):
            Keep.read(text)


def test_python_in_one_call(heater, path) -> None:
    frame = hs.sweep(heater, ["supply.voltage = 20 V to 30 V by 5 V"], cases=["loaded"], store=path, pool=Instant()).frame()
    assert list(frame["headroom"]) == pytest.approx([1.0, 0.6, 1 / 3])


@pytest.mark.ngspice
def test_a_real_sweep_in_one_call(heater, path) -> None:
    quick = heater.change({"supply.rise_time": "100 us", "simulate.longest": "1 ms"})
    result = hs.sweep(quick, ["supply.voltage = 30 V, 42 V"], cases=["loaded"], store=path, jobs=2, keep="all")
    # Peak of the tank voltage of an ideal current-fed push-pull stage: pi times the supply voltage
    # (tests/physics/test_stage.py), less what the resistances take.
    assert list(result.frame()["tank.peak_voltage_v"]) == pytest.approx([94.2, 131.9], rel=0.05)
    with Store.open(path, create=False) as store:
        [_, (_, key)] = [(place, key) for place, (key, _) in enumerate(result.plan.keyed(quick))]
        waves = store.waveforms(key)
    assert waves is not None and waves["tank.voltage"].max() == pytest.approx(131.9, rel=0.05)
