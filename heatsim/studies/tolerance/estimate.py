# SPDX-License-Identifier: GPL-3.0-or-later
"""What the samples of a tolerance study come to: yield, worst case, spread and influence, each with its error.

Yield is the share of heaters built of parts within their tolerances that keep every limit. The headroom of each limit is
interpolated by itself, for the least of all of them has kinks. The error of the yield is that of the surface: groups of samples
are left out in turn, and what the yield then moves tells by how much it may be off (the jackknife). Where some samples did not
run, their share of the evenly spread ones comes on top, by Wilson's interval.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from heatsim.studies.tolerance.surface import Surface
from heatsim.waves import Array

TWICE = 2.0
"""Standard errors that count as the error of a number: 95 % of normal errors."""

GRAIN = 0.003
"""Error of a share that is counted over the population instead of all heaters [1]: what shares of even points differ by
(measured)."""

INFLUENCE = 512
"""Places from which influences are worked out; a power of two, as the method asks."""


@dataclass(frozen=True)
class Share:
    """A share of all heaters [1], and the ends between which it lies."""

    value: float
    low: float
    high: float

    @property
    def error(self) -> float:
        """Half the way between the ends [1]."""
        return (self.high - self.low) / 2

    def times(self, other: Share) -> Share:
        """The share of both, where they have nothing to do with one another."""
        return Share(self.value * other.value, self.low * other.low, self.high * other.high)


@dataclass(frozen=True)
class Influence:
    """How much of the spread of an output a field makes: its total effect [1], alone and together with others (Sobol'), and how
    far the output moves [its unit] while the field goes through its band, the others nominal.
    """

    field: str
    total: float
    moves: float


@dataclass(frozen=True)
class Spread:
    """An output over all heaters: mean, standard deviation, the ends of the middle nine tenths, each within `error` [its unit]."""

    key: str
    nominal: float
    mean: float
    deviation: float
    low: float
    high: float
    error: float
    influences: tuple[Influence, ...] = ()


def kept(lowest: Array, parts: Sequence[Array]) -> Share:
    """Share of heaters that keep every limit; the error of the surface is by the delete-a-group jackknife (Tukey 1958, Kott 2001).

    lowest: least headroom of each heater of a population; parts: the same by the surface without one group of samples each [1]
    """
    value = float(np.mean(lowest >= 0))
    others = np.array([np.mean(part >= 0) for part in parts])
    square = (len(others) - 1) / len(others) * float(np.sum((others - others.mean()) ** 2))
    error = TWICE * math.sqrt(square) + GRAIN
    return Share(value, max(value - error, 0.0), min(value + error, 1.0))


def ran(count: int, of: int) -> Share:
    """Share of heaters that run at all, from evenly spread samples, after Wilson (1927). Where all of them did, 1 without an error:
    what could have been missed is told apart, by `missed`.
    """
    if count == of:
        return Share(1.0, 1.0, 1.0)
    share, square = count / of, TWICE**2
    middle = (share + square / (2 * of)) / (1 + square / of)
    half = TWICE / (1 + square / of) * math.sqrt(share * (1 - share) / of + square / (4 * of**2))
    return Share(share, max(middle - half, 0.0), min(middle + half, 1.0))


def missed(of: int) -> float:
    """Largest share [1] of heaters that may not run although all samples did, at 95 %: the rule of three (Hanley & Lippman-Hand
    1983)."""
    return min(3.0 / of, 1.0) if of else 1.0


def spreads(
    surface: Surface, keys: Sequence[str], population: Array, fields: Sequence[str], normal: bool, seed: int
) -> tuple[Spread, ...]:
    """Every output of a surface over a population, with what makes it spread.

    population: places drawn as the parts are, shape (n, fields); normal: whether the parts lie normally in their bands; seed: of
    the places at which influences are worked out
    """
    values, nominal = surface.at(population), surface.at(np.zeros((1, len(fields))))[0]
    low, high = np.quantile(values, [0.05, 0.95], axis=0)
    moves, totals = _moves(surface, len(fields)), _totals(surface, len(fields), normal, seed)
    found = []
    for k, key in enumerate(keys):
        influences = (Influence(name, float(totals[k, j]), float(moves[k, j])) for j, name in enumerate(fields))
        ordered = tuple(sorted(influences, key=lambda one: -one.total))
        middle, deviation = float(values[:, k].mean()), float(values[:, k].std())
        error = TWICE * float(surface.error[k])
        found.append(Spread(key, float(nominal[k]), middle, deviation, float(low[k]), float(high[k]), error, ordered))
    return tuple(found)


def _moves(surface: Surface, fields: int) -> Array:
    """How far each output goes while a field goes through its band, the others nominal, shape (outputs, fields)."""
    high, low = surface.at(np.eye(fields)), surface.at(-np.eye(fields))
    return np.asarray((high - low).T)


def _totals(surface: Surface, fields: int, normal: bool, seed: int) -> Array:
    """Total effects after Sobol', shape (outputs, fields); nil for an output that does not move."""
    from scipy.stats import norm, sobol_indices, uniform

    moving = np.flatnonzero(surface.values.std(axis=0) > 0)
    totals = np.zeros((surface.values.shape[1], fields))
    if moving.size and fields > 1:
        one = norm(0.0, 1 / 3) if normal else uniform(-1.0, 2.0)
        found = sobol_indices(func=lambda x: surface.at(x.T)[:, moving].T, n=INFLUENCE, dists=[one] * fields, rng=seed)
        totals[moving] = np.clip(np.reshape(found.total_order, (moving.size, fields)), 0.0, 1.0)
    elif moving.size:
        totals[moving] = 1.0
    return totals
