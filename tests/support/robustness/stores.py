# SPDX-License-Identifier: GPL-3.0-or-later
"""Damaged stores: what comes of one is what was stored, or an InputError that names it; waveforms that are gone are told.

Truncation, other bytes, stretches overwritten, values and rows changed within, files of waveforms gone, foreign files in its place.
"""

from __future__ import annotations

import contextlib
import random
import shutil
import sqlite3
from pathlib import Path
from typing import Any

from heatsim.errors import InputError
from heatsim.studies.store import Store
from tests.support.stores import PLAN, filled, key, keyed, result, same_waves, without_waves

COUNT = 500
FOREIGN = (
    b"",
    b"SQLite format 3\0",
    b"PK\x03\x04 a zip",
    b"time,volts\n0,1\n",
    bytes(8192),
    b"\xff" * 5000,
    b"[supply]\nvoltage = 5\n",
)


VALUES = (None, b"\xff\xfe", "text", "", "[1]", "{}", '[["a"]]', "9" * 5000, -5, 10**15, 1e300, float("inf"), "1")
"""What columns are replaced by."""


def told(path: Path) -> tuple[Any, ...]:
    """Everything a store says: how its sweeps stand, all rows, the rows of each sweep, each result by its key."""
    with Store.open(path, create=False) as store:
        sweeps = [(info.number, info.plan, info.total, info.done) for info in store.sweeps()]
        rows = sorted(map(str, store.results()))
        each = [[str(row) for row in store.results(number)] for number, *_ in sweeps]
        looked_up = [str(without_waves(store.result(row[0]))) for row in store.results()]
        store.frame()
        return sweeps, rows, each, looked_up, [len(store.pending(number)) for number, *_ in sweeps]


def flip(path: Path, chance: random.Random) -> None:
    """Other bytes in a few places, near to one another or not."""
    content = bytearray(path.read_bytes())
    start, reach = chance.randrange(len(content)), chance.choice((1, 8, 4096, len(content)))
    for _ in range(chance.choice((1, 1, 2, 8))):
        place = min(start + chance.randrange(reach), len(content) - 1)
        content[place] ^= chance.choice((1, 2, 4, 128, chance.randrange(1, 256)))
    path.write_bytes(content)


def flip_the_head(path: Path, chance: random.Random) -> None:
    """Another byte in the head of the file or of a page, where the most is decided."""
    content = bytearray(path.read_bytes())
    page = chance.randrange(len(content) // 4096) * 4096
    content[page + chance.randrange(110)] ^= chance.randrange(1, 256)
    path.write_bytes(content)


def cut(path: Path, chance: random.Random) -> None:
    """The file ends too early, often at the end of a page."""
    size = path.stat().st_size
    length = chance.choice((chance.randrange(size), chance.randrange(size // 4096) * 4096, chance.randrange(600)))
    path.write_bytes(path.read_bytes()[:length])


def overwrite(path: Path, chance: random.Random) -> None:
    """A stretch of the file is zeros, noise, text, or another stretch of it."""
    content = bytearray(path.read_bytes())
    length = chance.choice((16, 512, 4096, 8192))
    start, other = (chance.randrange(max(len(content) - length, 1)) // 512 * 512 for _ in range(2))
    noise = chance.choice(
        (bytes(length), chance.randbytes(length), b"heater\n" * (length // 7), bytes(content[other : other + length]))
    )
    content[start : start + len(noise)] = noise
    path.write_bytes(content)


def replace(path: Path, chance: random.Random) -> None:
    """One value of one row is another; or text that is no Unicode."""
    link = sqlite3.connect(path, isolation_level=None)
    tables = [name for (name,) in link.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name != 'leases'")]
    for _ in range(100):
        table = chance.choice(tables)
        columns = [row[1] for row in link.execute(f"PRAGMA table_info({table})")]
        column = chance.choice(columns)
        row = chance.choice(link.execute(f"SELECT * FROM {table}").fetchall())
        where = " AND ".join(f"{name} IS ?" for name in columns)
        value = chance.choice(VALUES)
        with contextlib.suppress(sqlite3.IntegrityError):
            new = "CAST(x'ff41' AS TEXT)" if chance.random() < 0.15 else "?"
            if link.execute(f"UPDATE {table} SET {column} = {new} WHERE {where}", (*[value] * (new == "?"), *row)).rowcount:
                break
    link.close()


def lose(path: Path, chance: random.Random) -> None:
    """A table, a row of one table, or an index is gone."""
    link = sqlite3.connect(path, isolation_level=None)
    table = chance.choice(("points", "contents", "shapes"))
    chance.choice(
        (lambda: link.execute(f"DROP TABLE {table}"), lambda: link.execute(f"DELETE FROM {table} WHERE rowid = 3 OR rowid = 1"))
    )()
    link.close()


def prepare(folder: Path) -> tuple[Path, tuple[Any, ...]]:
    """A whole store with two sweeps and waveforms, and all it says."""
    path = folder / "whole" / "points.db"
    path.parent.mkdir()
    with Store.open(path) as store:
        filled(store, 60)
        store.begin(PLAN | {"more": 1}, keyed(3, 70, 71))
    return path, told(path)


def foreign(path: Path, chance: random.Random) -> None:
    """Another file in its place."""
    path.write_bytes(chance.choice(FOREIGN))


def lose_waves(path: Path, chance: random.Random) -> None:
    """One or all files of waveforms gone, cut or of another point."""
    found = sorted(path.with_name(path.name + ".waves").glob("*.npz"))
    one, other = chance.choice(found), chance.choice(found)
    way = chance.randrange(4)
    if way == 0:
        one.unlink()
    elif way == 1:
        shutil.rmtree(path.with_name(path.name + ".waves"))
    elif way == 2:
        cut_short(one, chance)
    else:
        shutil.copy(other, one)


def cut_short(path: Path, chance: random.Random) -> None:
    """The file ends too early."""
    data = path.read_bytes()
    path.write_bytes(data[: chance.randrange(len(data))])


WAYS = (flip, flip, flip_the_head, cut, overwrite, replace, replace, lose, foreign, lose_waves)


def attempt(number: int, seed: int, prepared: tuple[Path, tuple[Any, ...]]) -> str:
    """Everything that was stored, or a refusal; nothing else without a word."""
    whole, sound = prepared
    folder = whole.parent.parent / str(number)
    shutil.copytree(whole.parent, folder)
    path = folder / whole.name
    try:
        WAYS[number % len(WAYS)](path, random.Random(f"{seed} {number}"))
        return judged(path, sound)
    finally:
        shutil.rmtree(folder)


def judged(path: Path, sound: tuple[Any, ...]) -> str:
    """What a store says, held against what it should say."""
    try:
        assert told(path) == sound, "something else, without a word"
        with Store.open(path, create=False) as store:
            for number in range(0, 60, 4):
                waves = store.waveforms(key(number))
                assert waves is None or same_waves(waves, result(number).waveforms), "other waveforms, without a word"
    except InputError as error:
        assert path.name in str(error) and "allowed: " in str(error)
        return "refused"
    return "accepted"
