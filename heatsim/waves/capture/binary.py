# SPDX-License-Identifier: GPL-3.0-or-later
"""Records out of WAV, NPZ, NPY and Parquet files. Nothing in a file is executed, and no size it claims is believed."""

from __future__ import annotations

import io
import math
import warnings
import zipfile
from collections.abc import Mapping
from typing import IO, Any

import numpy as np

from heatsim.errors import InputError
from heatsim.waves.capture.header import Header, name_and_unit
from heatsim.waves.capture.raw import MOST, MOST_CELLS, MOST_COLUMNS, Column, Raw, check_columns, check_size, unit_factor
from heatsim.waves.waveforms import Array

_INTERVALS = ("dt", "interval", "sample_interval", "time_step", "step")
_RATES = ("fs", "rate", "sample_rate", "sampling_rate")
_NUMERIC = ("BOOLEAN", "INT32", "INT64", "INT96", "FLOAT", "DOUBLE")
"""Physical types of a Parquet column whose values have one length."""


def read_binary(data: bytes, label: str, expected: str) -> Raw | None:
    """The record of a WAV, NPZ, NPY or Parquet file, known by its first bytes; None for anything else.

    label: for messages; expected: what the caller needs, in words. Raises InputError.
    """
    readers = {b"PK\x03\x04": ("NPZ", _npz), b"\x93NUM": ("NPY", _npy), b"PAR1": ("Parquet", _parquet)}
    readers |= dict.fromkeys((b"RIFF", b"RIFX", b"RF64"), ("WAV", _wav)) if data[8:12] == b"WAVE" else {}
    if data[:4] not in readers:
        return None
    kind, read = readers[data[:4]]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            raw = read(data, label)
    except InputError:
        raise
    except Exception:  # a parser may raise anything over a damaged file
        raise InputError.single(label, f"is not a whole {kind} file", allowed=expected) from None
    lengths = {column.values.shape for column in raw.columns} | ({raw.stamps.shape} if raw.stamps is not None else set())
    if not raw.columns or len(lengths) != 1 or any(len(shape) != 1 for shape in lengths):
        shown = ", ".join(sorted(str(shape) for shape in lengths))[:80]
        raise InputError.single(label, "has no channels, or arrays of different lengths", shown, expected)
    check_columns(len(raw.columns), label)
    check_size((raw.columns[0].values.size, len(raw.columns)), label)
    return raw


def _wav(data: bytes, label: str) -> Raw:
    """Integers as shares of full scale, channels as CH1, CH2..."""
    from scipy.io import wavfile

    rate, samples = wavfile.read(io.BytesIO(data))
    check_size(samples.shape, label)
    if not rate > 0:
        raise InputError.single(label, "states no sampling rate", rate, "a sampling rate above 0 Hz")
    values = np.atleast_2d(samples.T).astype(np.float64)
    if samples.dtype.kind != "f":
        middle = 128.0 if samples.dtype.kind == "u" else 0.0
        values = (values - middle) / 2.0 ** (8 * samples.dtype.itemsize - 1)
    return Raw(tuple(Column("", "", column) for column in values), interval=1.0 / float(rate), full_scale=True)


def _parquet(data: bytes, label: str) -> Raw:
    """Columns of plain numbers, instants and durations; texts and lists, which can be far longer than their file, stay unread."""
    try:
        import pyarrow  # type: ignore[import-untyped,import-not-found,unused-ignore]
        from pyarrow import parquet  # type: ignore[import-untyped,import-not-found,unused-ignore]
    except ImportError:
        what, how = "is a Parquet file, and pyarrow, which reads it, is not installed", "pip install 'heatsim[parquet]'"
        raise InputError.single(label, what, "", f"{how}, or another format") from None
    file = parquet.ParquetFile(pyarrow.BufferReader(data))
    about = file.metadata
    columns = [about.schema.column(k) for k in range(min(about.num_columns, 2 * MOST_COLUMNS))]
    plain = [k for k, one in enumerate(columns) if one.physical_type in _NUMERIC and one.path == one.name]
    groups = [about.row_group(k) for k in range(about.num_row_groups)]
    check_size((sum(group.num_rows for group in groups), len(plain)), label)
    claimed = max((group.column(k).total_uncompressed_size for group in groups for k in plain), default=0)
    if claimed > 9 * MOST:
        raise InputError.single(label, "unpacks to too much", f"{claimed} bytes in a column", f"up to {9 * MOST}")
    table = file.read(columns=[columns[k].name for k in plain], use_threads=False)
    arrays = {str(name): _numbers(table.column(k).to_numpy()) for k, name in enumerate(table.column_names)}
    return _named({name: values for name, values in arrays.items() if values is not None})


