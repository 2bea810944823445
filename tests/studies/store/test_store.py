# SPDX-License-Identifier: GPL-3.0-or-later
"""The store of sweeps: what goes in comes out, once, in order, and as tables that pandas reads back the same."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.studies.store import Store
from heatsim.studies.store import database as store_file
from tests.support.stores import PLAN, filled, key, keyed, point, result, same_waves, waves, without_waves


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "results" / "bench.sweeps"


def test_results_come_back_as_they_went_in(path: Path) -> None:
    with Store.open(path) as store:
        filled(store, 30)
    with Store.open(path, create=False) as store:
        for number in range(30):
            found, wanted = store.result(key(number)), result(number)
            assert found is not None
            assert without_waves(found) == without_waves(wanted)
            kept = number % 4 == 0 and wanted.waveforms is not None
            assert same_waves(found.waveforms, wanted.waveforms) if kept else found.waveforms is None
            assert (store.waveforms(key(number)) is not None) is kept
        assert store.result(key(99)) is store.waveforms(key(99)) is None
        assert [row[:2] for row in store.results()] == keyed(*range(30))
        assert store.check() == []
    assert sorted(item.name for item in path.parent.iterdir()) == ["bench.sweeps", "bench.sweeps-journal", "bench.sweeps.waves"]


def test_what_a_result_may_hold_besides(path: Path) -> None:
    """Numbers of numpy, texts that are no Unicode (odd file names), values that are not finite."""
    odd = replace(
        result(0),
        outcome_detail="file \udcff\0.lib",
        measures={"a": np.float64(1.5), "b": np.int64(3), "c": np.array([1.0, 2.0]), "d": float("inf")},
        headroom=np.float64(0.25),
        wall_s=float("nan"),
    )
    with Store.open(path) as store:
        store.begin({"axes": ({"field": "load"},)}, keyed(0))
        store.put(key(0), odd)
        found = store.result(key(0))
    assert found is not None
    assert found.measures == {"a": 1.5, "b": 3, "c": [1.0, 2.0], "d": float("inf")}
    assert found.outcome_detail == "file \\udcff\0.lib"
    assert found.headroom == 0.25
    assert np.isnan(found.wall_s)


def test_a_result_is_written_once(path: Path) -> None:
    with Store.open(path) as store:
        store.begin(PLAN, keyed(0, 1))
        assert store.put(key(0), result(0))
        assert not store.put(key(0), result(2), keep_waveforms=True)
        assert store.waveforms(key(0)) is None
        assert store.result(key(0)) == without_waves(result(0))
        with pytest.raises(KeyError, match=key(7)):
            store.put(key(7), result(7))


def test_a_late_loser_leaves_the_winner_s_waveforms_alone(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both found nothing there, then both wrote: the first to lock the file has it."""
    with Store.open(path) as store, Store.open(path) as other:
        store.begin(PLAN, keyed(0))
        monkeypatch.setattr(other, "_point", lambda wanted: (store.put(wanted, result(0), True), (1, point(0), False))[1])
        assert not other.put(key(0), result(1), keep_waveforms=True)
        assert same_waves(store.waveforms(key(0)), waves(0))
        assert store.result(key(0)).wall_s == result(0).wall_s
    assert [file.name for file in path.with_name(path.name + ".waves").iterdir()] == [f"{key(0)}.npz"]


def test_the_same_plan_is_the_same_sweep_and_shared_points_are_stored_once(path: Path) -> None:
    with Store.open(path) as store:
        first = store.begin(PLAN, keyed(0, 1, 2))
        second = store.begin(PLAN | {"more": 1}, keyed(2, 3))
        assert first != second
        assert store.begin(dict(reversed(PLAN.items())), keyed(0, 1, 2)) == first
        store.put(key(2), result(2))
        assert store.pending(first) == [(0, key(0)), (1, key(1))]
        assert store.pending(second) == [(1, key(3))]
        assert [(told.total, told.done) for told in store.sweeps()] == [(3, 1), (2, 1)]
        assert len(store.frame()) == len(store.frame(first)) == len(store.frame(second)) == 1


