# SPDX-License-Identifier: GPL-3.0-or-later
"""What stands above a table of samples: names, units, and the interval between samples where there is no time column.

Names and units are the last lines above the table that reach as far as its columns do. Everything above is read as
pairs of a key and a value, side by side or, in a row of its own, one below the other; only keys that tell about time,
units or the probe are used.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from heatsim.waves.capture.dialect import Dialect, is_value
from heatsim.waves.capture.raw import unit_factor

Lines = Sequence[tuple[int, str]]
"""Line number and text."""

_MARKED = re.compile(r"^(?P<name>[^\[(]*?)\s*[\[(]\s*(?P<unit>[^\])]*)\s*[\])]\s*$")
_SLASHED = re.compile(r"^(?P<name>.*?)\s*(?:/|,|\bin\b|\s)\s*(?P<unit>[^\s/,]+)$")
_LETTER = re.compile(r"(?<! in) a$", re.I)
_TIME = re.compile(r"^(?:time|t|x|x[- _]?axis|times?tamps?|zeit|temps|tiempo|tempo|s|sec|seconds?)\b", re.I)
_WORDS = re.compile(r"[^\s\[(]\S*(?:\s+[\[(][^\])]*[\])])?|\S+")
"""A name parted from the next by white space, its unit in brackets with it."""

_INDEX = re.compile(r"^(?:sequence|index|sample|samples|point|points|no\.?|nr\.?|n|#|number|sample (?:no\.?|number))$", re.I)
_VALUE = re.compile(r"^(?P<number>[-+0-9.,]+(?:[eE][-+]?[0-9]+)?)\s*(?P<unit>[A-Za-zµμ/]*)$")
_PAIR = re.compile(r"^(?P<key>[^:=,;\t]{1,60}?)(?: ?[:=] ?| (?=[-+]?[0-9.]))(?P<value>[^,;\t]{1,80})$")
_RATE = re.compile(r"\b(?:sampl\w*|acq\w*)[ _-]*(?:rate|freq\w*)\b|^fs$", re.I)
_STEP = re.compile(
    r"\b(?:sampl\w*|time)[ _-]*(?:interval|period|step|increment)\b|^(?:x|t|horizontal|time)?[ _-]*(?:incr?|increment"
    r"|interval)\b|^d(?:elta)?[ _-]?t\b|\btime per sample\b|^delta *\(?seconds?\)?$",
    re.I,
)
_START = re.compile(r"^(?:x|t|horizontal|time)?[ _-]*(?:zero|start|origin|offset)(?:[ _-]*time)?\b|^start time\b", re.I)
_TIME_UNIT = re.compile(r"^(?:x|horizontal|time)[ _-]*(?:axis[ _-]*)?units?$", re.I)
_UNIT_KEY = re.compile(r"^(?:y|vertical)[ _-]*(?:axis[ _-]*)?units?$", re.I)
_PROBE = re.compile(r"\bprobe\b|\battenuation\b", re.I)
_OTHER = re.compile(r"^(?:record|date|time ?stamp|source|model|serial|firmware|trigger|channel info|memory|points|note)\b", re.I)


@dataclass
class Header:
    """What was found: names and units (as written) by column that holds numbers, from 0 on; time_unit and unit: of time and of
    channels where a column has none of its own; line: of the names; interval and start [s]; notes.
    """

    names: dict[int, str] = field(default_factory=dict)
    units: dict[int, str] = field(default_factory=dict)
    time_unit: str = ""
    unit: str = ""
    line: int = 0
    interval: float | None = None
    start: float = 0.0
    notes: list[str] = field(default_factory=list)

    def is_time(self, column: int) -> bool:
        """Whether a column is called time, or has a unit of it."""
        unit = unit_factor(self.units.get(column, ""))
        called = _TIME.match(self.names.get(column, "")) and not self.is_index(column)
        return unit[0] == "s" if unit else bool(called)

    def is_index(self, column: int) -> bool:
        """Whether a column is called a number of samples."""
        return any(_INDEX.match(text.get(column, "").strip()) for text in (self.names, self.units))


LONGEST = 160
"""Characters of a name, or of a pair of key and value, that are looked at; patterns need a bound."""


def _plain(text: str) -> str:
    return " ".join(text[: 4 * LONGEST].split())[:LONGEST]


def name_and_unit(cell: str) -> tuple[str, str]:
    """`CH1 (mV)`, `Time [us]`, `Time/ms`, `CH1 mV`, `V` parted into name and unit as written; "" where there is none.

    A lone A, or one after a blank, is the first of channels A and B, not amperes: those stand in brackets, after / or in.
    """
    cell = _plain(cell).strip("\"' ")
    marked = _MARKED.match(cell)
    if marked:
        return marked["name"].strip(), marked["unit"].strip()
    if unit_factor(cell) and cell not in ("A", "a"):
        return cell, cell
    slashed = _SLASHED.match(cell)
    if slashed and slashed["name"] and unit_factor(slashed["unit"]) and not _LETTER.search(cell):
        return slashed["name"].strip(), slashed["unit"]
    return cell, ""


def read_header(above: Lines, beside: Sequence[tuple[str, str]], live: Sequence[int], dialect: Dialect) -> Header:
    """Everything the lines above the table, and the pairs beside it, say."""
    header = Header()
    lines = [(number, line.strip().lstrip("#%!").strip()) for number, line in above]
    lines = [(number, line) for number, line in lines if line]
    used = _names_and_units(lines, live, dialect, header)
    texts = [line for _, line in lines]
    for key, value in [*_pairs(texts[: len(lines) - used], dialect), *beside, *_below(texts, dialect)]:
        _take(key, value, dialect, header)
    return header


def _cells(line: str, dialect: Dialect, reach: int) -> list[str]:
    """Cells of a line of names, which may be parted by another sign than the numbers below."""
    for separator in (dialect.separator, "\t", ";", ","):
        cells = Dialect(separator, dialect.decimal).cells(line)
        if separator == " " and '"' not in line:
            cells = _WORDS.findall(line[: 20 * LONGEST])
        if len(cells) > reach:
            return cells
    return []


def _names_and_units(lines: Lines, live: Sequence[int], dialect: Dialect, header: Header) -> int:
    """Fill in names and units from the last lines; returns how many lines these are."""
    used = 0
    for number, line in list(lines)[:-4:-1]:
        cells = _cells(line, dialect, max(live))
        found = {k: cells[column] for k, column in enumerate(live) if cells and cells[column]}
        numeric = any(dialect.number(cell) is not None for cell in found.values())
        known = [unit_factor(cell) is not None for cell in found.values()]
        is_units = any(known) and all(fine or _INDEX.match(cell) for fine, cell in zip(known, found.values(), strict=True))
        if not found or numeric or len(live) <= 2 and not is_units and _is_key(line, cells):
            break
        if not header.units and is_units:
            header.units = {column: cell.strip("[](){}<> ") for column, cell in found.items()}
        elif not header.line:
            _take_names(found, number, header)
        else:
            break
        used += 1
    if header.units and not header.line:
        header.line = lines[-1][0]
        header.names = dict(header.units)
    return used


def _take_names(found: dict[int, str], number: int, header: Header) -> None:
    header.line = number
    for column, cell in found.items():
        name, unit = name_and_unit(cell)
        header.names[column] = name[:60]
        if unit:
            header.units.setdefault(column, unit)


def _is_key(line: str, cells: Sequence[str]) -> bool:
    """Whether a line of a preamble is a key and its value, as far as they are known here."""
    pair = _PAIR.match(_plain(line))
    keys = (_RATE, _STEP, _START, _TIME_UNIT, _UNIT_KEY, _PROBE, _OTHER)
    heads = [cells[0], pair["key"]] if pair else cells[:1]
    return any(pattern.search(head[:LONGEST]) for pattern in keys for head in heads) or cells[0].endswith((":", "="))


def _pairs(lines: Sequence[str], dialect: Dialect) -> list[tuple[str, str]]:
    """Key and value of each line of a preamble; of a row of keys above a row of values, each column's."""
    found = []
    for line in lines[:2000]:
        cells = [cell for cell in dialect.cells(line) if cell]
        pair = _PAIR.match(_plain(line))
        if len(cells) >= 2 and not (pair and dialect.separator == " "):
            found.append((cells[0].rstrip(":= "), cells[1]))
        elif pair or len(cells) == 1 and (pair := _PAIR.match(_plain(cells[0]))):
            found.append((pair["key"], pair["value"]))
    return found


