# SPDX-License-Identifier: GPL-3.0-or-later
"""A captured waveform: an oscilloscope's file read by its content, what was assumed in it, and what is wrong with it.

Read are tables of text however written (see `capture_dialect`), WAV, NPZ, NPY and Parquet files. What a file does not
say, the caller may: probe factor, inversion, offset, unit, time step. What neither says is assumed and stands in the
capture's notes; what harms a measurement (clipping, too few samples, ringing, gaps...) stands in its faults.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from heatsim.errors import InputError, known_names
from heatsim.files import read_named, shown_path
from heatsim.waves.capture.binary import records_of_binary
from heatsim.waves.capture.faults import Judged, contradictions_of, judge, judge_together
from heatsim.waves.capture.raw import FEWEST, GREATEST, LARGEST, OVER_RANGE, Column, Raw
from heatsim.waves.capture.text import records_of_text
from heatsim.waves.capture.time import Axis, axis_of
from heatsim.waves.waveforms import Array, Waveforms

EXPECTED = "a time column or a sample interval, and channels, such as: time [s],CH1 [V],CH2 [A]"


@dataclass(frozen=True)
class Probe:
    """How a channel was taken, as far as the caller knows.

    factor: what its samples are multiplied with, 10 for a divider by ten that the oscilloscope did not know of, or
    amperes per volt of a current probe; inverted: the probe the other way round; unit: "V" or "A", over the file's;
    offset: of the result [unit], taken off; coupling: of the oscilloscope's input. None where the caller does not know.
    """

    factor: float = 1.0
    inverted: bool = False
    unit: str | None = None
    offset: float = 0.0
    coupling: Literal["dc", "ac"] | None = None

    def __post_init__(self) -> None:
        if not 1e-9 <= abs(self.factor) <= 1e9:
            raise InputError.single("probe factor", "is out of range", self.factor, "1e-9 to 1e9")
        if not abs(self.offset) < GREATEST:
            raise InputError.single("probe offset", "is out of range", self.offset, "a finite number")
        if self.unit not in (None, "V", "A", ""):
            raise InputError.single("probe unit", "is not known", repr(self.unit), "V or A")


@dataclass(frozen=True)
class Channel:
    """One signal of a capture.

    name: as in the file, else CH1, CH2...; unit: "V", "A" or "" (not said); samples: shape (n,), all finite; step:
    quantisation step found, in the unit, None when none shows; noise: rms in the unit, quantisation included, taken as
    white; clipped: whether it is at the lowest, and at the highest value; missing: how many samples the file lacks.
    """

    name: str
    unit: str
    samples: Array
    step: float | None
    noise: float
    clipped: tuple[bool, bool] = (False, False)
    missing: int = 0
    probe: Probe = field(default_factory=Probe)


@dataclass(frozen=True)
class Capture:
    """A record of one or more channels.

    label: the file's name, for messages; time [s], shape (n,): rises strictly unless read without rebuilding; even: in
    steps of one size; notes: what was assumed or done; faults: what harms a measurement; periods: whole periods of the
    strongest alternating channel, None when it does not repeat; record, records: which of how many in the file; rows:
    line of each sample in a file of text; header: line of the names, 0 without.
    """

    label: str
    time: Array
    channels: tuple[Channel, ...]
    notes: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    even: bool = True
    periods: float | None = None
    record: int = 1
    records: int = 1
    rows: NDArray[np.int64] | None = None
    header: int = 0

    def __getitem__(self, name: str) -> Channel:
        """A channel by its name in any case, or by its number from 1 on; InputError names those there are."""
        for channel in self.channels:
            if channel.name == name:
                return channel
        for number, channel in enumerate(self.channels, start=1):
            if name.casefold() in (channel.name.casefold(), str(number)):
                return channel
        raise InputError.single(self.label, "has no such channel", repr(name[:60]), known_names(name, self.names))

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the channels."""
        return tuple(channel.name for channel in self.channels)

    def waveforms(self, signals: Mapping[str, str]) -> Waveforms:
        """The channels as signals of ours, `{"CH1": "tank.voltage"}`, for `heatsim.measures.gather.measure`.

        Units are those the signals' names end with (voltage, current). Raises InputError for a channel that is not
        there, is in the other unit, or is named twice, and for a capture whose time does not rise strictly.
        """
        found: dict[str, Array] = {}
        units: dict[str, str] = {}
        for name, signal in signals.items():
            channel, unit = self[name], _unit_of(signal)
            if signal in found:
                raise InputError.single(self.label, "has two channels for one signal", signal, "one channel each")
            if unit and channel.unit and channel.unit != unit:
                what = f"{signal} is in {unit}, but {channel.name} is not"
                raise InputError.single(self.label, what, channel.unit, "another channel, or the probe's unit stated")
            found[signal], units[signal] = channel.samples, unit or channel.unit
        if not found or not np.all(np.diff(self.time) > 0):
            what = "has time stamps that repeat" if found else "has no channel chosen"
            raise InputError.single(self.label, what, allowed="channels of a capture with a rebuilt time axis")
        return Waveforms(self.time, found, units, f"capture {Path(self.label).name}")

    def contradictions(self, signals: Mapping[str, str]) -> tuple[str, ...]:
        """What cannot be as it stands once it is known what the channels are: inverted, without its direct part..."""
        chosen = [(self[name], signal) for name, signal in signals.items()]
        return tuple(
            found
            for channel, signal in chosen
            for found in contradictions_of(signal, channel.name, channel.samples, channel.probe.coupling)
        )


