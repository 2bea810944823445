# SPDX-License-Identifier: GPL-3.0-or-later
"""Which points an executor asks whom for when workers are lost; the cluster is played, so that losses are exact."""

from __future__ import annotations

import pickle
import threading
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from heatsim.errors import SetupError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import cluster
from heatsim.studies.points.cluster import _Evaluation
from heatsim.studies.points.cluster_link import Link
from heatsim.studies.points.cluster_worker import Answers, Order
from heatsim.studies.points.point import Point, Strip, failed

Reply = Answers | str | None
"""What comes of a task: answers, the cause of its failure, or nothing as the worker is gone."""


class PlayedTask:
    """A task that has ended, or never will."""

    def __init__(self, reply: Reply) -> None:
        self.reply = reply
        self.status = "pending" if reply is None else "error" if isinstance(reply, str) else "finished"
        self.cancelled = False

    def add_done_callback(self, call: Callable[[Any], None]) -> None:
        if self.reply is not None:
            threading.Thread(target=call, args=(self,)).start()

    def cancel(self, force: bool) -> None:
        self.cancelled = True


class PlayedLink:
    """Workers by name and threads; play: decides what becomes of a task, from worker, strip and places left."""

    def __init__(self, play: Callable[[PlayedLink, str, Strip, list[int]], Reply], **threads: int) -> None:
        self.play, self.threads = play, dict(threads)
        self.address, self.client = "tcp://played:1", type("Client", (), {"status": "running", "cancel": print})
        self.asked: list[tuple[str, list[str]]] = []
        self.tasks: list[PlayedTask] = []
        self.comes: dict[str, int] = {}

    def task(self, name: str, worker: str, token: Any, order: bytes, have: tuple[int, ...]) -> PlayedTask:
        work: Order = pickle.loads(order)
        left = [place for place in range(len(work.strip.points)) if place not in have]
        self.asked.append((worker, [work.strip.points[place].case for place in left]))
        self.tasks.append(PlayedTask(self.play(self, worker, work.strip, left)))
        return self.tasks[-1]

    def fetch(self, ended: list[tuple[PlayedTask, str]]) -> list[bytes | str]:
        return [task.reply if isinstance(task.reply, str) else pickle.dumps(task.reply) for task, _ in ended]

    def look(self) -> None:
        self.threads |= self.comes

    def check(self) -> None:
        pass

    def refuse(self, worker: str, why: str) -> None:
        self.threads.pop(worker, None)

    def tell(self, workers: set[str], name: str, *arguments: Any) -> None:
        pass


@pytest.fixture(scope="module")
def heater(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "LOOK", 0.02)


def strip(names: str) -> Strip:
    return Strip(tuple(Point((), name) for name in names), "a state")


def settled(work: Strip, found: list[int], over: bool = True, **rest: Any) -> Answers:
    return Answers(tuple((place, failed("settled", work.points[place].case)) for place in found), over, **rest)


def run(heater: Scenario, link: PlayedLink, *strips: str) -> dict[str, str]:
    """Outcome of each point by name; fails when one is answered twice or under another's number."""
    told: list[tuple[str, str]] = []
    for number, place, result in _Evaluation(link, heater, iter([strip(names) for names in strips])).answers():  # type: ignore[arg-type]
        name = strips[number][place]
        assert result.outcome != "settled" or result.outcome_detail == name
        told.append((name, result.outcome))
    assert max(Counter(name for name, _ in told).values()) == 1
    return dict(told)


def test_what_a_lost_worker_had_not_told_goes_to_another(heater: Scenario) -> None:
    def play(link: PlayedLink, worker: str, work: Strip, left: list[int]) -> Reply:
        if worker == "two":
            return settled(work, left)
        if len(left) == 4:
            return settled(work, left[:2], over=False)
        del link.threads["one"]
        return None

    link = PlayedLink(play, one=1)
    link.comes = {"two": 1}
    assert set(run(heater, link, "abcd").values()) == {"settled"}
    assert link.asked == [("one", list("abcd")), ("one", list("cd")), ("two", list("cd"))]
    assert link.tasks[1].cancelled


def test_a_point_that_fells_every_worker_is_given_up_alone(heater: Scenario) -> None:
    def play(link: PlayedLink, worker: str, work: Strip, left: list[int]) -> Reply:
        names = [work.points[place].case for place in left]
        return "KilledWorker: thrice" if "x" in names else settled(work, left)

    link = PlayedLink(play, one=1, two=1)
    told = run(heater, link, "abxcd", "efg")
    assert told == dict.fromkeys("abcdefg", "settled") | {"x": "unsolved"}
    assert sum("x" in names for _, names in link.asked) <= 6


