# SPDX-License-Identifier: GPL-3.0-or-later
"""Spoiled model files, .model and .subckt: words, lines and bytes put in, taken out and exchanged."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from heatsim.errors import InputError
from heatsim.scenario.models import read_user_model
from tests.support.robustness.captures import mutated as mutated_bytes
from tests.support.robustness.mutations import assert_readable
from tests.support.robustness.scenarios import COMMAND
from tests.support.robustness.sound import GOOD, REFUSED

COUNT = 2500
WORDS = (
    *"shell touch x|.include /etc/passwd|r1 a b 1|x1 a b whole|.subckt a b c d|.model mypart d(is=1)|.param x".split("|"),
    *("\n", " " * 500, "\x1b[2J", "9" * 600, *"{ } ' ( ) = + .ends é * ; // .end".split()),
)
PIECES = (*WORDS, *(text for text, _ in REFUSED))


def prepare(folder: Path) -> Path:
    """Where the file stands."""
    return folder


def spoiled(number: int, seed: int) -> bytes:
    """One to three pieces put in or text taken out; one in four has bytes changed as well."""
    generator, text = np.random.default_rng([seed, number]), GOOD
    for _ in range(int(generator.integers(1, 4))):
        at, piece = int(generator.integers(len(text) + 1)), PIECES[int(generator.integers(len(PIECES)))]
        end = at + int(generator.integers(0, 30)) * int(generator.integers(0, 2))
        text = text[:at] + piece * int(generator.integers(0, 2)) + text[end:]
    data = text.encode()
    return mutated_bytes(data, generator) if number % 4 == 0 else data


def attempt(number: int, seed: int, folder: Path) -> str:
    """A model without commands, or an InputError."""
    path = folder / "maker.lib"
    path.write_bytes(spoiled(number, seed))
    try:
        found = read_user_model(path, "whole" if number % 2 else "mypart")
    except InputError as error:
        assert_readable(error)
        return "refused"
    assert not COMMAND.search(found.text), "a model with a command"
    return "accepted"
