# SPDX-License-Identifier: GPL-3.0-or-later
"""Continuation paths on a pool: every point answered exactly once, whatever happens to the processes that work on it."""

from __future__ import annotations

import math
import os
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import Answer, ContinuationPath, Point, evaluate, evaluate_paths, failed, local_pool
from heatsim.tasks import Done, Event, Failed, LocalPool, Task, Told


@pytest.fixture(scope="module")
def heater(checkout: Path) -> Scenario:
    quick = {"supply.rise_time": "100 us", "simulate.longest": "1 ms"}
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml").change(quick)


def path(*actions: str) -> ContinuationPath:
    """Points that tell the test's worker what to do; the case is their name."""
    return ContinuationPath(tuple(Point((("do", action),), f"{action} {k}") for k, action in enumerate(actions)))


@pytest.fixture
def scripted(monkeypatch: pytest.MonkeyPatch) -> Iterator[LocalPool]:
    """Two workers that do what points say."""
    monkeypatch.setattr(evaluate, "FUNCTION", "tests.support.scripted_paths:evaluate")
    with LocalPool(2, "tests.support.scripted_paths:start") as pool:
        yield pool


def outcomes(answers: list[Answer]) -> dict[tuple[int, int], str]:
    """Outcome of each point; fails when one is answered twice."""
    assert max(Counter((number, place) for number, place, _ in answers).values()) == 1
    return {(number, place): result.outcome for number, place, result in answers}


@pytest.mark.slow
def test_points_of_a_real_heater(heater: Scenario) -> None:
    points = [Point((("supply.voltage", f"{voltage} V"),), "loaded") for voltage in (30, 36, 42)]
    with local_pool(2) as pool:
        answers = list(evaluate_paths(pool, heater, [ContinuationPath(tuple(points[:2])), ContinuationPath(tuple(points[2:]))]))
        assert pool.size == 2
    assert set(outcomes(answers)) == {(0, 0), (0, 1), (1, 0)}
    peaks = {(number, place): result.waveforms["tank.voltage"].max() for number, place, result in answers}
    # Peak of the tank voltage of an ideal current-fed push-pull stage: pi times the supply voltage
    # (tests/physics/test_stage.py), less what the resistances take; 1 ms after the start it is near that.
    assert [peaks[0, 0], peaks[0, 1], peaks[1, 0]] == pytest.approx([math.pi * 30, math.pi * 36, math.pi * 42], rel=0.05)


def test_a_point_that_cannot_be_built_is_an_answer(heater: Scenario) -> None:
    with local_pool(1) as pool:
        [(_, _, result)] = evaluate_paths(pool, heater, [ContinuationPath((Point((("choke.turns", 900),), "idle"),))])
    assert result.outcome == "unbuildable" and "bore" in result.outcome_detail


def test_files_of_the_scenario_are_found_from_elsewhere(checkout: Path, tmp_path: Path, monkeypatch) -> None:
    text = (checkout / "scenarios" / "bench-heater.toml").read_text()
    (tmp_path / "mine.toml").write_text(text.replace("ambient =", 'catalogue = "absent.toml"\nambient ='))
    (tmp_path / "absent.toml").write_text("")
    monkeypatch.chdir(tmp_path)
    scenario = Scenario.from_file("mine.toml").change({"supply.rise_time": "100 us", "simulate.longest": "1 ms"})
    with local_pool(1) as pool:
        [(_, _, result)] = evaluate_paths(pool, scenario, [ContinuationPath((Point((), "idle"),))])
    assert "absent.toml" not in result.outcome_detail, result.outcome_detail
    assert result.outcome != "unbuildable"


@pytest.mark.slow
def test_a_point_that_kills_its_worker_costs_itself_only(heater: Scenario, scripted: LocalPool) -> None:
    for actions in (["ok", "ok", "die", "ok", "ok"], ["die", "ok"], ["ok", "die"], ["die"], ["last", "ok", "die", "ok"]):
        answers = list(evaluate_paths(scripted, heater, [path(*actions)]))
        assert outcomes(answers) == {(0, k): "stalled" if action == "die" else "settled" for k, action in enumerate(actions)}
        assert all(
            result.outcome_detail == f"{actions[place]} {place}" or "SIGKILL" in result.outcome_detail
            for _, place, result in answers
        )


def test_a_worker_that_is_killed_from_outside_costs_nothing(heater: Scenario, scripted: LocalPool, tmp_path: Path) -> None:
    answers = list(evaluate_paths(scripted, heater, [path("ok", f"die once:{tmp_path / 'died'}", "ok"), path("ok")]))
    assert set(outcomes(answers).values()) == {"settled"} and len(answers) == 4


