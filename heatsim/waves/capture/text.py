# SPDX-License-Identifier: GPL-3.0-or-later
"""Records of samples out of a table of text, with the line of whatever cannot be read.

The table is all lines whose cells are numbers (or say that a sample is missing) in the columns that hold numbers
further down. Text between two such lines parts two records when time starts anew after it, else it is a fault.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from heatsim.errors import InputError, Problem
from heatsim.waves.capture.dialect import Dialect, decoded, find_dialect, lines_of
from heatsim.waves.capture.header import Header, read_header
from heatsim.waves.capture.raw import FEWEST, GREATEST, MOST, MOST_CELLS, MOST_COLUMNS, Column, Raw, unit_factor
from heatsim.waves.waveforms import Array

Ints = NDArray[np.int64]

LOST = 20
"""Lines after the last row of numbers that may be no rows, such as a closing remark or a row cut short."""

SPARSE = 0.1
"""Least share of numbers in a column of samples; in a column with fewer they are a preamble's, beside the table."""

RESTART = 0.02
"""A record begins anew where time falls back to within this share of the whole of where it began."""


@dataclass
class _Grid:
    """Rows of numbers: values, shape (rows, live columns); rows: their lines; gaps: for each run of lines between rows that are
    none, the row after it and the fault of its first line.
    """

    values: Array
    rows: Ints
    gaps: list[tuple[int, Problem]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def records_of_text(data: bytes, label: str, expected: str) -> list[Raw]:
    """Every record of a table of text.

    label: for messages; expected: what the caller needs, in words. Raises InputError with the line.
    """
    text, notes = decoded(data, label)
    lines = lines_of(text, label)
    dialect = find_dialect(lines, label)
    live, width = _live_columns(lines, dialect, label, expected)
    first = _first_row(lines, live, dialect, label)
    above = [(k + 1, line) for k, line in enumerate(lines[:first])]
    header = read_header(above[-3000:], _beside(lines, first, live, dialect), live, dialect)
    grid = _fast(lines, first, live, width, dialect) or _careful(lines, first, live, dialect, label)
    _check_size(grid, live, label)
    roles = _roles(grid, header, live, label, expected)
    whole = [*notes, *([dialect.note] if dialect.note else []), *header.notes, *roles.notes, *grid.notes]
    return [_raw(part, grid.rows[rows], roles, header, tuple(whole)) for rows, part in _records(grid, roles, label)]


def _live_columns(lines: Sequence[str], dialect: Dialect, label: str, expected: str) -> tuple[list[int], int]:
    """Columns that hold numbers in the later part of the table, and how many cells a row has."""
    picked = [line for line in _late(lines) if line.strip()]
    split = [dialect.cells(line) for line in picked]
    rows = [cells for cells in split if any(_is_value(dialect, cell) for cell in cells)]
    if not rows:
        raise InputError.single(label, "has no samples", allowed=expected)
    widths = [len(cells) for cells in rows]
    width = max(set(widths), key=lambda count: (widths.count(count), count))
    deep = [cells for cells in rows if len(cells) == width]
    live = []
    for column in range(width):
        numbers = sum(_is_value(dialect, cells[column]) for cells in deep)
        texts = sum(dialect.number(cells[column]) is None for cells in deep)
        often = numbers > 3 * texts and numbers > SPARSE * len(deep)
        if often or len(deep) < 8 and numbers >= max(texts, 1):
            live.append(column)
    if not live:
        raise InputError.single(label, "has no samples", allowed=expected)
    if width > MOST_COLUMNS:
        raise InputError.single(label, "has too many columns", width, f"up to {MOST_COLUMNS}")
    return live, width


def _late(lines: Sequence[str]) -> list[str]:
    """A few hundred lines of the later half."""
    later = lines[len(lines) // 2 :] if len(lines) > 60 else lines
    step = max(1, len(later) // 300)
    return list(later[::step])


def _is_value(dialect: Dialect, cell: str) -> bool:
    value = dialect.number(cell)
    return value is not None and not math.isnan(value)


def _row(line: str, live: Sequence[int], dialect: Dialect, where: str = "") -> list[float] | Problem:
    """Numbers of a row in the live columns, or what is wrong with it; where: its place."""
    cells = dialect.cells(line)
    if len(cells) <= live[-1]:
        return Problem(where, "has too few columns", str(len(cells)), f"{live[-1] + 1} columns")
    values = []
    for column in live:
        value = dialect.number(cells[column])
        if value is None:
            return Problem(
                where, f"column {column + 1} is not a finite number", repr(cells[column][:40]), "a number such as 1.25e-6"
            )
        if abs(value) > GREATEST:
            return Problem(where, f"column {column + 1} is beyond all measure", f"{value:g}", f"up to {GREATEST:g}")
        values.append(value)
    fine = any(value == value for value in values)
    return values if fine else Problem(where, "has no number", repr(line[:40]), "a number in one column at least")


def _first_row(lines: Sequence[str], live: Sequence[int], dialect: Dialect, label: str) -> int:
    for k, line in enumerate(lines):
        if line.strip() and line.lstrip()[0] != "#" and not isinstance(_row(line, live, dialect), Problem):
            return k
    raise InputError.single(label, "has no samples", allowed="a table of numbers")


def _beside(lines: Sequence[str], first: int, live: Sequence[int], dialect: Dialect) -> list[tuple[str, str]]:
    """Keys and values left of the table in its first lines."""
    if live[0] < 2:
        return []
    split = [dialect.cells(line) for line in lines[first : first + 100]]
    return [(cells[0], cells[1]) for cells in split if len(cells) > 1 and cells[0] and cells[1]]


def _fast(lines: list[str], first: int, live: list[int], width: int, dialect: Dialect) -> _Grid | None:
    """All rows at once when every line from the first row on is one of plain numbers; else None."""
    last = len(lines)
    while last > first and not lines[last - 1].strip():
        last -= 1
    body = lines[first:last]
    joined = (" " if dialect.separator == " " else dialect.separator).join(body)
    if '"' in joined or "_" in joined or dialect.decimal == "," and "." in joined or len(body) > MOST:
        return None
    if dialect.separator == " ":
        cells = joined.split()
        counts = {len(line.split()) for line in body}
    else:
        cells = joined.split(dialect.separator)
        counts = {line.count(dialect.separator) + 1 for line in body}
    if counts != {width} or len(cells) != width * len(body) or len(body) * len(live) > MOST_CELLS:
        return None
    try:
        columns = [_floats(cells[column::width], dialect) for column in live]
    except ValueError:
        return None
    values = np.column_stack(columns)
    empty = np.isnan(values).all(axis=1).any()
    if empty or np.nanmax(np.abs(values), initial=0.0) > GREATEST:
        return None
    return _Grid(values, np.arange(first + 1, last + 1))


def _floats(cells: list[str], dialect: Dialect) -> Array:
    """Numbers of plain cells, the quick way as far as it goes; ValueError for a cell that is none."""
    if dialect.decimal == ",":
        cells = "\n".join(cells).replace(",", ".").split("\n")
    try:
        return np.fromiter(map(float, cells), np.float64, len(cells))
    except ValueError:
        plain = Dialect(dialect.separator, ".")
        return np.fromiter((_float(cell, plain) for cell in cells), np.float64, len(cells))


def _float(cell: str, dialect: Dialect) -> float:
    try:
        return float(cell)
    except ValueError:
        value = dialect.number(cell.strip())
        if value is None:
            raise
        return value


def _careful(lines: list[str], first: int, live: list[int], dialect: Dialect, label: str) -> _Grid:
    """Line by line, keeping the first fault of every run of lines that are no rows."""
    values: list[list[float]] = []
    rows: list[int] = []
    gaps: list[tuple[int, Problem]] = []
    pending: list[Problem] = []
    for k in range(first, len(lines)):
        line = lines[k]
        if not line.strip() or line.lstrip()[0] == "#":
            continue
        row = _row(line, live, dialect, f"{label}:{k + 1}")
        if isinstance(row, Problem):
            pending.append(row)
            continue
        if pending:
            gaps.append((len(rows), pending[0]))
            pending.clear()
        values.append(row)
        rows.append(k + 1)
    if len(pending) > LOST:
        raise InputError(pending[0])
    grid = _Grid(np.array(values).reshape(-1, len(live)), np.array(rows, dtype=np.int64), gaps)
    if pending:
        line = pending[0].where.rpartition(":")[2]
        grid.notes.append(f"left out from line {line} on, the end of the file: {replace(pending[0], where='')}")
    return grid


def _check_size(grid: _Grid, live: list[int], label: str) -> None:
    count = grid.rows.size
    if count > MOST or count * len(live) > MOST_CELLS:
        raise InputError.single(label, "has too many samples", count, f"up to {min(MOST, MOST_CELLS // len(live))}")


@dataclass
class _Roles:
    """Which of the live columns is time (place in the grid, with its factor to seconds) and which counts samples."""

    live: list[int]
    time: int | None = None
    factor: float = 1.0
    index: int | None = None
    drop: set[int] = field(default_factory=set)
    notes: list[str] = field(default_factory=list)


def _roles(grid: _Grid, header: Header, live: list[int], label: str, expected: str) -> _Roles:
    roles = _Roles(live)
    named = [k for k, column in enumerate(live) if header.is_time(column) and _rises(grid.values[:, k])]
    called = [k for k, column in enumerate(live) if header.is_time(column)]
    index = [k for k, column in enumerate(live) if header.is_index(column) and _counts(grid.values[:, k])]
    roles.index = index[0] if index else None
    roles.drop |= set(index)
    if named or called:
        roles.time = (named or called)[0]
        _same_stamps(grid, roles, called, f"{label}:{header.line}", expected)
    elif _could_be_time(grid, header, live, roles):
        roles.time = 0
    elif roles.index is None and header.interval and _counts(grid.values[:, 0]) and len(live) > 1:
        roles.index = 0
        roles.drop.add(0)
    _time_unit(grid, roles, header)
    return roles


def _could_be_time(grid: _Grid, header: Header, live: list[int], roles: _Roles) -> bool:
    """An unnamed or unknown first column of two or more that rises, unless it counts samples of a known interval."""
    other = unit_factor(header.units.get(live[0], ""))
    first = grid.values[:, 0]
    if len(live) < 2 or roles.index == 0 or other is not None or not _rises(first):
        return False
    return not (header.interval and _counts(first))


def _same_stamps(grid: _Grid, roles: _Roles, called: list[int], where: str, expected: str) -> None:
    """Further columns of time stamps are dropped when they are the first's, else there is no telling which counts."""
    assert roles.time is not None
    mine = grid.values[:, roles.time]
    for k in called:
        if k == roles.time:
            continue
        away = np.abs(grid.values[:, k] - mine)
        if not np.nanmax(away, initial=0.0) <= 1e-6 * float(np.nanmax(np.abs(mine), initial=0.0)):
            raise InputError.single(where, "has a time column twice, with other stamps", allowed=expected)
        roles.drop.add(k)


def _time_unit(grid: _Grid, roles: _Roles, header: Header) -> None:
    if roles.time is None:
        return
    roles.drop.add(roles.time)
    written = header.units.get(roles.live[roles.time], header.units.get(-1, ""))
    found = unit_factor(written)
    if found and found[0] == "s":
        roles.factor = found[1]
    elif _counts(grid.values[:, roles.time]):
        roles.notes.append("time is taken as seconds, though its steps of exactly 1 could be sample numbers")
    else:
        roles.notes.append("the file does not say the unit of time: seconds are taken")


def _rises(values: Array) -> bool:
    """Whether a column could be time: nine steps out of ten do not fall, and it ends above its beginning."""
    known = values[~np.isnan(values)]
    if known.size < 2:
        return False
    steps = np.diff(known)
    return bool(np.mean(steps >= 0) > 0.9 and np.any(steps > 0))


def _counts(values: Array) -> bool:
    """Whether a column counts 0, 1, 2 or 1, 2, 3, perhaps anew in each record."""
    known = values[~np.isnan(values)]
    return bool(known.size > 1 and known[0] in (0.0, 1.0) and np.mean(np.diff(known) == 1.0) > 0.9)


def _records(grid: _Grid, roles: _Roles, label: str) -> list[tuple[slice, Array]]:
    """Parts of the grid that are one record each; InputError for a line between rows that parts none."""
    key = roles.time if roles.time is not None else roles.index
    cuts = _restarts(grid.values[:, key]) if key is not None else []
    starts = {0, *cuts}
    for at, fault in grid.gaps:
        if at not in starts and key is not None or key is None and not _repeated(fault):
            raise InputError(fault)
        starts.add(at)
    edges = [*sorted(starts), grid.rows.size]
    parts = [slice(a, b) for a, b in zip(edges[:-1], edges[1:], strict=True) if b - a >= min(FEWEST, grid.rows.size)]
    return [(part, grid.values[part]) for part in parts]


def _repeated(fault: Problem) -> bool:
    """Without time stamps only a line of words, not a damaged row, parts records."""
    return "column 1 is not" in fault.what


def _restarts(stamps: Array) -> list[int]:
    """Where time falls back to where it began and goes on from there with steps like those before."""
    steps = np.diff(stamps)
    falls = np.flatnonzero(steps < 0) + 1
    rises = steps[steps > 0]
    if not falls.size or not rises.size:
        return []
    usual, span = float(np.median(rises)), float(np.nanmax(stamps) - np.nanmin(stamps))
    edges = [0, *falls.tolist(), stamps.size]
    if min(b - a for a, b in zip(edges[:-1], edges[1:], strict=True)) < FEWEST:
        return []
    begins = stamps[falls]
    going_on = np.abs(stamps[np.minimum(falls + 1, stamps.size - 1)] - begins) <= 3 * usual
    anew = np.abs(begins - stamps[0]) <= max(RESTART * span, 3 * usual)
    return [int(at) for at in falls] if bool(np.all(going_on & anew)) else []


def _raw(values: Array, rows: Ints, roles: _Roles, header: Header, notes: tuple[str, ...]) -> Raw:
    columns = []
    for k, column in enumerate(roles.live):
        if k in roles.drop:
            continue
        written = header.units.get(column, header.units.get(-2, ""))
        base, factor = unit_factor(written) or (written, 1.0)
        if not np.isnan(values[:, k]).all():
            columns.append(Column(header.names.get(column, ""), base, values[:, k] * factor))
        else:
            notes = (*notes, f"column {column + 1} is empty and left out")
    stamps = values[:, roles.time] * roles.factor if roles.time is not None else None
    numbers = values[:, roles.index] if roles.index is not None else None
    return Raw(tuple(columns), stamps, header.interval, header.start, numbers, rows, header.line, notes)
