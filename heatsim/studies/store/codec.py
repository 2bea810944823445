# SPDX-License-Identifier: GPL-3.0-or-later
"""Points and results as what a database holds: texts of JSON, and a compressed content beside the shape it has.

The shape is what nearly all results of a sweep have in common: the names of the measures, and part, limit, unit and
basis of every finding. It is stored once, and a result's content is `zlib.decompress` -> JSON of
[measures' values, [value, allowed, headroom, grade, cause, remedy] of each finding, notes].
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from heatsim.studies.points import Point, PointResult
from heatsim.verdict.finding import Finding


class Coded(NamedTuple):
    """A result without its waveforms, ready for the table `results`; shape is a text here and a number there."""

    outcome: str
    outcome_detail: str
    grade: str
    headroom: float | None
    ends: str
    method: str
    wall_s: float | None
    shape: str
    content: bytes


def coded(result: PointResult) -> Coded:
    """A result for the database."""
    findings = result.findings
    shape = [list(result.measures), [[one.part, one.limit, one.unit, one.basis] for one in findings]]
    told = [[one.value, one.allowed, one.headroom, one.grade, one.cause, one.remedy] for one in findings]
    content = plain([list(result.measures.values()), told, list(result.notes)])
    return Coded(
        _clean(result.outcome),
        _clean(result.outcome_detail),
        result.grade,
        None if result.headroom is None else float(result.headroom),
        _clean(result.ends),
        _clean(result.method),
        float(result.wall_s),
        plain(shape),
        zlib.compress(content.encode("ascii"), 6),
    )


def decoded(row: Coded) -> PointResult:
    """A result from the database. Raises ValueError when it is damaged."""
    names, limits = _shape(row.shape)
    try:
        values, told, notes = json.loads(zlib.decompress(row.content))
        findings = tuple(_finding(*limit, *rest) for limit, rest in zip(limits, told, strict=True))
        measures = dict(zip(names, values, strict=True))
    except (zlib.error, TypeError) as error:
        raise ValueError(str(error)) from None
    grade: Any = row.grade
    wall_s = float("nan") if row.wall_s is None else row.wall_s
    return PointResult(
        row.outcome, row.outcome_detail, grade, row.headroom, row.ends, measures, findings, row.method, wall_s, notes=tuple(notes)
    )


def _finding(
    part: str, limit: str, unit: str, basis: str, value: Any, allowed: Any, headroom: Any, grade: Any, cause: str, remedy: str
) -> Finding:
    return Finding(part, limit, value, allowed, unit, headroom, grade, basis, cause, remedy)


@lru_cache(maxsize=64)
def _shape(text: str) -> tuple[list[str], list[list[str]]]:
    names, limits = json.loads(text)
    return names, limits


def fields_text(point: Point) -> str:
    """A point's fields for the database."""
    return plain([list(pair) for pair in point.fields])


def point_of(case: str, fields: str) -> Point:
    """A point from the database."""
    return Point(tuple((name, value) for name, value in json.loads(fields)), case)


def plain(data: Any, sort_keys: bool = False) -> str:
    """Data as JSON text; arrays and numbers of numpy as what they hold."""
    return json.dumps(data, separators=(",", ":"), sort_keys=sort_keys, default=_native)


def _native(data: Any) -> Any:
    if isinstance(data, Mapping):
        return dict(data)
    if hasattr(data, "tolist"):
        return data.tolist()
    raise TypeError(f"{type(data).__name__} cannot be stored: {data!r}")


def _clean(text: str) -> str:
    """A text that a database takes: bytes that are no text, such as of odd file names, are written out."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


__all__ = ["Coded", "coded", "decoded", "fields_text", "plain", "point_of"]
