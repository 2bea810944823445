# SPDX-License-Identifier: GPL-3.0-or-later
"""Damaged stores: what comes of one is what was stored, or an InputError that names it; waveforms that are gone are told.

Truncation, other bytes, stretches overwritten, values and rows changed within, files of waveforms gone, foreign files in its place.
"""

from __future__ import annotations

import random
import shutil
from pathlib import Path
from typing import Any

from heatsim.errors import InputError
from heatsim.studies.store import Store
from tests.studies.store.test_damage import cut, flip, flip_the_head, lose, overwrite, replace, told
from tests.support.stores import PLAN, filled, key, keyed, result, same_waves

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


def without_waves(path: Path, chance: random.Random) -> None:
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


WAYS = (flip, flip, flip_the_head, cut, overwrite, replace, replace, lose, foreign, without_waves)


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
