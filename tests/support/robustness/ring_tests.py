# SPDX-License-Identifier: GPL-3.0-or-later
"""Spoiled files of ring tests."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np

from heatsim.errors import InputError
from heatsim.scenario.ringtest import RingTest
from tests.support.robustness.mutations import assert_readable, mutated
from tests.support.robustness.sound import RING_TEST, files

COUNT = 1000


def prepare(folder: Path) -> tuple[Path, dict[str, Any]]:
    """Where the file stands with the capture that it names, and a sound one as tables."""
    files(folder)
    return folder, tomllib.loads(RING_TEST)


def attempt(number: int, seed: int, prepared: tuple[Path, dict[str, Any]]) -> str:
    """A test with its ring and winding, or an InputError."""
    folder, sound = prepared
    (folder / "test.toml").write_text(mutated(sound, np.random.default_rng([seed, number])), encoding="utf-8")
    try:
        test = RingTest.from_file(folder / "test.toml")
        assert test.ring() and test.winding
    except InputError as error:
        assert_readable(error)
        return "refused"
    return "accepted"
