# SPDX-License-Identifier: GPL-3.0-or-later
"""Workers that outlast a pool: taken, handed on while they are fit, and gone at the end."""

from __future__ import annotations

import subprocess
import time

import pytest

from heatsim.errors import SetupError
from heatsim.tasks import Done, LocalPool, Task, Told, kept_workers
from heatsim.tasks.kept import stock_of
from tests.support.processes import alive

START = "tests.support.scripted:start"


def used(pool: LocalPool, function: str = "echo", count: int = 1) -> set[int]:
    """The processes that did so many tasks."""
    for _ in range(count):
        pool.submit(Task(f"tests.support.scripted:{function}", ("",) if function == "echo" else ()))
    values = [event.value for event in pool.as_completed() if isinstance(event, Done)]
    assert len(values) == count
    return {value[1] if isinstance(value, tuple) else value for value in values}


def test_pools_take_the_processes_and_hand_them_on() -> None:
    with kept_workers(1, START):
        with LocalPool(1, START) as pool:
            first = used(pool, count=3)
            assert pool.about == "scripted-1" and len(first) == 1
        with LocalPool(1, START) as pool:
            assert used(pool) == first and pool.about == "scripted-1"
        assert alive(*first)
    assert not alive(*first)


def test_more_processes_than_are_kept_are_started_and_kept_too() -> None:
    with kept_workers(1, START):
        with LocalPool(2, START) as pool:
            for _ in range(2):
                pool.submit(Task("tests.support.scripted:act", ("sleep:0.3",)))
            both = {event.value for event in pool.as_completed() if isinstance(event, Done)}
        assert len(both) == 2 and all(map(alive, both))
        with LocalPool(2, START) as pool:
            assert used(pool, count=4) <= both
    assert not any(map(alive, both))


def test_a_pool_of_another_making_takes_none() -> None:
    with kept_workers(1, START):
        with LocalPool(1, START) as pool:
            first = used(pool)
        with LocalPool(1, START, variables={"SCRIPTED_VERSION": "scripted-2"}) as pool:
            assert pool.about == "scripted-2" and used(pool) != first
        assert all(map(alive, first))
    assert stock_of((START, 400, {})) is None


def test_a_process_that_is_worn_or_dead_or_busy_is_not_handed_on() -> None:
    with kept_workers(1, START):
        with LocalPool(1, START) as pool:
            worn = used(pool, "wear")
        with LocalPool(1, START) as pool:
            fresh = used(pool)
            assert fresh != worn and not alive(*worn)
            pool.submit(Task("tests.support.scripted:act", ("hang",)))
            told = next(pool.as_completed())
            begun = time.monotonic()
        assert isinstance(told, Told) and {told.message} == fresh
        assert not alive(told.message) and time.monotonic() - begun < 3
        with LocalPool(1, START) as pool:
            assert used(pool).isdisjoint(fresh | worn)


def test_none_is_handed_on_once_they_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not even one that is still there."""
    with kept_workers(1, START) as stock:
        with LocalPool(1, START) as pool:
            first = used(pool)
        with monkeypatch.context() as slow:
            slow.setattr(subprocess.Popen, "kill", lambda _: None)
            stock.end()
        assert alive(*first)
        with LocalPool(1, START) as pool:
            second = used(pool)
        assert second != first and not alive(*second)
    assert not alive(*first)


def test_what_a_start_function_wants_is_said_each_time() -> None:
    refuse = "tests.support.scripted:refuse"
    with kept_workers(1, refuse):
        for _ in range(2):
            with LocalPool(1, refuse) as pool, pytest.raises(SetupError, match="install the thing"):
                assert pool.about
