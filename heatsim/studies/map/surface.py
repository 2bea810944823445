# SPDX-License-Identifier: GPL-3.0-or-later
"""What the evaluated points of a map know together: the state of each, and a smooth surface through each limit's headroom.

Places are normalised: u and v run from 0 to 1 along the horizontal and the vertical axis. Headrooms are interpolated each
by itself, so that where two limits cross their minimum keeps its kink. They are stretched first, z = s asinh(h/s), so that
a limit missed by far does not bend the surface where it is met. Interpolation: cubic radial basis functions with a quadratic
part, which is exact for quadratics; M. D. Buhmann, Radial Basis Functions, Cambridge 2003 (memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from heatsim.studies.check import RUN
from heatsim.studies.points import PointResult
from heatsim.verdict.finding import Finding
from heatsim.waves import Array

JUDGED = ("settled",)
"""Outcomes with numbers that can be judged."""

DOUBTFUL = "doubtful"
"""State of a point whose run does not keep to what a run must, such as its energy balance."""

OSCILLATOR = "oscillator"
"""Part of the finding that tells the outcome again and never has a headroom."""

STRETCH = 1.0
"""Headroom up to which the stretch is nearly linear; a working value."""

UNKNOWN = "not judged: "
"""Head of the state of a point at which a limit cannot be judged."""


@dataclass(frozen=True)
class Sample:
    """One evaluated point. x, y: its coordinates [SI]; u, v: the same, normalised; outcome, detail: of the run; margins:
    headroom of each of the heater's limits that could be judged, by `part: limit`; method: as in `PointResult`; unjudged:
    limits that could not, and those of the run itself that it does not keep, which are none of the heater's.
    """

    x: float
    y: float
    u: float
    v: float
    outcome: str
    detail: str
    margins: Mapping[str, float]
    method: str = ""
    unjudged: tuple[str, ...] = ()

    @classmethod
    def of(cls, place: tuple[float, float, float, float], result: PointResult) -> Sample:
        """From a result at (x, y, u, v)."""
        margins = {
            limit_key(finding): finding.headroom
            for finding in result.findings
            if finding.headroom is not None and finding.part != RUN
        }
        unjudged = tuple(
            limit_key(finding)
            for finding in result.findings
            if finding.part != OSCILLATOR and (finding.headroom is None or finding.part == RUN and finding.headroom < 0)
        )
        found = (margins, result.method, unjudged) if result.outcome in JUDGED else ({}, result.method)
        return cls(*place, result.outcome, result.outcome_detail, *found)

    @property
    def trusted(self) -> bool:
        """Whether its run keeps to what a run must, which is no limit of the heater's."""
        return not any(key.startswith(f"{RUN}: ") for key in self.unjudged)

    def beyond(self, wanted: Callable[[str], float]) -> Sample:
        """The same with the headroom that is left beyond that wanted of each limit [1]."""
        return replace(self, margins={key: margin - wanted(key) for key, margin in self.margins.items()})


def limit_key(finding: Finding) -> str:
    """`part: limit`."""
    return f"{finding.part}: {finding.limit}"


def family(key: str) -> str:
    """A limit's key without the side, so that left and right are one: `choke.left: x` -> `choke: x`."""
    part, colon, limit = key.partition(": ")
    return f"{'.'.join(word for word in part.split('.') if word not in ('left', 'right', 'centre'))}{colon}{limit}"


def twin(key: str) -> str:
    """The same limit of the other side: `choke.left: x` -> `choke.right: x`; empty for parts without sides."""
    part, colon, limit = key.partition(": ")
    head, _, side = part.rpartition(".")
    other = {"left": "right", "right": "left"}.get(side)
    return f"{head}.{other}{colon}{limit}" if other else ""


