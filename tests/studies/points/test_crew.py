# SPDX-License-Identifier: GPL-3.0-or-later
"""A crew: every point answered exactly once, whatever happens to the processes that work on it."""

from __future__ import annotations

import math
import os
import signal
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import crew as crews
from heatsim.studies.points.crew import Answer, Crew
from heatsim.studies.points.point import Point, Strip


@pytest.fixture(scope="module")
def heater(checkout: Path) -> Scenario:
    quick = {"supply.rise_time": "100 us", "simulate.longest": "1 ms"}
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml").change(quick)


def strip(*actions: str) -> Strip:
    """Points that tell the test's worker what to do; the case is their name."""
    return Strip(tuple(Point((("do", action),), f"{action} {k}") for k, action in enumerate(actions)))


@pytest.fixture
def scripted(monkeypatch: pytest.MonkeyPatch) -> Iterator[Crew]:
    """Two of the test's own workers."""
    monkeypatch.setattr(crews, "MODULE", "tests.support.crew_worker")
    with Crew(2) as crew:
        yield crew


def outcomes(answers: list[Answer]) -> dict[tuple[int, int], str]:
    """Outcome of each point; fails when one is answered twice."""
    assert max(Counter((number, place) for number, place, _ in answers).values()) == 1
    return {(number, place): result.outcome for number, place, result in answers}


def test_points_of_a_real_heater(heater: Scenario) -> None:
    points = [Point((("supply.voltage", f"{voltage} V"),), "loaded") for voltage in (30, 36, 42)]
    with Crew(2) as crew:
        answers = list(crew.evaluate(heater, [Strip(tuple(points[:2])), Strip(tuple(points[2:]))]))
        assert crew.slots == 2
    assert set(outcomes(answers)) == {(0, 0), (0, 1), (1, 0)}
    peaks = {(number, place): result.waveforms["tank.voltage"].max() for number, place, result in answers}
    # Peak of the tank voltage of an ideal current-fed push-pull stage: pi times the supply voltage
    # (tests/physics/test_stage.py), less what the resistances take; 1 ms after the start it is near that.
    assert [peaks[0, 0], peaks[0, 1], peaks[1, 0]] == pytest.approx([math.pi * 30, math.pi * 36, math.pi * 42], rel=0.05)


def test_a_point_that_cannot_be_built_is_an_answer(heater: Scenario) -> None:
    with Crew(1) as crew:
        [(_, _, result)] = crew.evaluate(heater, [Strip((Point((("choke.turns", 900),), "idle"),))])
    assert result.outcome == "unbuildable" and "bore" in result.outcome_detail


def test_files_of_the_scenario_are_found_from_elsewhere(checkout: Path, tmp_path: Path, monkeypatch) -> None:
    text = (checkout / "scenarios" / "bench-heater.toml").read_text()
    (tmp_path / "mine.toml").write_text(text.replace("ambient =", 'catalogue = "absent.toml"\nambient ='))
    (tmp_path / "absent.toml").write_text("")
    monkeypatch.chdir(tmp_path)
    scenario = Scenario.from_file("mine.toml").change({"supply.rise_time": "100 us", "simulate.longest": "1 ms"})
    with Crew(1) as crew:
        [(_, _, result)] = crew.evaluate(scenario, [Strip((Point((), "idle"),))])
    assert "absent.toml" not in result.outcome_detail, result.outcome_detail
    assert result.outcome != "unbuildable"


def test_a_point_that_kills_its_worker_costs_itself_only(heater: Scenario, scripted: Crew) -> None:
    for actions in (["ok", "ok", "die", "ok", "ok"], ["die", "ok"], ["ok", "die"], ["die"], ["last", "ok", "die", "ok"]):
        answers = list(scripted.evaluate(heater, [strip(*actions)]))
        assert outcomes(answers) == {(0, k): "stalled" if action == "die" else "settled" for k, action in enumerate(actions)}
        assert all(
            result.outcome_detail == f"{actions[place]} {place}" or "SIGKILL" in result.outcome_detail
            for _, place, result in answers
        )


