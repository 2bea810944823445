# SPDX-License-Identifier: GPL-3.0-or-later
"""A process split off ahead of its work: answers, faults, and its end."""

from __future__ import annotations

import os
import signal
import sys
import time
from functools import partial
from pathlib import Path

import pytest

from heatsim.report.base.aside import Aside
from heatsim.report.base.split_off import side_by_side
from tests.support.processes import alive, wait_until

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="nothing is split off there")


@pytest.fixture(autouse=True)
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 2)


def process() -> int:
    return os.getpid()


def faulty() -> int:
    raise ValueError("no room left")


def deadly() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def made(file: Path) -> None:
    """A file named by who made it, in 0.3 s."""
    time.sleep(0.3)
    file.with_suffix(f".{os.getpid()}").touch()


def makers(folder: Path) -> set[int]:
    """The processes that have made files."""
    return {int(file.suffix[1:]) for file in folder.iterdir()}


def test_it_does_jobs_in_their_order_and_tells_what_the_last_returned() -> None:
    with Aside() as aside:
        aside.split_off()
        assert aside.here
        aside.begin(time.sleep, 0.1)
        aside.begin(pow, 2, 5)
        assert aside.answer() == 32
        aside.begin(process)
        other = aside.answer()
        assert other != os.getpid() and alive(other)
    assert not alive(other) and not aside.here


def test_large_things_go_through_while_it_still_works() -> None:
    with Aside() as aside:
        aside.split_off()
        aside.begin(time.sleep, 0.3)
        aside.begin(len, bytes(20_000_000))
        assert aside.answer() == 20_000_000


def test_a_job_that_fails_is_told_and_the_next_is_done() -> None:
    with Aside() as aside:
        aside.split_off()
        aside.begin(faulty)
        with pytest.raises(EOFError):
            aside.answer()
        aside.begin(pow, 2, 3)
        assert aside.answer() == 8


def test_a_process_that_died_is_told_whenever_it_is_asked() -> None:
    with Aside() as aside:
        aside.split_off()
        aside.begin(deadly)
        with pytest.raises(EOFError):
            aside.answer()
        aside.begin(len, bytes(20_000_000))
        with pytest.raises(EOFError):
            aside.answer()


def test_it_ends_with_the_process_that_it_was_split_off_from() -> None:
    reader, writer = os.pipe()
    between = os.fork()
    if not between:
        aside = Aside()
        aside.split_off()
        aside.begin(process)
        os.write(writer, str(aside.answer()).encode())
        os.kill(os.getpid(), signal.SIGKILL)
    os.close(writer)
    other = int(os.read(reader, 20))
    os.close(reader)
    os.waitpid(between, 0)
    assert wait_until(lambda: not alive(other))


def test_left_early_all_that_it_split_off_ends_with_it(tmp_path: Path) -> None:
    with Aside() as aside:
        aside.split_off()
        aside.begin(side_by_side, [partial(made, tmp_path / str(number)) for number in range(8)])
        assert wait_until(lambda: len(makers(tmp_path)) == 2)
    files = set(tmp_path.iterdir())
    time.sleep(0.7)
    assert set(tmp_path.iterdir()) == files and len(files) < 8


def test_what_it_split_off_ends_once_nobody_waits_for_it(tmp_path: Path) -> None:
    between = os.fork()
    if not between:
        aside = Aside()
        aside.split_off()
        aside.begin(side_by_side, [partial(made, tmp_path / str(number)) for number in range(4)])
        wait_until(lambda: len(makers(tmp_path)) == 2)
        os.kill(os.getpid(), signal.SIGKILL)
    os.waitpid(between, 0)
    others = makers(tmp_path)
    assert len(others) == 2 and wait_until(lambda: not any(map(alive, others)))


@pytest.mark.parametrize(("cores", "platform"), [(1, "linux"), (2, "darwin")])
def test_where_nothing_can_be_split_off_it_is_not_here(monkeypatch: pytest.MonkeyPatch, cores: int, platform: str) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: cores)
    monkeypatch.setattr("sys.platform", platform)
    with Aside() as aside:
        aside.split_off()
        assert not aside.here
