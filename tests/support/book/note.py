# SPDX-License-Identifier: GPL-3.0-or-later
"""A value that a test compares with, which notes the comparison when a folder for notes is named."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.support.book.columns import CLOSED, COMMON, INDEPENDENT, MEMORY, PUBLISHED
from tests.support.book.tables import TABLES

FOLDER = "HEATSIM_BOOK"
"""Environment variable that names the folder of the notes; each process writes its own file."""

PROVENANCES = (PUBLISHED, COMMON, MEMORY, CLOSED, INDEPENDENT)
DEFAULT_RTOL = 1e-6


class Known:
    """What is expected, with its tolerance; equal to what lies within it."""

    __array_ufunc__ = None
    __array_priority__ = 100

    def __init__(self, expected: Any, tolerance: tuple[float | None, float | None], said: dict[str, Any]) -> None:
        rel, absolute = tolerance
        self.expected = expected
        self.rel = DEFAULT_RTOL if rel is None and absolute is None else rel or 0.0
        self.abs = absolute or 0.0
        self.said = said
        self.near = pytest.approx(expected, rel=self.rel, abs=self.abs)

    def __eq__(self, found: object) -> bool:
        if folder := os.environ.get(FOLDER):
            self._note(Path(folder), np.atleast_1d(np.asarray(found)))
        return bool(self.near == found)

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return f"{self.near!r} ({self.said['quantity']}; {self.said['source']})"

    def _note(self, folder: Path, found: np.ndarray) -> None:
        """One line of JSON: of several values that which lies furthest from what is expected, by its tolerance."""
        expected = np.broadcast_to(np.atleast_1d(np.asarray(self.expected)), found.shape)
        allowed = np.maximum(self.rel * np.abs(expected), self.abs)
        off = np.abs(found - expected)
        with np.errstate(divide="ignore", invalid="ignore"):
            used = np.where(off == 0.0, 0.0, off / allowed)
        worst = int(np.argmax(used))
        line = self.said | {
            "test": os.environ.get("PYTEST_CURRENT_TEST", "").removesuffix(" (call)"),
            "values": int(found.size),
            "expected": _plain(expected.ravel()[worst]),
            "obtained": _plain(found.ravel()[worst]),
            "rel": self.rel,
            "abs": self.abs,
            "used": float(used.ravel()[worst]),
        }
        folder.mkdir(parents=True, exist_ok=True)
        with (folder / f"checks-{os.getpid()}.jsonl").open("a", encoding="utf-8") as file:
            file.write(json.dumps(line) + "\n")


def _plain(value: Any) -> float | list[float]:
    """A number as JSON holds it; a complex one as its two parts."""
    return [float(value.real), float(value.imag)] if np.iscomplexobj(value) else float(value)


def known(
    expected: Any,
    quantity: str,
    source: str,
    provenance: str,
    *,
    unit: str = "1",
    rel: float | None = None,
    abs: float | None = None,
) -> Known:
    """A value from outside heatsim, whose origin is said here: compares as pytest.approx(expected, rel, abs)."""
    assert provenance in PROVENANCES, provenance
    said = {"row": None, "quantity": quantity, "unit": unit, "source": source, "provenance": provenance}
    return Known(expected, (rel, abs), said)


def listed(table: str, column: str, *key: Any, rel: float | None = None, abs: float | None = None) -> Known:
    """A value of tests/support/references*.py in the unit of its column.

    key: the row itself or the first fields that tell it from the others of the list. rel, abs: another tolerance than the
    list's own, for a test that compares by a rougher way.
    """
    place, row, what = TABLES[table].find(table, column, key)
    given = (rel, abs) if rel is not None or abs is not None else what.tolerance(row)
    said = {
        "row": f"{table}[{place}].{column}",
        "quantity": what.quantity.format(*row),
        "unit": what.unit,
        "source": TABLES[table].source,
        "provenance": what.origin(place),
    }
    return Known(what.value(row), given, said)
