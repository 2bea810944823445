# SPDX-License-Identifier: GPL-3.0-or-later
"""Jobs shared with processes split off: order, faults, and what is missing on other systems."""

from __future__ import annotations

import os
import signal
import time
from functools import partial

import pytest

from heatsim.report.base.split_off import side_by_side
from tests.support.processes import alive, wait_until


def numbered(number: int) -> tuple[int, int]:
    """A job's number, and who did it."""
    return number, os.getpid()


def test_every_job_is_done_once_and_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    made = side_by_side([partial(numbered, number) for number in range(300)])
    assert [number for number, _ in made] == list(range(300))
    assert len({process for _, process in made}) <= 2


@pytest.mark.parametrize("cores", [2, 3, 64])
def test_jobs_go_to_whoever_is_free(monkeypatch: pytest.MonkeyPatch, cores: int) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: cores)
    begun = time.monotonic()
    made = side_by_side([partial(slow, number) for number in range(8)])
    assert len({process for _, process in made}) == min(cores, 4) and time.monotonic() - begun < 0.8


def slow(number: int) -> tuple[int, int]:
    """The same in a tenth of a second, the first in three."""
    time.sleep(0.1 if number else 0.3)
    return numbered(number)


@pytest.mark.parametrize(("cores", "platform"), [(1, "linux"), (2, "darwin")])
def test_alone_where_nothing_can_be_split_off(monkeypatch: pytest.MonkeyPatch, cores: int, platform: str) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: cores)
    monkeypatch.setattr("sys.platform", platform)
    assert {process for _, process in side_by_side([partial(numbered, number) for number in range(3)])} == {os.getpid()}


def test_a_process_that_dies_costs_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    own = os.getpid()

    def deadly(number: int) -> int:
        if os.getpid() != own:
            os._exit(3)
        time.sleep(0.1)
        return number

    assert side_by_side([partial(deadly, number) for number in range(4)]) == [0, 1, 2, 3]


def test_a_process_that_waits_for_nobody_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    """With more to say than a pipe holds, to a process that was killed."""
    monkeypatch.setattr(os, "cpu_count", lambda: 3)
    reader, writer = os.pipe()

    def told(_: int) -> bytes:
        os.write(writer, f"{os.getpid()} ".encode())
        time.sleep(0.2)
        return bytes(1_000_000)

    between = os.fork()
    if not between:
        signal.setitimer(signal.ITIMER_REAL, 0.1)  # ends this process in its first job
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        side_by_side([partial(told, number) for number in range(9)])
    os.waitpid(between, 0)
    others = set(map(int, os.read(reader, 1000).split())) - {between}
    os.close(reader)
    os.close(writer)
    assert others and wait_until(lambda: not any(map(alive, others)))


def test_a_job_that_cannot_be_done_says_why() -> None:
    def faulty() -> int:
        raise ValueError("no room left")

    with pytest.raises(ValueError, match="no room left"):
        side_by_side([lambda: 1, faulty])
