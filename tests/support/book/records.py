# SPDX-License-Identifier: GPL-3.0-or-later
"""The checks that were noted: gathered from the processes that made them, kept in a committed table, read from it."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

TABLE = Path(__file__).with_name("checks.csv")


@dataclass(frozen=True)
class Record:
    """One check. row: its identity in the references, or nothing; values: how many numbers were compared, of which the one that
    lies furthest from what is expected is told; used: share of the tolerance that it takes."""

    test: str
    quantity: str
    unit: str
    expected: str
    obtained: str
    rel: float
    abs: float
    used: float
    values: int
    source: str
    provenance: str
    row: str
    code: str
    made: str

    @property
    def key(self) -> tuple[str, str, str]:
        """What makes it the same check as another."""
        return self.test, self.quantity, self.row

    @property
    def room(self) -> str:
        """Folder of the test below tests/."""
        return self.test.split("/")[1]

    @property
    def function(self) -> str:
        """Name of the test without its parameters."""
        return self.test.split("::")[1].split("[")[0]

    @property
    def file(self) -> str:
        """The test's file."""
        return self.test.split("::")[0]


def gathered(folder: Path, code: str, made: str) -> list[Record]:
    """All that was noted in a folder; of a check that was made more than once the one furthest off."""
    worst: dict[tuple[str, str, str], Record] = {}
    for path in sorted(folder.glob("checks-*.jsonl")):
        for line in path.read_text(encoding="utf-8").splitlines():
            one = _record(json.loads(line), code, made)
            other = worst.get(one.key)
            if other is not None:
                one = replace(one if one.used > other.used else other, values=one.values + other.values)
            worst[one.key] = one
    return sorted(worst.values(), key=lambda each: each.key)


def _record(line: dict[str, Any], code: str, made: str) -> Record:
    """From a line of JSON, numbers as they are shown."""
    line["row"] = line["row"] or ""
    shown = {name: _shown(line[name]) for name in ("expected", "obtained")}
    told = {name: float(f"{line[name]:.4g}") for name in ("rel", "abs", "used")}
    return Record(**(line | shown | told), code=code, made=made)


def _shown(value: float | list[float]) -> str:
    """Ten digits; a complex number as its parts."""
    if isinstance(value, list):
        return f"{complex(*value):.6g}"
    return f"{value:.10g}"


def write(records: Iterable[Record], path: Path = TABLE) -> None:
    """The committed table."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, [each.name for each in fields(Record)], lineterminator="\n")
        writer.writeheader()
        writer.writerows(asdict(each) for each in records)


def read(path: Path = TABLE) -> list[Record]:
    """The same back."""
    with path.open(newline="", encoding="utf-8") as file:
        return [Record(**_typed(row)) for row in csv.DictReader(file)]


def _typed(row: dict[str, str]) -> dict[str, Any]:
    """Numbers of a row as numbers."""
    return row | {name: float(row[name]) for name in ("rel", "abs", "used")} | {"values": int(row["values"])}
