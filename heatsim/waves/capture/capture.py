# SPDX-License-Identifier: GPL-3.0-or-later
"""A captured waveform: an oscilloscope's file read by its content, what was assumed in it, and what is wrong with it.

Read are tables of text however written (see `dialect`), WAV, NPZ, NPY and Parquet files. What a file does not say of its
probes, the caller may: factor, inversion, offset, unit, coupling. What neither says is assumed and stands in the
capture's notes; what harms a measurement (clipping, too few samples, ringing, gaps...) stands in its faults.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import numpy as np

from heatsim.errors import InputError, known_names
from heatsim.files import read_named, shown_path
from heatsim.waves.capture.binary import read_binary
from heatsim.waves.capture.faults import contradiction_of, judge, judge_together
from heatsim.waves.capture.raw import FEWEST, GREATEST, LARGEST, OVER_RANGE, Column, Raw
from heatsim.waves.capture.text import read_text
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
    white; clipped: whether it is at the lowest, and at the highest value.
    """

    name: str
    unit: str
    samples: Array
    step: float | None
    noise: float
    clipped: tuple[bool, bool] = (False, False)
    probe: Probe = field(default_factory=Probe)


@dataclass(frozen=True)
class Capture:
    """A record of one or more channels.

    label: the file's name, for messages; time [s], shape (n,): rises strictly unless read without rebuilding; notes: what
    was assumed or done; faults: what harms a measurement; periods: whole periods of the strongest alternating channel,
    None when it does not repeat; header: line of the names, 0 without.
    """

    label: str
    time: Array
    channels: tuple[Channel, ...]
    notes: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    periods: float | None = None
    header: int = 0

    def __getitem__(self, name: str) -> Channel:
        """A channel by its name in any case, or by its number from 1 on; InputError names those there are."""
        return self.channels[_find(name, self.names, self.label)]

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
        found = ((self[name], signal) for name, signal in signals.items())
        said = (contradiction_of(signal, each.name, each.samples, each.probe.coupling) for each, signal in found)
        return tuple(filter(None, said))


def _unit_of(signal: str) -> str:
    ends = {"voltage": "V", "current": "A", "core_voltage": "V", "magnetising_current": "A", "flux": "Wb"}
    return ends.get(signal.rsplit(".", 1)[-1], "")


def read_capture(
    path: str | Path,
    stated: Mapping[str, Probe] | None = None,
    *,
    missing: bool = True,
    rebuild: bool = True,
    expected: str = EXPECTED,
    place: str = "",
) -> Capture:
    """Read the first record of a file.

    stated: probe of each channel the caller knows of, by name or number; the others as they stand
    missing: whether samples may be missing; straight lines take their place
    rebuild: whether rounded or repeated stamps are made an even axis; else they stay
    expected: what the caller needs, for messages
    place: file, line and field that name the file, for messages; empty when the user does so directly
    Raises InputError with the row.
    """
    label = shown_path(path)
    data = read_named(Path(path), LARGEST, "a capture", place)
    raw = read_binary(data, label, expected) or read_text(data, label, expected)
    del data
    if not raw.columns:
        raise InputError.single(label, "has no channel beside time", allowed=expected)
    count = raw.columns[0].values.size
    if count < FEWEST:
        raise InputError.single(label, "has too few samples", count, f"{FEWEST} or more")
    names = _names(raw)
    probes = {_find(name, names, label): probe for name, probe in (stated or {}).items()}
    taken = [(name, column, probes.get(k, Probe())) for k, (name, column) in enumerate(zip(names, raw.columns, strict=True))]
    if not missing:
        _refuse_missing(raw, names, label)
    complete = [_complete(column.values, name, raw, label) for name, column, _ in taken]
    axis = axis_of(raw, count, rebuild, label, expected)
    return _assembled(raw, axis, taken, complete, label)


Taken = list[tuple[str, Column, Probe]]
"""Name, column and probe of each channel."""


def _names(raw: Raw) -> list[str]:
    """A name for each column; CH1... where the file has none, a number behind one that is there twice."""
    names: list[str] = []
    for k, column in enumerate(raw.columns, start=1):
        plain = "".join(sign for sign in column.name if sign.isprintable()).strip() or f"CH{k}"
        names.append(plain if plain not in names else f"{plain} ({k})")
    return names


def _find(wanted: str, names: Sequence[str], label: str) -> int:
    """Place of a channel by its name in any case, or by its number from 1 on; InputError names those there are."""
    if wanted in names:
        return names.index(wanted)
    for k, name in enumerate(names):
        if wanted.casefold() in (name.casefold(), str(k + 1)):
            return k
    raise InputError.single(label, "has no such channel", repr(wanted[:60]), known_names(wanted, names))


def _assembled(raw: Raw, axis: Axis, taken: Taken, complete: list[tuple[Array, int]], label: str) -> Capture:
    notes, faults = [*raw.notes, *axis.notes], [*axis.faults]
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
        channels.append(Channel(name, unit, samples, found.step, found.noise, found.clipped, probe))
        judged.append(found)
        if lost:
            faults.append(f"{name}: {lost} of {values.size} samples are missing; straight lines take their place")
    faults += [fault for found in judged for fault in found.faults] + judge_together(judged)
    notes += _stated(taken)
    strongest = max((one for one in judged if one.period), key=lambda one: one.contrast, default=None)
    periods = float(axis.time[-1] - axis.time[0]) / strongest.period if strongest and strongest.period else None
    return Capture(label, axis.time, tuple(channels), tuple(notes), tuple(faults), periods, raw.header)


def _refuse_missing(raw: Raw, names: Sequence[str], label: str) -> None:
    columns = [*zip(names, (column.values for column in raw.columns), strict=True)]
    for name, values in [("time", raw.stamps), *columns] if raw.stamps is not None else columns:
        gone = np.isnan(values)
        if gone.any():
            where = raw.place(int(np.argmax(gone)), label)
            raise InputError.single(where, f"{name} is not a finite number", "nan", "a number such as 1.25e-6")


def _complete(values: Array, name: str, raw: Raw, label: str) -> tuple[Array, int]:
    """Finite samples, straight lines in place of those missing, and how many these were."""
    values = np.where(np.abs(values) >= OVER_RANGE, np.nan, values)
    wild = np.flatnonzero(np.abs(values) > GREATEST)
    if wild.size:
        where, given = raw.place(int(wild[0]), label), f"{values[wild[0]]:g}"
        raise InputError.single(where, f"{name} is beyond all measure", given, f"up to {GREATEST:g}")
    there = np.flatnonzero(~np.isnan(values))
    if there.size < 2:
        raise InputError.single(label, f"{name} has no samples", there.size, "two or more")
    if there.size < values.size:
        values = np.interp(np.arange(values.size), there, values[there])
    return np.ascontiguousarray(values), int(values.size - there.size)


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
