# SPDX-License-Identifier: GPL-3.0-or-later
"""The ring of a gate after its edges: frequency, decay and damping, kept apart from the edge itself.

How the ring is separated from the edge:
1. Edges are the crossings of the middle between the gate's two states (IEEE 181: high and low state levels, here the
   time medians above and below mid-range, which an ordinary ring hardly moves). What follows each edge, up to the
   next, is laid over the others, edge on edge, and averaged: noise falls with the square root of the number of
   edges, the ring stays, because it starts anew with each edge.
2. Turning points of the average are sought. The edge ends at the first one, the overshoot; a gate that merely
   rises, however bent, has none. A ring must turn at least TURNS times in a row, each swing at least `floor`, none
   much longer or larger than the one before. Everything else is "no ringing".
3. From the ring's first turning point on, a damped cosine on a parabola (the gate's slow settling) is fitted:

       v(t) = (a cos wt + b sin wt) exp(-s t) + c + d t + e t^2

   a..e follow linearly for given w, s; those two are found by least squares. Frequency w/(2 pi),
   decay time constant 1/s, damping ratio s/sqrt(s^2 + w^2).
A ring too weak to turn the waveform back, and one faster than the samples show, are not seen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatsim.waves import Array
from heatsim.waves.periods import crossings

FLOOR = 0.02
"""Smallest swing counted as ringing, as a share of the distance between the states: 0.24 V of 12 V; common practice,
no source."""

BAND = 0.35
"""Hysteresis about the middle between the states, as a share of their distance: a ring should not pass for an edge."""

DEAD_SHARE = 0.4
"""Share of the shorter state's time for which, after an edge, crossings are still that edge's ring."""

TURNS = 4
"""Turning points, overshoot included, that make a ring: one and a half cycles."""

SPREAD = 1.7
"""Largest ratio of neighbouring half cycles: a gate's capacitance, and with it the ring's pace, varies on the way."""

GROWTH = 1.25
"""Largest ratio of a swing to the one before."""

NOISE = 4.0
"""Swings below so many standard errors of the average are taken for noise."""


@dataclass(frozen=True)
class Ring:
    """A decaying oscillation after an edge.

    edge: `rising` or `falling`; frequency [Hz]; decay: time constant of the envelope [s], infinite for a ring that
    does not decay; damping: ratio to critical [1]; amplitude: half of the first swing after the edge [V].
    """

    edge: str
    frequency: float
    decay: float
    damping: float
    amplitude: float


def after_edges(time: Array, samples: Array, edges: Array, span: float) -> tuple[Array, Array, float]:
    """Average course after `edges` [s]: offsets from the edge [s], mean, and standard error of the mean.

    Shapes (m,); the offsets are those of the samples after one of the edges in the middle, so that fine steps stay
    fine. The standard error (in the samples' unit, averaged over the course) is zero for a single edge.
    """
    chosen = float(edges[edges.size // 2])
    inside = (time > chosen) & (time < chosen + span)
    offsets = time[inside] - chosen
    courses = np.array([np.interp(edge + offsets, time, samples) for edge in edges])
    if edges.size < 2 or offsets.size == 0:
        return offsets, np.mean(courses, axis=0), 0.0
    scatter = np.sqrt(np.mean(np.var(courses, axis=0, ddof=1)))
    return offsets, np.mean(courses, axis=0), float(scatter / np.sqrt(edges.size))


def turning_points(samples: Array, floor: float) -> Array:
    """Indices, shape (m,), of the alternating extremes of a course that lie at least `floor` (its unit) apart.

    The way to the first and from the last extreme is at least `floor` too; ends of the course do not count.
    """
    found: list[int] = []
    low = high = direction = 0
    for k, value in enumerate(samples.tolist()):
        if value > samples[high]:
            high = k
        if value < samples[low]:
            low = k
        if direction >= 0 and samples[high] - value >= floor:
            found += [high] if direction else []
            direction, low = -1, k
        elif direction <= 0 and value - samples[low] >= floor:
            found += [low] if direction else []
            direction, high = 1, k
    return np.array(found, dtype=np.int64)


def _ring_turns(offsets: Array, course: Array, floor: float) -> Array:
    """The turning points of the largest ring, a run of even half cycles and swings that do not grow; or none."""
    turns = turning_points(course, floor)
    if turns.size < TURNS:
        return turns[:0]
    gaps, swings = np.diff(offsets[turns]), np.abs(np.diff(course[turns]))
    uneven = np.maximum(gaps[1:], gaps[:-1]) > SPREAD * np.minimum(gaps[1:], gaps[:-1])
    breaks = np.flatnonzero(uneven | (swings[1:] > GROWTH * swings[:-1])) + 1
    ends = zip((0, *breaks), (*breaks, turns.size - 1), strict=True)
    runs = [turns[first : last + 1] for first, last in ends if last + 1 - first >= TURNS]
    return max(runs, key=lambda run: abs(course[run[0]] - course[run[1]]), default=turns[:0])


def _design(t: Array, rate: float, omega: float) -> Array:
    envelope, scaled = np.exp(-rate * t), t / t[-1]
    return np.column_stack((envelope * np.cos(omega * t), envelope * np.sin(omega * t), np.ones_like(t), scaled, scaled**2))


def _misfit(t: Array, course: Array, rate: float, omega: float) -> Array:
    design = _design(t, rate, omega)
    return np.asarray(course - design @ np.linalg.lstsq(design, course, rcond=None)[0])


def fit_damped_cosine(t: Array, course: Array, rate: float, omega: float) -> tuple[float, float]:
    """Decay rate [1/s] and angular frequency [rad/s] of a damped cosine on a parabola, starting from those given.

    t: from zero on [s], shape (n,), n > 7; course: in any unit, shape (n,)

    Variable projection (Golub & Pereyra, SIAM J. Numer. Anal. 10, 1973, p. 413, memory): only the two nonlinear unknowns
    are iterated.
    """
    from scipy.optimize import least_squares

    found = least_squares(lambda x: _misfit(t, course, *(omega * x)), (rate / omega, 1.0), method="lm", max_nfev=100)
    return float(omega * found.x[0]), float(omega * found.x[1])


def _first_guess(offsets: Array, course: Array, turns: Array) -> tuple[float, float]:
    """Decay rate [1/s] and angular frequency [rad/s] from the turning points: logarithmic decrement of the swings."""
    gap = float(offsets[turns[-1]] - offsets[turns[0]]) / (turns.size - 1)
    swings = np.abs(np.diff(course[turns]))
    decrement = np.log(swings[0] / swings[-1]) / (swings.size - 1)
    return max(float(decrement), 0.0) / gap, np.pi / gap


def ring_in(offsets: Array, course: Array, floor: float, edge: str) -> Ring | None:
    """The ring in an averaged course after an edge: offsets [s], course [V], shape (n,); floor [V]."""
    turns = _ring_turns(offsets, course, floor)
    if turns.size == 0:
        return None
    rate, omega = _first_guess(offsets, course, turns)
    amplitude = 0.5 * abs(float(course[turns[0]] - course[turns[1]]))
    stop = np.searchsorted(offsets, offsets[turns[-1]] + np.pi / omega)
    t, piece = offsets[turns[0] : stop] - offsets[turns[0]], course[turns[0] : stop]
    if t.size > 7:
        fitted = fit_damped_cosine(t, piece, rate, omega)
        if abs(fitted[1] - omega) < 0.4 * omega:
            rate, omega = fitted
    rate = max(rate, 0.0)
    decay = 1.0 / rate if rate > 1e-6 * omega else float("inf")
    return Ring(edge, omega / (2.0 * np.pi), decay, rate / float(np.hypot(rate, omega)), amplitude)


def state_levels(time: Array, samples: Array) -> tuple[float, float]:
    """Low and high state of a two-level signal, in its unit: time medians below and above mid-range (IEEE 181)."""
    weight = np.gradient(time)
    middle = 0.5 * float(np.min(samples) + np.max(samples))
    return _time_median(samples, weight * (samples <= middle)), _time_median(samples, weight * (samples >= middle))


def _time_median(samples: Array, weight: Array) -> float:
    order = np.argsort(samples)
    share = np.cumsum(weight[order])
    return float(samples[order][np.searchsorted(share, 0.5 * share[-1])])


def edges_of(time: Array, samples: Array, low: float, high: float) -> tuple[Array, Array]:
    """Instants [s] of the rising and of the falling edges of a two-level signal with states `low` and `high`.

    Shapes (m,), (n,). A ring so violent that it crosses from state to state within DEAD_SHARE makes no edges.
    """
    middle, band = 0.5 * (low + high), BAND * (high - low)
    up, down = (crossings(time, samples, middle, band, rising=rising, first=True) for rising in (True, False))
    if up.size < 2 or down.size < 2:
        return up, down
    marks = np.concatenate((up, down))
    order = np.argsort(marks)
    marks, rising = marks[order], order < up.size
    stays = np.diff(marks)
    dead = DEAD_SHARE * min(float(np.max(stays[rising[:-1]])), float(np.max(stays[~rising[:-1]])))
    chosen: list[int] = []
    for k in range(marks.size):
        if not chosen or (marks[k] - marks[chosen[-1]] > dead and rising[k] != rising[chosen[-1]]):
            chosen.append(k)
    return marks[chosen][rising[chosen]], marks[chosen][~rising[chosen]]


def _course_after(time: Array, gate: Array, own: Array, other: Array) -> tuple[Array, Array, float] | None:
    """`after_edges` for the edges `own` up to shortly before the next of the edges `other`; None without any."""
    following = np.searchsorted(other, own)
    whole = following < other.size
    if not np.any(whole):
        return None
    span = float(np.min(other[following[whole]] - own[whole]))
    return after_edges(time, gate, own[whole], 0.95 * span)


def gate_ring(time: Array, gate: Array, floor: float | None = None) -> Ring | None:
    """The stronger of the rings after a gate's rising and its falling edges, averaged over all periods of the record.

    time [s], gate [V], shape (n,), some whole periods. floor [V]: smallest swing that counts, FLOOR times the distance
    between the states unless given, and never less than NOISE standard errors of the average. None when neither
    edge rings.
    """
    low, high = state_levels(time, gate)
    if not high > low:
        return None
    least = FLOOR * (high - low) if floor is None else floor
    up, down = edges_of(time, gate, low, high)
    found = []
    for edge, own, other in (("rising", up, down), ("falling", down, up)):
        course = _course_after(time, gate, own, other)
        if course is not None:
            found.append(ring_in(*course[:2], max(least, NOISE * course[2]), edge))
    return max((ring for ring in found if ring is not None), key=lambda ring: ring.amplitude, default=None)
