# SPDX-License-Identifier: GPL-3.0-or-later
"""A user's own catalogue file: its text -> materials and rings on top of the built-in ones."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from heatsim.parts.catalogue import Catalogue, builtin, read_catalogue
from heatsim.scenario.source import LineFinder, parse_toml, read_text


def catalogue_with(file: str | None, folder: Path) -> Catalogue:
    """The built-in catalogue with the entries of a file on top, its name relative to `folder`; none for None.

    Raises InputError with file, line and field of every fault.
    """
    if file is None:
        return builtin()
    path = Path(file) if Path(file).is_absolute() else folder / file
    return builtin().joined(_read(read_text(path), str(path)))


@lru_cache(maxsize=8)
def _read(text: str, label: str) -> Catalogue:
    lines = LineFinder(text)

    def where(*field: str) -> str:
        line = lines.line(field)
        return f"{label}:{line}: {'.'.join(field)}" if line else f"{label}: {'.'.join(field)}"

    return read_catalogue(parse_toml(text, label), where)
