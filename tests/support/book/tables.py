# SPDX-License-Identifier: GPL-3.0-or-later
"""All lists of the references, and every value in them that is to be checked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from tests.support.book.columns import Column, rows_of
from tests.support.book.tables_circuit import CIRCUIT
from tests.support.book.tables_heating import HEATING
from tests.support.book.tables_magnetics import MAGNETICS

TABLES = MAGNETICS | CIRCUIT | HEATING


def identities() -> Iterator[tuple[str, Column, tuple[Any, ...]]]:
    """All values of the references that are to be checked: identity, column and row."""
    for name, table in TABLES.items():
        for place, row in enumerate(rows_of(name)):
            for title, column in table.columns.items():
                if column.value(row) is not None and f"{title}[{place}]" not in table.unchecked:
                    yield f"{name}[{place}].{title}", column, row


def unchecked() -> Iterator[tuple[str, str]]:
    """Columns that heatsim is not compared with, and why."""
    for name, table in TABLES.items():
        for title, why in table.unchecked.items():
            yield f"{name}.{title}", why