def test_a_plan_may_grow_and_places_stay(path: Path) -> None:
    with Store.open(path) as store:
        sweep = store.begin(PLAN, keyed(5, 3))
        assert store.begin(PLAN, keyed(9, 3, 1)) == sweep
        assert store.pending(sweep) == [(0, key(5)), (1, key(3)), (2, key(9)), (3, key(1))]
        repeated = store.begin({"twins": True}, keyed(5, 6, 5, 7))
        assert store.pending(repeated) == [(0, key(5)), (1, key(6)), (3, key(7))]


def test_an_unfinished_registration_is_completed(path: Path) -> None:
    def broken():
        yield from keyed(*range(2500))
        raise KeyboardInterrupt

    with Store.open(path) as store:
        with pytest.raises(KeyboardInterrupt):
            store.begin(PLAN, broken())
        sweep = store.begin(PLAN, keyed(*range(3000)))
        assert store.pending(sweep) == [(number, key(number)) for number in range(3000)]


def test_keys_that_cannot_be_file_names_are_refused(path: Path) -> None:
    with Store.open(path) as store:
        for wrong in ("../up", "", ".hidden", "a/b", "a" * 101):
            with pytest.raises(ValueError, match="not a key"):
                store.begin(PLAN, [(wrong, point(0))])
        assert store.pending(store.begin(PLAN, [])) == []


class Clock:
    """Stands in for the module `time`."""

    now = 1.7e9

    def time(self) -> float:
        return self.now


