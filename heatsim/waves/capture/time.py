# SPDX-License-Identifier: GPL-3.0-or-later
"""The time axis of a record: as recorded, or rebuilt where the file's digits are too few to part the samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatsim.errors import InputError
from heatsim.waves.capture.raw import Raw
from heatsim.waves.waveforms import Array

EVEN = 1e-3
"""Steps that differ by less than this share are equal."""

GAP = 1.6
"""A step that long, counted in usual steps, has lost a sample."""

SHORTEST = 1e-15
"""Smallest step between samples that can be meant [s]."""


@dataclass(frozen=True)
class Axis:
    """time [s], shape (m,), not falling; keep: which of the record's samples these are; even: one step throughout;
    notes and faults in words.
    """

    time: Array
    keep: Array | None
    even: bool
    notes: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()


def axis_of(raw: Raw, count: int, rebuild: bool, label: str, expected: str) -> Axis:
    """Time of `count` samples by the file's stamps, else by its interval.

    Raises InputError where there is no time at all, or where it runs backwards, with the line.
    """
    if raw.stamps is None:
        return _from_interval(raw, count, label, expected)
    stamps, known, faults = raw.stamps, np.flatnonzero(~np.isnan(raw.stamps)), []
    if known.size < 2:
        raise InputError.single(label, "has no time stamps", allowed=expected)
    if known.size < count:
        stamps = np.interp(np.arange(count), known, stamps[known])
        faults.append(f"{count - known.size} time stamps are missing; put between their neighbours")
    falls = np.flatnonzero(np.diff(stamps) < 0)
    if falls.size:
        before, at = stamps[falls[0]], stamps[falls[0] + 1]
        raise InputError.single(raw.place(int(falls[0]) + 1, label), "time runs backwards", f"{at:g} s", f"at least {before:g} s")
    found = _rebuilt(stamps, raw.interval) if rebuild else None
    if found is not None:
        return Axis(found[0], None, True, (found[1],), tuple(faults))
    return _as_recorded(stamps, faults, rebuild, label)


def _from_interval(raw: Raw, count: int, label: str, expected: str) -> Axis:
    if raw.interval is None:
        head = "has no time column" if raw.header else "has no header and no column that could be time,"
        what = f"{head} and states no sample interval" if raw.header else f"{head} nor a sample interval"
        raise InputError.single(label, what, allowed=expected)
    if not SHORTEST < raw.interval < 1e6:
        raise InputError.single(label, "states an impossible sample interval", f"{raw.interval:g} s", "1 fs or more")
    numbered = raw.numbers is not None and bool(np.all(np.diff(raw.numbers) > 0))
    numbers = np.asarray(raw.numbers if numbered else np.arange(count), dtype=np.float64)
    time = np.asarray(raw.start + raw.interval * (numbers - numbers[0]))
    return Axis(time, None, True, (f"time from the sample interval {raw.interval:g} s",))


def _rebuilt(stamps: Array, interval: float | None) -> tuple[Array, str] | None:
    """An even axis through rounded stamps, and why it may be: no stamp is farther from it than rounding explains.

    Rounding to a digit q moves a stamp by q/2 at most. Where stamps repeat, q is their usual distance; else q is what
    they are found to be multiples of. None where stamps are even already or not explained.
    """
    steps = np.diff(stamps)
    apart = steps[steps > 0]
    if apart.size < 2:
        return None
    index = np.arange(stamps.size, dtype=np.float64) - 0.5 * (stamps.size - 1)
    slope = float(np.dot(index, stamps - stamps.mean()) / np.dot(index, index))
    line = stamps.mean() + slope * index
    away = float(np.max(np.abs(stamps - line)))
    repeated = stamps.size - 1 - apart.size
    if slope < SHORTEST or not repeated and away < EVEN * slope:
        return None
    digit = float(np.quantile(apart, 0.95)) if repeated else _digit(stamps, apart)
    if digit > 0.2 * (stamps[-1] - stamps[0]) or away > digit:
        return None
    if away > 0.51 * digit + 2 * digit / np.sqrt(stamps.size):  # ties, rounded now up, now down, bend the fit
        if repeated < 0.2 * stamps.size:
            return None  # but with few repeats a stamp is wrong
        tilt, shift, away = _narrowest(index, np.asarray(stamps - line, dtype=np.float64))
        if away > 0.51 * digit:
            return None
        slope, line = slope + tilt, line + shift + tilt * index
    known = interval if interval and abs(interval / slope - 1) * stamps.size < digit / slope + 0.01 else None
    source = "the stated sample interval" if known else "a straight line through all of them"
    what = f"{repeated} stamps repeat the one before" if repeated else "stamps are rounded"
    even = line if not known else stamps.mean() + known * index
    return even, f"{what}, for lack of digits: time rebuilt in even steps of {known or slope:.6g} s from {source}"


def _narrowest(index: Array, rest: Array) -> tuple[float, float, float]:
    """Slope and height of the line whose largest distance from the points is least, and that distance.

    One of the two lines that enclose the points lies on an edge of their hull.
    """
    from scipy.spatial import ConvexHull

    scale = float(np.ptp(rest)) or 1.0
    corners = ConvexHull(np.column_stack([index / index[-1], rest / scale])).vertices
    x, y = index[corners], rest[corners]
    apart = np.roll(x, -1) - x
    slopes = ((np.roll(y, -1) - y) / np.where(apart == 0.0, np.inf, apart))[apart != 0.0]
    heights = y - slopes[:, np.newaxis] * x
    best = int(np.argmin(np.ptp(heights, axis=1)))
    low, high = float(heights[best].min()), float(heights[best].max())
    return float(slopes[best]), 0.5 * (low + high), 0.5 * (high - low)


def _digit(stamps: Array, apart: Array) -> float:
    """Digit that stamps which do not repeat are rounded to: the spread between their steps, where all of these are one of two
    or three values that far (or half of it) apart, else 0.
    """
    low, high = float(apart.min()), float(apart.max())
    spread = high - low
    if not 1e-14 * max(abs(float(stamps[0])), abs(float(stamps[-1]))) < spread < 0.75 * high:
        return 0.0
    places = 2 * (apart - low) / spread
    return spread if np.max(np.abs(places - np.round(places))) < 0.02 else 0.0


def _as_recorded(stamps: Array, faults: list[str], rebuild: bool, label: str) -> Axis:
    """The stamps as they are, but for repeated ones where `rebuild` is wanted."""
    steps, keep = np.diff(stamps), None
    repeated = int(np.sum(steps == 0))
    if rebuild and repeated > 0.5 * steps.size:
        given = f"{stamps.size - repeated} different ones for {stamps.size} samples"
        raise InputError.single(label, "has time stamps of too few digits", given, "time stamps with more digits")
    if rebuild and repeated:
        keep = np.concatenate(([True], steps > 0))
        faults.append(f"{repeated} samples share a time stamp with the one before; averaged with it")
        stamps = stamps[keep]
        steps = np.diff(stamps)
    rising = steps[steps > 0]
    usual = float(np.median(rising)) if rising.size else 0.0
    if usual < SHORTEST:
        raise InputError.single(label, "time does not go on", f"{usual:g} s a step", f"steps above {SHORTEST:g} s")
    if np.max(np.abs(steps - usual)) < 0.05 * usual:
        return Axis(stamps, keep, True, (), tuple(faults))
    wide, rest = rising[rising > GAP * usual], rising[rising <= GAP * usual]
    if 0 < wide.size < 0.02 * steps.size and rest.size and np.ptp(rest) < 0.1 * usual:
        lost, longest = int(np.round(wide / usual - 1).sum()), wide.max() / usual - 1
        faults.append(f"{wide.size} gaps in time: {lost} samples are missing, {longest:.0f} of them in the longest")
        return Axis(stamps, keep, False, (), tuple(faults))
    note = f"uneven time steps, {rising.min():.3g} to {steps.max():.3g} s: kept as recorded"
    return Axis(stamps, keep, False, (note,), tuple(faults))
