# SPDX-License-Identifier: GPL-3.0-or-later
"""The first record of samples in a table of text, or the line of whatever cannot be read.

The table is all lines whose cells are numbers (or say that a sample is missing) in the columns that hold numbers
further down. Text between two such lines parts two records when time starts anew after it, else it is a fault.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heatsim.errors import InputError, Problem
from heatsim.waves.capture.dialect import Dialect, decoded, find_dialect, is_value, lines_of
from heatsim.waves.capture.header import Header, read_header
from heatsim.waves.capture.raw import FEWEST, GREATEST, Column, Raw, check_columns, check_size, unit_factor
from heatsim.waves.waveforms import Array

LOST = 20
"""Lines after the last row of numbers that may be no rows, such as a closing remark or a row cut short."""

SPARSE = 0.1
"""Least share of numbers in a column of samples; in a column with fewer they are a preamble's, beside the table."""

RESTART = 0.02
"""A record begins anew where time falls back to within this share of the whole of where it began."""


@dataclass(frozen=True)
class _Grid:
    """Rows of numbers: values, shape (rows, live columns); rows: their lines; gaps: for each run of lines between rows that are
    none, the row after it and the fault of its first line; note: on lines left out at the end.
    """

    values: Array
    rows: NDArray[np.int64]
    gaps: tuple[tuple[int, Problem], ...] = ()
    note: str = ""


def read_text(data: bytes, label: str, expected: str) -> Raw:
    """The first record of a table of text.

    label: for messages; expected: what the caller needs, in words. Raises InputError with the line.
    """
    text, notes = decoded(data, label)
    lines = lines_of(text, label)
    dialect = find_dialect(lines, label)
    live = _live_columns(lines, dialect, label, expected)
    first = _first_row(lines, live, dialect, label)
    above = [(k + 1, line) for k, line in enumerate(lines[:first])]
    header = read_header(above[-3000:], _beside(lines, first, live, dialect), live, dialect)
    grid = _plain_rows(lines, first, live, dialect, label) or _rows(lines, first, live, dialect, label)
    time, index, channels = _roles(list(grid.values.T), header, f"{label}:{header.line}", expected)
    part, count = _first_record(grid, time if time is not None else index)
    factor, said = (1.0, "") if time is None else _time_unit(grid.values[:, time], header.units.get(time, header.time_unit))
    several = f"the file holds {count} records: only the first is read" if count > 1 else ""
    found = [note for note in (several, *notes, dialect.note, *header.notes, said, grid.note) if note]
    values, columns = grid.values[part], []
    for k in channels:
        written = header.units.get(k, header.unit)
        base, scale = unit_factor(written) or (written, 1.0)
        if np.isnan(values[:, k]).all():
            found.append(f"column {live[k] + 1} is empty and left out")
        else:
            columns.append(Column(header.names.get(k, ""), base, values[:, k] * scale))
    stamps = None if time is None else values[:, time] * factor
    numbers = None if index is None else values[:, index]
    return Raw(tuple(columns), stamps, header.interval, header.start, numbers, grid.rows[part], header.line, tuple(found))


