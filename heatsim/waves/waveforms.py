# SPDX-License-Identifier: GPL-3.0-or-later
"""Waveforms: named signals on one time axis, simulated or captured alike."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from heatsim.files import replacing

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Waveforms:
    """Signals on a common, strictly rising and in general unevenly spaced time axis.

    time: instants [s], shape (n,); signals: name -> samples, shape (n,) each; units: name -> SI unit symbol;
    origin: where they come from ("ngspice-39 cold start", "capture file.csv"), for provenance only.
    Raises ValueError when lengths differ, time does not rise or a sample is not finite.
    """

    time: Array
    signals: Mapping[str, Array]
    units: Mapping[str, str] = field(default_factory=dict)
    origin: str = ""

    def __post_init__(self) -> None:
        time = np.ascontiguousarray(self.time, dtype=np.float64)
        if time.ndim != 1 or time.size < 2:
            raise ValueError(f"time needs at least two samples in one dimension, got shape {time.shape}")
        if not np.all(np.diff(time) > 0):
            raise ValueError("time must rise strictly")
        signals = {name: np.ascontiguousarray(x, dtype=np.float64) for name, x in self.signals.items()}
        for name, samples in signals.items():
            if samples.shape != time.shape:
                raise ValueError(f"signal {name} has shape {samples.shape}, time has {time.shape}")
            if not np.isfinite(samples).all():
                raise ValueError(f"signal {name} has samples that are not finite")
        object.__setattr__(self, "time", time)
        object.__setattr__(self, "signals", MappingProxyType(signals))
        object.__setattr__(self, "units", MappingProxyType(dict(self.units)))

    def __reduce__(self) -> tuple[object, ...]:
        return Waveforms, (self.time, dict(self.signals), dict(self.units), self.origin)

    def __getitem__(self, name: str) -> Array:
        """Samples of one signal; KeyError names those there are."""
        try:
            return self.signals[name]
        except KeyError:
            raise KeyError(f"no signal {name!r}; there are {', '.join(sorted(self.signals))}") from None

    def __contains__(self, name: str) -> bool:
        return name in self.signals

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the signals, in the order they were given."""
        return tuple(self.signals)

    @property
    def duration(self) -> float:
        """Last minus first instant [s]."""
        return float(self.time[-1] - self.time[0])

    def between(self, start: float, stop: float) -> Waveforms:
        """The part from `start` to `stop` [s], with interpolated samples exactly at both ends.

        Raises ValueError when the interval is empty or reaches outside the record.
        """
        if not self.time[0] <= start < stop <= self.time[-1]:
            raise ValueError(f"interval {start:g}..{stop:g} s is not inside {self.time[0]:g}..{self.time[-1]:g} s")
        first, last = int(np.searchsorted(self.time, start, side="right")), int(np.searchsorted(self.time, stop))
        cut = {name: np.empty(last - first + 2) for name in self.signals}
        for name, samples in self.signals.items():
            cut[name][1:-1] = samples[first:last]
            cut[name][0], cut[name][-1] = self._at(start, first, samples), self._at(stop, last, samples)
        return self._made_of(np.concatenate(([start], self.time[first:last], [stop])), cut)

    def _at(self, instant: float, place: int, samples: Array) -> float:
        """A sample interpolated at an instant [s] that lies before the one at `place`, or on it."""
        since, until = self.time.item(place - 1), self.time.item(place)
        before, after = samples.item(place - 1), samples.item(place)
        return after if instant == until else (after - before) / (until - since) * (instant - since) + before

    def _made_of(self, time: Array, signals: Mapping[str, Array]) -> Waveforms:
        """A record of arrays that are made of this one's in such a way that there is nothing to check in them."""
        made = object.__new__(Waveforms)
        units = MappingProxyType({name: unit for name, unit in self.units.items() if name in signals})
        for name, value in (
            ("time", time),
            ("signals", MappingProxyType(dict(signals))),
            ("units", units),
            ("origin", self.origin),
        ):
            object.__setattr__(made, name, value)
        return made

    def repeated(self, times: int) -> Waveforms:
        """One period several times over; its two ends are one instant.

        By what a signal fails to close, half is taken off at its end and added at its beginning, in proportion to time between:
        no step is left where the periods join, and no mean moves.
        """
        span = self.time[-1] - self.time[0]
        way = (self.time - self.time[0]) / span - 0.5
        time = np.concatenate([*(self.time[:-1] + k * span for k in range(times)), self.time[-1:] + (times - 1) * span])
        if not np.all(np.diff(time) > 0):
            raise ValueError("steps are too short for so many periods")
        closed = {name: x - (x.item(-1) - x.item(0)) * way for name, x in self.signals.items()}
        return self._made_of(time, {name: np.concatenate((*[x[:-1]] * times, x[-1:])) for name, x in closed.items()})

    def only(self, names: Iterable[str]) -> Waveforms:
        """The same record with just the named signals."""
        return self._made_of(self.time, {name: self[name] for name in names})

    def save_npz(self, path: Path, key: str = "", compressed: bool = False) -> None:
        """Write an NPZ: `time` as float64, signals as float32, plus names' units and the origin.

        key: whose they are, where files could be mistaken for one another; compressed: a sixth smaller, and fifty times as slow
        """
        meta = np.array([f"{name}\t{self.units.get(name, '')}" for name in self.names])
        arrays: dict[str, Any] = {f"signal_{k}": self.signals[name].astype(np.float32) for k, name in enumerate(self.names)}
        arrays |= {"key": np.array(key)} if key else {}
        with replacing(path) as stream:
            save = np.savez_compressed if compressed else np.savez
            save(stream, time=self.time, meta=meta, origin=np.array(self.origin), **arrays)

    @classmethod
    def load_npz(cls, path: Path, key: str = "") -> Waveforms:
        """Read what `save_npz` wrote. ValueError when the file says that it is of another key."""
        with np.load(path, allow_pickle=False) as data:
            if key and "key" in data and str(data["key"]) != key:
                raise ValueError("they are of another point")
            named = [str(line).split("\t") for line in data["meta"]]
            signals = {name: data[f"signal_{k}"].astype(np.float64) for k, (name, _) in enumerate(named)}
            return cls(data["time"], signals, {row[0]: row[1] for row in named}, str(data["origin"]))

    def save_csv(self, path: Path) -> None:
        """Write a CSV: header `time [s],name [unit],...`, one row an instant."""
        header = ",".join(["time [s]"] + [f"{name} [{self.units.get(name, '')}]" for name in self.names])
        table = np.column_stack([self.time, *self.signals.values()])
        with replacing(path) as stream:
            np.savetxt(stream, table, fmt="%.9g", delimiter=",", header=header, comments="", encoding="utf-8")
