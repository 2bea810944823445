# SPDX-License-Identifier: GPL-3.0-or-later
"""A pool of worker processes: every task has one end, whatever happens to the process it ran in."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from heatsim.errors import SetupError
from heatsim.tasks import Done, Event, Failed, LocalPool, Task, Told
from heatsim.tasks import process as processes
from tests.support.processes import alive, gone, wait_until

SCRIPTED = "tests.support.scripted:"


def task(function: str, *arguments: object, **more: float) -> Task:
    return Task(SCRIPTED + function, arguments, **more)  # type: ignore[arg-type]


def ends(pool: LocalPool) -> dict[int, Event]:
    """How each task ended; fails when one ends twice."""
    found: dict[int, Event] = {}
    for event in pool.as_completed():
        assert event.number not in found
        if not isinstance(event, Told):
            found[event.number] = event
    return found


@pytest.fixture
def pool() -> Iterator[LocalPool]:
    with LocalPool(2) as made:
        yield made


def test_values_and_messages_come_back(pool: LocalPool) -> None:
    numbers = [pool.submit(task("echo", "first", k, [k])) for k in range(5)]
    events = list(pool.as_completed())
    for k, number in enumerate(numbers):
        own = [event for event in events if event.number == number]
        assert [event.message for event in own if isinstance(event, Told)] == ["first", k]
        assert isinstance(own[-1], Done) and own[-1].value[0] == [k]
    assert list(pool.as_completed()) == [], "nothing left"


def test_tasks_may_be_submitted_while_others_run(pool: LocalPool) -> None:
    pool.submit(task("echo", 0))
    values = []
    for event in pool.as_completed():
        assert isinstance(event, Done)
        values.append(event.value[0])
        if event.value[0] < 4:
            pool.submit(task("echo", event.value[0] + 1))
    assert values == [0, 1, 2, 3, 4]


def test_a_crash_a_fault_or_a_hang_is_the_tasks_own_end(pool: LocalPool) -> None:
    died, fault = pool.submit(task("act", "die")), pool.submit(task("act", "raise"))
    hung = pool.submit(task("act", "hang", silence=0.5))
    fine = [pool.submit(task("echo", k)) for k in range(3)]
    found = ends(pool)
    reasons = {number: event.reason for number, event in found.items() if isinstance(event, Failed)}
    assert reasons == {died: "died", fault: "fault", hung: "hung"}
    causes = {number: event.cause for number, event in found.items() if isinstance(event, Failed)}
    assert "signal SIGKILL: as I was told" in causes[died]
    assert "ArithmeticError: no such number (scripted.py:" in causes[fault]
    assert "hung" in causes[hung]
    assert all(isinstance(found[number], Done) for number in fine)


def test_a_function_that_is_not_there_is_a_fault(pool: LocalPool) -> None:
    pool.submit(Task("tests.support.nothing:here"))
    pool.submit(task("nothing"))
    assert sorted(event.cause.split()[5] for event in ends(pool).values() if isinstance(event, Failed)) == [
        "AttributeError:",
        "ModuleNotFoundError:",
    ]


def test_arguments_that_cannot_be_sent_are_the_callers_fault(pool: LocalPool) -> None:
    with pytest.raises((TypeError, AttributeError)):
        pool.submit(task("echo", threading.Lock()))
    assert list(pool.as_completed()) == []


def test_the_time_limit_comes_before_the_silence(pool: LocalPool) -> None:
    slow = pool.submit(task("act", "sleep:1.5", time_limit=3.0, silence=0.2))
    assert isinstance(ends(pool)[slow], Done)


def test_a_worker_that_still_talks_is_not_killed(pool: LocalPool) -> None:
    """A long value takes longer than the allowed silence to come through; the clock counts silence."""

    class Slow:
        def __init__(self, stream: object) -> None:
            self.stream = stream

        def readinto(self, view: memoryview) -> int:
            time.sleep(0.02 if len(view) > 8 else 0)
            return self.stream.readinto(view[:4096])  # type: ignore[attr-defined, no-any-return]

        def close(self) -> None:
            self.stream.close()  # type: ignore[attr-defined]

    assert pool.about == ""
    for slot in pool._slots:
        assert wait_until(lambda slot=slot: slot.worker is not None and slot.worker._due > 1e9)  # type: ignore[misc]
        slot.worker.process.stdout = Slow(slot.worker.process.stdout)  # type: ignore[union-attr, assignment]
    begun = time.monotonic()
    number = pool.submit(task("echo", bytes(400_000), silence=1.0))
    assert isinstance(ends(pool)[number], Done)
    assert time.monotonic() - begun > 1.2


def test_processes_are_kept_and_replaced_when_worn() -> None:
    with LocalPool(1, life=4) as pool:
        for _ in range(4):
            pool.submit(task("echo", "", wear=2))
        used = [event.value[1] for event in ends(pool).values() if isinstance(event, Done)]
        assert used[0] == used[1] != used[2] == used[3]
        pool.submit(task("wear"))
        pool.submit(task("wear"))
        assert len({event.value for event in ends(pool).values() if isinstance(event, Done)}) == 2


def test_a_process_that_rested_for_long_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    """It ends by itself when it is idle, so it is not given a task shortly before."""
    with LocalPool(1) as pool:
        pool.submit(task("echo", ""))
        [first] = [event.value[1] for event in ends(pool).values() if isinstance(event, Done)]
        monkeypatch.setattr(processes, "IDLE", 0.1)
        time.sleep(0.1)
        pool.submit(task("echo", ""))
        [second] = [event.value[1] for event in ends(pool).values() if isinstance(event, Done)]
    assert first != second


def test_an_idle_process_ends_by_itself() -> None:
    code = "import heatsim.tasks.worker as w\nw.IDLE, w.LOOK = 0.2, 0.1\nw.main()"
    idle = subprocess.Popen([sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert idle.wait(20) == -signal.SIGKILL


def test_cancelled_tasks_end_at_once_and_the_pool_goes_on(pool: LocalPool) -> None:
    for _ in range(3):
        pool.submit(task("act", "hang"))
    events = pool.as_completed()
    busy = [event.message for event in (next(events), next(events)) if isinstance(event, Told)]
    begun = time.monotonic()
    pool.cancel()
    assert time.monotonic() - begun < 3 and not any(alive(pid) for pid in busy) and len(busy) == 2
    assert list(events) == []
    number = pool.submit(task("echo", "on"))
    assert list(ends(pool)) == [number]


def test_closing_ends_every_process(pool: LocalPool) -> None:
    pool.submit(task("act", "hang"))
    told = next(pool.as_completed())
    home = pool._stock._folder.path
    assert isinstance(told, Told) and home.exists()
    pool.close()
    assert not alive(told.message) and not home.exists()
    with pytest.raises(RuntimeError, match="closed"):
        pool.submit(task("echo", 1))


def test_what_a_start_function_wants_is_said_where_tasks_are_awaited() -> None:
    with LocalPool(2, SCRIPTED + "refuse") as pool:
        pool.submit(task("echo", 1))
        with pytest.raises(SetupError, match="install the thing"):
            list(pool.as_completed())
        with pytest.raises(SetupError, match="install the thing"):
            assert pool.about


def test_a_process_that_ends_while_it_starts_is_a_setup_error() -> None:
    with LocalPool(1, "tests.support.nothing:start") as pool, pytest.raises(SetupError, match="No module named"):
        assert pool.about


def test_a_process_that_never_starts_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(processes, "START_LIMIT", 0.5)
    with LocalPool(1, "signal:pause") as pool, pytest.raises(SetupError, match="SIGKILL"):
        assert pool.about


def test_a_process_works_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One thread, an empty home, and no module of the caller's folder; variables as the pool is told."""
    (tmp_path / "pickle.py").write_text("raise SystemExit('the wrong module')\n")
    monkeypatch.chdir(tmp_path)
    told = processes.environment(tmp_path, {"PYTHONPATH": "mine", "OTHER": "x"})
    assert (told["OMP_NUM_THREADS"], told["HOME"], told["OTHER"]) == ("1", str(tmp_path), "x")
    assert told["PYTHONPATH"].split(os.pathsep)[1] == str(tmp_path / "mine")
    with LocalPool(1, SCRIPTED + "start", variables={"SCRIPTED_VERSION": "scripted-2"}) as pool:
        assert pool.about == "scripted-2"
        pool.submit(task("act", "sleep:0"))
        told_pid = next(pool.as_completed())
        assert isinstance(told_pid, Told)
        home = Path(os.readlink(f"/proc/{told_pid.message}/cwd"))
        assert list(home.iterdir()) == [] and home.parent == pool._stock._folder.path


PARENT = """
import os, signal
from heatsim.tasks import LocalPool, Task, Told
pool = LocalPool(1)
pool.submit(Task("tests.support.scripted:act", ("hang",)))
try:
    for event in pool.as_completed():
        print(event.message, flush=True)
        os.kill(os.getpid(), signal.{signal})
except KeyboardInterrupt:
    pool.close()
    print("interrupted", flush=True)
"""


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_processes_do_not_outlive_their_parent(python: Callable[..., subprocess.CompletedProcess[str]], number) -> None:
    done = python(PARENT.format(signal=number.name))
    pid, *more = done.stdout.split()
    assert gone(int(pid))
    assert (more, done.returncode) == ((["interrupted"], 0) if number == signal.SIGINT else ([], -number)), done.stderr
