# SPDX-License-Identifier: GPL-3.0-or-later
"""Kill a process at every one of its system calls while it changes a store: python store_steps.py ACTION FOLDER.

Random instants nearly always fall into the long waits for the disk; the instants at which a file is half written last
microseconds. So the process is stepped from call to call (ptrace(2), PTRACE_SYSCALL: it stops before and after each one)
and killed at the first stop, then at the second, and so on until it comes through. After each the store is looked at.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import signal
import sys
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from heatsim.studies.store import Store
from tests.support.stores import PLAN, key, keyed, result

TRACE_ME, STEP = 0, 24  # linux/ptrace.h: PTRACE_TRACEME, PTRACE_SYSCALL

UNTRACED = 77
"""Exit code of a process that cannot be traced."""

POINTS = 60
DONE = 6

_libc = ctypes.CDLL(None, use_errno=True)
_libc.ptrace.argtypes = [ctypes.c_long, ctypes.c_long, ctypes.c_void_p, ctypes.c_void_p]
_libc.ptrace.restype = ctypes.c_long


def killed_at(stop: int, work: Callable[[], None]) -> tuple[bool, bool]:
    """Do `work` in a process of its own and kill it at this stop; returns whether it had got through it, and had ended."""
    ear, mouth = os.pipe()
    child = os.fork()
    if not child:
        try:
            if _libc.ptrace(TRACE_ME, 0, None, None) == -1:
                os._exit(UNTRACED)
            os.kill(os.getpid(), signal.SIGSTOP)
            work()
            os.write(mouth, b"!")
        finally:
            os._exit(1)
    os.close(mouth)
    _, status = os.waitpid(child, 0)
    if os.WIFEXITED(status) and os.WEXITSTATUS(status) == UNTRACED:
        raise PermissionError("a process may not be traced here")
    for _ in range(stop):
        if not os.WIFSTOPPED(status):
            break
        _libc.ptrace(STEP, child, None, None)
        _, status = os.waitpid(child, 0)
    ended = not os.WIFSTOPPED(status)
    if not ended:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
    with os.fdopen(ear, "rb") as heard:
        return heard.read() == b"!", ended


def prepared(folder: Path) -> Path:
    """A store in which some points are done."""
    path = folder / "begun" / "bench.sweeps"
    with Store.open(path) as store:
        store.begin(PLAN, keyed(*range(POINTS)))
        for number in range(DONE):
            store.put(key(number), result(number), keep_waveforms=number % 2 == 0)
    return path


def create(path: Path) -> None:
    with Store.open(path) as store:
        store.begin(PLAN, keyed(*range(POINTS)))


def put(path: Path) -> None:
    with Store.open(path) as store:
        store.claim(1, [key(DONE)], "me", 0.0)
        store.put(key(DONE), result(DONE), keep_waveforms=True)


def look(path: Path, through: bool, action: Callable[[Path], None]) -> str:
    """Before or after, and nothing in between; then the action again, which must come to the same end as ever."""
    before, after = {create: (0, POINTS), put: (DONE, DONE + 1)}[action]
    with Store.open(path) as store:
        assert store.check() == []
        assert store._base.rows("SELECT count(*) FROM results") == store._base.rows("SELECT count(*) FROM contents")
        found = done(store) if action is not create else len(store.pending(1)) if store.sweeps() else 0
    assert found == after if through else found in (before, after), (found, through)
    action(path)
    with Store.open(path) as store:
        assert store.check() == []
        assert (len(store.pending(1)) if action is create else done(store)) == after
        assert all(path.with_name(path.name + ".waves").joinpath(f"{row[0]}.npz").exists() for row in store.results() if row[3])
    return "after" if found == after else "before"


def done(store: Store) -> int:
    return sum(told.done for told in store.sweeps())


def main(action: Callable[[Path], None], folder: Path) -> None:
    """Stop after stop; says how many there were, and after how many of them the change was there."""
    begun, path = prepared(folder), folder / "now" / "bench.sweeps"
    seen = []
    ended = False
    while not ended:
        shutil.rmtree(path.parent, ignore_errors=True)
        if action is not create:
            shutil.copytree(begun.parent, path.parent)
        through, ended = killed_at(len(seen), lambda: action(path))
        assert through or not ended
        seen.append(look(path, through, action))
    os.write(1, f"{len(seen)} {seen.count('after')}\n".encode())


if __name__ == "__main__":
    main({"create": create, "put": put}[sys.argv[1]], Path(sys.argv[2]))
