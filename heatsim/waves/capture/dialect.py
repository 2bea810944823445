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
_GROUPED = {
    decimal: re.compile(
        rf"^[+-]?[1-9][0-9]{{0,2}}(?:[{other}{_BLANKS}][0-9]{{3}})+(?:[{decimal}][0-9]*)?(?:e[+-]?[0-9]{{1,5}})?$", re.I
    )
    for decimal, other in ((".", ","), (",", "."))
}
_PLAIN = {
    ".": re.compile(r"^[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[ed][+-]?[0-9]{1,5})?$", re.I),
    ",": re.compile(r"^[+-]?(?:[0-9]+(?:,[0-9]*)?|,[0-9]+)(?:[ed][+-]?[0-9]{1,5})?$", re.I),
}


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
        if _PLAIN[self.decimal].match(cell):
            text = cell.replace(",", ".").replace("d", "e").replace("D", "e")
        elif _GROUPED[self.decimal].match(cell):
            kept = re.sub(r"[^0-9eE+\-" + self.decimal + "]", "", cell)
            text = kept.replace(",", ".")
        elif _MISSING.match(cell):
            return math.nan
        elif cell[:1] in "−–" and len(cell) > 1 and cell[1:2] not in "-+−–":
            return self.number("-" + cell[1:])
        else:
            return None
        value = float(text)
        if math.isinf(value):
            return None
        return value if abs(value) < OVER_RANGE else math.nan


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
        score = _score(dialect, sample)
        if score > best:
            best, chosen = score, dialect
    _refuse_commas_for_both(chosen, sample, label)
    return chosen


def _spread(lines: Sequence[str]) -> list[str]:
    if len(lines) <= SAMPLE:
        return list(lines)
    third, middle = SAMPLE // 3, len(lines) // 2
    return [*lines[:third], *lines[middle : middle + third], *lines[-third:]]


def _score(dialect: Dialect, sample: Sequence[str]) -> tuple[int, int]:
    """(lines that are rows of numbers of the commonest length, that length)."""
    widths = Counter(
        len(cells) for cells in map(dialect.cells, sample) if _all_numbers(dialect, cells[_first_number(dialect, cells) :])
    )
    if not widths:
        return 0, 0
    width, count = max(widths.items(), key=lambda item: (item[1], item[0]))
    return count, width


def _first_number(dialect: Dialect, cells: Sequence[str]) -> int:
    """Where the numbers of a row begin: a preamble may stand beside the table, to its left."""
    texts = [k for k, cell in enumerate(cells) if dialect.number(cell) is None]
    return texts[-1] + 1 if texts and texts[-1] + 2 < len(cells) else 0


def _all_numbers(dialect: Dialect, cells: Sequence[str]) -> bool:
    values = [dialect.number(cell) for cell in cells]
    return None not in values and any(value == value for value in values)


def _with_decimal(separator: str, sample: Sequence[str]) -> Dialect:
    """Evidence is counted over the sample's numbers: settled ones first, then those that could be either."""
    split = Dialect(separator, ".")
    comma = point = either = 0
    for cell in (cell for line in sample for cell in split.cells(line) if "," in cell or "." in cell):
        as_point, as_comma = _PLAIN["."].match(cell), _PLAIN[","].match(cell)
        groups_point, groups_comma = _GROUPED["."].match(cell), _GROUPED[","].match(cell)
        either += bool(as_comma and groups_point) and not as_point
        comma += bool(as_comma or groups_comma) and not (as_point or groups_point)
        point += bool(as_point or groups_point) and not (as_comma or groups_comma)
    if comma > point:
        return Dialect(separator, ",")
    if either and not point:
        return Dialect(separator, ",", "commas before three digits are taken as decimal commas, not as thousands")
    return Dialect(separator, ".")


def _refuse_commas_for_both(dialect: Dialect, sample: Sequence[str], label: str) -> None:
    """Unquoted decimal commas between columns parted by commas cannot be told apart: half as many names as numbers."""
    if dialect.separator != "," or any("." in line for line in sample):
        return
    widths = [len(dialect.cells(line)) for line in sample if _all_numbers(dialect, dialect.cells(line))]
    names = [dialect.cells(line) for line in sample if not _all_numbers(dialect, dialect.cells(line))]
    if widths and names and len(set(widths)) == 1 and widths[0] == 2 * len(names[-1]) > 2:
        what = "has commas both between columns and as decimal sign"
        raise InputError.single(label, what, sample[-1][:60], "semicolons or tabs between columns, or decimal points")
