# SPDX-License-Identifier: GPL-3.0-or-later
"""Processes that fill a store, to be killed or starved: python store_filler.py MODE STORE ...; see each function."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from heatsim.errors import HeatsimError
from heatsim.studies.store import Store
from tests.support.stores import PLAN, key, keyed, result

BLOCK = 300
"""Points of one sweep of `lives`."""


def say(*words: object) -> None:
    """One line to whoever listens, at once and whole."""
    os.write(1, (" ".join(map(str, words)) + "\n").encode())


def lives(path: Path) -> None:
    """For every line read: start a process of its own that fills the store, say its number, and say when it has ended.

    The line says which block of points it begins with. Forked, because starting Python would take far longer than a life.
    """
    for line in sys.stdin:
        born = os.fork()
        if not born:
            live(path, int(line))
        say("born", born)
        _, status = os.waitpid(born, 0)
        say("gone", status)


def live(path: Path, block: int) -> None:
    """Fill the store without end, and acknowledge every result once it is put."""
    with Store.open(path) as store:
        while True:
            numbers = range(block * BLOCK, (block + 1) * BLOCK)
            sweep = store.begin(PLAN | {"block": block}, keyed(*numbers))
            while waiting := [wanted for _, wanted in store.pending(sweep)]:
                for wanted in store.claim(sweep, waiting[:20], str(os.getpid()), 0.01):
                    if store.put(wanted, result(int(wanted, 16)), int(wanted, 16) % 3 == 0):
                        say("put", wanted)
            block += 1


def share(path: Path, count: str, owner: str, seconds: str, linger: str) -> None:
    """Fill one sweep together with others, saying what is computed and what is put.

    seconds: of a lease; linger: the number of the point at which to stop and wait to be killed, or `-`.
    """
    with Store.open(path) as store:
        sweep = store.begin(PLAN, keyed(*range(int(count))))
        say("ready")
        sys.stdin.readline()
        while waiting := [wanted for _, wanted in store.pending(sweep)]:
            for at in range(0, len(waiting), 5):
                for wanted in store.claim(sweep, waiting[at : at + 5], owner, float(seconds)):
                    say("computing", wanted)
                    if linger != "-" and int(wanted, 16) >= int(linger):
                        say("lingering")
                        time.sleep(60)
                    time.sleep(0.002)
                    say("put" if store.put(wanted, result(int(wanted, 16))) else "late", wanted)
            time.sleep(0.01)
        store.release(owner)
        say("done")


def fill(store: Store, numbers: range) -> None:
    """Put results until the store complains; what it says is passed on."""
    for number in numbers:
        try:
            new = store.put(key(number), result(number), keep_waveforms=number % 5 == 0)
        except HeatsimError as error:
            say("refused", error)
            return
        if new:
            say("put", key(number))


def starve(path: Path, count: str, room: str) -> None:
    """Put results with room for so many more bytes, then with as much again, then without a limit."""
    numbers = range(int(count))
    with Store.open(path) as store:
        sweep = store.begin(PLAN, keyed(*numbers))
        size = path.stat().st_size
        for limit in (size + int(room), size + 2 * int(room), resource.RLIM_INFINITY):
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
            fill(store, numbers)
        say("left", len(store.pending(sweep)), *store.check())


def cramp(path: Path, count: str) -> None:
    """The same on a file system of one megabyte, which is made here and ends with this process; then with room made."""
    folder = path.parent
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "none", str(folder)], capture_output=True, text=True)
    if mounted.returncode:
        say("impossible", mounted.stderr.strip())
        return
    numbers = range(int(count))
    with Store.open(path) as store:
        store.begin(PLAN, keyed(*numbers))
        fill(store, numbers)
        export(store, folder / "table.csv")
        fill(store, numbers)
    try:
        Store.open(folder / "another.sweeps").close()
    except HeatsimError as error:
        say("another", error)
    say("free", os.statvfs(folder).f_bavail * os.statvfs(folder).f_bsize, sorted(os.listdir(folder)))
    subprocess.run(["mount", "-o", "remount,size=64m", str(folder)], check=True)
    Store.open(folder / "another.sweeps").close()
    with Store.open(path) as store:
        say("kept", *(row[0] for row in store.results()))
        sweep = store.begin(PLAN, keyed(*numbers))
        fill(store, numbers)
        say("left", len(store.pending(sweep)), *store.check())


def export(store: Store, path: Path) -> None:
    try:
        say("exported", store.export(path))
    except HeatsimError as error:
        say("export", error)


def look(path: Path, how: str) -> None:
    """Try everything on a store in a folder that may not be written. how: `user` for somebody without rights, `mount`
    for a read-only file system, `as it is`.
    """
    with Store.open(path) as store:  # somebody without rights may not be able to import what this takes any more
        store.check()
        store.frame()
    if how == "user":
        os.setgroups([])
        os.setgid(65534)
        os.setuid(65534)
    if how == "mount":
        folder = str(path.parent)
        bound = subprocess.run(["mount", "--bind", folder, folder], capture_output=True, text=True)
        again = ["mount", "-o", "remount,ro,bind", folder]
        bound = bound if bound.returncode else subprocess.run(again, capture_output=True, text=True)
        if bound.returncode:
            say("impossible", bound.stderr.strip())
            return
    for name, file, create in (
        ("fill", path, True),
        ("new", path.with_name("new.sweeps"), True),
        ("below", path.parent / "below" / "new.sweeps", True),
        ("read", path, False),
    ):
        try:
            with Store.open(file, create) as store:
                say(name, store.sweeps()[0].done, len(store.frame()), *store.check())
                attempts(store, path.parent)
        except HeatsimError as error:
            say(name, error)


def attempts(store: Store, folder: Path) -> None:
    """What must be refused on a store that is open for reading."""
    for name, attempt in (
        ("put", lambda: store.put(key(9), result(9), True)),
        ("begin", lambda: store.begin(PLAN, [])),
        ("claim", lambda: store.claim(1, [key(9)], "me", 1)),
        ("release", lambda: store.release("me")),
    ):
        try:
            say(name, attempt())
        except HeatsimError as error:
            say(name, error)
    export(store, folder / "table.csv")


if __name__ == "__main__":
    globals()[sys.argv[1]](Path(sys.argv[2]), *sys.argv[3:])