@pytest.mark.slow
def test_a_worker_that_hangs_is_ended(heater: Scenario, scripted: LocalPool, monkeypatch) -> None:
    monkeypatch.setattr(evaluate, "PATIENCE", 0.0)
    monkeypatch.setattr(evaluate, "GRACE", 1.0)
    answers = list(evaluate_paths(scripted, heater, [path("ok", "hang", "ok"), path("sleep:0.6", "sleep:0.6", "sleep:0.6")]))
    assert outcomes(answers) == {
        (0, 0): "settled",
        (0, 1): "stalled",
        (0, 2): "settled",
        (1, 0): "settled",
        (1, 1): "settled",
        (1, 2): "settled",
    }
    assert "hung" in next(result.outcome_detail for _, _, result in answers if result.outcome == "stalled")


def test_our_own_faults_are_answers_with_a_cause(heater: Scenario, scripted: LocalPool) -> None:
    answers = list(evaluate_paths(scripted, heater, [path("ok", "raise", "skip", "ok")]))
    assert outcomes(answers) == {(0, 0): "settled", (0, 1): "unsolved", (0, 2): "unsolved", (0, 3): "settled"}
    causes = {place: result.outcome_detail for _, place, result in answers}
    assert "no such number" in causes[1] and "left out" in causes[2]


def test_paths_are_read_as_there_is_room_and_may_depend_on_answers(heater: Scenario, scripted: LocalPool) -> None:
    answered: list[Answer] = []
    handed: list[int] = []

    def source() -> Iterator[ContinuationPath | None]:
        assert threading.current_thread() is threading.main_thread()
        yield path("ok")
        while not answered:  # the next path follows from the first answer
            yield None
        for _ in range(4):
            handed.append(len(answered))
            yield path("sleep:0.05")
        yield ContinuationPath(())

    for answer in evaluate_paths(scripted, heater, source()):
        answered.append(answer)
    assert len(outcomes(answered)) == 5
    assert handed[0] >= 1 and handed[-1] >= 3, "the last path is read when two of the four are done"


def test_an_evaluation_left_early_leaves_nobody_at_work(heater: Scenario, scripted: LocalPool) -> None:
    answers = evaluate_paths(scripted, heater, [path("ok", "hang"), path("ok", "hang"), path("ok")])
    busy = {int(next(answers)[2].method) for _ in range(2)}
    begun = time.monotonic()
    answers.close()
    assert time.monotonic() - begun < 5
    for pid in busy:
        with pytest.raises(ProcessLookupError):
            os.kill(pid, 0)
    assert len(list(evaluate_paths(scripted, heater, [path("ok"), path("ok")]))) == 2, "and the pool goes on"


def test_nothing_to_do_is_no_answer(heater: Scenario, scripted: LocalPool) -> None:
    assert list(evaluate_paths(scripted, heater, [])) == [] == list(evaluate_paths(scripted, heater, [None, path("ok")]))


class Played:
    """A pool in which a task with a point named x is lost with its machine, and others leave out points named y."""

    remote, size = False, 1

    def __init__(self) -> None:
        self.asked: list[tuple[str, object]] = []

    def submit(self, task: Task) -> int:
        self.path = task.arguments[1]
        self.asked.append(("".join(point.case for point in self.path.points), self.path.start))
        return len(self.asked)

    def as_completed(self) -> Iterator[Event]:
        told = 0
        while told < len(self.asked):
            told, points = len(self.asked), self.path.points
            if "x" in self.asked[-1][0]:
                yield Failed(told, "lost", "the machine is gone")
            else:
                found = [(place, failed("settled", point.case)) for place, point in enumerate(points) if point.case != "y"]
                yield from (Told(told, each) for each in (*found, *found[:1]))
                yield Done(told, None)

    def cancel(self) -> None:
        """Nothing runs."""


def test_what_was_lost_is_tried_again_from_fresh_starts_in_ever_smaller_pieces(heater: Scenario) -> None:
    pool, points = Played(), tuple(Point((), name) for name in "abcxdefy")
    answers = list(evaluate_paths(pool, heater, [ContinuationPath(points, "a state", False)]))  # type: ignore[arg-type]
    told = {points[place].case: (result.outcome, result.outcome_detail) for _, place, result in answers}
    assert len(answers) == len(told) == 8, "each once, though some were told twice"
    assert told.pop("x") == ("stalled", "the machine is gone")
    assert told.pop("y") == ("unsolved", "a fault of heatsim's own: the point was left out")
    assert told == {name: ("settled", name) for name in "abcdef"}
    assert pool.asked[:4] == [("abcxdefy", "a state"), ("a", None), ("bcxdefy", None), ("bcxd", None)]
    assert sum("x" in names for names, _ in pool.asked) == 5
