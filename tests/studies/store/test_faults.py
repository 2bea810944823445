# SPDX-License-Identifier: GPL-3.0-or-later
"""The store under what happens to long runs: kill -9, several at once, a full disk, a folder that may not be written.

What is asked of it is what SQLite promises of a commit with `synchronous=FULL` and a rollback journal ("Atomic commit in
SQLite", sections 3 and 4): all of it or nothing, and for good once it has returned.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from heatsim.errors import InputError
from heatsim.studies.store import Store
from heatsim.studies.store import database as store_file
from tests.support.stores import PLAN, key, keyed, result, same_waves, without_waves

SCRIPT = Path(__file__).parents[2] / "support" / "store_filler.py"
STEPS = Path(__file__).parents[2] / "support" / "store_steps.py"
KILLS = 200

needs_processes = pytest.mark.skipif(os.name != "posix", reason="forks, kills and limits of POSIX")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "bench.sweeps"


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that everybody may enter; pytest's own are for its user only."""
    with tempfile.TemporaryDirectory() as name:
        os.chmod(name, 0o755)
        yield Path(name)


def started(*words: object, before: tuple[str, ...] = ()) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [*before, sys.executable, str(SCRIPT), *map(str, words)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )


def told(*words: object, before: tuple[str, ...] = ()) -> list[list[str]]:
    """What a process says, word by word; it must end well."""
    with started(*words, before=before) as process:
        output, _ = process.communicate(timeout=60)
    assert process.returncode == 0
    return [line.split(" ", 1) for line in output.splitlines()]


def unshared(mode: str, *words: object) -> list[list[str]]:
    """The same with mounts of its own; skips where that is not allowed."""
    if os.geteuid() or not shutil.which("unshare") or subprocess.run(["unshare", "-m", "true"]).returncode:
        pytest.skip("only root, and not everywhere, may mount a file system for a test")
    said = told(mode, *words, before=("unshare", "-m"))
    if said[0][0] == "impossible":
        pytest.skip(said[0][1])
    return said


def assert_holds(path: Path, acknowledged: list[str]) -> int:
    """Everything acknowledged is there as it was made, nothing twice, the file sound; returns how many results there are."""
    with Store.open(path, create=False) as store:
        assert store.check() == []
        there = {name: (found, kept) for name, _, found, kept in store.results()}
        assert [name for name in acknowledged if name not in there] == []
        for name, (found, kept) in there.items():
            wanted = result(int(name, 16))
            assert found == without_waves(wanted)
            if kept:
                assert same_waves(store.waveforms(name), wanted.waveforms)
        assert sum(row[0] for row in store._base.rows("SELECT count(*) FROM results")) == len(there)
    return len(there)


