# SPDX-License-Identifier: GPL-3.0-or-later
"""Points and results as what a database holds: texts of JSON, and a compressed content beside the shape it has.

The shape is what nearly all results of a sweep have in common: the names of the measures, and part, limit, unit and
basis of every finding. It is stored once, and a result's content is `zlib.decompress` -> JSON of
[measures' values, [value, allowed, headroom, grade, cause, remedy] of each finding, notes, checksum]. The checksum is over
everything else the database holds of the result and its point; results of version 1 have none.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from heatsim.studies.points import Point, PointResult
from heatsim.verdict.finding import SEVERITY, Finding

LARGEST = 100_000_000
"""Bytes of a content, at most."""


class Coded(NamedTuple):
    """A point and its result without waveforms, as the database holds them."""

    key: str
    case: str
    fields: str
    waveforms: int
    outcome: str
    outcome_detail: str
    grade: str
    headroom: float | None
    ends: str
    method: str
    wall_s: float | None
    shape: str
    content: bytes

    @property
    def checksum(self) -> int:
        """Over all but the content, which holds it."""
        return zlib.crc32(plain(self[:-1]).encode("ascii"))


def coded(key: str, point: Point, result: PointResult, waveforms: bool) -> Coded:
    """A result for the database. waveforms: whether they are kept."""
    findings = result.findings
    shape = [list(result.measures), [[one.part, one.limit, one.unit, one.basis] for one in findings]]
    row = Coded(
        key,
        point.case,
        fields_text(point),
        int(waveforms),
        _clean(result.outcome),
        _clean(result.outcome_detail),
        result.grade,
        None if result.headroom is None else float(result.headroom),
        _clean(result.ends),
        _clean(result.method),
        None if result.wall_s != result.wall_s else float(result.wall_s),
        plain(shape),
        b"",
    )
    judged = [[one.value, one.allowed, one.headroom, one.grade, one.cause, one.remedy] for one in findings]
    content = plain([list(result.measures.values()), judged, list(result.notes), row.checksum])
    return row._replace(content=zlib.compress(content.encode("ascii"), 6))


def decoded(row: Coded) -> tuple[Point, PointResult]:
    """A point and its result from the database. Raises ValueError when they are damaged."""
    try:
        names, limits = _shape(row.shape)
        values, judged, notes, *checksum = json.loads(_expanded(row.content))
        if checksum != [row.checksum] if checksum else not _plausible(row):
            raise ValueError("its parts do not belong together")
        findings = tuple(_finding(*limit, *rest) for limit, rest in zip(limits, judged, strict=True))
        measures = dict(zip(names, values, strict=True))
        point = Point(tuple((name, value) for name, value in json.loads(row.fields)), row.case)
    except (zlib.error, TypeError, RecursionError) as error:
        raise ValueError(str(error)) from None
    grade: Any = row.grade
    wall_s = float("nan") if row.wall_s is None else row.wall_s
    rest = (row.outcome, row.outcome_detail, grade, row.headroom, row.ends, measures, findings, row.method, wall_s)
    return point, PointResult(*rest, notes=tuple(notes))


def _expanded(content: bytes) -> bytes:
    """What was compressed, all of it."""
    reader = zlib.decompressobj()
    text = reader.decompress(content, LARGEST)
    if not reader.eof:
        raise ValueError("its content is cut short")
    return text


def _plausible(row: Coded) -> bool:
    """Whether a row without checksum holds what such rows hold."""
    texts = (row.key, row.case, row.fields, row.outcome, row.outcome_detail, row.ends, row.method)
    numbers = [number for number in (row.headroom, row.wall_s, row.waveforms) if number is not None]
    return (
        all(isinstance(text, str) for text in texts)
        and all(isinstance(one, (int, float)) for one in numbers)
        and row.grade in SEVERITY
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
