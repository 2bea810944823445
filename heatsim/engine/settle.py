# SPDX-License-Identifier: GPL-3.0-or-later
"""Is a run settled? Judged from its waveform, not assumed from a time. Pure functions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from heatsim.engine.slow import Move, difference_move, fades, slow_moves
from heatsim.netlist.deck import SettleRule
from heatsim.waves import Array
from heatsim.waves.periods import PerPeriod, crossings, per_period

State = Literal["settled", "moving", "quiet", "latched"]

BEAT = 3.0
"""Pairs of periods inside the compared windows may differ by this many tolerances."""

DEAF = 0.2
"""A crossing counts only after the signal was below zero by this share of its largest value: ringing is no period. Drains that
bounce when they change over take the tank over zero by 15 % of its peak (measured)."""

LATER = 1 / 3
"""Share of the record, at its end, from which what is still to come is estimated."""

PERIOD = "period"
"""Name under which the length of the periods is judged, beside the watched signals."""


@dataclass(frozen=True)
class Judgement:
    """state; worst: largest change found, in tolerances (None without enough periods); why: what still moves, in words;
    still: for quiet and latched, whether nothing watched moves any more; fading: for moving, by how much what the supply does
    slowly still swings, where that dies away and all else is at rest, None otherwise.
    """

    state: State
    worst: float | None = None
    why: str = ""
    still: bool = False
    fading: float | None = None


def rising_zeros(time: Array, samples: Array) -> Array:
    """Instants [s] at which `samples` rises through zero; small wiggles about zero count once (see DEAF)."""
    return crossings(time, samples, 0.0, DEAF * float(np.abs(samples).max()), first=True)


def judge(time: Array, signals: Mapping[str, Array], rule: SettleRule) -> Judgement:
    """Whether a run has reached its periodic state, keeps moving, or does not oscillate.

    Settled when, for every watched signal and for the length of the period, three things hold, each relative to that
    signal's peak-to-peak plus |mean|: mean and peak-to-peak averaged over a window change by at most the tolerance
    between neighbouring windows, in both pairs of the last three windows; pairs of periods in them differ by at most
    BEAT tolerances, so that a beat which happens to agree from window to window is not called settled; and what the
    thirds of the LATER part of the record say is still to come (see `to_come`) is at most the tolerance. Windows have
    `rule.periods` periods, rounded up to an even number so that a steady period of two is not called moving.
    Besides, what supply and chokes do slowly must be at rest (`heatsim.engine.slow`): the supply's own resonance and time
    constant, and the difference between the chokes' currents. Under a ripple nothing rests, and what is compared instead is one
    period of the ripple with the one before.

    Quiet when over the last fifth of the record the section signal stayed below `rule.quiet` or did not swing through
    zero; latched when besides a watched current stands above `rule.latch_current`.
    """
    section = signals[rule.section]
    late = time >= max(time[-1] - 0.2 * (time[-1] - time[0]), min(rule.start, time[-2]))
    marks = rising_zeros(time, section)
    if np.abs(section[late]).max() < rule.quiet or _stopped(time, marks):
        return _silent(time[late], {name: signals[name][late] for name in (rule.section, *rule.watched)}, rule)
    count = rule.periods + rule.periods % 2
    if marks.size < 3 * count + 1:
        return Judgement("moving", None, f"there are only {marks.size} periods of oscillation yet")
    if marks[-1] - max(rule.start, marks[0]) < rule.watch:
        return Judgement("moving", None, f"the supply's own swing or ripple was not yet watched for {1e3 * rule.watch:.3g} ms")
    since = max(time[-1] - LATER * (time[-1] - time[0]), rule.start)
    later = min(int(np.searchsorted(marks, since)), marks.size - 3 * count - 1)
    found = {name: per_period(time, signals[name], marks) for name in rule.watched}
    lengths = np.diff(marks)
    found[PERIOD] = PerPeriod(lengths, np.zeros_like(lengths))
    series = {label: values for name, each in found.items() for label, values in _series(name, each, count)}
    moves = [*slow_moves(series, marks, rule, count, later), difference_move(found, marks, rule, count, later)]
    if not rule.ripple_period:
        moves += [move for label, values in series.items() for move in _moves(label, values[later:], count)]
    size, why = max(moves)
    worst = size / rule.tolerance
    if worst <= 1:
        return Judgement("settled", worst)
    return Judgement("moving", worst, why, fading=fades(found, series, marks, rule, count))


def _stopped(time: Array, marks: Array) -> bool:
    """Whether the oscillation is over: nothing crosses zero in the last fifth of the record and for five periods."""
    since = float(time[-1] - (marks[-1] if marks.size else time[0]))
    period = float(np.median(np.diff(marks))) if marks.size > 1 else 0.0
    return since > max(0.2 * float(time[-1] - time[0]), 5 * period)


def _silent(time: Array, late: Mapping[str, Array], rule: SettleRule) -> Judgement:
    """Quiet or latched, and whether anything watched changes between the halves of the last stretch."""
    currents = [abs(float(np.mean(late[name]))) for name in rule.watched if name != rule.section]
    first = time < (time[0] + time[-1]) / 2
    still = all(_at_rest(samples[first], samples[~first], rule) for samples in late.values())
    state: State = "latched" if max(currents, default=0.0) > rule.latch_current else "quiet"
    return Judgement(state, still=still)


def _at_rest(before: Array, after: Array, rule: SettleRule) -> bool:
    """Whether a silent signal stays where it is: by the tolerance, or a thousandth of what counts as quiet."""
    if not before.size or not after.size:
        return False
    change = max(abs(float(after.mean() - before.mean())), abs(float(np.ptp(after) - np.ptp(before))))
    return change <= max(rule.tolerance * float(np.abs(after).max()), 1e-3 * rule.quiet)


def _series(name: str, each: PerPeriod, count: int) -> list[tuple[str, Array]]:
    """Mean and peak-to-peak by period with their labels, relative to peak-to-peak plus |mean| of the last `count` periods."""
    scale = float(abs(each.mean[-count:].mean()) + each.swing[-count:].mean()) or 1.0
    return [(f"{name} (mean)", each.mean / scale), (f"{name} (peak-to-peak)", each.swing / scale)]


def _moves(label: str, values: Array, count: int) -> list[Move]:
    """Every relative change of one series that matters, with its words."""
    last = values[-3 * count :]
    drift = float(np.abs(np.diff(last.reshape(3, count).mean(axis=1))).max())
    beat = float(np.ptp((last[1:] + last[:-1]) / 2)) / BEAT
    rest = to_come(np.array([third.mean() for third in np.array_split(values, 3)]), drift)
    return [
        (drift, f"{label} still changes by {100 * drift:.2g} % from window to window"),
        (beat, f"{label} varies by {100 * BEAT * beat:.2g} % from period to period"),
        (rest, f"{label} has an estimated {100 * rest:.2g} % still to go"),
    ]


def to_come(thirds: Array, drift: float) -> float:
    """How far a quantity still has to go, from its means over three neighbouring stretches of equal length, shape (3,).

    A decaying exponential changes by d1, then d2 = r*d1, then in all by d2*r/(1 - r) (Aitken's extrapolation, common
    practice). Without decay (r >= 1) nothing bounds it: returns |d2| per stretch times ten. When the sign alternates
    nothing is known but the size of the `drift`, which is returned.
    """
    d1, d2 = np.diff(thirds)
    if d1 * d2 <= 0:
        return drift
    ratio = min(float(d2 / d1), 10 / 11)
    return float(abs(d2) * ratio / (1 - ratio))
