# SPDX-License-Identifier: GPL-3.0-or-later
"""Lines of records of one to two periods, whose frequency is found together with them.

In so short a record the phase of the fundamental cannot be followed from period to period. What is left of the record by its lines
is least at the true frequency: variable projection (G. H. Golub, V. Pereyra, SIAM J. Numer. Anal. 10, 1973, p. 413; memory), with
the lines linear at every frequency f. Several signals x_s of n samples are weighted by maximum likelihood, each with a noise of
its own: the f of the least sum over s of n log R_s, R_s being the sum of squares that its lines leave.

A small change of f moves the wave by g = dx/df, of which the lines take up all but P g. Errors of f and of the lines are tied:
var(f) = 1/sum over s of |P g_s|^2/sigma_s^2, and lines at a known f have the covariance sigma^2 G^-1, independent of it. The lines
move with f by a vector d, so that all numbers together have the covariance of known f and d d^T var(f) beside it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from heatsim.measures.solving import Complex, solved_lines, wave_of
from heatsim.waves import Array

SHORT = 2.1
"""Periods below which a record counts as short: less than two blocks of a period each and their distance."""

WIDEST = 80
"""Highest order that is fitted to a short record, so that what lies above the lines asked for does not shift them."""

DRIFT = 1e-3
"""Change of amplitude from end to end of a short record, as a share, one standard deviation: such a drift, which a steady supply
has as well, is not told from a line in so short a record. Common practice, no source."""

REACH = 0.25
"""How far the frequency may be from the one given, as a share."""

ORDERS = (8, 20, 50)
"""Orders that are fitted in turn on the way to all of them: the fewer, the wider the valley of the least squares."""

VALLEY = 0.3
"""Half the width of a valley in periods of the record, over the order."""

MOST_SAMPLES, FINAL_SAMPLES = 3000, 20_000
"""Samples that a frequency is sought with, and that it and the lines are found with in the end: means of neighbours in denser
records, which take at most 1e-4 off the highest order fitted."""


class NoWholePeriod(ValueError):
    """The record does not hold a whole period of the frequency found."""


@dataclass(frozen=True)
class Shift:
    """An error that all numbers of a record share, at one standard deviation: of the frequency [Hz], and signal -> of the lines,
    complex, in the signal's unit."""

    frequency: float
    lines: Mapping[str, Complex]


@dataclass(frozen=True)
class ShortFit:
    """Frequency [Hz], the lines up to `count`, the highest order fitted, their variance for unit noise, and what they leave of each
    signal; of g, the change of each signal with the frequency [unit/Hz], what the lines take up, and P g, what no line does."""

    frequency: float
    count: int
    lines: Mapping[str, Complex]
    variance: Array
    noise: Mapping[str, float]
    taken: Mapping[str, Complex]
    rest: Mapping[str, Array]
    left: Mapping[str, Array]

    def moved(self, what: Mapping[str, Array]) -> float:
        """By how much the frequency found moves when `what` is added to the signals [Hz]."""
        return sum(float(self.rest[name] @ x) / self.noise[name] ** 2 for name, x in what.items()) / self.precision

    @property
    def precision(self) -> float:
        """1/var(f) [1/Hz^2]."""
        return sum(float(rest @ rest) / self.noise[name] ** 2 for name, rest in self.rest.items())


def short_fit(centred: Array, signals: Mapping[str, Array], frequency: float, count: int) -> ShortFit:
    """The frequency of a short record, sought within `REACH` of the one given [Hz].

    centred: time from the record's middle [s]; count: highest order wanted
    Raises NoWholePeriod where the record does not hold a whole period of it.
    """
    widest = max(count, min(WIDEST, int((centred.size / 3 - 1) / 2)))
    few = thinned(centred, signals, MOST_SAMPLES)[:2]
    frequency = _sought(*few, frequency, widest)
    span = float(centred[-1] - centred[0])
    for _ in range(4):
        found = _linearised(*few, frequency, widest)
        step = found.moved(found.left)
        if abs(step) * span > VALLEY / widest or (frequency + step) * span < 1.0:
            break
        frequency += step
    if frequency * span < 1.0 + 1e-3:
        raise NoWholePeriod("the record does not hold a whole period")
    return _linearised(centred, signals, frequency, widest)


