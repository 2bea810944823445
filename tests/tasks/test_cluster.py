# SPDX-License-Identifier: GPL-3.0-or-later
"""Tasks on a cluster: a real scheduler and real workers on loopback, some of them lost on the way."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from heatsim.errors import InputError, SetupError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import cluster_pool, evaluate, evaluate_paths
from heatsim.studies.store import Store
from heatsim.studies.sweep import SweepPlan, sweep
from heatsim.tasks import ClusterPool, Done, Event, Failed, Task, Told, cluster
from tests.studies.points.test_evaluate import outcomes, path
from tests.support.loopback import Loopback
from tests.support.processes import gone, wait_until

psutil = pytest.importorskip("psutil")
pytest.importorskip("distributed", reason="the extra `cluster` is not installed")

LOCAL = "tests.support.scripted:pool"
"""Pools whose processes have no simulator."""


def task(function: str, *arguments: object, **more: float) -> Task:
    return Task(f"tests.support.scripted:{function}", arguments, **more)  # type: ignore[arg-type]


def ends(pool: ClusterPool) -> dict[int, Event]:
    """How each task ended."""
    return {event.number: event for event in pool.as_completed() if not isinstance(event, Told)}


def processes_of(worker: int) -> set[int]:
    """Processes that a Dask worker has started."""
    return {child.pid for child in psutil.Process(worker).children(recursive=True)}


@pytest.fixture(scope="module")
def heater(checkout: Path) -> Scenario:
    quick = {"supply.rise_time": "100 us", "simulate.longest": "1 ms"}
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml").change(quick)


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Loopback]:
    """A scheduler with two workers."""
    with Loopback(tmp_path_factory.mktemp("pair")) as there:
        there.worker()
        there.worker()
        yield there


@pytest.fixture(scope="module")
def bare(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Loopback]:
    """A scheduler to which each test brings its workers."""
    with Loopback(tmp_path_factory.mktemp("bare")) as there:
        yield there


@pytest.fixture
def pool(pair: Loopback) -> Iterator[ClusterPool]:
    with ClusterPool(pair.address, LOCAL) as made:
        yield made


def test_a_tasks_crash_fault_or_hang_is_its_own_and_harms_no_worker(pair: Loopback, pool: ClusterPool) -> None:
    assert pool.size == 2 and set(pool.workers.values()) == {"scripted-1"}
    died, fault = pool.submit(task("act", "die")), pool.submit(task("act", "raise"))
    hung, fine = pool.submit(task("act", "hang", silence=0.5)), pool.submit(task("echo", 1, 2, "value"))
    events = list(pool.as_completed())
    assert [event.message for event in events if isinstance(event, Told) and event.number == fine] == [1, 2]
    found = {event.number: event for event in events if not isinstance(event, Told)}
    assert len(events) == 4 + 2 + 3, "the others told their process"
    assert {number: event.reason for number, event in found.items() if isinstance(event, Failed)} == {
        died: "died",
        fault: "fault",
        hung: "hung",
    }
    end = found[fine]
    assert isinstance(end, Done) and end.value[0] == "value"
    assert all(process.poll() is None for process in pair.processes)


def test_processes_are_kept_from_task_to_task(pool: ClusterPool) -> None:
    for _ in range(8):
        pool.submit(task("echo", "x"))
    assert len({event.value[1] for event in ends(pool).values() if isinstance(event, Done)}) <= 2


def test_paths_are_evaluated_as_on_a_local_pool(heater: Scenario, pool: ClusterPool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(evaluate, "FUNCTION", "tests.support.scripted_paths:evaluate")
    answers = list(evaluate_paths(pool, heater, [path("ok", "die", "last", "raise", "skip", "ok"), path(*["ok"] * 200)]))
    assert outcomes(answers) == {
        (0, 0): "settled",
        (0, 1): "stalled",
        (0, 2): "settled",
        (0, 3): "unsolved",
        (0, 4): "unsolved",
        (0, 5): "settled",
        **{(1, place): "settled" for place in range(200)},
    }


def test_cancelled_tasks_end_at_once_and_the_pool_goes_on(pair: Loopback, pool: ClusterPool) -> None:
    for _ in range(3):
        pool.submit(task("act", "hang"))
    assert wait_until(lambda: all(processes_of(process.pid) for process in pair.processes[1:]))
    busy = set.union(*(processes_of(process.pid) for process in pair.processes[1:]))
    time.sleep(1.0)
    pool.cancel()
    assert list(pool.as_completed()) == []
    assert len(busy) >= 2 and all(gone(pid) for pid in busy)
    assert isinstance(_one(pool), Done)


def _one(pool: ClusterPool) -> Event:
    number = pool.submit(task("echo", "on"))
    return ends(pool)[number]


@pytest.mark.slow
def test_a_sweep_outlives_a_worker(heater: Scenario, tmp_path: Path) -> None:
    """One of two workers is killed in the middle of its path; every point is there once, and no simulator is left."""
    plan = SweepPlan.read(heater, ["supply.voltage = 24 V to 46 V in 8"], [], ["loaded"])
    with Loopback(tmp_path) as there:
        victim, _ = there.worker(), there.worker()
        with cluster_pool(there.address) as pool:
            assert pool.size == 2 and all("ngspice" in version for version in pool.workers.values())
            simulators = processes_of(victim.pid)
            calls: list[int] = []
            send = pool._send

            def send_and_kill(number: int, pickled: bytes) -> None:
                send(number, pickled)
                calls.append(number)
                if len(calls) == 2:  # both workers have a path now
                    time.sleep(1.5)
                    os.kill(victim.pid, signal.SIGKILL)

            pool._send = send_and_kill  # type: ignore[method-assign]
            done = sweep(heater, plan, tmp_path / "far.db", pool)
    assert simulators and all(gone(pid) for pid in simulators), "they end with the worker"
    assert done.evaluated == len(plan), "no point is answered twice, none is missing"
    with Store.open(tmp_path / "far.db") as far:
        results = [far.result(key) for key, _ in plan.keyed(heater)]
    assert [result.outcome for result in results if result is not None] == ["settled"] * len(plan)
    peaks = [result.measures["tank.peak_voltage_v"] for result in results if result is not None]
    # An ideal current-fed push-pull stage has a peak of pi times the supply voltage (tests/physics/test_stage.py).
    assert peaks == pytest.approx([3.14 * (24 + 22 * k / (len(plan) - 1)) for k in range(len(plan))], rel=0.05)


@pytest.mark.slow
def test_a_task_that_fells_every_worker_is_given_up(bare: Loopback) -> None:
    """Dask gives a task to another worker four times; a task that kills each is an outcome, not an error of the pool."""
    workers = [bare.worker() for _ in range(5)]
    with ClusterPool(bare.address, LOCAL) as pool:
        number = pool.submit(task("fell"))
        end = ends(pool)[number]
        assert isinstance(end, Failed) and end.reason == "lost" and "KilledWorker" in end.cause
        assert isinstance(_one(pool), Done), "the fifth goes on"
    end_of(*workers)


def end_of(*processes: object) -> None:
    for process in processes:
        process.kill()  # type: ignore[attr-defined]
        process.wait()  # type: ignore[attr-defined]


@pytest.mark.slow
def test_a_task_whose_workers_are_all_gone_goes_to_one_that_comes_later(bare: Loopback) -> None:
    first = bare.worker()
    with ClusterPool(bare.address, LOCAL) as pool:
        number = pool.submit(task("act", "sleep:2"))
        time.sleep(0.5)
        end_of(first)
        second = bare.worker(threads=2)
        assert isinstance(ends(pool)[number], Done) and pool.size == 2
    end_of(second)


def test_no_worker_for_long_is_an_error_that_says_what_to_do(bare: Loopback, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "BEREFT", 0.5)
    only = bare.worker()
    with ClusterPool(bare.address, LOCAL) as pool:
        pool.submit(task("act", "hang"))
        end_of(only)
        with pytest.raises(SetupError, match=f"no workers left; start one: dask worker {bare.address}"):
            list(pool.as_completed())


def test_a_lost_scheduler_is_told(tmp_path: Path) -> None:
    with Loopback(tmp_path, patience="3s") as there:
        there.worker()
        with ClusterPool(there.address, LOCAL) as pool, pytest.raises(SetupError, match="does not answer any more.*kept"):
            pool.submit(task("act", "hang"))
            there.processes[0].kill()
            lost = time.monotonic()
            list(pool.as_completed())
        assert time.monotonic() - lost < 30  # it does not wait for ever, nor for a worker's two minutes of silence
        assert gone(there.processes[1].pid), "a worker without its scheduler ends"


@pytest.mark.parametrize(
    ("preload", "message"),
    [
        ("import heatsim\nheatsim.__version__ = '0.0.1'\n", r"has heatsim 0\.0\.1, not"),
        ("import sys\nsys.modules['heatsim.tasks.cluster_worker'] = None\n", "has no heatsim"),
        ("import os\nos.environ['NGSPICE_LIBRARY_PATH'] = '/nowhere/libngspice.so'\n", "cannot work: .*/nowhere/libngspice"),
    ],
)
def test_a_worker_that_is_not_fit_is_named(bare: Loopback, preload: str, message: str) -> None:
    worker = bare.worker(preload)
    try:
        with pytest.raises(InputError, match=message) as caught:
            cluster_pool(bare.address)
        assert "worker tcp://127.0.0.1:" in str(caught.value) and "libngspice" in str(caught.value)
    finally:
        end_of(worker)


@pytest.mark.slow
def test_a_later_worker_that_is_not_fit_is_not_used(bare: Loopback) -> None:
    good = bare.worker()
    with ClusterPool(bare.address, LOCAL) as pool:
        bad = bare.worker("import heatsim\nheatsim.__version__ = '0.0.1'\n")
        pool.submit(task("act", "sleep:1.5"))
        with pytest.warns(UserWarning, match=r"is not used: it has heatsim 0\.0\.1"):
            list(pool.as_completed())
        assert pool.size == 1
    end_of(good, bad)


def test_workers_that_tell_differently_of_themselves_are_warned_of(bare: Loopback) -> None:
    worker = bare.worker("import os\nos.environ['SCRIPTED_VERSION'] = 'scripted-2'\n")
    with pytest.warns(UserWarning, match="has scripted-2, others scripted-1"), ClusterPool(bare.address, LOCAL) as pool:
        assert list(pool.workers.values()) == ["scripted-2"]
    end_of(worker)


def test_a_scheduler_without_workers_is_told(bare: Loopback) -> None:
    with pytest.raises(SetupError, match=f"no workers; start one: dask worker {bare.address}"):
        ClusterPool(bare.address, LOCAL, patience=0.2)


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense", "moon://127.0.0.1:8786", ""])
def test_an_address_where_no_scheduler_answers_is_bad_input(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "CONNECT", 0.3)
    with pytest.raises(InputError, match="no Dask scheduler answers there") as caught:
        ClusterPool(address, LOCAL)
    assert caught.value.problems[0].given == address


def test_the_address_of_a_worker_is_not_that_of_a_scheduler(pair: Loopback, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "CONNECT", 2.0)
    address = pair.told(pair.processes[1], "Start worker at:")
    with pytest.raises(InputError, match="no Dask scheduler answers there"):
        ClusterPool(address, LOCAL)


def test_dask_on_a_busy_machine_is_started_again(monkeypatch: pytest.MonkeyPatch) -> None:
    import distributed

    starts = []

    def late(*arguments: object, **options: object) -> str:
        starts.append(arguments)
        assert len(starts) > 2
        return "client"

    monkeypatch.setattr(distributed, "Client", late)
    assert cluster._connect("tcp://127.0.0.1:9") == "client"
    starts[:] = []
    monkeypatch.setattr(cluster, "STARTS", 2)
    with pytest.raises(SetupError, match="did not start in 2 attempts"):
        cluster._connect("tcp://127.0.0.1:9")


def test_the_extra_is_named_where_it_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(SetupError, match=r"heatsim\[cluster\]"):
        ClusterPool("tcp://127.0.0.1:9", LOCAL)


def test_no_garbage_is_collected_while_dask_starts_its_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    """A client that is collected then waits for the lock that its collector holds."""
    import gc

    import distributed

    collected: list[str] = []
    monkeypatch.setattr(gc, "collect", lambda *_: collected.append("before"))

    class Client:
        def __init__(self, *_: object, **__: object) -> None:
            assert not gc.isenabled() and collected == ["before"]

    monkeypatch.setattr(distributed, "Client", Client)
    assert isinstance(cluster._connect("tcp://127.0.0.1:1"), Client) and gc.isenabled()
