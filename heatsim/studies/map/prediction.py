# SPDX-License-Identifier: GPL-3.0-or-later
"""What finished columns let one expect between them.

Two ways: from the surfaces of the headrooms, which know the corners; and by passing a cubic through the ends of the stretches of
neighbouring columns, which needs no headrooms and serves where there are none, or where they jump. Each finished column
tells how well either had predicted it, and its neighbourhood is predicted the better way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from heatsim.studies.map.column import GRID, NODES, Column, Profile, Stretch, clearance
from heatsim.studies.map.surface import Evidence, Surface
from heatsim.waves import Array

REACH = 2
"""Columns on each side that a cubic is passed through."""


def predicted(
    u: float, surface: Surface, columns: Sequence[Column], evidence: Evidence, errors: Mapping[float, tuple[float, float]]
) -> Profile:
    """What is expected at u, in the way that has served better next to it.

    errors: how far off each finished column [u] was predicted from the surfaces and from the edges [1]
    """
    left, right = max((k for k in errors if k <= u), default=None), min((k for k in errors if k >= u), default=None)
    beside = [errors[k] for k in (left, right) if k is not None]
    if beside and min(edges for _, edges in beside) < min(surfaces for surfaces, _ in beside):
        return from_edges(u, columns, evidence)
    return from_surfaces(u, surface, columns, evidence)


def from_surfaces(u: float, surface: Surface, columns: Sequence[Column], evidence: Evidence) -> Profile:
    """Every limit's headroom, and the stretches without."""
    margins = surface.at(np.full(NODES, u), GRID) if surface.known else np.empty((0, NODES))
    near = _near(u, columns)
    return Profile(surface.keys, margins, *_between(u, near, [column.blocked(evidence) for column in near]))


def from_edges(u: float, columns: Sequence[Column], evidence: Evidence) -> Profile:
    """The stretches that are not usable, whatever the cause."""
    near = _near(u, columns)
    return Profile((), np.empty((0, NODES)), *_between(u, near, [column.unusable(evidence) for column in near]))


def _near(u: float, columns: Sequence[Column]) -> list[Column]:
    """The column at u alone, else up to REACH on each side, from left to right."""
    ordered = sorted(columns, key=lambda column: column.u)
    own = [column for column in ordered if column.u == u]
    left, right = ([c for c in ordered if c.u < u][-REACH:], [c for c in ordered if c.u > u][:REACH])
    return own or left + right


def _between(u: float, columns: Sequence[Column], stretches: Sequence[list[Stretch]]) -> tuple[Array, tuple[Stretch, ...]]:
    """Clearance at u, and the stretches it is from, by those of the columns around."""
    if not columns:
        return np.ones(NODES), ()
    beside = [k for k, column in enumerate(columns) if column.u <= u][-1:] + [
        k for k, column in enumerate(columns) if column.u > u
    ][:1]
    if len(beside) == 1 or columns[beside[0]].u == u:
        return clearance(stretches[beside[0]]), tuple(stretches[beside[0]])
    one, two = beside
    if not _pair(stretches[one], stretches[two]):
        share = (u - columns[one].u) / (columns[two].u - columns[one].u)
        clear = (1 - share) * clearance(stretches[one]) + share * clearance(stretches[two])
        return clear, tuple(stretches[one] or stretches[two]) if share < 0.5 else tuple(stretches[two] or stretches[one])
    like = [k for k in range(len(columns)) if _pair(stretches[k], stretches[one])]
    weights = _lagrange(u, [columns[k].u for k in like])
    lows, highs = (np.array([[getattr(stretch, end) for stretch in stretches[k]] for k in like]).T for end in ("low", "high"))
    near = one if u - columns[one].u < columns[two].u - u else two
    found = tuple(
        Stretch(float(low @ weights), float(high @ weights), stretch.cause)
        for low, high, stretch in zip(lows, highs, stretches[near], strict=True)
    )
    return clearance(found), found


def _pair(one: list[Stretch], two: list[Stretch]) -> bool:
    """Whether two columns have the same stretches in other places."""
    return [(s.low < 0, s.high > 1) for s in one] == [(s.low < 0, s.high > 1) for s in two]


def _lagrange(u: float, at: Sequence[float]) -> Array:
    """Weights of the values at `at` for the polynomial through them at u."""
    return np.array([np.prod([(u - other) / (own - other) for other in at if other != own]) for own in at])