class Nursery:
    """Starts processes that fill a store, and kills them."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.process = started("lives", path)
        self.acknowledged: list[str] = []

    def until(self, word: str) -> str:
        """Listen until somebody says this word; returns what follows it."""
        assert self.process.stdout is not None
        for line in self.process.stdout:
            said, rest = line.split()
            if said == "put":
                self.acknowledged.append(rest)
            elif said == word:
                return rest
        raise AssertionError(f"no {word}: the process that starts the others is gone")

    def kill_after(self, block: int, seconds: float) -> bool:
        """Start a process, end it after so long; returns whether it was in the middle of a transaction."""
        assert self.process.stdin is not None
        print(block, file=self.process.stdin, flush=True)
        child = int(self.until("born"))
        time.sleep(seconds)
        os.kill(child, signal.SIGKILL)
        assert int(self.until("gone")) == signal.SIGKILL  # by us, and not by a fault of its own
        journal = self.path.with_name(self.path.name + "-journal")
        return journal.exists() and journal.stat().st_size > 0


@pytest.mark.slow
@needs_processes
def test_killed_at_any_instant(path: Path) -> None:
    """Two hundred times: no acknowledged result lost or doubled, the file sound, waveforms readable, work goes on."""
    chance = random.Random(20)
    nursery = Nursery(path)
    amid = fruitless = 0
    with nursery.process:
        for turn in range(KILLS):
            before = len(nursery.acknowledged)
            amid += nursery.kill_after(before // 300, chance.uniform(0, chance.choice((0.02, 0.4))))
            fruitless += len(nursery.acknowledged) == before
            if turn % 10 == 9:
                with Store.open(path) as store:
                    assert store._base.rows("PRAGMA integrity_check") == [("ok",)]
        nursery.process.stdin.close()
    acknowledged = nursery.acknowledged
    assert max(Counter(acknowledged).values()) == 1
    assert amid >= 20, "hardly any was killed in the middle of a transaction: the instants are badly chosen"
    assert 20 <= fruitless <= 150, "killed too early or too late to tell anything"
    stored = assert_holds(path, acknowledged)
    assert len(acknowledged) <= stored <= len(acknowledged) + KILLS
    assert_goes_on(path)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="steps through system calls with ptrace")
@pytest.mark.parametrize("action", ["create", "put"])
def test_killed_at_every_system_call(tmp_path: Path, action: str) -> None:
    """Whichever it is, the change is there or not at all, waveforms with it, and doing it again completes it."""
    ran = subprocess.run([sys.executable, STEPS, action, tmp_path], capture_output=True, text=True)
    if "PermissionError" in ran.stderr:
        pytest.skip("tracing a process is not allowed here")
    assert ran.returncode == 0, ran.stderr
    stops, after = map(int, ran.stdout.split())
    assert stops > 100 and 3 < after < stops / 2


def assert_goes_on(path: Path) -> None:
    """What the killed ones left is completed and cleared."""
    folder = path.with_name(path.name + ".waves")
    with Store.open(path) as store:
        sweep = store.begin(PLAN | {"block": 0}, keyed(*range(300)))
        for name in store.claim(sweep, [name for _, name in store.pending(sweep)], "the last", 5):
            assert store.put(name, result(int(name, 16)))
        assert store.pending(sweep) == []
        wanted = {f"{name}.npz" for name, _, _, kept in store.results() if kept}
    assert {file.name for file in folder.iterdir()} == wanted


def test_a_commit_waits_until_all_of_it_is_on_the_disk(path: Path, python: Callable[..., subprocess.CompletedProcess[str]]) -> None:
    """In a process of its own: those of the tests do not wait (tests/conftest.py)."""
    code = "import pathlib, sys; from heatsim.studies.store import Store; store = Store.open(pathlib.Path(sys.argv[1]))\n"
    done = python(code + "print(store._base.rows('PRAGMA synchronous'), store._base.rows('PRAGMA journal_mode'))", str(path))
    assert done.stdout == "[(2,)] [('truncate',)]\n", "2 is FULL"


@needs_processes
def test_two_at_once_share_the_points(path: Path) -> None:
    """While leases last nothing is computed twice."""
    both = [started("share", path, 100, owner, 30, "-") for owner in ("one", "two")]
    said = listened(both)
    computed = [[rest[0] for word, *rest in lines if word == "computing"] for lines in said]
    assert sorted(computed[0] + computed[1]) == [key(number) for number in range(100)]
    assert min(map(len, computed)) >= 10
    assert not [line for lines in said for line in lines if line[0] == "late"]
    assert assert_holds(path, computed[0] + computed[1]) == 100


@pytest.mark.slow
@needs_processes
def test_points_of_one_who_was_killed_are_taken_over_when_the_lease_is_over(path: Path) -> None:
    one = started("share", path, 60, "one", 4.0, 20)
    assert one.stdin is not None and one.stdout is not None
    print("go", file=one.stdin, flush=True)
    lost = next(line.split() for line in one.stdout if line.startswith("lingering"))
    os.kill(one.pid, signal.SIGKILL)
    one.communicate()
    begun = time.monotonic()
    said = listened([started("share", path, 60, "two", 4.0, "-")])[0]
    computed = [rest[0] for word, *rest in said if word == "computing"]
    assert lost == ["lingering"]
    assert sorted(computed) == [key(number) for number in range(20, 60)]
    assert computed[-5:] == [key(number) for number in range(20, 25)]  # those the other had claimed come last
    assert time.monotonic() - begun > 0.3
    assert assert_holds(path, computed) == 60


def listened(processes: list[subprocess.Popen[str]]) -> list[list[list[str]]]:
    """What processes say that are all let go when all are ready."""
    for process in processes:
        assert process.stdout is not None and process.stdout.readline() == "ready\n"
    for process in processes:
        assert process.stdin is not None
        print("go", file=process.stdin, flush=True)
    outputs = [process.communicate(timeout=60)[0] for process in processes]
    assert [process.returncode for process in processes] == [0] * len(processes)
    return [[line.split() for line in output.splitlines()] for output in outputs]


@needs_processes
def test_files_that_may_not_grow(path: Path) -> None:
    """A limit on the size of files stands in for a full disk or a quota: told, and gone on from once it is lifted."""
    said = told("starve", path, 150, 14_000)
    refusals = [line[1] for line in said if line[0] == "refused"]
    assert len(refusals) == 2
    for words in refusals:
        assert "the disk is full" in words and "run the same command again: finished points are kept" in words
    puts = [at for at, line in enumerate(said) if line[0] == "put"]
    first, second = (at for at, line in enumerate(said) if line[0] == "refused")
    assert sum(at < first for at in puts) > 20 and sum(first < at < second for at in puts) > 20
    assert said[-1] == ["left", "0"]
    with Store.open(path) as store:
        assert store.frame()["key"].tolist() == [key(number) for number in range(150)]
    assert_holds(path, [line[1] for line in said if line[0] == "put"])


@needs_processes
def test_full_disk(tmp_path: Path) -> None:
    """A file system of one megabyte: the fault is told, nothing is lost, and with more room it goes on."""
    said = unshared("cramp", tmp_path / "bench.sweeps", 1500)
    spoken = {line[0]: line[1] for line in said}
    again = "run the same command again: finished points are kept"
    refusals = [line[1] for line in said if line[0] == "refused"]
    assert len(refusals) == 2
    assert all("(No space left on device)" in words or "the disk is full" in words for words in refusals)
    assert all(again in words for words in refusals)
    assert "table.csv: cannot be written (No space left on device)" in spoken["export"]
    assert "another.sweeps: cannot be written (No space left on device)" in spoken["another"]
    stop = next(at for at, line in enumerate(said) if line[0] == "another")
    before = [line[1] for line in said[:stop] if line[0] == "put"]
    assert 100 < len(before) < 1400
    assert sorted(spoken["kept"].split()) == sorted(before)
    assert "unfinished" not in spoken["free"].split(" ", 1)[1]
    assert said[-1] == ["left", "0"]


READ_ONLY = "cannot be written: the file or its folder is read-only"


def look(folder: Path, how: str) -> dict[str, str]:
    """What a process says that may not write to a folder with a store in it."""
    path = folder / "bench.sweeps"
    with Store.open(path) as store:
        store.begin(PLAN, keyed(*range(10)))
        for number in range(8):
            store.put(key(number), result(number), True)
    folder.chmod(0o555)
    try:
        said = unshared("look", path, how) if how == "mount" else told("look", path, how)
    finally:
        folder.chmod(0o755)
    assert_holds(path, [key(number) for number in range(8)])
    return {line[0]: line[1] for line in said}


def assert_refused(said: dict[str, str], folder: Path) -> None:
    assert f"{folder}/bench.sweeps: {READ_ONLY}" in said["fill"]
    assert f"{folder}/new.sweeps: {READ_ONLY}" in said["new"]
    assert f"{folder}/below: cannot be written" in said["below"]
    assert said["read"] == "8 8"  # eight done, eight rows, and nothing wrong with them
    for name in ("put", "begin", "claim", "release"):
        assert READ_ONLY in said[name]
    assert "table.csv: cannot be written" in said["export"]
    assert all("a folder that may be written" in said[name] for name in ("fill", "new", "begin"))
    assert sorted(file.name for file in folder.iterdir()) == ["bench.sweeps", "bench.sweeps-journal", "bench.sweeps.waves"]


@needs_processes
def test_folder_that_one_may_not_write_to(open_folder: Path) -> None:
    """Somebody without rights: under root a process that gives them up."""
    assert_refused(look(open_folder, "as it is" if os.geteuid() else "user"), open_folder)


@needs_processes
def test_file_system_that_is_read_only(tmp_path: Path) -> None:
    assert_refused(look(tmp_path, "mount"), tmp_path)


def test_interrupted_and_then_made_read_only(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A journal that still has to be played back needs writing once: said so, and done where writing is allowed."""
    with Store.open(path) as store:
        store.begin(PLAN, keyed(*range(500)))
        for number in range(5):
            store.put(key(number), result(number))
        copy = tmp_path / "copy"
        copy.mkdir()
        store._base.rows("PRAGMA cache_size=1")
        with pytest.raises(RuntimeError), store._base.writing():
            store._base.run("UPDATE points SET case_name = 'half of a transaction'")
            for name in (path.name, path.name + "-journal"):
                shutil.copy(path.with_name(name), copy)
            raise RuntimeError
    assert (copy / f"{path.name}-journal").stat().st_size > 512
    with monkeypatch.context() as patched:
        patched.setattr(store_file, "_writable", lambda *_: False)
        with pytest.raises(InputError, match="was interrupted and must be written once before it can be read"):
            Store.open(copy / path.name, create=False)
    with Store.open(copy / path.name, create=False) as store:
        assert {row[1].case for row in store.results()} == {"loaded"}
    assert_holds(copy / path.name, [key(number) for number in range(5)])


