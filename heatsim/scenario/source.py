# SPDX-License-Identifier: GPL-3.0-or-later
"""The text of a TOML file named by the user: reading it, and finding the line a field stands on.

Everything is bounded before it is worked on: bytes of the file, parts of a dotted key, digits of a number, tables inside
tables, keys altogether. All of it takes a time in proportion to the length of the text.
"""

from __future__ import annotations

import pickle
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from heatsim.errors import InputError, printable
from heatsim.files import read_named, shown_path
from heatsim.quantity import shown

Where = Callable[..., str]
"""Turns the path of a field into the place that messages name, `file:line: field`."""

LARGEST = 1_000_000
"""Bytes; a scenario is a page of text, a catalogue a hundred: anything this long is another kind of file."""

DEEPEST, MOST_VALUES = 10, 20_000
"""Tables and lists inside one another, and keys and list entries altogether."""

_PART = re.compile(r"""\s*([A-Za-z0-9_-]+|"[^"]*"|'[^']*')\s*""")
_EXCESSES = (
    (
        re.compile(r"""(?<![A-Za-z0-9_"'-])(?:(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){12}"""),
        "has a key of too many parts",
        "up to 10 parts, such as choke.core.material",
    ),
    (re.compile(r"[0-9A-Fa-f_]{400}"), "has a number of too many digits", "numbers as one would write them"),
    (re.compile(r"(?:[\[{]\s*){12}"), "has too many brackets inside one another", f"up to {DEEPEST}"),
)
"""What a parser would take long over or break on: pattern, fault, allowed."""


def read_text(path: Path, kind: str = "a scenario file in TOML", place: str = "") -> str:
    """The file's text.

    path: file, named by the user
    kind: what it should be, for messages
    place: file, line and field that name it; empty when the user does so directly
    Raises InputError when it is missing, no file, too long or not UTF-8.
    """
    data = read_named(path, LARGEST, kind, place)
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        where = f"{shown_path(path)}:{_line(data, error.start)}"
        raise InputError.single(where, "is not UTF-8 text", hex(data[error.start]), f"{kind}, encoded as UTF-8") from None


def _line(text: str | bytes, at: int) -> int:
    return (text.count("\n", 0, at) if isinstance(text, str) else text.count(b"\n", 0, at)) + 1


def parse_toml(text: str, label: str) -> dict[str, Any]:
    """The tables of a text.

    label: file, for messages
    Raises InputError with the line when it is not TOML, nested too deep, or holds more than anybody would write.
    """
    return dict(pickle.loads(_parsed(text, label)))


@lru_cache(maxsize=16)
def _parsed(text: str, label: str) -> bytes:
    """The tables of a text, pickled by ourselves: every variant of a scenario gets its own copy of what was read once."""
    for pattern, what, allowed in _EXCESSES:
        if found := pattern.search(text):
            raise InputError.single(f"{label}:{_line(text, found.start())}", what, allowed=allowed)
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(error, text, label) from None
    except (ValueError, RecursionError):  # an impossible date; tables inside tables
        what = "has a value that cannot be read, or too many tables inside one another"
        raise InputError.single(label, what, allowed=f"values of TOML, up to {DEEPEST} tables inside one another") from None
    _check_size(tables, Places(label, text))
    return pickle.dumps(tables)


def _not_toml(error: tomllib.TOMLDecodeError, text: str, label: str) -> InputError:
    found = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
    lines = text.splitlines()
    number = int(found.group(1)) if found else len(lines)
    given = lines[number - 1].strip()[:60] if 0 < number <= len(lines) else ""
    fault = re.sub(r"\s*\(at .*\)$", "", str(error))
    allowed = 'lines like key = "value" under [table] headers'
    return InputError.single(f"{label}:{max(number, 1)}", f"is not TOML: {fault}", repr(given) if given else "", allowed)


def _check_size(tables: dict[str, Any], where: Places) -> None:
    """Depth and number of values, and that each number fits into 64 bits, as TOML asks."""
    for count, (path, value) in enumerate(_values(tables, ()), start=1):
        if count > MOST_VALUES:
            raise InputError.single(where(), "has too many keys and list entries", f"more than {count - 1}", f"up to {MOST_VALUES}")
        if len(path) > DEEPEST:
            fault = "has too many tables or lists inside one another"
            raise InputError.single(where(*path[:DEEPEST]), fault, allowed=f"up to {DEEPEST}")
        if isinstance(value, int) and value.bit_length() > 63:
            fault, allowed = "is a whole number beyond 64 bits", "numbers as one would write them"
            raise InputError.single(where(*path), fault, shown(value), allowed)


def _values(held: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every value in tables and lists with its path, down to one level below the deepest allowed."""
    for key, value in held.items() if isinstance(held, dict) else enumerate(held):
        yield (*path, str(key)), value
        if isinstance(value, dict | list) and len(path) < DEEPEST:
            yield from _values(value, (*path, str(key)))


@dataclass(frozen=True)
class Places:
    """`Where` of a file. label: the file; text: its content."""

    label: str
    text: str

    def __call__(self, *field: str) -> str:
        """The place of a field, or of the nearest table around it; of the whole file without one."""
        line = next((self.lines[field[:end]] for end in range(len(field), 0, -1) if field[:end] in self.lines), None)
        name = ".".join(printable(key if len(key) <= 60 else f"{key[:57]}...") for key in field)
        return ": ".join(part for part in (f"{self.label}:{line}" if line else self.label, name) if part)

    @property
    def lines(self) -> Mapping[tuple[str, ...], int]:
        """Line of every field and table that the text has; the first is 1."""
        return _lines(self.text)


@lru_cache(maxsize=16)
def _lines(text: str) -> Mapping[tuple[str, ...], int]:
    """See `Places.lines`."""
    found: dict[tuple[str, ...], int] = {}
    table: tuple[str, ...] = ()
    entries: dict[tuple[str, ...], int] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        line = line.strip()
        header = _split(line.lstrip("["), "]") if line.startswith("[") else ()
        if header:
            table = header
            if line.startswith("[["):
                entries[table] = entries.get(table, -1) + 1
                table = (*table, str(entries[table]))
        entry = () if header else _split(line, "=")
        for depth in range(len(table + entry), 0, -1) if header or entry else ():
            found.setdefault((table + entry)[:depth], number)
    return found


def _split(line: str, end: str) -> tuple[str, ...]:
    """Parts of the dotted key at the beginning of a line up to the sign `end`; none when there is no such key."""
    parts: list[str] = []
    at = 0
    while found := _PART.match(line, at):
        parts.append(found.group(1).strip("\"'"))
        at = found.end() + 1
        if line[found.end() : at] != ".":
            return tuple(parts) if line[found.end() : at] == end else ()
    return ()