def thinned(centred: Array, signals: Mapping[str, Array], most: int) -> tuple[Array, dict[str, Array], int]:
    """Means of as many neighbours as leave `most` samples, and how many neighbours these are."""
    group = -(-centred.size // most)
    whole = centred.size // group * group

    def mean(x: Array) -> Array:
        return np.asarray(np.mean(x[:whole].reshape(-1, group), axis=1)) if group > 1 else x

    return mean(centred), {name: mean(samples) for name, samples in signals.items()}, group


def _sought(centred: Array, signals: Mapping[str, Array], frequency: float, widest: int) -> float:
    """The frequency of the least squares [Hz], by more orders from valley to valley."""
    from scipy.optimize import minimize_scalar

    span = float(centred[-1] - centred[0])
    least = (1.0 + 1e-4) / span

    def cost(f: float, order: int) -> float:
        _, left, _ = solved_lines(2 * math.pi * f * centred, np.ones_like(centred), signals, order)
        floors = {name: 1e-24 * float(np.dot(samples, samples)) for name, samples in signals.items()}
        return sum(math.log(float(np.dot(rest, rest)) + floors[name]) for name, rest in left.items())

    most = max(min(int((centred.size / 3 - 1) / 2), widest), 1)
    orders = [*(order for order in ORDERS if order < most), most]
    tried = np.arange(max(least, (1 - REACH) * frequency), max((1 + REACH) * frequency, 1.01 * least), 0.02 / span)
    frequency = float(min(tried, key=lambda f: cost(float(f), orders[0])))
    around = 0.02 / span
    for order in orders:
        bounds = max(least, frequency - around), max(frequency + around, least + around)
        tolerance = {"xatol": 1e-3 * around}
        frequency = float(minimize_scalar(cost, bounds=bounds, args=(order,), method="bounded", options=tolerance).x)
        around = VALLEY / order / span
    return frequency


def _linearised(centred: Array, signals: Mapping[str, Array], frequency: float, count: int) -> ShortFit:
    phase, scale = 2 * math.pi * frequency * centred, np.ones_like(centred)
    lines, left, variance = solved_lines(phase, scale, signals, count)
    free = max(centred.size - 2 * count - 2, 1)
    least = {name: 1e-9 * float(np.std(samples)) for name, samples in signals.items()}
    noise = {name: max(math.sqrt(float(x @ x) / free), least[name]) for name, x in left.items()}
    slope = {}
    for name, c in lines.items():
        # a line of noise alone has a slope, too, and one that grows with its order: each counts by its share above noise
        own = 4 * noise[name] ** 2 * variance / np.maximum(np.abs(c) ** 2, 1e-300)
        weighed = 1j * np.arange(count + 1) * c * np.maximum(1 - own, 0.0)
        slope[name] = 2 * math.pi * centred * wave_of(weighed, phase)
    taken, rest, _ = solved_lines(phase, scale, slope, count)
    return ShortFit(frequency, count, lines, variance, noise, taken, rest, left)


def shifts_of(found: ShortFit, centred: Array, signals: Mapping[str, Array], reference: str) -> tuple[Shift, ...]:
    """What the numbers of a short record are off by together: with the frequency, for noise and for a drift of the amplitude by
    `DRIFT`; and by the phase of the reference's fundamental, which all lines are turned by."""
    phase, scale = 2 * math.pi * found.frequency * centred, np.ones_like(centred)
    lines, variance = found.lines, found.variance
    turned = np.exp(-1j * np.arange(found.count + 1) * np.angle(lines[reference][1]))
    # lines stand still where x and its change are solved alike: at f + df they follow x - g df
    with_f = {name: -c for name, c in found.taken.items()}
    span = float(centred[-1] - centred[0])
    drifting = {name: DRIFT * centred / span * samples for name, samples in signals.items()}
    with_drift, moved = solved_lines(phase, scale, drifting, found.count)[0], found.moved(drifting)
    amplitude = abs(complex(lines[reference][1]))
    angle = found.noise[reference] * math.sqrt(float(variance[1])) / amplitude

    def shift(frequency: float, by: Mapping[str, Complex], rotation: float) -> Shift:
        rotation -= float((by[reference][1] * turned[1]).imag) / amplitude
        orders = np.arange(found.count + 1)
        return Shift(frequency, {name: (by[name] + 1j * orders * rotation * lines[name]) * turned for name in lines})

    error = 1 / math.sqrt(found.precision)
    still = {name: np.zeros_like(c) for name, c in lines.items()}
    return (
        shift(error, {name: error * c for name, c in with_f.items()}, 0.0),
        shift(moved, {name: with_drift[name] + moved * with_f[name] for name in lines}, 0.0),
        shift(0.0, still, angle),
    )


STATES = (0.35, 0.15, 0.05)
"""Half the band about the level that a signal must leave to count as up or down, as a share of its largest distance from it: the
widest with which it crosses twice, as ringing crosses narrow ones as well."""

UP = {True: 0.5, False: 1 / 3}
"""Share of a period that a wave is above its level: alternating about zero, or half a sine above half of its height."""


def guessed_frequency(time: Array, samples: Array, alternating: bool) -> float | None:
    """A record's frequency [Hz] from as few as two crossings of a level, within some 20 %; None with fewer.

    alternating: about zero, as a tank's voltage does; else half a sine that rests in between, as a drain's does, either way up
    """
    if not alternating:
        samples = samples - np.min(samples) if np.mean(samples) >= np.median(samples) else np.max(samples) - samples
    level = 0.0 if alternating else 0.5 * float(np.max(samples))
    return next((found for share in STATES if (found := _crossed(time, samples - level, share, alternating))), None)


def _crossed(time: Array, samples: Array, share: float, alternating: bool) -> float | None:
    """The same with one band about zero."""
    band = share * float(np.max(np.abs(samples)))
    side = np.where(samples > band, 1, np.where(samples < -band, -1, 0))
    marked = np.flatnonzero(side)
    ends = np.flatnonzero(np.diff(side[marked]))
    # from the last sample on one side to the first on the other, the level is passed half way
    crossings = (time[marked[ends]] + time[marked[ends + 1]]) / 2
    if crossings.size < 2:
        return None
    shares = np.where(side[marked[ends[1:]]] > 0, UP[alternating], 1 - UP[alternating])
    return float(np.sum(shares) / (crossings[-1] - crossings[0]))
