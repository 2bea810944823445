# SPDX-License-Identifier: GPL-3.0-or-later
"""What a cluster's worker does with a strip, and how files travel with it; in this process, without a cluster."""

from __future__ import annotations

import pickle
import subprocess
import sys
import threading
import time
import uuid
from pathlib import Path

import pytest

from heatsim.errors import SetupError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import cluster_worker as worker
from heatsim.studies.points.cluster_worker import Answers, Order, Packing
from heatsim.studies.points.point import Point, Strip

MODEL = ".model thing VDMOS(Vto=3 Kp=40 Rd=4m Rg=1 Cgs=5n Cgdmax=1n Cgdmin=0.1n Cjo=1n Is=1e-12{more})\n"


@pytest.fixture(scope="module")
def heater(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


@pytest.fixture(autouse=True)
def scripted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Simulator processes do what each point's `do` field says; no patience."""
    monkeypatch.setattr("heatsim.studies.points.crew.MODULE", "tests.support.crew_worker")
    monkeypatch.setattr(worker, "_IDLE", worker._Idle())
    monkeypatch.setattr(worker, "_SEATS", {})
    monkeypatch.setattr(worker, "LINGER", 0.1)


def strip(*actions: str) -> Strip:
    return Strip(tuple(Point((("do", action),), f"{action} {k}") for k, action in enumerate(actions)))


def serve(token: tuple[str, int], order: bytes, have: tuple[int, ...] = ()) -> Answers:
    answers: Answers = pickle.loads(worker.serve(token, order, have))
    return answers


def until_over(token: tuple[str, int], order: bytes, have: tuple[int, ...] = ()) -> list[Answers]:
    """As a caller asks who confirms everything."""
    told = [serve(token, order, have)]
    while not told[-1].over:
        have += tuple(place for place, _ in told[-1].found)
        told.append(serve(token, order, have))
    return told


def places(told: list[Answers]) -> list[int]:
    return [place for answers in told for place, _ in answers.found]


def test_a_strip_is_told_piece_by_piece_and_again_until_confirmed(heater: Scenario) -> None:
    token, order = (uuid.uuid4().hex, 0), Packing(heater)(strip("ok", "sleep:0.7", "ok"))
    first, again = serve(token, order), serve(token, order)  # as if the first answer had been lost
    assert places([first]) == [0] == places([again]) and not first.over and not again.over
    rest = until_over(token, order, (0,))
    assert places(rest) == [1, 2] and not rest[-1].fault
    assert len({result.method for told in (first, *rest) for _, result in told.found}) == 1, "one run of the strip"


def test_a_worker_that_does_not_know_a_strip_starts_what_is_left_of_it(heater: Scenario) -> None:
    told = until_over((uuid.uuid4().hex, 0), Packing(heater)(strip("ok", "ok", "ok")), (1,))
    assert places(told) == [0, 2]
    assert [result.outcome_detail for answers in told for _, result in answers.found] == ["ok 0", "ok 2"]


def test_a_start_to_follow_on_from_is_kept_for_whole_strips_only(heater: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[Strip] = []

    class Crew:
        def evaluate(self, scenario: Scenario, strips: list[Strip]) -> object:
            return (answer for answer in seen.extend(strips) or ())

        def close(self) -> None:
            """Nothing runs."""

    monkeypatch.setattr(worker._IDLE, "take", Crew)
    order = Packing(heater)(Strip(strip("ok", "ok").points, "a state", False))
    serve((uuid.uuid4().hex, 0), order)
    serve((uuid.uuid4().hex, 1), order, (0,))
    assert [(len(one.points), one.start, one.confirm) for one in seen] == [(2, "a state", False), (1, None, False)]


def test_waiting_ends_though_there_is_nothing_to_tell(heater: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(worker, "LONGEST", 0.2)
    token, order = (uuid.uuid4().hex, 0), Packing(heater)(strip("sleep:1.5"))
    told = until_over(token, order)
    assert told[0] == Answers((), False) and len(told) > 3 and places(told) == [0]


def test_a_strip_given_up_ends_at_once_and_is_not_begun_again(heater: Scenario) -> None:
    token, order = (uuid.uuid4().hex, 0), Packing(heater)(strip("ok", "hang"))
    first = serve(token, order)
    told: list[Answers] = []
    waiting = threading.Thread(target=lambda: told.append(serve(token, order, (0,))))
    waiting.start()
    begun = time.monotonic()
    worker.abandon(token[0])
    waiting.join()
    assert time.monotonic() - begun < 3 and told[0].over and first.found
    late = serve((token[0], 1), order)
    assert late == Answers((), True, "given up"), "a call that was on its way when the evaluation was given up"


def test_a_strip_nobody_asks_for_is_given_up(heater: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(worker, "ORPHAN", 0.3)
    monkeypatch.setattr(worker, "LONGEST", 0.1)
    token, order = (uuid.uuid4().hex, 0), Packing(heater)(strip(*["sleep:0.1"] * 40))
    while not serve(token, order).found:
        pass
    seat = worker._SEATS[token]
    until = time.monotonic() + 5
    while not seat.over and time.monotonic() < until:
        time.sleep(0.02)
    assert seat.over and len(seat.found) < 20
    assert places(until_over(token, order, tuple(range(38)))) == [38, 39], "and begun again when somebody does"


def test_a_simulator_without_work_ends_after_a_while(heater: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(worker, "IDLE", 0.4)
    token, order = (uuid.uuid4().hex, 0), Packing(heater)(strip("ok"))
    serve(token, order)
    until = time.monotonic() + 5
    while not worker._IDLE._since and time.monotonic() < until:
        time.sleep(0.01)
    [crew] = worker._IDLE._since
    while worker._IDLE._since and time.monotonic() < until:
        time.sleep(0.02)
    with pytest.raises(RuntimeError, match="closed"):
        crew._pool.take()


def test_a_missing_simulator_is_told_as_such(heater: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    def take() -> None:
        raise SetupError("libngspice is not there")

    monkeypatch.setattr(worker._IDLE, "take", take)
    answers = serve((uuid.uuid4().hex, 0), Packing(heater)(strip("ok")))
    assert answers == Answers((), True, "libngspice is not there", True)


def test_versions_are_told() -> None:
    version, simulator, lacking = worker.probe()
    assert version and simulator.startswith("ngspice-") and not lacking


def test_named_files_travel_with_the_work(heater: Scenario, tmp_path: Path) -> None:
    here, there = tmp_path / "here", tmp_path / "there"
    (here / "models").mkdir(parents=True)
    for name, more in (("base", ""), ("case", " Cjo=2n"), ("point", " Cjo=3n")):
        (here / "models" / f"{name}.lib").write_text(MODEL.format(more=more))
    text = heater.text.replace("[switch]", '[switch]\nmodel_file = "models/base.lib"\nmodel = "thing"', 1)
    text += '\n[case.other]\nset = { "switch.model_file" = "models/case.lib" }\n'
    local = Scenario.from_text(text, "heater.toml", here)
    point = Point((("switch.model_file", str(here / "models" / "point.lib")), ("supply.voltage", "30 V")), "loaded")
    order: Order = pickle.loads(Packing(local)(Strip((point,))))
    for name, content in order.files.items():
        (there / name).parent.mkdir(parents=True, exist_ok=True)
        (there / name).write_text(content)
    assert str(tmp_path) not in repr([order.strip, order.scenario.tables, order.scenario.folder])
    far = Scenario(order.scenario.label, there, order.scenario.text, order.scenario.changes, order.scenario.tables)
    for case, change, change_there in (
        ("loaded", {}, {}),
        ("other", {}, {}),
        ("loaded", dict(point.fields), dict(order.strip.points[0].fields)),
    ):
        near = local.change(change).heater(case)
        assert far.change(change_there).heater(case) == near and near.switch.user_model


def test_a_file_that_is_not_there_is_missed_by_the_point_that_names_it(heater: Scenario, tmp_path: Path) -> None:
    point = Point((("switch.model_file", "absent.lib"), ("switch.model", "thing")), "loaded")
    order: Order = pickle.loads(Packing(Scenario.from_text(heater.text, "x.toml", tmp_path))(Strip((point,))))
    assert order.files == {} and dict(order.strip.points[0].fields)["switch.model_file"] == str(tmp_path / "absent.lib")


def test_a_scenario_without_files_is_sent_as_it_is(heater: Scenario) -> None:
    order: Order = pickle.loads(Packing(heater)(strip("ok")))
    assert (order.scenario.text, order.scenario.tables, order.scenario.changes, order.files) == (
        heater.text,
        heater.tables,
        heater.changes,
        {},
    )


def test_the_worker_side_needs_nothing_of_the_extra() -> None:
    code = (
        "import sys, heatsim.studies.points.cluster_worker\n"
        "print([m for m in ('dask', 'distributed', 'PySpice') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
