# SPDX-License-Identifier: GPL-3.0-or-later
"""Outputs of a heater over its tolerances, interpolated between samples, and by how much that is off.

Cubic radial basis functions on top of a polynomial (SciPy's RBFInterpolator), or the polynomial alone for outputs that are noisy.
How far that is off is not assumed: each sample is left out in turn and told from all others (cross-validation), which also chooses
the way. A place further from the samples than they are from each other counts as worse in proportion.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from heatsim.waves import Array

if TYPE_CHECKING:
    from scipy.interpolate import RBFInterpolator

Flags = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.intp]

GROUPS = 8
"""Groups of samples that are left out in turn."""

WAYS = ((2, 0.0), (2, 1e6), (1, 1e6))
"""Ways to fit an output, as highest degree of the polynomial and smoothing: through every sample; a quadratic; a plane, for what
is noisy."""

FEWEST = 4
"""Samples more than the polynomial has terms, so that one can be left out and something is left to be told."""


def terms(fields: int, degree: int) -> int:
    """Terms of a polynomial of this degree in so many variables."""
    return math.comb(fields + degree, degree)


def _simplest(squares: Array) -> Numbers:
    """The plainest way whose mean square is within a standard error of the best one's (the one-standard-error rule, Breiman 1984).

    squares: of what samples left out are off, by way, sample and output; returns numbers of ways, shape (outputs,)
    """
    mean = squares.mean(axis=1)
    best = mean.argmin(axis=0)
    every = np.arange(mean.shape[1])
    margin = squares[best, :, every].std(axis=1) / math.sqrt(squares.shape[1])
    good = mean <= mean[best, every] + margin + 1e-30
    return np.asarray(len(WAYS) - 1 - good[::-1].argmax(axis=0))


class Surface:
    """Outputs over tolerances.

    places: offset of each field in units of its band's half width, shape (samples, fields); values: shape (samples, outputs),
    finite. Needs `terms(fields, 1) + FEWEST` samples; with more than a quarter again over those of a quadratic it is bent like
    one. ways: how each output is fitted, by its number in WAYS, shape (outputs,); chosen by cross-validation where not given
    """

    def __init__(self, places: Array, values: Array, ways: Numbers | None = None) -> None:
        self.places, self.values = places, values
        self._level = values.mean(axis=0)
        spread = values.std(axis=0)
        self._scale = np.where(spread > 0, spread, 1.0)
        count, fields = places.shape
        self.degree = 2 if count >= 1.25 * terms(fields, 2) + FEWEST else 1
        self._ways = ways

    @property
    def ways(self) -> Numbers:
        """How each output is fitted: that way by which samples left out are told best."""
        return self._cross[0] if self._ways is None else self._ways

    @property
    def left_out(self) -> Array:
        """Each sample as told by all others, less what it is, shape (samples, outputs)."""
        return self._cross[1]

    @cached_property
    def _cross(self) -> tuple[Numbers, Array]:
        found = np.stack([self._left_out(way) for way in range(len(WAYS))])
        best = _simplest(found**2) if self._ways is None else self._ways
        return best, found[best, :, np.arange(found.shape[2])].T

    def _left_out(self, way: int) -> Array:
        every = np.arange(self.values.shape[1])
        found = np.empty_like(self.values)
        for place in range(len(self.places)):
            among = np.arange(len(self.places)) != place
            told = self._fitted(way, every, among)(self.places[place : place + 1])[0]
            found[place] = told * self._scale + self._level - self.values[place]
        return found

    @cached_property
    def _whole(self) -> list[tuple[Numbers, RBFInterpolator]]:
        everything = np.ones(len(self.places), dtype=bool)
        used = {way: np.flatnonzero(self.ways == way) for way in np.unique(self.ways).tolist()}
        return [(columns, self._fitted(way, columns, everything)) for way, columns in used.items()]

    def _fitted(self, way: int, columns: Numbers, among: Flags) -> RBFInterpolator:
        from scipy.interpolate import RBFInterpolator

        highest, smoothing = WAYS[way]
        scaled = ((self.values[among] - self._level) / self._scale)[:, columns]
        return RBFInterpolator(self.places[among], scaled, kernel="cubic", degree=min(highest, self.degree), smoothing=smoothing)

    def least(self, places: Array, outputs: int) -> Array:
        """Least of the first so many outputs at places, shape (places,)."""
        return np.asarray(self.at(places)[:, :outputs].min(axis=1))

    def least_error(self, outputs: int) -> float:
        """Standard error of it between the samples: each sample's least as told by all others against what it is."""
        own, told = self.values[:, :outputs], (self.values + self.left_out)[:, :outputs]
        return float(np.sqrt(np.mean((told.min(axis=1) - own.min(axis=1)) ** 2)))

    def at(self, places: Array) -> Array:
        """Outputs at places, shape (places, outputs)."""
        found = np.empty((len(places), self.values.shape[1]))
        for columns, fitted in self._whole:
            found[:, columns] = fitted(places)
        return np.asarray(found * self._scale + self._level)

    @cached_property
    def error(self) -> Array:
        """Standard error of an output between the samples [its unit], shape (outputs,): root mean square of what is left out."""
        return np.asarray(np.sqrt(np.mean(self.left_out**2, axis=0)))

    @cached_property
    def typical_distance(self) -> float:
        """Middle distance from a sample to the nearest other."""
        from scipy.spatial import cKDTree

        return float(np.median(cKDTree(self.places).query(self.places, k=2)[0][:, 1]))

    @cached_property
    def parts(self) -> tuple[Surface, ...]:
        """The surface without one of GROUPS groups of samples each, for the delete-a-group jackknife."""
        group = np.arange(len(self.places)) % GROUPS
        return tuple(Surface(self.places[group != k], self.values[group != k], self.ways) for k in range(GROUPS))

    def distance(self, places: Array) -> Array:
        """Of each place to the nearest sample, over that between samples, shape (places,)."""
        from scipy.spatial import cKDTree

        return np.asarray(cKDTree(self.places).query(places)[0] / max(self.typical_distance, 1e-12))