def _live_columns(lines: Sequence[str], dialect: Dialect, label: str, expected: str) -> list[int]:
    """Columns that hold numbers in some 300 lines of the later half of the table."""
    later = lines[len(lines) // 2 :] if len(lines) > 60 else lines
    split = [dialect.cells(line) for line in later[:: max(1, len(later) // 300)] if line.strip()]
    parsed = [[dialect.number(cell) for cell in cells] for cells in split]
    rows = [values for values in parsed if any(map(is_value, values))]
    widths = [len(values) for values in rows]
    width = max(set(widths), key=lambda count: (widths.count(count), count), default=0)
    deep = [values for values in rows if len(values) == width]
    live = []
    for column in range(width):
        numbers = sum(is_value(values[column]) for values in deep)
        texts = sum(values[column] is None for values in deep)
        often = numbers > 3 * texts and numbers > SPARSE * len(deep)
        if often or len(deep) < 8 and numbers >= max(texts, 1):
            live.append(column)
    if not live:
        raise InputError.single(label, "has no samples", allowed=expected)
    check_columns(width, label)
    return live


def _row(line: str, live: Sequence[int], dialect: Dialect, where: str = "") -> list[float] | Problem:
    """Numbers of a row in the live columns, or what is wrong with it; where: its place."""
    cells = dialect.cells(line)
    if len(cells) <= live[-1]:
        return Problem(where, "has too few columns", str(len(cells)), f"{live[-1] + 1} columns")
    values = []
    for column in live:
        value = dialect.number(cells[column])
        if value is None:
            what = f"column {column + 1} is not a finite number"
            return Problem(where, what, repr(cells[column][:40]), "a number such as 1.25e-6")
        if abs(value) > GREATEST:
            return Problem(where, f"column {column + 1} is beyond all measure", f"{value:g}", f"up to {GREATEST:g}")
        values.append(value)
    if all(map(math.isnan, values)):
        return Problem(where, "has no number", repr(line[:40]), "a number in one column at least")
    return values


def _is_blank(line: str) -> bool:
    """Whether a line is empty or a remark."""
    return not (plain := line.lstrip()) or plain[0] == "#"


def _first_row(lines: Sequence[str], live: Sequence[int], dialect: Dialect, label: str) -> int:
    for k, line in enumerate(lines):
        if not _is_blank(line) and not isinstance(_row(line, live, dialect), Problem):
            return k
    raise InputError.single(label, "has no samples", allowed="a table of numbers")


def _beside(lines: Sequence[str], first: int, live: Sequence[int], dialect: Dialect) -> list[tuple[str, str]]:
    """Keys and values left of the table in its first lines."""
    split = [dialect.cells(line) for line in lines[first : first + 100]] if live[0] >= 2 else []
    return [(cells[0], cells[1]) for cells in split if len(cells) > 1 and cells[0] and cells[1]]


def _plain_rows(lines: list[str], first: int, live: list[int], dialect: Dialect, label: str) -> _Grid | None:
    """All rows at once when every line from the first row on is one of plain numbers; else None."""
    body = [line for line in lines[first:] if line]
    check_size((len(body), len(live)), label)
    if dialect.decimal == ",":
        if any("." in line for line in body):
            return None
        body = [line.replace(",", ".") for line in body]
    separator = None if dialect.separator == " " else dialect.separator
    try:
        values = np.loadtxt(body, delimiter=separator, usecols=live, comments=None, ndmin=2)
    except ValueError:
        return None
    if len(values) < len(body) or np.isnan(values).all(axis=1).any() or np.nanmax(np.abs(values)) > GREATEST:
        return None
    return _Grid(values, first + 1 + np.flatnonzero(list(map(bool, lines[first:]))))


def _rows(lines: list[str], first: int, live: list[int], dialect: Dialect, label: str) -> _Grid:
    """Line by line, keeping the first fault of every run of lines that are no rows."""
    values, rows = array("d"), array("q")
    gaps: list[tuple[int, Problem]] = []
    pending: list[Problem] = []
    for number, line in enumerate(lines[first:], start=first + 1):
        if _is_blank(line):
            continue
        row = _row(line, live, dialect, f"{label}:{number}")
        if isinstance(row, Problem):
            pending.append(row)
            continue
        if pending:
            gaps.append((len(rows), pending[0]))
            pending.clear()
        values.extend(row)
        rows.append(number)
    note = ""
    if pending:
        line = pending[0].where.rpartition(":")[2]
        note = f"left out from line {line} on, the end of the file: {replace(pending[0], where='')}"
    if len(pending) > LOST:
        raise InputError(pending[0])
    return _Grid(np.array(values).reshape(-1, len(live)), np.array(rows), tuple(gaps), note)


def _roles(columns: Sequence[Array], header: Header, where: str, expected: str) -> tuple[int | None, int | None, list[int]]:
    """Column of time and column that counts samples, None without, and the channels.

    Without a name a first column of two or more that rises is time, unless it counts samples of a known interval. Further
    columns of time stamps are no channels when they are the first's, else there is no telling which counts.
    """
    called = [k for k in range(len(columns)) if header.is_time(k)]
    counting = [k for k, values in enumerate(columns) if header.is_index(k) and _counts(values)]
    time = next((k for k in called if _rises(columns[k])), called[0] if called else None)
    index = counting[0] if counting else None
    if time is None and len(columns) > 1 and index != 0:
        if header.interval and _counts(columns[0]):
            index = 0 if index is None else index
        elif unit_factor(header.units.get(0, "")) is None and _rises(columns[0]):
            time = 0
    for stamps in [columns[k] for k in called if time is not None and k != time]:
        mine = columns[time or 0]
        if not np.nanmax(np.abs(stamps - mine), initial=0.0) <= 1e-6 * np.nanmax(np.abs(mine), initial=0.0):
            raise InputError.single(where, "has a time column twice, with other stamps", allowed=expected)
    return time, index, [k for k in range(len(columns)) if k not in {*called, *counting, time, index}]


def _time_unit(stamps: Array, written: str) -> tuple[float, str]:
    """Factor of a column of time to seconds, and what was assumed for want of a unit."""
    found = unit_factor(written)
    if found and found[0] == "s":
        return found[1], ""
    if _counts(stamps):
        return 1.0, "time is taken as seconds, though its steps of exactly 1 could be sample numbers"
    return 1.0, "the file does not say the unit of time: seconds are taken"


def _rises(values: Array) -> bool:
    """Whether a column could be time: nine steps out of ten do not fall, and it ends above its beginning."""
    steps = np.diff(values[~np.isnan(values)])
    return bool(steps.size and np.mean(steps >= 0) > 0.9 and np.any(steps > 0))


def _counts(values: Array) -> bool:
    """Whether a column counts 0, 1, 2 or 1, 2, 3, perhaps anew in each record."""
    known = values[~np.isnan(values)]
    return bool(known.size > 1 and known[0] in (0.0, 1.0) and np.mean(np.diff(known) == 1.0) > 0.9)


def _first_record(grid: _Grid, key: int | None) -> tuple[slice, int]:
    """The rows of the first record and how many records there are; InputError for a line between rows that parts none.

    key: column of time or sample numbers. Without one only a line of words, not a damaged row, parts records.
    """
    starts = {0, *(_restarts(grid.values[:, key]) if key is not None else [])}
    for at, fault in grid.gaps:
        if at not in starts if key is not None else "column 1 is not" not in fault.what:
            raise InputError(fault)
        starts.add(at)
    edges = [*sorted(starts), grid.rows.size]
    parts = [slice(a, b) for a, b in zip(edges[:-1], edges[1:], strict=True)]
    whole = [part for part in parts if part.stop - part.start >= min(FEWEST, grid.rows.size)] or parts[:1]
    return whole[0], len(whole)


def _restarts(stamps: Array) -> list[int]:
    """Where time falls back to where it began and goes on from there with steps like those before."""
    steps = np.diff(stamps)
    falls = np.flatnonzero(steps < 0) + 1
    rises = steps[steps > 0]
    if not falls.size or not rises.size or np.diff([0, *falls, stamps.size]).min() < FEWEST:
        return []
    usual, span = float(np.median(rises)), float(np.nanmax(stamps) - np.nanmin(stamps))
    begins = stamps[falls]
    going_on = np.abs(stamps[falls + 1] - begins) <= 3 * usual
    anew = np.abs(begins - stamps[0]) <= max(RESTART * span, 3 * usual)
    return falls.tolist() if np.all(going_on & anew) else []
