# SPDX-License-Identifier: GPL-3.0-or-later
"""What the columns of tests/support/references*.py are: quantity, unit, provenance and tolerance of every value in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tests.support import references, references_heating

PUBLISHED, COMMON, MEMORY = "published", "common practice", "memory"
CLOSED, INDEPENDENT = "closed form", "independent computation"
"""Where an expected value comes from. CLOSED: a published law evaluated apart from heatsim, to more digits."""


@dataclass(frozen=True)
class Column:
    """A column of values that are checked.

    place: of the value in a row, (place, key) in a list or dictionary there, or both ends of a band. quantity: formatted with
    the row's fields. rel, abs: the tolerance in the column's unit; without either the row's last field, relative. other: rows
    of another provenance.
    """

    place: int | tuple[int, str | int]
    quantity: str
    unit: str = "1"
    provenance: str = CLOSED
    rel: float | None = None
    abs: float | None = None
    other: tuple[tuple[int, str], ...] = ()

    def origin(self, place: int) -> str:
        """Provenance of the value in the row at a place of the list."""
        return dict(self.other).get(place, self.provenance)

    def value(self, row: tuple[Any, ...]) -> float | None:
        """The value of a row; None where the list has none."""
        if isinstance(self.place, int):
            return None if row[self.place] is None else float(row[self.place])
        first, second = self.place
        held = row[first]
        return (held + row[second]) / 2 if isinstance(held, int | float) else float(held[second])

    def tolerance(self, row: tuple[Any, ...]) -> tuple[float | None, float | None]:
        """Relative and absolute."""
        return (row[-1], None) if self.rel is None and self.abs is None else (self.rel, self.abs)


@dataclass(frozen=True)
class Table:
    """A list of the references: its source and the columns that are checked; unchecked: columns that are not, and why."""

    source: str
    columns: dict[str, Column]
    unchecked: dict[str, str]

    def find(self, name: str, column: str, key: tuple[Any, ...]) -> tuple[int, tuple[Any, ...], Column]:
        """The one row that begins with these fields, its place, and the column."""
        wanted = key[0] if len(key) == 1 and isinstance(key[0], tuple) and key[0] in rows_of(name) else key
        found = [(place, row) for place, row in enumerate(rows_of(name)) if row[: len(wanted)] == wanted]
        assert len(found) == 1, f"{name}: {len(found)} rows begin with {wanted}"
        return (*found[0], self.columns[column])


def rows_of(name: str) -> list[tuple[Any, ...]]:
    """The rows of a list."""
    return getattr(references, name, None) or getattr(references_heating, name)


def table(source: str, *, unchecked: dict[str, str] | None = None, **columns: Column) -> Table:
    """A list with its columns by name."""
    return Table(source, columns, unchecked or {})
