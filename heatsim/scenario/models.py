# SPDX-License-Identifier: GPL-3.0-or-later
"""A user's own model file, read for .model and .subckt lines only.

The file is never handed to the simulator. Its text is parsed: `.model` of a device type, and `.subckt` blocks made of
passive parts, sources, diodes, transistors and calls of other subcircuits in the same file. Everything else is refused at
its line, directives above all, and so is what the simulator could not make sense of: a part with too few nodes, a model
that the file does not have or that is of another type than the part.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from heatsim.errors import InputError
from heatsim.files import shown_path
from heatsim.scenario.source import read_text

MODEL_TYPES = frozenset("vdmos nmos pmos d npn pnp r c l sw csw njf pjf".split())
SWITCH_TYPES = ("vdmos", "nmos")
"""Types the switch itself may have; a subcircuit stands for it as drain, gate, source."""

ELEMENTS = dict.fromkeys("rclkvibefgh", (4, 0)) | dict.fromkeys("mqjw", (5, 4)) | {"d": (4, 3), "s": (6, 5), "x": (3, 2)}
"""First letter of a part -> fewest words of its line, and the place from which on one is a model's name; 0 without one."""

CALLED = {"m": SWITCH_TYPES + ("pmos",), "q": ("npn", "pnp"), "j": ("njf", "pjf"), "d": ("d",), "s": ("sw",), "w": ("csw",)}
"""First letter of a part -> types of which its model may be; a subcircuit call's is a .subckt."""

_PARTS = "resistors, capacitors, coils, sources, diodes, transistors, switches and subcircuit calls"
_LINES = ".model, .subckt and .ends, and .param inside .subckt"
_SAFE = re.compile(r"^[A-Za-z0-9 \t.,_+\-*/()\[\]{}=<>!&|?:^~'%@#$]*$")
_WORD = re.compile(r"(?:\{[^{}]*\}|'[^']*'|[^\s{}'])+")


@dataclass(frozen=True)
class UserModel:
    """text: lines safe to put into a deck; name: of the device; subcircuit: called with X rather than M; parameters: the plain
    numbers [SI] of its .model, of a subcircuit those of the only transistor model in the file.
    """

    text: str = ""
    name: str = ""
    subcircuit: bool = False
    parameters: Mapping[str, float] = field(default_factory=dict)


@dataclass
class _Contents:
    """What a file defines (name -> its line's words), what it calls (place, line, names of which one must be defined), and
    the lines to keep."""

    defined: dict[str, list[str]] = field(default_factory=dict)
    called: list[tuple[str, str, list[str]]] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)


def read_user_model(path: Path, name: str, place: str = "") -> UserModel:
    """The model or subcircuit `name` of a file, with every other model and subcircuit of the same file.

    path: the user's file
    name: of the device, in any case
    place: file, line and field that name the file, for messages
    Raises InputError with file and line for anything outside what the module's head allows, or when `name` is not there.
    """
    label = shown_path(path)
    found = _contents(read_text(path, "a file of SPICE models", place), label)
    for where, line, names in found.called:
        types = {_type(found.defined[each]) for each in names if each in found.defined}
        if not types:
            raise InputError.single(where, "calls a model that the file does not have", repr(line[:60]), ", ".join(found.defined))
        allowed_types = CALLED.get(line[0], (".subckt",))
        if types.isdisjoint(allowed_types):
            raise InputError.single(where, "calls a model of another type", repr(line[:60]), " or ".join(allowed_types))
    wanted = found.defined.get(name.lower())
    if wanted is None:
        allowed = ", ".join(found.defined) or "a .model or .subckt"
        raise InputError.single(place or label, f"{label} has no such model", name, allowed)
    subcircuit = wanted[0] == ".subckt"
    nodes = _before_parameters(wanted[2:])
    if subcircuit and len(nodes) != 3:
        fault, allowed = f"subcircuit {name} cannot be a switch", "3 nodes: drain, gate, source"
        raise InputError.single(label, fault, f"{len(nodes)} nodes", allowed)
    if not subcircuit and wanted[2] not in SWITCH_TYPES:
        raise InputError.single(label, f"model {name} cannot be a switch", wanted[2], " or ".join(SWITCH_TYPES))
    return UserModel("\n".join(found.kept), name.lower(), subcircuit, _parameters(found.kept, None if subcircuit else name.lower()))


def _type(defined: list[str]) -> str:
    """Of what a line defines: a model's type, or .subckt."""
    return defined[2] if defined[0] == ".model" else defined[0]


