# SPDX-License-Identifier: GPL-3.0-or-later
"""The ring of a gate after its edges: frequency, decay and damping with their errors, kept apart from the edge itself.

How the ring is separated from the edge:
1. Edges are the crossings of the middle between the gate's two states (IEEE 181: high and low state levels, here the
   time medians above and below mid-range, which an ordinary ring hardly moves). What follows each edge, up to the
   next, is laid over the others, edge on edge, and averaged: noise falls with the square root of the number of
   edges, the ring stays, because it starts anew with each edge.
2. Turning points of the average are sought. The edge ends at the first one, the overshoot; a gate that merely
   rises, however bent, has none. A ring must turn at least TURNS times in a row, each swing at least `floor`, none
   much longer or larger than the one before. Everything else is "no ringing".
3. From the middle of the ring's first swing to half a cycle after its last turning point, a damped cosine on a parabola
   (the gate's slow settling) is fitted, each sample weighted with its time:

       v(t) = (a cos wt + b sin wt) exp(-s t) + c + d t + e t^2

   a..e follow linearly for given w, s; those two are found by least squares. Frequency w/(2 pi),
   decay time constant 1/s, damping ratio s/sqrt(s^2 + w^2).
4. Errors are those of the fit (covariance from its residual). What is left over is more often the model's fault than noise
   (a gate's capacitance and its ring's pace vary on the way), so that a run of residuals of one sign counts as two.
A ring too weak to turn the waveform back is not seen. One that is only just seen, or sampled too coarsely, is said to be that.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

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

FAINT = 0.5
"""Share of the floor down to which a ring is too weak for numbers, but not called absent; nor is one that exceeds SPREAD
or GROWTH by half of this."""

FEWEST = 6.0
"""Samples in a cycle below which a ring's numbers cannot be told: straight lines then miss a tenth of each swing."""

State = Literal["does not ring", "too weak or uneven to tell", "too few samples in a cycle to tell", "rings"]

STATES: tuple[State, ...] = get_args(State)

NOISE = 4.0
"""Swings below so many standard errors of the average are taken for noise."""


@dataclass(frozen=True)
class Ring:
    """A decaying oscillation after an edge.

    edge: `rising` or `falling`; frequency [Hz]; decay: time constant of the envelope [s], infinite for a ring that
    does not decay; damping: ratio to critical [1]; amplitude: half of the first swing after the edge [V];
    errors: standard errors of these four, in their order and units
    """

    edge: str
    frequency: float
    decay: float
    damping: float
    amplitude: float
    errors: tuple[float, float, float, float]


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


def turning_points(samples: Array, floor: float) -> NDArray[np.int64]:
    """Indices, shape (m,), of the alternating extremes of a course that lie at least `floor` (its unit) apart.

    The way to the first and from the last extreme is at least `floor` too; ends of the course do not count.
    """
    found: list[int] = []
    low = high = direction = 0
    values = samples.tolist()
    for k in _corners(samples).tolist():
        value = values[k]
        if value > values[high]:
            high = k
        if value < values[low]:
            low = k
        if direction >= 0 and values[high] - value >= floor:
            found += [high] if direction else []
            direction, low = -1, k
        elif direction <= 0 and value - values[low] >= floor:
            found += [low] if direction else []
            direction, high = 1, k
    return np.array(found, dtype=np.int64)


def _corners(samples: Array) -> NDArray[np.int64]:
    """Indices at which a course turns or ends; of equal samples the first."""
    moved = np.flatnonzero(np.diff(samples)) + 1
    places = np.concatenate((np.zeros(min(samples.size, 1), dtype=np.int64), moved))
    rises = samples[moved] > samples[moved - 1]
    inner = 1 + np.flatnonzero(rises[1:] != rises[:-1])
    return np.concatenate((places[:1], places[inner], places[-1:]))


def _middles(offsets: Array, course: Array, turns: NDArray[np.int64]) -> Array:
    """Where each swing between neighbouring turning points passes its own middle [s], shape (turns - 1,)."""
    middles = np.empty(max(turns.size - 1, 0))
    for k, (begin, end) in enumerate(pairwise(turns.tolist())):
        way = np.abs(course[begin : end + 1] - course[begin])
        middles[k] = np.interp(0.5 * way[-1], np.maximum.accumulate(way), offsets[begin : end + 1])
    return middles


