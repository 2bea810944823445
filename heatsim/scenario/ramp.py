# SPDX-License-Identifier: GPL-3.0-or-later
"""A captured current ramp: which channels of an oscilloscope's file are its current and, where recorded, its voltage.

The file is read by `heatsim.waves.capture`. Channels are known by name (`current`, `I`, `voltage`, `V`...), else by
their unit; a file without a header holds time, current, voltage in s, A, V. Equal neighbouring time stamps are joined
into one sample.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from heatsim.errors import InputError
from heatsim.physics.numeric import FloatArray
from heatsim.waves.capture import Capture, Channel, read_capture

FEWEST, MOST = 24, 1_000_000
"""Samples of a ramp."""

_ROLES = {"current": "current", "i": "current", "amps": "current", "voltage": "voltage", "v": "voltage",
          "volts": "voltage"}  # fmt: skip
_FORM = "two or three columns, time, current and optionally voltage, such as: time [s],current [A],voltage [V]"


@dataclass(frozen=True)
class RampCapture:
    """A captured ramp: time [s], strictly rising; current [A]; voltage [V] or None; label: where it is from.

    joined: number of samples that shared a time stamp with the one before and were averaged into it.
    """

    time: FloatArray
    current: FloatArray
    voltage: FloatArray | None
    label: str
    joined: int = 0


def read_ramp(path: Path, shunt: float | None = None, place: str = "") -> RampCapture:
    """Read a captured ramp.

    path: the oscilloscope's file
    shunt: resistance [ohm] that divides a current column given in volts across it
    place: file, line and field that name the file; empty when the user does so directly
    Raises InputError with file and line for whatever cannot be read as rising, finite samples.
    """
    found = read_capture(path, missing=False, rebuild=False, expected=_FORM, place=place)
    roles = _by_name(found, shunt) if found.header else _by_place(found)
    count = found.time.size
    if not FEWEST <= count <= MOST:
        raise InputError.single(found.label, "has too few or too many samples", count, f"{FEWEST} to {MOST}")
    current = roles["current"].samples / (shunt or 1.0)
    voltage = roles["voltage"].samples if "voltage" in roles else None
    return _joined(found, current, voltage)


def _by_place(found: Capture) -> dict[str, Channel]:
    count = len(found.channels)
    if count > 2:
        raise InputError.single(found.label, "has no header, and not two or three columns", count + 1, _FORM)
    return dict(zip(("current", "voltage"), found.channels, strict=False))


def _by_name(found: Capture, shunt: float | None) -> dict[str, Channel]:
    """Role -> channel; with a shunt the first channel in volts is the current unless another is called so."""
    where = f"{found.label}:{found.header}"
    roles: dict[str, Channel] = {}
    named = {_ROLES.get(channel.name.lower()) for channel in found.channels}
    for channel in found.channels:
        role = _ROLES.get(channel.name.lower()) or {"A": "current", "V": "voltage"}.get(channel.unit)
        if shunt and role == "voltage" and not named & {"current", "voltage"} and "current" not in roles:
            role = "current"
        if role is None:
            raise InputError.single(where, "has an unknown column", repr(channel.name[:40]), _FORM)
        base = "V" if role == "voltage" or shunt else "A"
        if role in roles or channel.unit not in ("", base):
            fault = "has a column twice" if role in roles else f"has a {role} column in another unit than {base}"
            raise InputError.single(where, fault, repr(f"{channel.name[:40]} [{channel.unit}]"), _FORM)
        roles[role] = channel
    if "current" not in roles:
        raise InputError.single(where, "has no current column", ", ".join(found.names)[:60], _FORM)
    return roles


def _joined(found: Capture, current: FloatArray, voltage: FloatArray | None) -> RampCapture:
    starts = np.flatnonzero(np.concatenate([[True], np.diff(found.time) > 0]))
    counts = np.diff(np.append(starts, found.time.size))
    if starts.size < FEWEST:
        fault = "has too few different time stamps"
        raise InputError.single(found.label, fault, starts.size, f"{FEWEST} or more")
    current = np.add.reduceat(current, starts) / counts
    if np.ptp(current) == 0:
        raise InputError.single(found.label, "the current never changes", f"{current[0]:g} A", "a rising ramp")
    voltage = None if voltage is None else np.add.reduceat(voltage, starts) / counts
    return RampCapture(found.time[starts], current, voltage, found.label, int((counts - 1).sum()))
