# SPDX-License-Identifier: GPL-3.0-or-later
"""Spoiled catalogues of a user's own."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np

from heatsim.errors import InputError
from heatsim.scenario.catalogue import catalogue_with
from tests.support.robustness.mutations import assert_readable, mutated
from tests.support.robustness.sound import OWN

COUNT = 2500


def prepare(folder: Path) -> tuple[Path, dict[str, Any]]:
    """Where the file stands, and a sound one as tables."""
    return folder, tomllib.loads(OWN)


def attempt(number: int, seed: int, prepared: tuple[Path, dict[str, Any]]) -> str:
    """A catalogue, or an InputError."""
    folder, sound = prepared
    (folder / "own.toml").write_text(mutated(sound, np.random.default_rng([seed, number])), encoding="utf-8")
    try:
        catalogue_with("own.toml", folder, "heater.toml:3: heater.catalogue")
    except InputError as error:
        assert_readable(error)
        return "refused"
    return "accepted"
