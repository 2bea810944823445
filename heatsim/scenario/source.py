# SPDX-License-Identifier: GPL-3.0-or-later
"""The text of a scenario file: reading it, and finding the line a field stands on."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from heatsim.errors import InputError

LARGEST = 1_000_000
"""Bytes; a scenario is a page of text, anything this long is another kind of file."""

_HEADER = re.compile(r"^\s*\[\[?\s*([^\[\]]+?)\s*\]\]?\s*(#.*)?$")
_ENTRY = re.compile(r"""^\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*)\s*=""")
_PART = re.compile(r"""[A-Za-z0-9_-]+|"[^"]*"|'[^']*'""")


def read_text(path: Path) -> str:
    """The file's text; InputError when it is missing, a folder, too long or not UTF-8."""
    if path.is_dir():
        raise InputError.single(str(path), "is a folder", allowed="a scenario file in TOML")
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError.single(str(path), f"cannot be read ({error.strerror})", allowed="a scenario file in TOML") from None
    if len(data) > LARGEST:
        raise InputError.single(str(path), "is too long for a scenario", f"{len(data)} bytes", f"{LARGEST} bytes")
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError.single(f"{path}:{line}", "is not UTF-8 text", hex(data[error.start]), "UTF-8") from None


def parse_toml(text: str, label: str) -> dict[str, Any]:
    """The tables of `text`; InputError with the line when it is not TOML."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        where = f"{label}:{found.group(1)}" if found else label
        lines = text.splitlines()
        given = lines[int(found.group(1)) - 1].strip()[:60] if found and int(found.group(1)) <= len(lines) else ""
        fault = re.sub(r"\s*\(at .*\)$", "", str(error))
        raise InputError.single(
            where, f"is not TOML: {fault}", repr(given) if given else "", 'lines like key = "value" under [table] headers'
        ) from None


class LineFinder:
    """Where in a TOML text each dotted field stands (first line is 1)."""

    def __init__(self, text: str) -> None:
        self._lines: dict[tuple[str, ...], int] = {}
        table: tuple[str, ...] = ()
        entries: dict[tuple[str, ...], int] = {}
        for number, line in enumerate(text.splitlines(), start=1):
            header, entry = _HEADER.match(line), _ENTRY.match(line)
            if header:
                table = _split(header.group(1))
                if line.lstrip().startswith("[["):
                    entries[table] = entries.get(table, -1) + 1
                    table = (*table, str(entries[table]))
                self._note(table, number)
            elif entry:
                self._note(table + _split(entry.group(1)), number)

    def _note(self, path: tuple[str, ...], number: int) -> None:
        for depth in range(len(path), 0, -1):
            self._lines.setdefault(path[:depth], number)

    def line(self, field: Sequence[str]) -> int | None:
        """Line of `field`, else of the nearest table around it, else None."""
        path = tuple(field)
        while path:
            if path in self._lines:
                return self._lines[path]
            path = path[:-1]
        return None

    def knows(self, field: Sequence[str]) -> bool:
        """Whether `field` itself stands in the text."""
        return tuple(field) in self._lines


def _split(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip("\"'") for part in _PART.findall(dotted))
