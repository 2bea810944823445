# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the samples of a tolerance study are put: evenly at first, then where they tell most."""

from __future__ import annotations

from itertools import product

import numpy as np

from heatsim.studies.points import Law, drawn_offsets
from heatsim.studies.tolerance.surface import FEWEST, Surface, terms
from heatsim.waves import Array

POPULATION = 4096
"""Heaters over which shares and spreads are taken from the surface."""

CORNERS = 8
"""Up to so many fields the corners of all bands are looked at one by one for the worst."""

STARTS = 6
"""Places from which the worst is looked for downhill."""


def first_samples(fields: int, seed: int, law: Law) -> Array:
    """What is simulated first: the nominal heater, and evenly spread ones, enough for a plane and its cross-validation."""
    count = max(2 * terms(fields, 1) + FEWEST, 10)
    return np.vstack([np.zeros(fields), np.clip(drawn_offsets(fields, count - 1, seed, law), -1.5, 1.5)])


def worst_place(surface: Surface, limits: int, population: Array) -> Array:
    """Where within all bands the least headroom of the first `limits` outputs is lowest, by the surface."""
    from scipy.optimize import minimize

    fields = population.shape[1]
    corners = np.array(list(product((-1.0, 1.0), repeat=fields))) if fields <= CORNERS else np.empty((0, fields))
    inside = population[np.abs(population).max(axis=1) <= 1.0]
    candidates = np.vstack([corners, inside, surface.places[np.abs(surface.places).max(axis=1) <= 1.0]])

    def room(place: Array) -> float:
        return float(surface.least(place[None, :], limits)[0])

    order = np.argsort(surface.least(candidates, limits))[:STARTS]
    ends = [minimize(room, candidates[k], method="L-BFGS-B", bounds=[(-1.0, 1.0)] * fields).x for k in order]
    found = min([*(candidates[k] for k in order), *ends], key=room)
    return np.asarray(np.clip(found, -1.0, 1.0))


def telling_places(surface: Surface, limits: int, population: Array, count: int) -> Array:
    """Where samples would tell most of the yield: where a heater may as well hold as fail, far from all samples.

    Each counts as there already when the next is chosen.
    """
    distance, chosen = surface.distance(population), list[int]()
    error = max(surface.least_error(limits), 1e-9) * np.maximum(distance, 1.0)
    doubt = np.exp(-0.5 * (surface.least(population, limits) / error) ** 2)
    for _ in range(count):
        best = int(np.argmax((doubt + 1e-3) * distance))
        chosen.append(best)
        near = np.linalg.norm(population - population[best], axis=1)
        distance = np.minimum(distance, near / max(surface.typical_distance, 1e-12))
    return np.asarray(population[chosen])
