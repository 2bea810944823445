# SPDX-License-Identifier: GPL-3.0-or-later
"""Results of many points as one table, and tables as files."""

from __future__ import annotations

import contextlib
import os
from array import array
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from heatsim.errors import InputError
from heatsim.quantity import EXAMPLES, QuantityError, parse_quantity
from heatsim.studies.points import LOAD, Point, PointResult

Row = tuple[str, Point, PointResult, bool]
"""Key of a point, the point, what became of it, and whether its waveforms are kept."""

SUFFIXES = {
    "°C": "c",
    "H": "h",
    "F": "f",
    "V": "v",
    "A": "a",
    "ohm": "ohm",
    "m": "m",
    "s": "s",
    "Hz": "hz",
    "%": "ratio",
    "W": "w",
    "S": "siemens",
    "m/s": "m_per_s",
    "C": "coulomb",
    "T": "t",
    "A/m2": "a_per_m2",
    "m2": "m2",
    "m3": "m3",
    "A/m": "a_per_m",
    "ohm*m": "ohm_m",
    "K/W": "k_per_w",
    "H/turn2": "h_per_turn2",
}
"""How the unit of a quantity ends a column's name. Order: what a text is tried as when nobody says its unit."""

FORMATS = (".csv", ".parquet")
"""Suffixes of the files a table can be written to."""

NEXT_STEP = "a folder that may be written, with room for the table"


def table(rows: Iterable[Row], units: Mapping[str, str]) -> Any:
    """A pandas DataFrame, one row a point, see `Store.frame`. units: SI unit of each varied field, as far as known."""
    import pandas as pd

    fields, told, measures = _Columns(), _Columns(), _Columns()
    for number, (key, point, result, kept) in enumerate(rows):
        named = {_field_name(name, point.case, units): value for name, value in point.fields}
        fields.add(number, named)
        told.add(number, _told(key, point, result, kept))
        measures.add(number, {name: value for name, value in result.measures.items() if not isinstance(value, list)})
    count = told.count
    shown = dict(told.columns(count)) or {name: [] for name in ("case", *_TOLD)}
    found = {"case": shown.pop("case")}
    found |= dict(_in_numbers(name, values, units.get(name)) for name, values in fields.columns(count))
    found |= shown
    for name, values in measures.columns(count):
        found[name if name not in found else f"measured.{name}"] = values
    return pd.DataFrame(found)


_TOLD = ("outcome", "outcome_detail", "grade", "headroom", "ends", "method", "wall_s", "waveforms", "key")


def _told(key: str, point: Point, result: PointResult, kept: bool) -> dict[str, Any]:
    """The columns every point has."""
    headroom = float("nan") if result.headroom is None else result.headroom
    values = (result.outcome, result.outcome_detail, result.grade, headroom, result.ends, result.method, result.wall_s)
    return {"case": point.case, **dict(zip(_TOLD, (*values, kept, key), strict=True))}


class _Columns:
    """Columns that grow row by row; numbers take eight bytes each until a text comes along."""

    def __init__(self) -> None:
        self.count = 0
        self._found: dict[str, Any] = {}

    def add(self, number: int, values: Mapping[str, Any]) -> None:
        """One row; what it lacks stays empty."""
        self.count = number + 1
        for name, value in values.items():
            column = self._found.get(name)
            if column is None:
                column = self._found[name] = array("d") if _floating(value) else []
            if isinstance(column, array) and not _floating(value):
                column = self._found[name] = [None if x != x else x for x in column]
            _pad(column, number)
            column.append(float("nan") if value is None and isinstance(column, array) else value)

    def columns(self, count: int) -> Iterator[tuple[str, Any]]:
        """Names and values, each of `count` rows."""
        import numpy as np

        for name, column in self._found.items():
            _pad(column, count)
            yield name, np.frombuffer(column, dtype=float) if isinstance(column, array) else column


def _floating(value: Any) -> bool:
    return value is None or isinstance(value, float)


def _pad(column: Any, length: int) -> None:
    """Fill up with nothing."""
    missing = length - len(column)
    if missing:
        column.extend([float("nan") if isinstance(column, array) else None] * missing)


def _field_name(name: str, case: str, units: Mapping[str, str]) -> str:
    """`load` for the share of the point's own case when that is what was varied."""
    own = name == f"case.{case}.workpiece.share" and name not in units and LOAD in units
    return LOAD if own else name


def _in_numbers(name: str, values: Any, unit: str | None) -> tuple[str, Any]:
    """A field's column in SI, its unit in its name, when all of it are quantities of one unit."""
    texts = {value for value in values if isinstance(value, str)} if isinstance(values, list) else set()
    others = [value for value in values if not isinstance(value, str) and value is not None]
    if not texts or len(others):
        return name, values
    for tried in [unit] if unit else SUFFIXES:
        try:
            numbers = {text: parse_quantity(text, tried) for text in texts}
        except QuantityError:
            continue
        return f"{name}_{SUFFIXES.get(tried, tried)}", [numbers.get(value, float("nan")) for value in values]
    return name, values


def units_in(plan: Any) -> dict[str, str]:
    """SI units of fields, from every {"field": ..., "unit": ...} anywhere in the plain data of a plan."""
    found: dict[str, str] = {}
    if isinstance(plan, Mapping):
        field, unit = plan.get("field"), plan.get("unit")
        if isinstance(field, str) and isinstance(unit, str) and unit in EXAMPLES:
            found[field] = unit
    nested = plan.values() if isinstance(plan, Mapping) else plan if isinstance(plan, (list, tuple)) else ()
    for below in nested:
        if isinstance(below, (Mapping, list, tuple)):
            found |= units_in(below)
    return found


def checked_format(path: Path) -> str:
    """The suffix; InputError when no table can be written under it."""
    if path.suffix.lower() not in FORMATS:
        raise InputError.single(str(path), "does not say which format", path.suffix, f"a file name in {' or '.join(FORMATS)}")
    return path.suffix.lower()


def write_table(frame: Any, path: Path) -> None:
    """Write a table as CSV or Parquet, by the suffix; under another name first, so that a file is there whole or not.

    Raises InputError when it cannot be written or pyarrow, which writes Parquet, is not installed.
    """
    suffix = checked_format(path)
    unfinished = path.with_name(f".{path.name}.{os.getpid()}.unfinished")
    try:
        if suffix == ".csv":
            frame.to_csv(unfinished, index=False)
        else:
            frame.to_parquet(unfinished, engine="pyarrow", index=False)
        with unfinished.open("rb+") as handle:
            os.fsync(handle.fileno())
        os.replace(unfinished, path)
    except ImportError:
        raise InputError.single(
            str(path),
            "needs pyarrow, which is not installed or too old",
            "",
            "pip install 'heatsim[parquet]', or a file name in .csv",
        ) from None
    except OSError as error:
        raise InputError.single(str(path), f"cannot be written ({error.strerror or error})", "", NEXT_STEP) from None
    finally:
        with contextlib.suppress(OSError):
            unfinished.unlink()


__all__ = ["FORMATS", "SUFFIXES", "Row", "checked_format", "table", "units_in", "write_table"]
