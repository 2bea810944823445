# SPDX-License-Identifier: GPL-3.0-or-later
"""Temporary folders of pools: nothing is left behind for long, and nothing of anybody else's is touched."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from heatsim.tasks.folder import LOCK, PREFIX, Folder, clear_away

Python = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(autouse=True)
def temporary(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)
    return tmp_path


def ended() -> int:
    """Number of a process that is gone."""
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait()
    return process.pid


def planted(where: Path, process: int) -> Path:
    """A folder as a pool of that process would have left it."""
    folder = where / f"{PREFIX}{process}-abcd_123"
    folder.mkdir()
    (folder / LOCK).touch()
    (folder / "worker-1").mkdir()
    return folder


def test_a_folder_is_gone_when_it_is_closed(temporary: Path) -> None:
    folder = Folder()
    assert folder.path.parent == temporary and folder.path.stat().st_mode & 0o077 == 0
    folder.close()
    assert list(temporary.iterdir()) == []


def test_what_a_killed_run_left_is_removed_by_the_next(python: Python, temporary: Path) -> None:
    code = (
        "import os, signal\n"
        "from heatsim.tasks import LocalPool, Task\n"
        "pool = LocalPool(1)\n"
        "pool.submit(Task('tests.support.scripted:act', ('hang',)))\n"
        "next(pool.as_completed())\n"
        "os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    assert python(code).returncode == -signal.SIGKILL
    assert len(list(temporary.glob("heatsim-*"))) == 1
    Folder().close()
    assert list(temporary.glob("heatsim-*")) == []


def test_folders_in_use_stay(temporary: Path) -> None:
    mine = Folder()
    alive = planted(temporary, os.getppid())
    elsewhere = Folder()  # as of a process in another container, whose number means nothing here
    foreign = elsewhere.path.rename(temporary / f"{PREFIX}{ended()}-other")
    clear_away(temporary)
    assert mine.path.exists() and alive.exists() and foreign.exists()


def test_only_ones_own_folders_are_removed(temporary: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    precious = temporary / "precious"
    precious.mkdir()
    (precious / LOCK).touch()
    dead = ended()
    link = temporary / f"{PREFIX}{dead}-link"
    link.symlink_to(precious)
    file = temporary / f"{PREFIX}{dead}-file"
    file.touch()
    unlocked = temporary / f"{PREFIX}{dead}-unlocked"
    unlocked.mkdir()
    odd = temporary / f"{PREFIX}x-1"
    odd.mkdir()
    clear_away(temporary)
    assert link.is_symlink() and precious.exists() and file.exists() and unlocked.exists() and odd.exists()
    left = planted(temporary, dead)
    with monkeypatch.context() as patch:
        patch.setattr("os.getuid", lambda: os.geteuid() + 1)
        clear_away(temporary)
        assert left.exists(), "another user's"
    clear_away(temporary)
    assert not left.exists()