def _below(lines: Sequence[str], dialect: Dialect) -> Iterator[tuple[str, str]]:
    """Keys in one row with their values in the row below, as in `X, CH1, Start, Increment`."""
    for upper, lower in itertools.pairwise(map(dialect.cells, lines)):
        for key, value in zip(upper, lower, strict=False):
            if (_START.search(key[:LONGEST]) or _STEP.search(key[:LONGEST])) and dialect.number(value) is not None:
                yield key, value


def _take(key: str, value: str, dialect: Dialect, header: Header) -> None:
    """Use one pair, if it is of any use here."""
    key, value = _plain(key), _plain(value)
    name, key_unit = name_and_unit(key)
    if _PROBE.search(key) and any(sign.isdigit() for sign in value):
        said = f"the file speaks of a probe factor, {key[:40]} {value[:12]}"
        header.notes.append(f"{said}: taken as already in its samples")
    elif _TIME_UNIT.match(key) and unit_factor(value):
        header.time_unit = header.time_unit or value
    elif _UNIT_KEY.match(key) and unit_factor(value):
        header.unit = header.unit or value
    elif _RATE.search(name) or _STEP.search(name):
        step = _seconds(value, key_unit, dialect, bool(_RATE.search(name)))
        if step and header.interval is None:
            header.interval = step
    elif _START.search(name) and header.start == 0.0:
        header.start = _seconds(value, key_unit, dialect, False) or 0.0


def _seconds(value: str, unit: str, dialect: Dialect, rate: bool) -> float | None:
    """A time [s] or, with `rate`, the inverse of a frequency; None for what is neither."""
    found = _VALUE.match(value)
    numbers = [Dialect(dialect.separator, sign).number(found["number"]) for sign in (dialect.decimal, ".")] if found else []
    number = next((number for number in numbers if number is not None), None)
    if found is None or not is_value(number):
        return None
    base, factor = unit_factor(found["unit"] or unit) or ("Hz" if rate else "s", 1.0)
    size = (number or 0.0) * factor
    if base not in ("s", "Hz") or abs(size) > 1e18 or base == "Hz" and size < 1e-12:
        return None
    return 1.0 / size if base == "Hz" else size
