# SPDX-License-Identifier: GPL-3.0-or-later
"""How an oscillator came up: did it, how long did it take, by how much did it overshoot.

Outcomes, read from the record alone:
    settled   it oscillates at the end, and the last periods do not differ from those before
    drifting  it oscillates at the end and still moves
    latched   it does not oscillate at the end, and both switches are held on
    stalled   it oscillated, and stopped
    dead      it never oscillated
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatsim.measures.basics import mean, peak
from heatsim.measures.periods import HYSTERESIS, SECTION, Window, drift_ratio, tail_amplitude
from heatsim.waves import Array, Waveforms
from heatsim.waves.periods import crossings, per_period

BAND = 0.02
"""Half width of the band round the settled envelope that counts as settled, as a share of it."""

WATCHED = (SECTION, "choke.left.current", "choke.right.current", "choke.centre.current", "supply.current")
"""Signals that must have stopped moving, as far as the record holds them."""

FAINT = 1e-3
"""Share of its own peak in the record below which a signal counts as died away."""

LATCH_SHARE = 0.25
"""Both drains below this share of the supply voltage, without oscillation, means both switches are on."""


@dataclass(frozen=True)
class Envelope:
    """Peak of each half cycle: instants [s], sizes (not negative, in the signal's unit), whether it is a positive one.

    Shape (m,) each.
    """

    time: Array
    size: Array
    positive: NDArray[np.bool_]

    def relative(self, half_cycles: int) -> Array:
        """Sizes over the settled size [1], the median of the last `half_cycles` of the same sign, shape (m,).

        Each sign has its own, so that a lopsided signal (even harmonics) has a smooth envelope all the same.
        """
        out = np.empty_like(self.size)
        for sign in (True, False):
            own = self.positive == sign
            if np.any(own):
                out[own] = self.size[own] / np.median(self.size[own][-max(half_cycles // 2, 1) :])
        return out


def envelope(time: Array, samples: Array, level: float = 0.0) -> Envelope:
    """Peaks about `level` between its crossings in either direction, on the parabola through the largest sample and its
    neighbours.

    time [s], samples in any unit, shape (n,). Half cycles smaller than HYSTERESIS times the final amplitude are passed
    over; the piece before the first crossing is left out, and so is the last one, which is not finished.
    """
    band = HYSTERESIS * tail_amplitude(time, samples)[0]
    up = crossings(time, samples, level, band)
    down = crossings(time, samples, level, band, rising=False)
    marks = np.concatenate((up, down))
    order = np.argsort(marks)
    at = np.searchsorted(time, marks[order])
    if at.size < 2:
        return Envelope(np.empty(0), np.empty(0), np.empty(0, dtype=bool))
    sizes = np.abs(samples[: at[-1]] - level)
    best = np.array([start + int(np.argmax(sizes[start:stop])) for start, stop in zip(at[:-1], at[1:], strict=True)])
    instants, peaks = _vertices(time, np.abs(samples - level), best)
    return Envelope(instants, peaks, (order < up.size)[:-1])


def _vertices(time: Array, sizes: Array, at: NDArray[np.int64]) -> tuple[Array, Array]:
    """Vertex of the parabola through each local maximum `at` and its neighbours: instant and height.

    A sample stands up to half a step from the peak: at 80 a period that costs 0.1 % of it, much beside a band of 2 %.
    """
    middle = np.clip(at, 1, time.size - 2)
    before, after = time[middle - 1] - time[middle], time[middle + 1] - time[middle]
    low, high = (sizes[middle - 1] - sizes[middle]) / before, (sizes[middle + 1] - sizes[middle]) / after
    bend = (high - low) / (after - before)
    slope = low - bend * before
    round_top = (bend < 0) & (sizes[middle] >= sizes[middle - 1]) & (sizes[middle] >= sizes[middle + 1])
    shift = np.where(round_top, -0.5 * slope / np.where(round_top, bend, 1.0), 0.0)
    instants = np.where(round_top, time[middle] + shift, time[at])
    return instants, np.where(round_top, sizes[middle] + 0.5 * slope * shift, sizes[at])


def settling_time(found: Envelope, start: float, half_cycles: int, band: float = BAND) -> float | None:
    """Time [s] from `start` [s] until the envelope is within `band` (share of its settled size) and stays there.

    The settled size is that of the last `half_cycles`. Resolved to half a period of the oscillation. None when
    there is no envelope or its last half cycle lies outside.
    """
    if found.size.size == 0:
        return None
    outside = np.flatnonzero(np.abs(found.relative(half_cycles) - 1.0) > band)
    first_in = int(outside[-1]) + 1 if outside.size else 0
    return float(found.time[first_in]) - start if first_in < found.time.size else None


def overshoot_ratio(found: Envelope, half_cycles: int) -> float | None:
    """Largest envelope over the settled one, less 1 [1]; not negative. None when there is no envelope."""
    return max(float(np.max(found.relative(half_cycles))) - 1.0, 0.0) if found.size.size else None


def largest_drift(waves: Waveforms, window: Window, watched: tuple[str, ...] = WATCHED) -> float | None:
    """Largest `periods.drift_ratio` [1] of the watched signals in the record, over the window; None when unknown.

    A signal smaller than FAINT times its peak in the record is measured against that.
    """
    drifts = [
        drift_ratio(per_period(waves.time, waves[name], window.edges), FAINT * peak(waves[name]))
        for name in watched
        if name in waves
    ]
    known = [drift for drift in drifts if drift is not None]
    return max(known, default=None)


def _held_on(waves: Waveforms, threshold: float | None) -> bool:
    """Whether both switches are on over the last twentieth of the record, as far as the record tells."""
    late = waves.between(float(waves.time[-1]) - 0.05 * waves.duration, float(waves.time[-1]))
    gates, drains = (tuple(f"{kind}.{side}.voltage" for side in ("left", "right")) for kind in ("gate", "drain"))
    if threshold is not None and all(name in late for name in gates):
        return all(float(np.min(late[name])) > threshold for name in gates)
    if all(name in late for name in (*drains, "supply.voltage")):
        supply = mean(late.time, late["supply.voltage"])
        return supply > 0 and all(mean(late.time, late[name]) < LATCH_SHARE * supply for name in drains)
    return False


def outcome(
    waves: Waveforms,
    window: Window | None,
    section: str = SECTION,
    *,
    tolerance: float = 2e-3,
    quiet: float = 0.0,
    gate_threshold: float | None = None,
    watched: tuple[str, ...] = WATCHED,
) -> str | None:
    """One of `settled`, `drifting`, `latched`, `stalled`, `dead`, or None for a record too short to tell.

    window: the last whole periods of `section` in the record (`periods.steady_window`), None if it does not
    oscillate at its end; tolerance: largest drift [1] between the halves of that window that counts as settled;
    quiet: amplitude of the section, in its unit, at or below which it does not oscillate; gate_threshold [V] tells a
    latched pair by its gates, without it drains and supply are looked at.
    """
    if window is not None:
        drift = largest_drift(waves, window, (*watched, section))
        return None if drift is None else "settled" if drift <= tolerance else "drifting"
    if _held_on(waves, gate_threshold):
        return "latched"
    lively = max(quiet, 0.05 * float(np.max(np.abs(waves[section]))))
    passages = crossings(waves.time, waves[section], 0.0, lively)
    return "stalled" if passages.size >= 3 else "dead"