def test_a_worker_that_is_killed_from_outside_costs_nothing(heater: Scenario, scripted: Crew, tmp_path: Path) -> None:
    answers = list(scripted.evaluate(heater, [strip("ok", f"die once:{tmp_path / 'died'}", "ok"), strip("ok")]))
    assert set(outcomes(answers).values()) == {"settled"} and len(answers) == 4


def test_a_worker_that_hangs_is_ended(heater: Scenario, scripted: Crew, monkeypatch) -> None:
    monkeypatch.setattr(crews, "PATIENCE", 0.0)
    monkeypatch.setattr(crews, "GRACE", 0.4)
    answers = list(scripted.evaluate(heater, [strip("ok", "hang", "ok"), strip("sleep:0.3", "sleep:0.3", "sleep:0.3")]))
    assert outcomes(answers) == {
        (0, 0): "settled",
        (0, 1): "stalled",
        (0, 2): "settled",
        (1, 0): "settled",
        (1, 1): "settled",
        (1, 2): "settled",
    }
    assert "hung" in next(result.outcome_detail for _, _, result in answers if result.outcome == "stalled")


def test_our_own_faults_are_answers_with_a_cause(heater: Scenario, scripted: Crew) -> None:
    answers = list(scripted.evaluate(heater, [strip("ok", "raise", "skip", "ok")]))
    assert outcomes(answers) == {(0, 0): "settled", (0, 1): "unsolved", (0, 2): "unsolved", (0, 3): "settled"}
    causes = {place: result.outcome_detail for _, place, result in answers}
    assert "no such number" in causes[1] and "left out" in causes[2]


def test_strips_are_read_as_there_is_room_and_may_depend_on_answers(heater: Scenario, scripted: Crew) -> None:
    answered: list[Answer] = []
    handed: list[int] = []

    def source() -> Iterator[Strip | None]:
        assert threading.current_thread() is threading.main_thread()
        yield strip("ok")
        while not answered:  # the next strip follows from the first answer
            yield None
        for _ in range(4):
            handed.append(len(answered))
            yield strip("sleep:0.05")
        yield Strip(())

    for answer in scripted.evaluate(heater, source()):
        answered.append(answer)
    assert len(outcomes(answered)) == 5
    assert handed[0] >= 1 and handed[-1] >= 3, "the last strip is read when two of the four are done"


def test_an_evaluation_left_early_leaves_nobody_at_work(heater: Scenario, scripted: Crew) -> None:
    answers = scripted.evaluate(heater, [strip("ok", "hang"), strip("ok", "hang"), strip("ok")])
    busy = {int(next(answers)[2].method) for _ in range(2)}
    begun = time.monotonic()
    answers.close()
    assert time.monotonic() - begun < 5
    for pid in busy:
        with pytest.raises(ProcessLookupError):
            os.kill(pid, 0)
    assert len(list(scripted.evaluate(heater, [strip("ok"), strip("ok")]))) == 2, "and the crew goes on"


def test_workers_are_kept_and_replaced_when_worn(heater: Scenario, monkeypatch) -> None:
    monkeypatch.setattr(crews, "MODULE", "tests.support.crew_worker")
    monkeypatch.setattr(crews, "POINTS_PER_WORKER", 4)
    with Crew(1) as crew:
        answers = list(crew.evaluate(heater, [strip("ok", "ok") for _ in range(4)]))
    used = [result.method for _, _, result in answers]
    assert len(set(used)) == 2 and used == sorted(used, key=used.index)
    assert max(Counter(used).values()) == 4


def test_closing_ends_the_workers(heater: Scenario, scripted: Crew) -> None:
    [(_, _, result)] = scripted.evaluate(heater, [strip("ok")])
    scripted.close()
    with pytest.raises(ProcessLookupError):
        os.kill(int(result.method), signal.SIGTERM)


def test_nothing_to_do_is_no_answer(heater: Scenario, scripted: Crew) -> None:
    assert list(scripted.evaluate(heater, [])) == [] == list(scripted.evaluate(heater, [None, strip("ok")]))
