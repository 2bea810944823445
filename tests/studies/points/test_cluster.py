# SPDX-License-Identifier: GPL-3.0-or-later
"""Sweeps on a cluster: a real scheduler and real workers on loopback, some of them lost on the way."""

from __future__ import annotations

import contextlib
import math
import os
import signal
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from heatsim.errors import InputError, SetupError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import cluster, cluster_link
from heatsim.studies.points.cluster import ClusterExecutor
from heatsim.studies.points.crew import Answer, Crew
from heatsim.studies.points.point import Point, Strip
from heatsim.studies.store import Store
from heatsim.studies.sweep import SweepPlan, sweep
from tests.support.loopback import Loopback

psutil = pytest.importorskip("psutil")
pytest.importorskip("distributed", reason="the extra `cluster` is not installed")

SCRIPTED = "import heatsim.studies.points.crew as crew\ncrew.MODULE = 'tests.support.crew_worker'\n"
"""Makes a worker's simulator processes do what each point's `do` field says."""

AGREEMENT = {"tank.frequency_hz": 1e-3, "tank.peak_voltage_v": 5e-3, "choke.left.peak_current_a": 1e-2}
"""Measures compared between machines and how far they may differ [1]: what is asked of any two ways to one steady
state (frequency 0.1 %, peaks 0.5 %, choke peak 1 %), as a strip begun anew may come to a point from another side."""


@pytest.fixture(scope="module")
def heater(checkout: Path) -> Scenario:
    quick = {"supply.rise_time": "100 us", "simulate.longest": "1 ms"}
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml").change(quick)


@pytest.fixture(scope="module")
def scripted(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Loopback]:
    """A scheduler with two workers that do as points say."""
    with Loopback(tmp_path_factory.mktemp("scripted")) as there:
        there.worker(SCRIPTED)
        there.worker(SCRIPTED)
        yield there


@pytest.fixture(scope="module")
def bare(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Loopback]:
    """A scheduler to which each test brings its workers."""
    with Loopback(tmp_path_factory.mktemp("bare")) as there:
        yield there


def strip(*actions: str) -> Strip:
    """Points for scripted workers; the case is their name."""
    return Strip(tuple(Point((("do", action),), f"{action} {k}") for k, action in enumerate(actions)))


def outcomes(answers: list[Answer]) -> dict[tuple[int, int], str]:
    """Outcome of each point; fails when one is answered twice."""
    assert max(Counter((number, place) for number, place, _ in answers).values()) == 1
    return {(number, place): result.outcome for number, place, result in answers}


def gone(pid: int, seconds: float = 15.0) -> bool:
    """Whether a process is gone, or is so within some seconds."""
    until = time.monotonic() + seconds
    with contextlib.suppress(psutil.NoSuchProcess):
        while psutil.Process(pid).status() != psutil.STATUS_ZOMBIE:
            if time.monotonic() > until:
                return False
            time.sleep(0.05)
    return True


