# SPDX-License-Identifier: GPL-3.0-or-later
"""Results of many points as one table, and tables as files."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import chain, cycle, islice
from pathlib import Path
from typing import Any

from heatsim.errors import InputError
from heatsim.files import replacing, shown_path
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
    "kg": "kg",
    "W/(m*K)": "w_per_m_k",
    "J/(kg*K)": "j_per_kg_k",
    "kg/m3": "kg_per_m3",
    "J": "j",
    "H/turn2": "h_per_turn2",
    "m3/s": "m3_per_s",
    "Pa": "pa",
    "K": "k",
    "A2s": "a2s",
}
"""How the unit of a quantity ends a column's name. Order: what a text is tried as when nobody says its unit."""

FORMATS = (".csv", ".parquet")
"""Suffixes of the files a table can be written to."""

CHUNK = 5000
"""Rows made into a part of a table at a time, because rows take far more memory than columns."""


def table(rows: Iterable[Row], units: Mapping[str, str]) -> Any:
    """A pandas DataFrame, one row a point, see `Store.frame`.

    units: SI unit of each varied field, as far as known
    """
    import pandas as pd

    names: tuple[dict[str, None], ...] = ({"case": None}, {}, dict.fromkeys(COMMON), {})
    parts = []
    source = iter(rows)
    while chunk := list(islice(source, CHUNK)):
        groups = [_cells(row, units) for row in chunk]
        for known, group in zip(cycle(names), chain.from_iterable(groups)):
            known.update(dict.fromkeys(group))
        part = pd.DataFrame([{**group[0], **group[1], **group[2], **group[3]} for group in groups])
        parts.append(part.dropna(axis="columns", how="all"))
    order = list(dict.fromkeys(chain.from_iterable(names)))
    whole = (pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()).reindex(columns=order)
    for name in [name for name in whole if pd.api.types.is_object_dtype(whole[name])]:
        whole[name] = whole[name].where(whole[name].notna(), None)
    renamed = dict(_in_numbers(whole, name, units.get(name)) for name in names[1])
    renamed |= {name: f"measured.{name}" for name in names[3] if name in set(renamed.values())}
    return whole.rename(columns=renamed)


COMMON = ("outcome", "outcome_detail", "grade", "headroom", "ends", "method", "wall_s", "waveforms", "key")
"""Columns every point has, besides its case."""


def _cells(row: Row, units: Mapping[str, str]) -> tuple[dict[str, Any], ...]:
    """Cells of a point in four groups: case, varied fields, those every point has, measures."""
    key, point, result, kept = row
    fields = {_field_name(name, point.case, units): value for name, value in point.fields}
    values = (result.outcome, result.outcome_detail, result.grade, result.headroom, result.ends, result.method, result.wall_s)
    common = dict(zip(COMMON, (*values, kept, key), strict=True))
    taken = {"case", *fields, *common}
    measures = {name: value for name, value in result.measures.items() if not isinstance(value, list)}
    named = {name if name not in taken else f"measured.{name}": value for name, value in measures.items()}
    return {"case": point.case}, fields, common, named


def _field_name(name: str, case: str, units: Mapping[str, str]) -> str:
    """`load` for the share of the point's own case when that is what was varied."""
    own = name == f"case.{case}.workpiece.share" and name not in units and LOAD in units
    return LOAD if own else name


def _in_numbers(whole: Any, name: str, unit: str | None) -> tuple[str, str]:
    """A field's column turned into SI when all of it are quantities of one unit; its name, and that with the unit."""
    values = whole[name].dropna()
    texts = set(values)
    if not texts or not all(isinstance(text, str) for text in texts):
        return name, name
    for tried in [unit] if unit else SUFFIXES:
        try:
            numbers = {text: parse_quantity(text, tried) for text in texts}
        except QuantityError:
            continue
        whole[name] = whole[name].map(numbers).astype(float)
        return name, f"{name}_{SUFFIXES.get(tried, tried)}"
    return name, name


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
        raise InputError.single(
            shown_path(path), "does not say which format", path.suffix, f"a file name in {' or '.join(FORMATS)}"
        )
    return path.suffix.lower()


def write_table(frame: Any, path: Path) -> None:
    """Write a table as CSV or Parquet, by the suffix, whole or not at all.

    Raises OutputError when it cannot be written, and InputError when pyarrow, which writes Parquet, is not installed.
    """
    suffix = checked_format(path)
    try:
        with replacing(path) as stream:
            if suffix == ".csv":
                frame.to_csv(stream, index=False, mode="wb", errors="backslashreplace")
            else:
                frame.to_parquet(stream, engine="pyarrow", index=False)
    except ImportError:
        raise InputError.single(
            shown_path(path),
            "needs pyarrow, which is not installed or too old",
            "",
            "pip install 'heatsim[parquet]', or a file name in .csv",
        ) from None
