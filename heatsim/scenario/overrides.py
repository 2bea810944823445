# SPDX-License-Identifier: GPL-3.0-or-later
"""Setting one field of a scenario, and the one rule on which of several settings of a field wins.

A file's own order is: the keys of [choke], then those of [choke.left], [choke.right] or [choke.centre], then `set` of the
case. What is set from outside, on the command line or by a study that varies it, wins over all of these: it takes what it
overlaps out of them. A field of [choke] without a side means all sides. What was taken out is reported.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Mapping, MutableMapping
from dataclasses import dataclass
from typing import Any

from heatsim.errors import InputError

SIDES = {"two-choke": ("left", "right"), "one-choke": ("centre",)}
"""Sides of each circuit."""

ALL_SIDES = ("left", "right", "centre")

DEEPEST = 10
"""Parts of a dotted field."""

Document = MutableMapping[str, Any]
Path = tuple[str, ...]


@dataclass(frozen=True)
class Replaced:
    """A setting that gave way to another one.

    field, value: dotted name and value of what was there; by, new: the same of what took its place, None for a field that a
    study varies; case: the case in whose `set` it stood, empty for a table of the file.
    """

    field: str
    value: Any
    by: str
    new: Any
    case: str = ""

    def __str__(self) -> str:
        place = f" in [case.{self.case}]" if self.case else ""
        by = f"{self.by}, which is varied," if self.new is None else f"{_words(self.by, self.new)} also"
        return f"{by} replaces {_words(self.field, self.value)}{place}"


def path_of(field: str) -> Path:
    """The keys a dotted field stands for; those of `case.NAME.set` are dotted fields themselves."""
    path = tuple(field.split("."))
    return (*path[:3], ".".join(path[3:])) if path[0] == "case" and path[2:3] == ("set",) and path[3:] else path


def by_reach(fields: Mapping[str, Any]) -> list[tuple[str, Any]]:
    """Settings made at once in the order to apply them: those of all sides before those of one, tables before their keys."""
    return sorted(fields.items(), key=lambda item: (bool(_side(path_of(item[0]))), len(path_of(item[0]))))


def put(document: Document, field: str, value: Any, label: str = "", new: Callable[[], Any] = dict) -> tuple[Replaced, ...]:
    """Set a dotted field in the tables of a scenario file, and take out what it overlaps.

    document: of plain dicts or of tomlkit; label: file name for messages; new: makes a table that is missing. Returns what was
    replaced by another value. Raises InputError when the field runs through one that is no table.
    """
    path = path_of(field)
    if len(path) > DEEPEST:
        raise InputError.single(
            label, "has a field of too many parts", field, f"up to {DEEPEST} parts, such as choke.core.material"
        )
    gone = [*_taken_from_sides(document, path), *_taken_from_source(document, path), *_taken_from_cases(document, path)]
    table = document
    for key in path[:-1]:
        if key not in table:
            table[key] = new()
        table = table[key]
        if not isinstance(table, MutableMapping):
            where = f"{label}: {field}" if label else field
            raise InputError.single(where, "runs through a field that is not a table", key, "a field of the scenario file")
    table[path[-1]] = copy.deepcopy(value)  # a later change of one of its fields must not reach the caller
    return tuple(Replaced(name, old, field, value, case) for name, old, case in gone if old != value)


def _taken_from_sides(document: Document, path: Path) -> Iterator[tuple[str, Any, str]]:
    """What single sides say on a field that is set for all of them."""
    chokes = document.get("choke")
    if path[0] != "choke" or len(path) < 2 or _side(path) or not isinstance(chokes, MutableMapping):
        return
    for side in ALL_SIDES:
        old = take(chokes.get(side), path[1:])
        if old is not None:
            yield ".".join(("choke", side, *path[1:])), old, ""


def _taken_from_source(document: Document, path: Path) -> Iterator[tuple[str, Any, str]]:
    """A rectifier's secondary voltage and the supply's own voltage, which follows from it, take one another's place."""
    pair = (("supply", "voltage"), ("supply", "source", "secondary_voltage"))
    if path in pair:
        other = pair[1 - pair.index(path)]
        old = take(document, other)
        if old is not None:
            yield ".".join(other), old, ""


def _taken_from_cases(document: Document, path: Path) -> Iterator[tuple[str, Any, str]]:
    """What `set` of the cases says on a field. What it says on both sides stays on the side that is not set."""
    cases = document.get("case")
    for name, case in cases.items() if isinstance(cases, Mapping) else ():
        settings: Any = case.get("set") if isinstance(case, Mapping) else None
        for field in list(settings) if isinstance(settings, MutableMapping) else ():
            other, side = path_of(field), _side(path)
            if _covers(path, other):
                yield field, settings.pop(field), name
            elif side and not _side(other) and _covers(("choke", *path[2:]), other):
                old = settings.pop(field)
                for left in sides_of(document):
                    if left != side:
                        settings.setdefault(".".join(("choke", left, *other[1:])), old)
                yield ".".join(("choke", side, *other[1:])), old, name


def _side(path: Path) -> str:
    """The side a field belongs to, empty for none."""
    return path[1] if path[0] == "choke" and len(path) > 1 and path[1] in ALL_SIDES else ""


def _covers(path: Path, other: Path) -> bool:
    """Whether setting `path` sets `other` as well."""
    if _side(other) and not _side(path) and len(path) > 1:
        other = (other[0], *other[2:])
    return other[: len(path)] == path


def sides_of(document: Mapping[str, Any]) -> tuple[str, ...]:
    """Sides of the circuit that a file names; of the usual one where it names none that is known."""
    heater = document.get("heater")
    topology = heater.get("topology") if isinstance(heater, Mapping) else None
    return SIDES.get(topology if isinstance(topology, str) else "", SIDES["two-choke"])


def take(table: Any, path: Path) -> Any:
    """Remove a field and return its value, None when it is not there."""
    for key in path[:-1]:
        table = table.get(key) if isinstance(table, Mapping) else None
    return table.pop(path[-1], None) if isinstance(table, MutableMapping) else None


def _words(field: str, value: Any) -> str:
    return f"the table {field}" if isinstance(value, Mapping) else f"{field} = {value}"
