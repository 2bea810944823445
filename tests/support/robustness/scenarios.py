# SPDX-License-Identifier: GPL-3.0-or-later
"""Spoiled scenarios: read and all their netlists written, or refused in words that a person can act on."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck
from tests.support.deciding_code import ROOT
from tests.support.robustness.mutations import assert_readable, mutated
from tests.support.robustness.sound import BENCH, FEW, FEW_FIGURES, GEOMETRY, files

COUNT = 6000
COMMAND = re.compile(r"(?im)^\s*(?:\.control|\.include|\.inc\b|\.lib|\.csparam|shell\b|source\b|\.endc)")
"""What a netlist must not hold: it would read files or run commands."""

ODD = re.compile(r"(?<![a-z_])(?:nan|inf)(?![a-z_])")


def prepare(folder: Path) -> tuple[Path, list[dict[str, Any]]]:
    """The folder, and sound scenarios as tables."""
    files(folder)
    demos = [path.read_text("utf-8") for path in sorted((ROOT / "scenarios").glob("*.toml"))]
    return folder, [tomllib.loads(text) for text in (*demos, GEOMETRY, BENCH, FEW, FEW_FIGURES)]


def spoiled(number: int, seed: int, prepared: tuple[Path, list[dict[str, Any]]]) -> str:
    """The text of a trial."""
    sound = prepared[1]
    return mutated(sound[number % len(sound)], np.random.default_rng([seed, number]))


def attempt(number: int, seed: int, prepared: tuple[Path, list[dict[str, Any]]]) -> str:
    """Netlists without commands or numbers that are none, or an InputError."""
    try:
        scenario = Scenario.from_text(spoiled(number, seed, prepared), "heater.toml", prepared[0])
        texts = [case_deck(scenario, case).text for case in scenario.cases]
    except InputError as error:
        assert_readable(error)
        return "refused"
    for text in texts:
        assert not COMMAND.search(text), "a netlist with a command"
        assert not ODD.search(text), "a netlist with a number that is none"
    return "accepted"