def test_losses_count_only_without_a_result_between(heater: Scenario) -> None:
    turn = iter(range(100))

    def play(link: PlayedLink, worker: str, work: Strip, left: list[int]) -> Reply:
        return settled(work, left[:1], over=False) if next(turn) % 2 else "OSError: lost"

    assert run(heater, PlayedLink(play, one=1), "abcdefgh") == dict.fromkeys("abcdefgh", "settled")


def test_a_point_a_worker_leaves_out_is_told_with_its_cause(heater: Scenario) -> None:
    def play(link: PlayedLink, worker: str, work: Strip, left: list[int]) -> Reply:
        return settled(work, [place for place in left if work.points[place].case != "b"], fault="KeyError: 'b'")

    assert run(heater, PlayedLink(play, one=1), "abc") == {"a": "settled", "b": "unsolved", "c": "settled"}


def test_a_worker_without_a_simulator_is_used_no_more(heater: Scenario) -> None:
    def play(link: PlayedLink, worker: str, work: Strip, left: list[int]) -> Reply:
        return settled(work, [], fault="no libngspice", setup=True) if worker == "one" else settled(work, left)

    link = PlayedLink(play, one=5, two=1)
    assert set(run(heater, link, "ab", "cd", "ef").values()) == {"settled"}
    assert {worker for worker, names in link.asked if names} == {"one", "two"} and "one" not in link.threads


def test_nobody_left_for_long_is_an_error_that_says_what_to_do(heater: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "BEREFT", 0.1)

    def play(link: PlayedLink, worker: str, work: Strip, left: list[int]) -> Reply:
        link.threads.clear()
        return None

    with pytest.raises(SetupError, match="no workers left; start one: dask worker tcp://played:1"):
        run(heater, PlayedLink(play, one=1), "ab")


def test_each_worker_has_as_many_strips_as_threads(heater: Scenario) -> None:
    link = PlayedLink(lambda link, worker, work, left: None, one=1, two=3)
    running = _Evaluation(link, heater, iter([strip(name) for name in "abcdefgh"]))  # type: ignore[arg-type]
    running._start()
    assert Counter(worker for worker, _ in link.asked) == {"one": 1, "two": 3}


def test_a_strip_begun_anew_does_not_follow_on_from_its_old_start(heater: Scenario) -> None:
    starts = []

    def play(link: PlayedLink, worker: str, work: Strip, left: list[int]) -> Reply:
        starts.append(work.start)
        return "OSError: lost" if len(starts) == 1 else settled(work, left)

    run(heater, PlayedLink(play, one=1), "ab")
    assert starts == ["a state", None]


def test_an_answer_given_twice_is_passed_on_once(heater: Scenario) -> None:
    turn = iter(range(100))

    def play(link: PlayedLink, worker: str, work: Strip, left: list[int]) -> Reply:
        return settled(work, [0, 1], over=False) if next(turn) < 3 else settled(work, [0, 1, 2])

    assert run(heater, PlayedLink(play, one=1), "abc") == dict.fromkeys("abc", "settled")


def test_a_result_lost_with_its_worker_does_not_hold_up_others(monkeypatch: pytest.MonkeyPatch) -> None:
    class Client:
        """Waits for ever for what is lost, as a task bound to a worker that is gone never runs again."""

        def gather(self, futures: dict[str, PlayedTask], errors: str, asynchronous: bool) -> dict[str, Reply]:
            return {place: task.reply for place, task in futures.items()}

        def sync(self, call: Callable[[], dict[str, Reply]], callback_timeout: float) -> dict[str, Reply]:
            if "lost" in call().values():
                raise TimeoutError
            return call()

    link = Link.__new__(Link)
    link.client, link.threads = Client(), {"alive": 1, "dead": 1}
    monkeypatch.setattr(link, "look", lambda now: link.threads.pop("dead", None))
    lost, kept, faulty = PlayedTask("lost"), PlayedTask("kept"), PlayedTask("bad")
    lost.status = kept.status = "finished"
    monkeypatch.setattr(faulty, "exception", lambda: ValueError("bad"), raising=False)
    told = link.fetch([(lost, "dead"), (kept, "alive"), (faulty, "alive")])  # type: ignore[list-item]
    assert told == ["the results did not arrive from the machine it ran on", "kept", "ValueError: bad"]