def test_leases(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = Clock()
    monkeypatch.setattr("heatsim.studies.store.store.time", clock)
    with Store.open(path) as one, Store.open(path) as two:
        sweep = one.begin(PLAN, keyed(*range(6)))
        other = one.begin({"other": 1}, keyed(0, 1))
        assert one.claim(sweep, [key(1), key(0), key(1)], "one", 30) == [key(1), key(0)]
        assert two.claim(sweep, [key(0), key(1), key(2)], "two", 30) == [key(2)]
        assert two.claim(other, [key(0), key(1)], "two", 30) == []  # a point has one lease, whatever the sweep
        clock.now += 20
        assert one.claim(sweep, [key(0)], "one", 30) == [key(0)]  # renewed
        clock.now += 20
        assert two.claim(sweep, [key(0), key(1)], "two", 30) == [key(1)]  # one's ran out
        assert one.claim(sweep, [key(1)], "one", 30) == []
        one.put(key(1), result(1))  # the result of one who was late counts
        assert two.claim(sweep, [key(1)], "two", 30) == []
        two.release("two")
        assert one.claim(sweep, [key(k) for k in range(6)], "one", 30) == [key(k) for k in (0, 2, 3, 4, 5)]
        assert one.claim(sweep, [], "one", 30) == []
        assert one.claim(sweep, [key(77)], "one", 30) == []  # no point of the sweep


def test_a_clock_set_back_does_not_hold_a_point_for_long(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = Clock()
    monkeypatch.setattr("heatsim.studies.store.store.time", clock)
    with Store.open(path) as store:
        sweep = store.begin(PLAN, keyed(0))
        store.claim(sweep, [key(0)], "gone", 30)
        clock.now -= 5  # adjusted: the lease holds
        assert store.claim(sweep, [key(0)], "me", 30) == []
        clock.now -= 86400
        assert store.claim(sweep, [key(0)], "me", 30) == [key(0)]


def test_sweeps_say_how_they_stand(path: Path) -> None:
    with Store.open(path) as store:
        before = datetime.now(UTC) - timedelta(seconds=1)
        empty = store.begin({"nothing": None}, keyed(100, 101))
        sweep = filled(store, 15)
        idle, full = store.sweeps()
    assert (idle.number, idle.plan, idle.total, idle.done, idle.failed) == (empty, {"nothing": None}, 2, 0, 0)
    assert idle.least_headroom is idle.last_put is None
    assert (full.number, full.plan, full.total, full.done, full.failed) == (sweep, PLAN, 15, 15, 3)
    assert full.outcomes == {"settled": 12, "stalled": 1, "unsolved": 2}
    assert full.grades == {"fails": 8, "holds": 4, "unknown": 3}
    assert full.least_headroom == -10 / 31
    assert before < full.started <= full.last_put <= datetime.now(UTC)


def test_what_an_interruption_left_is_swept_up(path: Path) -> None:
    with Store.open(path) as store:
        sweep = filled(store, 5)
    folder = path.with_name(path.name + ".waves")
    for name in (f"{key(1)}.aa.unfinished", f".{key(1)}.npz.a1b2c3d4.part", f"{key(3)}.npz", "mine.txt"):
        (folder / name).write_bytes(b"half")
    with Store.open(path) as store:
        assert store.check() == []
        assert store.waveforms(key(3)) is None
        store.begin(PLAN, [])
        assert store.pending(sweep) == []
    assert sorted(file.name for file in folder.iterdir()) == sorted([f"{key(0)}.npz", "mine.txt"])


def test_the_store_needs_neither_pandas_nor_pyarrow(path: Path) -> None:
    code = (
        "import sys; from heatsim.studies.store.store import Store; Store.open(sys.argv[1]).close()\n"
        "assert not {'pandas', 'pyarrow'} & sys.modules.keys()"
    )
    subprocess.run([sys.executable, "-c", code, str(path)], check=True)


def test_what_is_no_store_is_refused_and_left_as_it_was(tmp_path: Path) -> None:
    other = tmp_path / "other.db"
    link = sqlite3.connect(other)
    link.execute("CREATE TABLE theirs(x)")
    link.commit()
    link.close()
    (tmp_path / "note.txt").write_text("heater\n" * 100)
    (tmp_path / "short.txt").write_text("x")
    for name in ("other.db", "note.txt", "short.txt"):
        before = (tmp_path / name).read_bytes()
        for create in (True, False):
            with pytest.raises(InputError, match=f"{name}: is not a store of heatsim"):
                Store.open(tmp_path / name, create)
        assert (tmp_path / name).read_bytes() == before
    assert len(list(tmp_path.iterdir())) == 3
    (tmp_path / "empty").touch()
    for create in (True, False):
        with pytest.raises(InputError, match="is not a store of heatsim, or was cut short; given 0 bytes"):
            Store.open(tmp_path / "empty", create)
    with pytest.raises(InputError, match="there is no such store"):
        Store.open(tmp_path / "none.sweeps", create=False)
    with pytest.raises(InputError, match="is a folder"):
        Store.open(tmp_path)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(InputError, match="is not a file"):
        Store.open(tmp_path / "pipe")
    for odd in ("a\0b", "x" * 5000, tmp_path / "note.txt" / "a.sweeps"):
        with pytest.raises(InputError, match="cannot be reached"):
            Store.open(odd)


def test_whoever_is_first_makes_the_file(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = store_file.replacing

    def late(*arguments, **more):
        monkeypatch.setattr(store_file, "replacing", real)
        with Store.open(path) as other:
            filled(other, 3)
        return real(*arguments, **more)

    monkeypatch.setattr(store_file, "replacing", late)
    with Store.open(path) as store:
        assert [told.done for told in store.sweeps()] == [3]
    assert not list(path.parent.glob(".*"))


def test_a_later_version_is_refused(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store_file, "SCHEMA", store_file.SCHEMA + 1)
    Store.open(path).close()
    monkeypatch.undo()
    with pytest.raises(InputError, match="written by a later heatsim.*update heatsim"):
        Store.open(path)


def test_sweeps_there_are_not_are_told(path: Path) -> None:
    with Store.open(path) as store:
        filled(store, 1)
        for ask in (store.pending, store.frame, lambda sweep: store.claim(sweep, [key(0)], "me", 1)):
            with pytest.raises(InputError, match="has no such sweep; given 7; allowed: 1"):
                ask(7)


def test_damage_is_found(path: Path) -> None:
    with Store.open(path) as store:
        filled(store, 9)
    folder = path.with_name(path.name + ".waves")
    (folder / f"{key(0)}.npz").unlink()
    (folder / f"{key(8)}.npz").write_bytes(b"PK\3\4 and no more")
    link = sqlite3.connect(path)
    link.execute("UPDATE contents SET content = x'00' WHERE point = 2")
    link.execute("INSERT INTO members VALUES (1, 77, 77)")
    link.commit()
    link.close()
    with Store.open(path) as store:
        told = store.check()
        assert store.waveforms(key(0)) is None
        with pytest.raises(InputError, match=f"{key(8)}.npz: waveforms cannot be read"):
            store.waveforms(key(8))
        with pytest.raises(InputError, match="is damaged: table members.*put a copy of it back"):
            store.frame()
    assert len(told) == 4
    assert "table members" in told[0]
    assert [part in line for part, line in zip((key(0), key(1), key(8)), told[1:], strict=True)] == [True] * 3
