# SPDX-License-Identifier: GPL-3.0-or-later
"""How a table of text is written: its encoding, what parts its columns, which sign is the decimal one, what is missing.

All of it is told from the content. A comma or a point that could mean thousands or decimals is settled by the other
numbers of the table: the last of two different signs is the decimal one, so is one followed by other than three digits
or preceded by a lone zero. Where no number settles it, a comma is a decimal comma, and a note says so.
"""

from __future__ import annotations

import csv
import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from heatsim.errors import InputError
from heatsim.waves.capture.raw import LONGEST_CELL, LONGEST_LINE, OVER_RANGE

SAMPLE = 240
"""Lines looked at to find out how a file is written: from its beginning, its middle and its end."""

_CONTROL = bytes([*range(0x09), *range(0x0E, 0x1C)])
_MISSING = re.compile(r"^(?:|-{1,12}|\*{1,12}|\?{1,12}|\.{2,12}|[-+]?nan|#?n/?a!?|[-+]?∞|null|none|missing)$", re.I)
_SEPARATORS = ("\t", ";", ",", "|", " ")
_BLANKS = "'\u2019 \u00a0\u2009\u202f"
_NUMBER = {
    decimal: re.compile(
        rf"^[+-]?(?=[{decimal}]?[0-9])(?:[0-9]+|[1-9][0-9]{{0,2}}(?:[{other}{_BLANKS}][0-9]{{3}})+)?(?:[{decimal}][0-9]*)?"
        r"(?:[ed][+-]?[0-9]{1,5})?$",
        re.I,
    )
    for decimal, other in ((".", ","), (",", "."))
}
"""A number with either decimal sign, its thousands parted by the other sign or a blank."""

_PLAIN = {
    decimal: str.maketrans({**dict.fromkeys(other + _BLANKS), "d": "e", "D": "e", decimal: "."})
    for decimal, other in ((".", ","), (",", "."))
}
"""What turns such a number into one of Python's."""


def decoded(data: bytes, label: str) -> tuple[str, tuple[str, ...]]:
    """Text of a file and notes; UTF-8 and UTF-16 with or without a byte-order mark, else Latin-1.

    Raises InputError with the line for bytes no text has.
    """
    encoding = _wide(data)
    if encoding:
        try:
            return data.decode(encoding).lstrip("\ufeff"), (f"read as {encoding.upper()[:6]} text",)
        except UnicodeDecodeError as error:
            line = len(data[: error.start].decode(encoding, "ignore").splitlines()) or 1
            raise InputError.single(f"{label}:{line}", "is not UTF-16 text", allowed="a table of text") from None
    padded = data.rstrip(b"\x00\x1a")
    data = padded if padded.endswith((b"\n", b"\r")) else data.rstrip(b"\x1a")
    if len(data.translate(None, _CONTROL)) != len(data):
        at = next(k for k, code in enumerate(data) if code in _CONTROL)
        line = data[:at].count(b"\n") + 1
        raise InputError.single(f"{label}:{line}", "is not text", hex(data[at]), "a table of text")
    try:
        return data.decode("utf-8-sig"), ()
    except UnicodeDecodeError:
        return data.decode("latin-1"), ("not UTF-8: read as Latin-1",)


def _wide(data: bytes) -> str:
    """`utf-16` with its byte order for data that look it, else nothing."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    head = data[:400]
    odd, even = head[1::2].count(0), head[0::2].count(0)
    if len(head) >= 16 and max(odd, even) > 0.4 * len(head) and min(odd, even) == 0:
        return "utf-16-le" if odd else "utf-16-be"
    return ""


def lines_of(text: str, label: str) -> list[str]:
    """Lines without their ends; InputError when one is longer than any table's."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if max(map(len, lines)) > LONGEST_LINE:
        number = next(k for k, line in enumerate(lines, start=1) if len(line) > LONGEST_LINE)
        what = "has a line too long for a table with one sample a line"
        given = f"{len(lines[number - 1])} characters"
        raise InputError.single(f"{label}:{number}", what, given, f"up to {LONGEST_LINE}")
    return lines


