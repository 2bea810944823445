# SPDX-License-Identifier: GPL-3.0-or-later
"""Spoiled captures of every format that is read: text of nine dialects and three encodings, WAV, NPZ, NPY, Parquet."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from heatsim.errors import InputError
from heatsim.waves.capture import read_capture
from tests.support.mutations import assert_readable
from tests.waves.capture.test_fuzz import TEXTS, assert_sound, binaries, mutated

COUNT = 3000


def prepare(folder: Path) -> tuple[Path, list[bytes]]:
    """Where the file stands, and sound captures."""
    texts = [text.encode() for text in TEXTS.values()]
    wide = [TEXTS["plain"].encode("utf-16"), ("µ;" + TEXTS["comma"]).encode("latin-1")]
    return folder, [*texts, *wide, *binaries(folder).values()]


def attempt(number: int, seed: int, prepared: tuple[Path, list[bytes]]) -> str:
    """A capture that keeps its promises, or an InputError."""
    folder, sound = prepared
    path = folder / "record.dat"
    path.write_bytes(mutated(sound[number % len(sound)], np.random.default_rng([seed, number])))
    try:
        found = read_capture(path)
    except InputError as error:
        assert_readable(error)
        return "refused"
    assert_sound(found)
    return "accepted"