def _unit_of(signal: str) -> str:
    ends = {"voltage": "V", "current": "A", "core_voltage": "V", "magnetising_current": "A", "flux": "Wb"}
    return ends.get(signal.rsplit(".", 1)[-1], "")


def read_capture(
    path: str | Path,
    channels: Mapping[str, Probe] | None = None,
    *,
    stated: Mapping[str, Probe] | None = None,
    time_step: float | None = None,
    record: int = 1,
    missing: bool = True,
    rebuild: bool = True,
    expected: str = EXPECTED,
    place: str = "",
) -> Capture:
    """Read one record of a file.

    channels: those wanted, by name or number, with their probes; None for all
    stated: probe of each channel the caller knows of, by name or number, where all are wanted; the others as they stand
    time_step: of the samples [s], over what the file says
    record: which of several records in the file, from 1 on
    missing: whether samples may be missing; straight lines take their place
    rebuild: whether rounded or repeated stamps are made an even axis; else they stay
    expected: what the caller needs, for messages
    place: file, line and field that name the file, for messages; empty when the user does so directly
    Raises InputError with the row.
    """
    label = shown_path(path)
    if time_step is not None and not 1e-15 < time_step < 1e6:
        raise InputError.single(label, "cannot have this time step", time_step, "a time in seconds, above 1 fs")
    data = read_named(Path(path), LARGEST, "a capture", place)
    found = records_of_binary(data, label, expected) or records_of_text(data, label, expected)
    del data
    if not 1 <= record <= len(found):
        raise InputError.single(label, "has no such record", record, f"1 to {len(found)}")
    raw = found[record - 1]
    if not raw.columns:
        raise InputError.single(label, "has no channel beside time", allowed=expected)
    count = raw.columns[0].values.size
    if count < FEWEST:
        raise InputError.single(label, "has too few samples", count, f"{FEWEST} or more")
    taken = _chosen(raw, channels, stated or {}, label)
    if not missing:
        _refuse_missing(raw, taken, label)
    complete = [_complete(column, name, raw, label) for name, column, _ in taken]
    axis = axis_of(raw, count, time_step, rebuild, label, expected)
    capture = _assembled(raw, axis, taken, complete, label)
    if len(found) > 1:
        said = f"the file holds {len(found)} records: this is number {record}"
        capture = replace(capture, notes=(said, *capture.notes), record=record, records=len(found))
    return capture


Taken = list[tuple[str, Column, Probe]]
"""Name, column and probe of each channel wanted."""


def _names(raw: Raw) -> list[str]:
    """A name for each column; CH1... where the file has none, a number behind one that is there twice."""
    names: list[str] = []
    for k, column in enumerate(raw.columns, start=1):
        plain = "".join(sign for sign in column.name if sign.isprintable()).strip() or f"CH{k}"
        names.append(plain if plain not in names else f"{plain} ({k})")
    return names


def _chosen(raw: Raw, channels: Mapping[str, Probe] | None, stated: Mapping[str, Probe], label: str) -> Taken:
    names = _names(raw)
    shells = tuple(Channel(name, "", np.empty(0), None, 0.0) for name in names)
    directory = Capture(label, np.empty(0), shells)
    if channels is None:
        known = {directory[name].name: probe for name, probe in stated.items()}
        return [(name, column, known.get(name, Probe())) for name, column in zip(names, raw.columns, strict=True)]
    places = [names.index(directory[wanted].name) for wanted in channels]
    return [(names[k], raw.columns[k], probe) for k, probe in zip(places, channels.values(), strict=True)]