def _longest_run(course: Array, turns: NDArray[np.int64], middles: Array, slack: float) -> slice:
    """The turning points of the largest ring: even half cycles and swings that do not grow; an empty slice for none.

    slack: factor on SPREAD and GROWTH

    Half cycles are told from middle to middle of the swings: a turn may be flat, where a diode clamps.
    """
    gaps, swings = np.diff(middles), np.abs(np.diff(course[turns]))
    uneven = np.flatnonzero(np.maximum(gaps[1:], gaps[:-1]) > slack * SPREAD * np.minimum(gaps[1:], gaps[:-1]))
    grows = np.flatnonzero(swings[1:] > slack * GROWTH * swings[:-1])
    breaks = sorted({*(uneven + 1 + (gaps[uneven + 1] > gaps[uneven])), *(grows + 1)})  # at the turn in the longer gap
    ends = zip((0, *breaks), (*breaks, turns.size - 1), strict=True)
    runs = [slice(first, last + 1) for first, last in ends if last + 1 - first >= TURNS]
    return max(runs, key=lambda run: float(swings[run.start]), default=slice(0, 0))


@dataclass(frozen=True)
class DampedCosine:
    """A fit. rate: of decay [1/s]; omega [rad/s]; their standard errors; residual: rms, in the course's unit."""

    rate: float
    omega: float
    rate_error: float
    omega_error: float
    residual: float


def _design(t: Array, rate: float, omega: float) -> Array:
    envelope, scaled = np.exp(-rate * t), t / t[-1]
    return np.column_stack((envelope * np.cos(omega * t), envelope * np.sin(omega * t), np.ones_like(t), scaled, scaled**2))


def fit_damped_cosine(t: Array, course: Array, rate: float, omega: float) -> DampedCosine:
    """A damped cosine on a parabola, starting from the decay rate [1/s] and angular frequency [rad/s] given.

    t: from zero on [s], shape (n,), n > 7; course: in any unit, shape (n,)

    Variable projection (Golub & Pereyra, SIAM J. Numer. Anal. 10, 1973, p. 413, memory): only the two nonlinear unknowns
    are iterated. The samples count with the time they stand for, so that it does not matter where they crowd.
    """
    from scipy.optimize import leastsq

    steps = np.gradient(t)
    weight = np.sqrt(steps / np.mean(steps))
    sought = _Projected(t, course, weight, omega)
    start = (rate / omega, 1.0)
    options = {"full_output": True, "col_deriv": True, "ftol": 1e-8, "xtol": 1e-8, "maxfev": 300}
    found = leastsq(sought.residual, start, Dfun=sought.slopes, **options)
    rate, omega = (float(omega * x) for x in found[0])
    design = _design(t, rate, omega)
    linear = np.linalg.lstsq(design * weight[:, None], course * weight, rcond=None)[0]
    left = course - design @ linear
    errors = _errors(t, design, linear, left, weight, omega)
    return DampedCosine(rate, omega, *errors, float(np.sqrt(np.mean((weight * left) ** 2))))