def test_locked_by_another_program_for_long(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store_file, "PATIENCE", 0.6)
    with Store.open(path) as store:
        store.begin(PLAN, keyed(0, 1))
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(InputError, match="another program has it locked"):
            store.put(key(0), result(0), keep_waveforms=True)
        assert store.result(key(0)) is None  # which may still be read
        other.execute("ROLLBACK")
        assert store.put(key(0), result(0), keep_waveforms=True)
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(InputError, match="end that program, then run the same command again"):
            store.sweeps()
        with pytest.raises(InputError, match="another program has it locked"):
            Store.open(path)
        other.close()
        assert store.check() == []
    assert len(list(path.with_name(path.name + ".waves").iterdir())) == 1


def test_an_interrupt_amid_a_transaction_takes_all_of_it_back(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Store.open(path) as store:
        sweep, real = store.begin(PLAN, keyed(0, 1)), store._shelf.write

        def interrupted(*what: object) -> None:
            real(*what)
            raise KeyboardInterrupt

        with monkeypatch.context() as patched:
            patched.setattr(store._shelf, "write", interrupted)
            with pytest.raises(KeyboardInterrupt):
                store.put(key(0), result(0), keep_waveforms=True)
        assert store.pending(sweep) == [(0, key(0)), (1, key(1))]
        assert list(path.with_name(path.name + ".waves").iterdir()) == []
        assert store.put(key(0), replace(result(0), waveforms=None), keep_waveforms=True)
    assert assert_holds(path, [key(0)]) == 1