def _numbers(values: Any) -> Array | None:
    """Values as floating-point numbers, instants and durations in seconds; None for texts and the like."""
    if values.dtype.kind in "mM":
        since = values - values[0] if values.dtype.kind == "M" and values.size else values
        return np.asarray(since.astype("timedelta64[ns]").astype(np.float64) * 1e-9)
    return values.astype(np.float64) if values.dtype.kind in "iufb" else None


def _npz(data: bytes, label: str) -> Raw:
    arrays: dict[str, Any] = {}
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = [item for item in archive.infolist() if item.filename.endswith(".npy")]
        if len(members) > 2 * MOST_COLUMNS:
            raise InputError.single(label, "has too many arrays", len(members), f"up to {2 * MOST_COLUMNS}")
        left = MOST_CELLS
        for item in members:
            with archive.open(item) as member:
                left = _left(left, member, label)
            with archive.open(item) as member:
                arrays[item.filename[:-4]] = np.lib.format.read_array(member, allow_pickle=False)
    return _own(arrays) if "meta" in arrays else _plain(arrays)


def _npy(data: bytes, label: str) -> Raw:
    _left(MOST_CELLS, io.BytesIO(data), label)
    array = np.lib.format.read_array(io.BytesIO(data), allow_pickle=False)
    return _plain({"column" if array.ndim == 2 else "samples": array})


def _left(room: int, stream: IO[bytes], label: str) -> int:
    """What an NPY array leaves of `room` for numbers of 8 bytes, by its header; InputError for less than nothing."""
    version = np.lib.format.read_magic(stream)
    read = np.lib.format.read_array_header_1_0 if version == (1, 0) else np.lib.format.read_array_header_2_0
    shape, _, dtype = read(stream)
    check_size(shape, label)
    if dtype.hasobject:
        raise ValueError("an array of objects")
    left = room - math.prod(shape) * max(1, dtype.itemsize // 8)
    if left < 0:
        raise InputError.single(label, "unpacks to too much", allowed=f"up to {MOST_CELLS} numbers in all arrays together")
    return left


def _own(arrays: Mapping[str, Any]) -> Raw:
    """What `Waveforms.save_npz` wrote."""
    named = [str(line).partition("\t") for line in arrays["meta"].ravel()]
    columns = tuple(Column(name, unit, arrays[f"signal_{k}"].astype(np.float64)) for k, (name, _, unit) in enumerate(named))
    return Raw(columns, arrays["time"].astype(np.float64), header=1)


def _plain(arrays: Mapping[str, Any]) -> Raw:
    """Arrays of one length by their names, a table's columns numbered; single numbers may be interval or rate."""
    flat: dict[str, Array] = {}
    single: dict[str, float] = {}
    for name, array in arrays.items():
        if array.dtype.kind not in "iufbmM":
            continue
        if array.size == 1:
            single[name.lower()] = float(array.astype(np.float64).ravel()[0])
        elif array.ndim == 1:
            flat[name] = _numbers(array)  # type: ignore[assignment]
        elif array.ndim == 2:
            tall = array if array.shape[0] >= array.shape[1] else array.T
            flat |= {f"{name} {k + 1}": tall[:, k].astype(np.float64) for k in range(min(tall.shape[1], 2 * MOST_COLUMNS))}
    interval = next((single[name] for name in _INTERVALS if name in single), None)
    rate = next((single[name] for name in _RATES if single.get(name)), None)
    return _named(flat, interval if interval is not None else 1.0 / rate if rate else None)


def _named(arrays: Mapping[str, Array], interval: float | None = None) -> Raw:
    """Time by its name or unit; else, where no interval is given, the first array that rises."""
    named, values = [name_and_unit(name) for name in arrays], list(arrays.values())
    header = Header({k: name for k, (name, _) in enumerate(named)}, {k: unit for k, (_, unit) in enumerate(named)})
    time = next((k for k in range(len(values)) if header.is_time(k)), None)
    if time is None and interval is None and len(values) > 1 and np.all(np.diff(values[0]) > 0):
        time = 0
    scales = [unit_factor(unit) or (unit, 1.0) for _, unit in named]
    channels = [k for k in range(len(values)) if k != time]
    columns = tuple(Column(named[k][0], scales[k][0], values[k] * scales[k][1]) for k in channels)
    stamps = None if time is None else values[time] * (scales[time][1] if scales[time][0] == "s" else 1.0)
    return Raw(columns, stamps, interval, header=1)