class _Projected:
    """What a damped cosine on the best parabola leaves of a course, and how that depends on the two nonlinear unknowns.

    t, course, weight: shape (n,); unit: of decay rate and angular frequency in `x` [1/s]

    The parabola is taken out of all once. With F the two functions, D their slopes and P = F (F'F)^-1 F' the residual is
    (1 - P) course, and its slopes are -(1 - P) D shares - F (F'F)^-1 D' residual (Golub & Pereyra 1973).
    """

    def __init__(self, t: Array, course: Array, weight: Array, unit: float) -> None:
        scaled = t / t[-1]
        self.t, self.weight, self.unit = t, weight, unit
        self.parabola = np.linalg.qr(np.column_stack((np.ones_like(t), scaled, scaled**2)) * weight[:, None])[0]
        self.course = self._without_parabola(weight * course)
        self._latest: tuple[bytes, tuple[NDArray[np.complex128], Array, Array, Array]] | None = None

    def _without_parabola(self, columns: Array) -> Array:
        return np.asarray(columns - self.parabola @ (self.parabola.T @ columns))

    def _solved(self, x: Array) -> tuple[NDArray[np.complex128], Array, Array, Array]:
        """Weighted envelope times exp(i omega t), shape (n,); its two parts without a parabola, shape (n, 2); the inverse of their
        normal equations, shape (2, 2), and their shares.
        """
        if self._latest is None or self._latest[0] != x.tobytes():
            wave = self.weight * np.exp(self.unit * complex(-x[0], x[1]) * self.t)
            functions = self._without_parabola(wave.view(np.float64).reshape(-1, 2))
            inverse = _inverse(functions.T @ functions)
            self._latest = x.tobytes(), (wave, functions, inverse, inverse @ (functions.T @ self.course))
        return self._latest[1]

    def residual(self, x: Array) -> Array:
        """Weighted residual, shape (n,), at decay rate and angular frequency over `unit`."""
        _, functions, _, shares = self._solved(x)
        return np.asarray(self.course - functions @ shares)

    def slopes(self, x: Array) -> Array:
        """Derivatives of `residual` by the two, shape (2, n)."""
        wave, functions, inverse, shares = self._solved(x)
        stretched = self.unit * self.t * wave
        moved = self._without_parabola((complex(shares[0], -shares[1]) * stretched).view(np.float64).reshape(-1, 2))
        along = complex(stretched @ (self.course - functions @ shares))
        turned = np.array([[-along.real, -along.imag], [-along.imag, along.real]])
        return np.asarray((moved - functions @ (inverse @ (functions.T @ moved + turned))).T)


ALIKE = 1e-8
"""Squared sine of the angle between two columns below which their normal equations are solved with what is left of them."""


def _inverse(products: Array) -> Array:
    """Inverse of the products of two columns with one another, shape (2, 2); the pseudo-inverse of columns that are alike."""
    (a, b), (_, d) = products.tolist()
    determinant = a * d - b * b
    if not determinant > ALIKE * a * d:
        return np.asarray(np.linalg.pinv(products))
    return np.array([[d / determinant, -b / determinant], [-b / determinant, a / determinant]])


def _errors(t: Array, design: Array, linear: Array, left: Array, weight: Array, omega: float) -> tuple[float, float]:
    """Standard errors of decay rate [1/s] and angular frequency [rad/s] from the covariance of all seven unknowns.

    A run of residuals of one sign counts as two independent ones; white noise has runs of two samples.
    """
    cosine, sine = design[:, 0], design[:, 1]
    by_rate = -t * (linear[0] * cosine + linear[1] * sine)
    by_omega = t * (linear[1] * cosine - linear[0] * sine)
    jacobian = np.column_stack((by_rate, by_omega, design)) * weight[:, None]
    scale = np.linalg.norm(jacobian, axis=0)
    runs = np.count_nonzero(np.diff(np.signbit(left))) + 1
    alike = max(t.size / (2 * runs), 1.0)
    variance = alike * float(np.sum((weight * left) ** 2)) / max(t.size - 7 * alike, alike)
    inverse = np.linalg.pinv((jacobian / scale).T @ (jacobian / scale))
    rounding = 2 * float(np.finfo(float).eps) * omega  # of a curve without noise, the search ends by chance within it
    found = np.hypot((np.sqrt(variance * np.diag(inverse)) / scale)[:2], rounding)
    return float(found[0]), float(found[1])


def ring_in(offsets: Array, course: Array, floor: float, edge: str, slack: float = 1.0) -> tuple[Ring | None, State]:
    """The ring in an averaged course after an edge: offsets [s], course [V], shape (n,); floor [V]; and what can be told."""
    turns = turning_points(course, floor)
    middles = _middles(offsets, course, turns)
    run = _longest_run(course, turns, middles, slack)
    turns, middles = turns[run], middles[run.start : max(run.stop - 1, 0)]
    if turns.size == 0:
        return None, "does not ring"
    swings = np.abs(np.diff(course[turns]))
    gap = float(middles[-1] - middles[0]) / (middles.size - 1)
    rate, omega = max(float(np.log(swings[0] / swings[-1])), 0.0) / (gap * (swings.size - 1)), np.pi / gap
    inside = (offsets >= middles[0]) & (offsets <= middles[-1] + 1.5 * gap)
    t, piece = offsets[inside] - middles[0], course[inside]
    if t.size < FEWEST * t[-1] / (2 * gap) or t.size < 8:
        return None, "too few samples in a cycle to tell"
    fitted = fit_damped_cosine(t, piece, rate, omega)
    if abs(fitted.omega - omega) > 0.4 * omega:
        return None, "too weak or uneven to tell"
    return _ring(fitted, float(0.5 * swings[0]), t.size * 2 * gap / float(t[-1]), edge), "rings"


