# SPDX-License-Identifier: GPL-3.0-or-later
"""Spoiled tables: one value, key or table of a file replaced, moved, doubled or taken out; and what every message must hold."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable
from typing import Any

import numpy as np
import tomlkit

from heatsim.errors import InputError

Document = dict[str, Any]

TEXTS = """
|x|0|42|5 V|-5 V|0 V|nan V|1e9999999 V|1e-9999999 V|inf V|5 v|1,5 mm|10 %|-3 uH|100000 A|1e30 m|٤٢ V|µ|../../../x|/dev/zero
|two-choke|AWG 99|AWG 4/0""".replace("\n", "").split("|")
VALUES: tuple[Any, ...] = (
    *TEXTS, *(" ", "a" * 5000, "a\0b", "x\n.control", "\x1b[31m"), *(0, -1, 1, 7, 10**15, -(2**62), True, False),
    *(0.0, -2.5, 1e300, float("inf"), float("-inf"), float("nan")), *([], [[]], [["0 A", "65 uH"]], [1, 2], ["x"]),
    *({}, {"x": 1}, {"inductance": "5 uH"}),
)  # fmt: skip
"""What may stand anywhere."""

_NUMBER = re.compile(r"^([0-9.]+)( .*)$")
_LEAKS = re.compile(
    r"pydantic|Input should|nstance of|validat|\bdict\b|\bNone\b|NoneType|\bstr\b|\bint\b|\bbool\b|\btuple\b|Error\b|<class"
    r"|[a-z]Table\b"
    r"|[A-Z][a-z]+[A-Z][a-z]+\w*\(|Traceback|\bfloat\b|\[type="
)
"""What belongs to a program and not to a message."""


def tables(held: Any) -> list[Any]:
    """All tables and lists of a document, itself first."""
    inner = held.values() if isinstance(held, dict) else held if isinstance(held, list) else ()
    return [held, *(found for value in inner if isinstance(value, dict | list) for found in tables(value))]


def _chosen(document: Document, generator: np.random.Generator) -> tuple[Any, Any]:
    """A table or list that is not empty, and a key of it."""
    filled = [held for held in tables(document) if held]
    held = filled[int(generator.integers(len(filled)))]
    keys = list(held) if isinstance(held, dict) else list(range(len(held)))
    return held, keys[int(generator.integers(len(keys)))]


def another_value(document: Document, generator: np.random.Generator) -> None:
    """Any value in place of another."""
    held, key = _chosen(document, generator)
    held[key] = copy.deepcopy(VALUES[int(generator.integers(len(VALUES)))])


def another_size(document: Document, generator: np.random.Generator) -> None:
    """A quantity or number some decades larger or smaller; up to five of them."""
    for _ in range(int(generator.integers(1, 6))):
        held, key = _chosen(document, generator)
        factor = 10.0 ** float(generator.uniform(-3, 3) * generator.choice([0.1, 1.0]))
        found = _NUMBER.match(held[key]) if isinstance(held[key], str) else None
        if found:
            held[key] = f"{float(found.group(1)) * factor:.4g}{found.group(2)}"
        elif isinstance(held[key], int | float):
            held[key] = type(held[key])(min(held[key] * factor, 1e15))


def another_key(document: Document, generator: np.random.Generator) -> None:
    """A key misspelt, unknown or of odd signs."""
    held, key = _chosen(document, generator)
    if isinstance(held, dict):
        names = (key[:-1], key + "s", key.upper(), "x" * 300, "a.b", "", "\x1b[2J", "ключ", "left", "measured", "set", "inductance")
        held[names[int(generator.integers(len(names)))]] = held.pop(key)


def taken_out(document: Document, generator: np.random.Generator) -> None:
    """A key or entry that is not there."""
    held, key = _chosen(document, generator)
    del held[key]


def moved(document: Document, generator: np.random.Generator) -> None:
    """A value or table copied to where another stands."""
    source, held = _chosen(document, generator), _chosen(document, generator)
    held[0][held[1]] = copy.deepcopy(source[0][source[1]])


MUTATIONS: tuple[Callable[[Document, np.random.Generator], None], ...] = (
    another_value, another_size, another_size, another_key, taken_out, moved)  # fmt: skip


def mutated(document: Document, generator: np.random.Generator) -> str:
    """A copy with one or two mutations, as text."""
    spoiled = copy.deepcopy(document)
    for _ in range(int(generator.integers(1, 3))):
        MUTATIONS[int(generator.integers(len(MUTATIONS)))](spoiled, generator)
    return tomlkit.dumps(spoiled)


def assert_readable(error: InputError) -> None:
    """Every problem has a place, a fault and what is allowed, in words that are no program's."""
    assert error.problems
    for problem in error.problems:
        assert problem.where and problem.what and problem.allowed, str(problem)
        words = str(problem).replace(problem.given, "") if problem.given else str(problem)
        assert not _LEAKS.search(words), words
        assert len(str(problem)) < 3000, "too long to be read"