def test_a_sweep_outlives_a_worker(heater: Scenario, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = SweepPlan.read(heater, ["supply.voltage = 24 V to 46 V in 8"], [], ["loaded"])
    losses: list[str] = []
    simulators: list[int] = []
    lose, ask = cluster._Evaluation._lost, cluster._Evaluation._ask
    with Loopback(tmp_path) as there:
        victim, _ = there.worker(), there.worker()
        address = there.told(victim, "Start worker at:")

        def ask_and_kill(running: cluster._Evaluation, piece: cluster._Piece) -> None:
            """The victim dies in the middle of its strip, with some of it told."""
            ask(running, piece)
            if piece.have and piece.worker == address and not simulators:
                simulators.extend(child.pid for child in psutil.Process(victim.pid).children(recursive=True))
                os.kill(victim.pid, signal.SIGKILL)

        monkeypatch.setattr(cluster._Evaluation, "_ask", ask_and_kill)
        monkeypatch.setattr(cluster._Evaluation, "_lost", lambda *given: (losses.append(given[-1]), lose(*given))[1])
        with ClusterExecutor(there.address) as executor:
            assert executor.slots == 2 and all("ngspice" in version for version in executor.workers.values())
            done = sweep(heater, plan, tmp_path / "far.sweeps", executor)
    here = sweep(heater, plan, tmp_path / "near.sweeps", workers=2)
    assert losses, "the worker was lost in the middle of its strip"
    assert simulators and all(gone(pid) for pid in simulators), "its simulators end with it"
    assert done.evaluated == here.evaluated == len(plan), "no point is answered twice, none is missing"
    with Store.open(tmp_path / "far.sweeps") as far, Store.open(tmp_path / "near.sweeps") as near:
        assert not far.check()
        rows = [(far.result(key), near.result(key)) for key, _ in plan.keyed(heater)]
    for distant, local in rows:
        assert distant is not None and local is not None and distant.outcome == local.outcome == "settled"
        assert distant.grade == local.grade
        for name, tolerance in AGREEMENT.items():
            assert math.isclose(distant.measures[name], local.measures[name], rel_tol=tolerance), name


def test_a_simulator_that_dies_or_lags_costs_its_point_only(heater: Scenario, scripted: Loopback) -> None:
    with ClusterExecutor(scripted.address) as executor:
        answers = list(executor.evaluate(heater, [strip("ok", "die", "last", "raise", "ok"), strip(*["ok"] * 300)]))
    assert outcomes(answers) == {(0, 0): "settled", (0, 1): "stalled", (0, 2): "settled", (0, 3): "unsolved", (0, 4): "settled"} | {
        (1, place): "settled" for place in range(300)
    }
    causes = {place: result.outcome_detail for number, place, result in answers if number == 0}
    assert "SIGKILL" in causes[1] and "no such number" in causes[3]
    assert all(process.poll() is None for process in scripted.processes), "no worker was harmed"


def test_results_come_while_a_strip_goes_on(heater: Scenario, scripted: Loopback) -> None:
    with ClusterExecutor(scripted.address) as executor:
        begun = time.monotonic()
        times = [time.monotonic() - begun for _ in executor.evaluate(heater, [strip(*["sleep:0.4"] * 5)])]
    assert max(later - sooner for sooner, later in zip(times, times[1:], strict=False)) < 1.2
    assert times[0] < times[-1] - 0.8


def test_simulators_are_kept_from_strip_to_strip(heater: Scenario, scripted: Loopback) -> None:
    with ClusterExecutor(scripted.address) as executor:
        answers = list(executor.evaluate(heater, [strip("ok", "sleep:0.02") for _ in range(12)]))
    assert len(outcomes(answers)) == 24
    assert len({result.method for _, _, result in answers}) <= 2, "their process ids"


def test_strips_may_depend_on_answers(heater: Scenario, scripted: Loopback) -> None:
    answered: list[Answer] = []
    handed: list[int] = []

    def source() -> Iterator[Strip | None]:
        assert threading.current_thread() is threading.main_thread()
        yield strip("ok")
        while not answered:
            yield None
        for _ in range(4):
            handed.append(len(answered))
            yield strip("sleep:0.05")
        yield Strip(())

    with ClusterExecutor(scripted.address) as executor:
        for answer in executor.evaluate(heater, source()):
            answered.append(answer)
        assert list(executor.evaluate(heater, [])) == [] == list(executor.evaluate(heater, [None, strip("ok")]))
    assert len(outcomes(answered)) == 5 and handed[:2] == [1, 1] and handed[2] >= 2, "read when there is room"


def test_an_evaluation_left_early_ends_its_simulators(heater: Scenario, scripted: Loopback) -> None:
    with ClusterExecutor(scripted.address) as executor:
        answers = executor.evaluate(heater, [strip("ok", "hang"), strip("ok", "hang")])
        busy = {int(next(answers)[2].method) for _ in range(2)}
        answers.close()
        assert len(busy) == 2 and all(gone(pid) for pid in busy)
        assert len(list(executor.evaluate(heater, [strip("ok"), strip("ok")]))) == 2, "and the executor goes on"


def test_a_worker_that_comes_later_is_used(heater: Scenario, bare: Loopback) -> None:
    first = bare.worker(SCRIPTED)
    with ClusterExecutor(bare.address) as executor:
        assert executor.slots == 1
        answers = executor.evaluate(heater, (strip("sleep:0.3") for _ in range(12)))
        used = {next(answers)[2].method}
        second = bare.worker(SCRIPTED, threads=2)
        used |= {result.method for _, _, result in answers}
        assert len(used) == 3 and executor.slots == 3
    for process in (first, second):
        process.kill()
        process.wait()


def test_a_lost_scheduler_is_told_and_what_was_found_is_kept(heater: Scenario, tmp_path: Path) -> None:
    got = []
    with Loopback(tmp_path) as there:
        there.worker(SCRIPTED)
        with ClusterExecutor(there.address) as executor, pytest.raises(SetupError, match="does not answer any more"):
            for answer in executor.evaluate(heater, [strip(*["sleep:0.1"] * 100)]):
                got.append(answer)
                there.processes[0].kill()
                lost = time.monotonic()
        assert got and time.monotonic() - lost < 10
        assert gone(there.processes[1].pid), "a worker without its scheduler ends"
        assert gone(int(got[0][2].method))


@pytest.mark.parametrize(
    ("preload", "message"),
    [
        ("import heatsim\nheatsim.__version__ = '0.0.1'\n", r"has heatsim 0\.0\.1, not"),
        ("import sys\nsys.modules['heatsim.studies.points.cluster_worker'] = None\n", "has no heatsim"),
        ("import os\nos.environ['NGSPICE_LIBRARY_PATH'] = '/nowhere/libngspice.so'\n", "has no simulator"),
    ],
)
def test_a_worker_that_is_not_fit_is_named(bare: Loopback, preload: str, message: str) -> None:
    worker = bare.worker(preload)
    try:
        with pytest.raises(InputError, match=message) as caught:
            ClusterExecutor(bare.address)
        assert "worker tcp://127.0.0.1:" in str(caught.value) and "libngspice" in str(caught.value)
    finally:
        worker.kill()
        worker.wait()


def test_simulators_of_different_versions_are_told(bare: Loopback) -> None:
    other = "import heatsim.studies.points.cluster_worker as w\nw.probe = lambda: (w.heatsim.__version__, 'ngspice-99', '')\n"
    worker = bare.worker(other)
    try:
        with pytest.warns(UserWarning, match="has ngspice-99, others ngspice-"), ClusterExecutor(bare.address) as found:
            assert list(found.workers.values()) == ["ngspice-99"]
    finally:
        worker.kill()
        worker.wait()


def test_a_scheduler_without_workers_is_told(bare: Loopback) -> None:
    with pytest.raises(SetupError, match=f"no workers; start one: dask worker {bare.address}"):
        ClusterExecutor(bare.address, patience=0.2)


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense", "moon://127.0.0.1:8786", ""])
def test_an_address_where_no_scheduler_answers_is_bad_input(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_link, "CONNECT", 0.3)
    with pytest.raises(InputError, match="no Dask scheduler answers there") as caught:
        ClusterExecutor(address)
    assert caught.value.problems[0].given == address


def test_the_address_of_a_worker_is_not_that_of_a_scheduler(scripted: Loopback) -> None:
    address = scripted.told(scripted.processes[1], "Start worker at:")
    with pytest.raises(InputError, match="but a Dask worker"):
        ClusterExecutor(address)


def test_the_extra_is_named_where_it_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(SetupError, match=r"heatsim\[cluster\]"):
        ClusterExecutor("tcp://127.0.0.1:9")


def test_a_crew_and_a_cluster_are_used_alike(heater: Scenario, scripted: Loopback, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("heatsim.studies.points.crew.MODULE", "tests.support.crew_worker")
    strips = [strip("ok", "die", "ok"), strip("last", "ok"), strip("skip")]
    with Crew(2) as crew, ClusterExecutor(scripted.address) as executor:
        assert outcomes(list(crew.evaluate(heater, strips))) == outcomes(list(executor.evaluate(heater, strips)))