def _ring(fitted: DampedCosine, amplitude: float, samples: float, edge: str) -> Ring:
    """A fit in the usual terms. samples: in a cycle; straight lines between N of them miss up to (pi/N)^2/2 of a peak."""
    rate, omega = max(fitted.rate, 0.0), fitted.omega
    size = float(np.hypot(rate, omega))
    decay = 1.0 / rate if rate > 1e-6 * omega else float("inf")
    errors = (
        fitted.omega_error / (2.0 * np.pi),
        fitted.rate_error / rate * decay if rate > 1e-6 * omega else float("inf"),
        fitted.rate_error * omega**2 / size**3,
        float(np.hypot(fitted.residual, 0.5 * (np.pi / samples) ** 2 * amplitude)),
    )
    return Ring(edge, omega / (2.0 * np.pi), decay, rate / size, amplitude, errors)


def state_levels(time: Array, samples: Array) -> tuple[float, float]:
    """Low and high state of a two-level signal, in its unit: time medians below and above mid-range (IEEE 181)."""
    order = np.argsort(samples)
    ranked, weight = samples[order], np.gradient(time)[order]
    middle = 0.5 * float(ranked[0] + ranked[-1])
    return _time_median(ranked, weight * (ranked <= middle)), _time_median(ranked, weight * (ranked >= middle))


@dataclass(frozen=True)
class TwoLevels:
    """A two-level signal: its states, in its unit, and the instants of its edges [s]."""

    low: float
    high: float
    rising: Array
    falling: Array

    @classmethod
    def of(cls, time: Array, samples: Array) -> TwoLevels | None:
        """By `state_levels` and `edges_of`; None for a signal with one state only."""
        low, high = state_levels(time, samples)
        return cls(low, high, *edges_of(time, samples, low, high)) if high > low else None


def _time_median(ranked: Array, weight: Array) -> float:
    share = np.cumsum(weight)
    return float(ranked[np.searchsorted(share, 0.5 * share[-1])])


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


def gate_ring(time: Array, gate: Array, floor: float | None = None, levels: TwoLevels | None = None) -> tuple[Ring | None, State]:
    """The stronger of the rings after a gate's rising and its falling edges, averaged over all periods of the record, and
    whether there is one that can be told.

    time [s], gate [V], shape (n,), some whole periods. floor [V]: smallest swing that counts, FLOOR times the distance
    between the states unless given, and never less than NOISE standard errors of the average. levels: of the gate, where known.
    """
    levels = TwoLevels.of(time, gate) if levels is None else levels
    if levels is None:
        return None, "does not ring"
    least = FLOOR * (levels.high - levels.low) if floor is None else floor
    up, down = levels.rising, levels.falling
    found = []
    for edge, own, other in (("rising", up, down), ("falling", down, up)):
        course = _course_after(time, gate, own, other)
        if course is not None:
            found += _seen(*course[:2], least, NOISE * course[2], edge)
    strongest = max((ring for ring, _ in found if ring is not None), key=lambda ring: ring.amplitude, default=None)
    states = [state for _, state in found]
    return strongest, "rings" if strongest else max(states, key=STATES.index, default="does not ring")


def _seen(offsets: Array, course: Array, floor: float, noise: float, edge: str) -> list[tuple[Ring | None, State]]:
    """`ring_in` for swings above floor and noise [V]; a ring that is only found further down is too weak."""
    found = ring_in(offsets, course, max(floor, noise), edge)
    if found[1] != "does not ring" or FAINT * floor < noise:
        return [found]
    faint = ring_in(offsets, course, FAINT * floor, edge, 1 + FAINT / 2)
    return [(None, "does not ring" if faint[1] == "does not ring" else "too weak or uneven to tell")]
