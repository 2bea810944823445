# SPDX-License-Identifier: GPL-3.0-or-later
"""A user's own model file, read for .model and .subckt lines only.

The file is never handed to the simulator. Its text is parsed, and only the lines that describe the wanted device are
kept: `.model` of a device type, and `.subckt` blocks made of passive parts, sources, diodes, transistors and calls of
other subcircuits in the same file. Everything else, directives above all, is refused or left behind.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from heatsim.errors import InputError
from heatsim.scenario.source import read_text

MODEL_TYPES = frozenset("vdmos nmos pmos d npn pnp r c l sw csw njf pjf".split())
ELEMENTS = frozenset("rclkdmqjbefghvisxw")
_SAFE = re.compile(r"^[A-Za-z0-9 \t.,_+\-*/()\[\]{}=<>!&|?:^~'%@#$]*$")
_PARAMETER = re.compile(r"^\.param(s)?\b", re.IGNORECASE)


@dataclass(frozen=True)
class UserModel:
    """text: lines safe to put into a deck; name: of the device; subcircuit: called with X rather than M."""

    text: str
    name: str
    subcircuit: bool


def _logical_lines(text: str) -> list[tuple[int, str]]:
    """Lines with continuations joined and comments dropped, with the line each began on."""
    found: list[tuple[int, str]] = []
    for number, raw in enumerate(text.splitlines(), start=1):
        line = re.split(r";|\$\s|//", raw, maxsplit=1)[0].strip()
        if not line or line.startswith("*"):
            continue
        if line.startswith("+") and found:
            found[-1] = (found[-1][0], found[-1][1] + " " + line[1:].strip())
        else:
            found.append((number, line))
    return found


def _check_line(where: str, line: str) -> None:
    if not _SAFE.match(line):
        raise InputError.single(where, "has signs that do not belong in a model", repr(line)[:60])
    if line.startswith("."):
        word = line.split()[0].lower()
        if word == ".model":
            kind = re.split(r"[\s(]+", line)[2:3]
            if not kind or kind[0].lower() not in MODEL_TYPES:
                raise InputError.single(where, "is a model of a type that is not taken", line[:60], " ".join(sorted(MODEL_TYPES)))
        elif word not in (".subckt", ".ends") and not _PARAMETER.match(line):
            raise InputError.single(
                where, "is a directive that is not taken from a model file", line[:60], ".model, and .param inside .subckt"
            )
    elif line[0].lower() not in ELEMENTS:
        raise InputError.single(
            where,
            "is a part that is not taken from a model file",
            line[:60],
            "resistors, capacitors, coils, sources, diodes, transistors, subcircuit calls",
        )


def read_user_model(path: Path, name: str) -> UserModel:
    """The model or subcircuit `name` of a file, with every other model and subcircuit of the same file.

    Raises InputError with file and line for anything outside what the module's head allows, or when `name` is not there.
    """
    kept, depth, found = [], 0, ""
    for number, line in _logical_lines(read_text(path)):
        where = f"{path}:{number}"
        word = line.split()[0].lower()
        if depth == 0 and word not in (".model", ".subckt"):
            if word.startswith(".") and word not in (".end",) and not _PARAMETER.match(line):
                raise InputError.single(
                    where, "is a directive that is not taken from a model file", line[:60], ".model and .subckt"
                )
            continue
        _check_line(where, line)
        depth += {".subckt": 1, ".ends": -1}.get(word, 0)
        if word in (".model", ".subckt") and len(line.split()) > 1 and line.split()[1].lower() == name.lower():
            found = word
        kept.append(line.lower())
    if depth:
        raise InputError.single(str(path), "has a .subckt that is not closed", allowed=".ends")
    if not found:
        raise InputError.single(str(path), "has no such model or subcircuit", name)
    return UserModel("\n".join(kept), name.lower(), found == ".subckt")