@dataclass(frozen=True)
class Evidence:
    """All samples so far, in the order of their evaluation within each column."""

    samples: tuple[Sample, ...]

    def beyond(self, wanted: Callable[[str], float]) -> Evidence:
        """The same with the headrooms that are left beyond those wanted of each limit [1]."""
        return Evidence(tuple(sample.beyond(wanted) for sample in self.samples))

    @cached_property
    def keys(self) -> tuple[str, ...]:
        """Every limit that is judged somewhere."""
        return tuple(sorted({key for sample in self.samples for key in sample.margins}))

    @cached_property
    def unjudged(self) -> tuple[str, ...]:
        """Limits of the heater that could be judged nowhere."""
        missed = {key for sample in self.samples for key in sample.unjudged if not key.startswith(f"{RUN}: ")}
        return tuple(sorted(missed - set(self.keys)))

    def blocked(self, sample: Sample) -> str:
        """Why a sample has no headroom: the outcome, or the first limit that cannot be judged there.

        Empty if it has. A limit that no sample could judge is not told of each: see `unjudged`.
        """
        if sample.outcome not in JUDGED:
            return sample.outcome
        if not sample.trusted:
            return DOUBTFUL
        if not sample.margins:
            return f"{UNKNOWN}all limits"
        missing = [key for key in self.keys if key not in sample.margins]
        return f"{UNKNOWN}{missing[0]}" if missing else ""

    def least(self, sample: Sample) -> tuple[float | None, str]:
        """Least headroom of a sample and its limit; None and the cause where there is none."""
        cause = self.blocked(sample)
        if cause:
            return None, cause
        key = min(sample.margins, key=lambda name: (sample.margins[name], name))
        return sample.margins[key], key

    def limiting(self, sample: Sample) -> str:
        """What makes a sample unusable: a limit below nil, or the cause that there is no headroom; empty if usable."""
        margin, key = self.least(sample)
        return key if margin is None or margin < 0 else ""


def stretched(margin: Any) -> Array:
    """Headroom -> what is interpolated; nil stays nil."""
    return np.asarray(STRETCH * np.arcsinh(np.asarray(margin, dtype=float) / STRETCH))


def relaxed(value: Any) -> Array:
    """The inverse of `stretched`."""
    return np.asarray(STRETCH * np.sinh(np.asarray(value, dtype=float) / STRETCH))


class Surface:
    """Headroom of every limit anywhere on the map, stretched. Samples closer than `near` [1] count as one, their mean."""

    def __init__(self, evidence: Evidence, near: float = 0.0) -> None:
        self.keys = evidence.keys
        known = [sample for sample in evidence.samples if not evidence.blocked(sample)]
        self.places, self.values = _thinned(known, self.keys, near)
        self._fit = _fitted(self.places, self.values)

    @property
    def known(self) -> bool:
        """Whether there is anything to go by."""
        return len(self.places) > 0

    def at(self, u: Any, v: Any) -> Array:
        """Stretched headrooms: one row a limit, one column a place."""
        places = np.column_stack([np.ravel(u), np.ravel(v)])
        return np.asarray(self._fit(places)).T


def _thinned(samples: Sequence[Sample], keys: Sequence[str], near: float) -> tuple[Array, Array]:
    """Places (u, v) and stretched headrooms of the samples, neighbours in a column merged."""
    rows: list[list[Sample]] = []
    for sample in sorted(samples, key=lambda one: (one.u, one.v)):
        last = rows[-1][-1] if rows else None
        if last is not None and last.u == sample.u and sample.v - rows[-1][0].v <= near:
            rows[-1].append(sample)
        else:
            rows.append([sample])
    places = [[float(np.mean([one.u for one in row])), float(np.mean([one.v for one in row]))] for row in rows]
    values = [[float(np.mean([stretched(one.margins[key]) for one in row])) for key in keys] for row in rows]
    return np.array(places).reshape(-1, 2), np.array(values).reshape(len(places), len(keys))


def _fitted(places: Array, values: Array) -> Any:
    """The interpolator, with as high a polynomial part as the places can carry."""
    from scipy.interpolate import NearestNDInterpolator, RBFInterpolator

    if values.size == 0:
        return lambda wanted: np.empty((len(wanted), values.shape[1]))
    for degree in (2, 1):
        if _carries(places, degree):
            return RBFInterpolator(places, values, kernel="cubic", degree=degree)
    return NearestNDInterpolator(places, values)


def _carries(places: Array, degree: int) -> bool:
    """Whether the places fix a polynomial of this degree."""
    u, v = places.T
    terms = [np.ones_like(u), u, v] + ([u * u, u * v, v * v] if degree == 2 else [])
    return bool(len(places) >= len(terms) and np.linalg.matrix_rank(np.column_stack(terms), tol=1e-6) == len(terms))