@dataclass(frozen=True)
class Dialect:
    """separator: between columns, " " for any white space; decimal: "." or ","; note: what was assumed, or ""."""

    separator: str
    decimal: str
    note: str = ""

    def cells(self, line: str) -> list[str]:
        """Cells of a line, quotes and blanks around them taken off."""
        if '"' in line:
            found = next(csv.reader([line], delimiter=self.separator, skipinitialspace=True), [])
            return [cell.strip() for cell in found if self.separator != " " or cell.strip()]
        if self.separator == " ":
            return line.split()
        return [cell.strip() for cell in line.split(self.separator)]

    def number(self, cell: str) -> float | None:
        """A number, NaN for a missing one, None for anything else; infinity is something else."""
        if len(cell) > LONGEST_CELL:
            return None
        signed = "-" + cell[1:] if cell[:1] in ("\u2212", "\u2013") else cell
        if not _NUMBER[self.decimal].match(signed):
            return math.nan if _MISSING.match(cell) else None
        value = float(signed.translate(_PLAIN[self.decimal]))
        if math.isinf(value):
            return None
        return value if abs(value) < OVER_RANGE else math.nan


def is_value(number: float | None) -> bool:
    """Whether a cell's number is there."""
    return number is not None and not math.isnan(number)


def find_dialect(lines: Sequence[str], label: str) -> Dialect:
    """The separator with which most lines are rows of numbers of one length, and the decimal sign that goes with it."""
    sample = [line for line in _spread(lines) if line.strip() and line.lstrip()[0] not in "#%!"]
    if not sample:
        raise InputError.single(label, "has no samples", allowed="a table of numbers")
    best, chosen = (0, 0), Dialect(",", ".")
    for separator in _SEPARATORS:
        if separator != " " and not any(separator in line for line in sample):
            continue
        dialect = _with_decimal(separator, sample)
        widths = Counter(len(cells) for cells in map(dialect.cells, sample) if _is_row(dialect, cells, beside=True))
        score = max(((count, width) for width, count in widths.items()), default=(0, 0))
        if score > best:
            best, chosen = score, dialect
    _refuse_commas_for_both(chosen, sample, label)
    return chosen


def _spread(lines: Sequence[str]) -> Sequence[str]:
    if len(lines) <= SAMPLE:
        return lines
    third, middle = SAMPLE // 3, len(lines) // 2
    return [*lines[:third], *lines[middle : middle + third], *lines[-third:]]


def _is_row(dialect: Dialect, cells: Sequence[str], beside: bool) -> bool:
    """Whether cells are numbers, not all of them missing; beside: texts may stand to the left of two or more numbers."""
    values = [dialect.number(cell) for cell in cells]
    begin = max((k + 1 for k, value in enumerate(values) if value is None), default=0)
    return (begin == 0 or beside and begin + 1 < len(cells)) and any(map(is_value, values[begin:]))


def _with_decimal(separator: str, sample: Sequence[str]) -> Dialect:
    """Evidence is counted over the sample's numbers: settled ones first, then those that could be either."""
    split = Dialect(separator, ".")
    comma = point = either = 0
    for cell in (cell for line in sample for cell in split.cells(line) if "," in cell or "." in cell):
        as_point, as_comma = (_NUMBER[sign].match(cell) is not None for sign in (".", ","))
        comma += as_comma and not as_point
        point += as_point and not as_comma
        either += as_point and as_comma and "," in cell
    if comma > point:
        return Dialect(separator, ",")
    if either and not point:
        return Dialect(separator, ",", "commas before three digits are taken as decimal commas, not as thousands")
    return split


def _refuse_commas_for_both(dialect: Dialect, sample: Sequence[str], label: str) -> None:
    """Unquoted decimal commas between columns parted by commas cannot be told apart: half as many names as numbers."""
    if dialect.separator != "," or any("." in line for line in sample):
        return
    split = [dialect.cells(line) for line in sample]
    rows = [_is_row(dialect, cells, beside=False) for cells in split]
    widths = {len(cells) for cells, row in zip(split, rows, strict=True) if row}
    names = [len(cells) for cells, row in zip(split, rows, strict=True) if not row]
    if names and widths == {2 * names[-1]} and names[-1] > 1:
        what = "has commas both between columns and as decimal sign"
        raise InputError.single(label, what, sample[-1][:60], "semicolons or tabs between columns, or decimal points")
