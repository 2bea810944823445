# SPDX-License-Identifier: GPL-3.0-or-later
"""A captured current ramp as a table of text: time, current and, where it was recorded, voltage.

Accepted: comma, semicolon or tab between columns, comment lines after #, an optional header line with units
(`time [us]`, `current (mA)`), decimal points, and decimal commas where columns are not parted by commas. Without a
header the columns are time, current, voltage in s, A, V. Equal neighbouring time stamps, as written by oscilloscopes
with few digits, are joined into one sample.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from heatsim.errors import InputError
from heatsim.physics.numeric import FloatArray

LARGEST, FEWEST, MOST = 60_000_000, 24, 1_000_000
"""Bytes of a file, and samples of a record."""

_PREFIX = {"": 1.0, "k": 1e3, "m": 1e-3, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "n": 1e-9}
_NAMES = {"time": "s", "t": "s", "current": "A", "i": "A", "amps": "A", "voltage": "V", "v": "V", "volts": "V"}
_UNIT = re.compile(r"^(?P<name>[^\[(]*?)\s*(?:[\[(]\s*(?P<unit>[^\])]*)\s*[\])])?$")
_FORM = "columns time, current and optionally voltage, such as: time [s],current [A],voltage [V]"


@dataclass(frozen=True)
class Capture:
    """A captured ramp: time [s], strictly rising; current [A]; voltage [V] or None; label: where it is from.

    joined: number of samples that shared a time stamp with the one before and were averaged into it.
    """

    time: FloatArray
    current: FloatArray
    voltage: FloatArray | None
    label: str
    joined: int = 0


def read_capture(path: Path, shunt: float | None = None) -> Capture:
    """Read a capture; `shunt` [ohm] divides a current column given in volts across it.

    Raises InputError with file and line for whatever cannot be read as rising, finite samples.
    """
    label = str(path)
    rows = [
        (number, line)
        for number, line in enumerate(_text(path).splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not rows:
        raise InputError.single(label, "has no samples", allowed=_FORM)
    separator = next((sign for sign in ("\t", ";", ",") if sign in rows[0][1]), ",")
    number, first = rows[0]
    if _number(first.split(separator)[0], separator) is None:
        columns = _header(first.split(separator), f"{label}:{number}", shunt)
        rows = rows[1:]
    else:
        columns = _positional(len(first.split(separator)), f"{label}:{number}", shunt)
    if not FEWEST <= len(rows) <= MOST:
        raise InputError.single(label, "has too few or too many samples", len(rows), f"{FEWEST} to {MOST}")
    table = _table(rows, separator, max(index for index, _ in columns.values()) + 1, label)
    return _capture(table, columns, [number for number, _ in rows], label)


def _text(path: Path) -> str:
    if path.is_dir():
        raise InputError.single(str(path), "is a folder", allowed="a CSV file")
    try:
        data = path.read_bytes() if path.stat().st_size <= LARGEST else None
    except OSError as error:
        raise InputError.single(str(path), f"cannot be read ({error.strerror})", allowed="a CSV file") from None
    if data is None:
        raise InputError.single(str(path), "is too long for a capture", allowed=f"up to {LARGEST // 10**6} MB")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError.single(f"{path}:{line}", "is not UTF-8 text", hex(data[error.start]), "a CSV file") from None


def _number(text: str, separator: str) -> float | None:
    """A finite number or None; a decimal comma is one only where commas do not part columns."""
    text = text.strip().strip('"')
    if separator != ",":
        text = text.replace(",", ".")
    try:
        value = float(text) if "_" not in text else math.nan
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _header(cells: list[str], where: str, shunt: float | None) -> dict[str, tuple[int, float]]:
    """Quantity -> column and factor to SI, from a header line."""
    columns: dict[str, tuple[int, float]] = {}
    for index, cell in enumerate(cells):
        found = _UNIT.match(cell.strip().strip('"').strip())
        name = found["name"].strip().lower() if found else ""
        base = _NAMES.get(name)
        if base is None or found is None:
            raise InputError.single(where, "has an unknown column", repr(cell.strip()[:40]), _FORM)
        role = {"s": "time", "A": "current", "V": "voltage"}[base]
        base = "V" if role == "current" and shunt else base
        unit = (found["unit"] or base).strip()
        factor = _PREFIX.get(unit[: -len(base)]) if unit.endswith(base) else None
        if factor is None or role in columns:
            fault = "has a column twice" if role in columns else f"has a {role} column in another unit than {base}"
            raise InputError.single(where, fault, repr(cell.strip()[:40]), _FORM)
        columns[role] = (index, factor / shunt if role == "current" and shunt else factor)
    missing = [role for role in ("time", "current") if role not in columns]
    if missing:
        raise InputError.single(where, f"has no {' and no '.join(missing)} column", ", ".join(cells)[:60], _FORM)
    return columns


def _positional(count: int, where: str, shunt: float | None) -> dict[str, tuple[int, float]]:
    if count not in (2, 3):
        raise InputError.single(where, "has no header, and not two or three columns", count, _FORM)
    columns = {"time": (0, 1.0), "current": (1, 1.0 / (shunt or 1.0)), "voltage": (2, 1.0)}
    return dict(list(columns.items())[:count])


def _table(rows: list[tuple[int, str]], separator: str, width: int, label: str) -> FloatArray:
    table = np.empty((len(rows), width))
    for k, (number, line) in enumerate(rows):
        cells = line.split(separator)
        if len(cells) < width:
            raise InputError.single(f"{label}:{number}", "has too few columns", len(cells), f"{width} columns")
        for j in range(width):
            value = _number(cells[j], separator)
            if value is None:
                raise InputError.single(
                    f"{label}:{number}",
                    f"column {j + 1} is not a finite number",
                    repr(cells[j].strip()[:40]),
                    "a number such as 1.25e-6",
                )
            table[k, j] = value
    return table


def _capture(table: FloatArray, columns: dict[str, tuple[int, float]], lines: list[int], label: str) -> Capture:
    data = {role: table[:, index] * factor for role, (index, factor) in columns.items()}
    steps = np.diff(data["time"])
    if np.any(steps < 0):
        at = int(np.argmax(steps < 0)) + 1
        raise InputError.single(
            f"{label}:{lines[at]}",
            "time runs backwards",
            f"{data['time'][at]:g} s",
            f"at least {data['time'][at - 1]:g} s",
        )
    starts = np.flatnonzero(np.concatenate([[True], steps > 0]))
    counts = np.diff(np.append(starts, data["time"].size))
    if starts.size < FEWEST:
        raise InputError.single(label, "has too few different time stamps", starts.size, f"{FEWEST} or more")
    mean = {role: np.add.reduceat(values, starts) / counts for role, values in data.items()}
    if np.ptp(mean["current"]) == 0:
        raise InputError.single(label, "the current never changes", f"{mean['current'][0]:g} A", "a rising ramp")
    return Capture(data["time"][starts], mean["current"], mean.get("voltage"), label, int((counts - 1).sum()))