def _assembled(raw: Raw, axis: Axis, taken: Taken, complete: list[tuple[Array, int]], label: str) -> Capture:
    notes, faults = [*raw.notes, *axis.notes], [*raw.faults, *axis.faults]
    if raw.full_scale:
        notes.append("samples are shares of full scale: state the probe's factor, units at full scale, and its unit")
    channels, judged = [], []
    for (name, column, probe), (values, lost) in zip(taken, complete, strict=True):
        if axis.keep is not None:
            starts = np.flatnonzero(axis.keep)
            values = np.add.reduceat(values, starts) / np.diff(np.append(starts, values.size))
        unit = _unit(column, probe, name, notes)
        samples = values * (-probe.factor if probe.inverted else probe.factor) - probe.offset
        found = judge(name, unit, axis.time, samples, axis.even, raw.full_scale, abs(probe.factor))
        channels.append(Channel(name, unit, samples, found.step, found.noise, found.clipped, lost, probe))
        judged.append(found)
        if lost:
            faults.append(f"{name}: {lost} of {values.size} samples are missing; straight lines take their place")
    faults += [fault for found in judged for fault in found.faults]
    together = judge_together(axis.time, judged)
    notes += _stated(taken)
    kept = raw.rows if axis.keep is None or raw.rows is None else raw.rows[axis.keep]
    return Capture(label, axis.time, tuple(channels), tuple(notes), (*faults, *together), axis.even,
                   _periods(axis.time, judged), rows=kept, header=raw.header)  # fmt: skip


def _periods(time: Array, judged: list[Judged]) -> float | None:
    found = max((one for one in judged if one.period), key=lambda one: one.contrast, default=None)
    return float(time[-1] - time[0]) / found.period if found and found.period else None


def _place(raw: Raw, at: int, label: str) -> str:
    """Line of a sample in a file of text, else its number."""
    return f"{label}:{raw.rows[at]}" if raw.rows is not None else f"{label}: sample {at + 1}"


def _refuse_missing(raw: Raw, taken: Taken, label: str) -> None:
    columns = [*((name, column.values) for name, column, _ in taken)]
    for name, values in [("time", raw.stamps), *columns] if raw.stamps is not None else columns:
        gone = np.isnan(values)
        if gone.any():
            where = _place(raw, int(np.argmax(gone)), label)
            raise InputError.single(where, f"{name} is not a finite number", "nan", "a number such as 1.25e-6")


def _complete(column: Column, name: str, raw: Raw, label: str) -> tuple[Array, int]:
    """Finite samples, straight lines in place of those missing, and how many these were."""
    values = np.where(np.abs(column.values) >= OVER_RANGE, np.nan, column.values)
    wild = np.abs(values) > GREATEST
    if wild.any():
        at = int(np.argmax(wild))
        given = f"{values[at]:g}"
        raise InputError.single(_place(raw, at, label), f"{name} is beyond all measure", given, f"up to {GREATEST:g}")
    gone = np.isnan(values)
    lost = int(gone.sum())
    if lost > values.size - 2:
        raise InputError.single(label, f"{name} has no samples", values.size - lost, "two or more")
    if lost:
        index = np.arange(values.size)
        values = np.interp(index, index[~gone], values[~gone])
    return np.ascontiguousarray(values), lost


def _unit(column: Column, probe: Probe, name: str, notes: list[str]) -> str:
    if probe.unit is not None:
        return probe.unit
    if column.unit in ("V", "A"):
        return column.unit
    said = f"its unit, {column.unit[:12]!r}, is neither volts nor amperes" if column.unit else "the file says no unit"
    notes.append(f"{name}: {said}")
    return ""


def _stated(taken: Taken) -> list[str]:
    """What was done to the channels at the caller's word, and what was assumed for want of it."""
    said = []
    for name, _, probe in taken:
        words = [f"multiplied by {probe.factor:g}"] if probe.factor != 1.0 else []
        words += ["inverted"] if probe.inverted else []
        words += [f"offset of {probe.offset:g} taken off"] if probe.offset else []
        words += [f"{probe.coupling.upper()} coupled"] if probe.coupling else []
        if words:
            said.append(f"{name}: {', '.join(words)}, as stated by the caller")
    if all(probe == Probe(unit=probe.unit) for _, _, probe in taken):
        said.append("samples are taken as they stand: probe factor 1, not inverted, DC coupled")
    return said
