# SPDX-License-Identifier: GPL-3.0-or-later
"""What every file format is brought to before it becomes a capture, and the limits all of them share."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatsim.errors import InputError
from heatsim.waves.waveforms import Array

LARGEST, FEWEST, MOST = 200_000_000, 8, 5_000_000
"""Bytes of a file, and samples of a record."""

MOST_COLUMNS, MOST_CELLS, LONGEST_LINE, LONGEST_CELL = 64, 20_000_000, 20_000, 1000
"""Columns of a table, numbers in it, and characters of a line of text and of a number."""

GREATEST = 1e30
"""Largest sample that can be meant, in any unit; what is beyond is a damaged file."""

OVER_RANGE = 9e37
"""From here on a number says "out of range" or "no number": 9.9E37 and 9.91E37 (SCPI 1999, 7.2.1.4 and 7.2.1.5;
memory)."""


@dataclass(frozen=True)
class Column:
    """One column as read: name as written or ""; unit: "V", "A", "s", another as written, or ""; values in that unit,
    shape (n,), NaN where a sample is missing.
    """

    name: str
    unit: str
    values: Array


@dataclass(frozen=True)
class Raw:
    """The first record of a file, before anything is judged.

    columns: all but time and sample numbers; stamps: time column [s] or None; interval: time between samples [s] as the
    file states it, or None; start: of the first sample [s]; numbers: column of sample numbers, or None; rows: line of
    each sample in the file, or None; header: line with the names, 0 without; full_scale: samples are shares of it.
    """

    columns: tuple[Column, ...]
    stamps: Array | None = None
    interval: float | None = None
    start: float = 0.0
    numbers: Array | None = None
    rows: NDArray[np.int64] | None = None
    header: int = 0
    notes: tuple[str, ...] = ()
    full_scale: bool = False

    def place(self, at: int, label: str) -> str:
        """Line of a sample in a file of text, else its number."""
        return f"{label}:{self.rows[at]}" if self.rows is not None else f"{label}: sample {at + 1}"


def check_size(shape: tuple[int, ...], label: str) -> None:
    """InputError for a shape, samples by channels, that is larger than a capture can be; asked before anything is unpacked."""
    if math.prod(shape) > MOST_CELLS or max(shape, default=0) > MOST or min(shape, default=0) < 0:
        given = " x ".join(str(extent) for extent in shape)
        raise InputError.single(label, "has too many samples", given, f"up to {MOST}, and {MOST_CELLS} in all channels together")


def check_columns(count: int, label: str) -> None:
    """InputError for more columns than a table of samples has."""
    if count > MOST_COLUMNS:
        raise InputError.single(label, "has too many columns", count, f"up to {MOST_COLUMNS}")


_BASES = {
    "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s",
    "v": "V", "volt": "V", "volts": "V",
    "a": "A", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A",
    "hz": "Hz", "sa/s": "Hz", "s/s": "Hz", "samples/s": "Hz", "sps": "Hz", "samples/second": "Hz",
}  # fmt: skip
_PREFIXES = {"": 1.0, "k": 1e3, "m": 1e-3, "u": 1e-6, "n": 1e-9, "p": 1e-12, "M": 1e6, "G": 1e9, "K": 1e3,
             "milli": 1e-3, "micro": 1e-6, "nano": 1e-9, "kilo": 1e3, "mega": 1e6, "giga": 1e9, "pico": 1e-12}  # fmt: skip
_CAPITALS = {"N": 1e-9, "U": 1e-6, "P": 1e-12}
_UNIT = re.compile(r"^(?P<prefix>milli|micro|nano|kilo|mega|giga|pico|[kKmMunpGNUP]?)(?P<base>[a-z/]+)$", re.I)


def unit_factor(text: str) -> tuple[str, float] | None:
    """Base unit ("s", "V", "A", "Hz") and factor to it of a unit as written ("mV", "us", "GSa/s"); None if it is none.

    Written all in capitals, M is milli for seconds, volts and amperes: nobody samples megaseconds.
    """
    text = text.strip().strip("[](){}<>").strip().replace("µ", "u").replace("μ", "u")
    if text.lower() in _BASES:
        return _BASES[text.lower()], 1.0
    found = _UNIT.match(text)
    base = _BASES.get(found["base"].lower()) if found else None
    if found is None or base is None:
        return None
    prefix = found["prefix"] if len(found["prefix"]) < 2 else found["prefix"].lower()
    if prefix == "M" and base != "Hz":
        return base, 1e-3 if text.isupper() else 1e6
    factor = {**_CAPITALS, **_PREFIXES}.get(prefix)
    return None if factor is None else (base, factor)