_SUFFIXES = {"": 1.0, "t": 1e12, "g": 1e9, "meg": 1e6, "k": 1e3, "m": 1e-3, "u": 1e-6, "n": 1e-9, "p": 1e-12, "f": 1e-15}
_PLAIN = re.compile(r"([a-z]\w*) ?= ?([+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)(meg|[tgkmunpf])?[a-z]*(?=[\s,)]|$)")
"""Name, number and its suffix, letters after which mean nothing (ngspice manual, numbers)."""


def _parameters(lines: list[str], name: str | None) -> dict[str, float]:
    """Plain numbers of the .model of that name, or of the only one of a transistor's type; of several, none."""
    models = [line for line in lines if line.startswith(".model ") and line.split()[2].split("(")[0] in SWITCH_TYPES]
    wanted = [line for line in models if name is None or line.split()[1] == name]
    if len(wanted) != 1:
        return {}
    return {key: float(number) * _SUFFIXES[suffix] for key, number, suffix in _PLAIN.findall(wanted[0])}


def _contents(text: str, label: str) -> _Contents:
    """Everything a file holds, each line checked."""
    found, open_lines = _Contents(), list[int]()
    for number, line in _logical_lines(text):
        where, line = f"{label}:{number}", " ".join(line.lower().split())
        words = _WORD.findall(re.sub(" ?= ?", "=", line))
        word = words[0] if words else line
        if word == ".end":
            continue
        if not _SAFE.match(line) or any(line.count(a) != line.count(b) for a, b in ("()", "{}", "[]")) or line.count("'") % 2:
            allowed = "letters, digits, the signs of a formula, and as many brackets closed as opened"
            raise InputError.single(where, "has signs that do not belong in a model", repr(line[:60]), allowed)
        if word.startswith("."):
            _directive(word, line, words, len(open_lines), where, found)
            open_lines += [number] if word == ".subckt" else []
            del open_lines[len(open_lines) - (word == ".ends") :]
        else:
            _element(line, words, bool(open_lines), where, found)
        found.kept.append(line)
    if open_lines:
        raise InputError.single(f"{label}:{open_lines[-1]}", "has a .subckt that is not closed", allowed=".ends after its parts")
    return found


def _logical_lines(text: str) -> list[tuple[int, str]]:
    """Lines with continuations joined and comments dropped, with the line each began on."""
    found: list[tuple[int, list[str]]] = []
    for number, raw in enumerate(text.splitlines(), start=1):
        line = re.split(r";|\$\s|//", raw, maxsplit=1)[0].strip()
        if not line or line.startswith("*"):
            continue
        if line.startswith("+") and found:
            found[-1][1].append(line[1:].strip())
        else:
            found.append((number, [line]))
    return [(number, " ".join(parts)) for number, parts in found]


def _directive(word: str, line: str, words: list[str], depth: int, where: str, found: _Contents) -> None:
    """One line that begins with a point."""
    inside = word in (".ends", ".param")
    if word not in (".model", ".subckt", ".ends", ".param") or inside and not depth:
        raise InputError.single(where, "is a directive that is not taken from a model file", repr(line[:60]), _LINES)
    if word == ".param" and "=" not in line or not inside and len(words) < 3:
        allowed = {".param": ".param name=value", ".model": ".model name type(...)", ".subckt": ".subckt name drain gate source"}
        raise InputError.single(where, "is not complete", repr(line[:60]), allowed[word])
    if word == ".model":
        words = [*words[:2], words[2].split("(")[0]]
        if words[2] not in MODEL_TYPES:
            known = ", ".join(sorted(MODEL_TYPES))
            raise InputError.single(where, "is a model of a type that is not taken", repr(line[:60]), known)
    if not inside:
        found.defined[words[1]] = words


def _element(line: str, words: list[str], inside: bool, where: str, found: _Contents) -> None:
    """One line of a part."""
    fewest, model = ELEMENTS.get(line[0], (0, 0))
    if not inside or not fewest:
        what = "is a part that is not taken from a model file" if inside else "is neither a model nor part of a subcircuit"
        raise InputError.single(where, what, repr(line[:60]), f"{_PARTS}, inside .subckt" if inside else _LINES)
    if len(words) < fewest:
        raise InputError.single(
            where, "has too few words for a part", repr(line[:60]), f"at least {fewest}: name, nodes, value or model"
        )
    if model:
        names = _before_parameters(words)
        found.called.append((where, line, names[-1:] if line[0] == "x" else names[model:]))


def _before_parameters(words: list[str]) -> list[str]:
    """Words before the first parameter."""
    return words[: next((k for k, word in enumerate(words) if "=" in word or word == "params:"), len(words))]
