# SPDX-License-Identifier: GPL-3.0-or-later
"""What is odd about a capture that no cause explains, and how far the heater is from the ordinary spread of its kind."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from heatsim.measures.lines import BANDS
from heatsim.studies.match.data import Layout
from heatsim.studies.match.fault_model import NOTHING
from heatsim.studies.match.fit import HypothesisFit, fit, left_over
from heatsim.studies.match.hypothesis import Dataset, Model
from heatsim.studies.match.result import Spread
from heatsim.waves import Array

MOST_ODD, LEAST_ODD = 4, 3.0
"""Oddities told at most, and how many times what noise and model allow they are at least."""

MOST_FAR, LEAST_FAR = 2, 1.5
"""Departures of parts told at most, and their standard deviations at least."""


def oddities(datasets: Sequence[Dataset], one: HypothesisFit) -> tuple[str, ...]:
    """What a fit leaves most of, the worst first, in words."""
    several = len(datasets) > 1
    found = []
    for k, (each, rest) in enumerate(zip(datasets, left_over(datasets, one), strict=True), start=1):
        where = f" of capture {k}" if several else ""
        found += [
            (times, f"{what}{where}: {times:.3g} times what noise and model allow")
            for times, what in parts(each.observation.layout, rest)
        ]
    found.sort(key=lambda each: -each[0])
    return tuple(text for times, text in found[:MOST_ODD] if times >= LEAST_ODD)


def parts(layout: Layout, rest: Array) -> Iterator[tuple[float, str]]:
    """How many times what is allowed each number of a record is off, and which it is. rest: over what is allowed, shape (n,)."""
    yield abs(float(rest[0])), "frequency"
    yield abs(float(rest[1])), f"size of the {_signal(layout.reference)}"
    for (real, imaginary), (name, orders) in zip(layout.pairs(), layout.orders.items(), strict=True):
        size = np.hypot(rest[real], rest[imaginary]) / math.sqrt(2)
        for order, times in zip(orders, size, strict=True):
            line = {0: "mean", 1: "fundamental"}.get(int(order), f"harmonic {order}")
            yield float(times), f"{line} of the {_signal(name)}"
        for k, times in enumerate(rest[imaginary.stop : imaginary.stop + layout.quiet[name].size]):
            yield abs(float(times)), f"harmonics {BANDS[k]} to {BANDS[k + 1] - 1} of the {_signal(name)} together"
    for times in rest[rest.size - len(layout.meters) :]:
        yield abs(float(times)), "a meter's reading"


def _signal(name: str) -> str:
    """`drain.left.voltage` as "left drain voltage"."""
    part, *side, quantity = name.split(".")
    return " ".join([*side, part, quantity])


def spread_of(datasets: Sequence[Dataset], fits: Sequence[HypothesisFit]) -> Spread | None:
    """How far the heater is from the ordinary spread of its parts, taken for a sound one.

    A part's fitted departure t has the variance 1 - v over sound heaters, v being the variance that the capture leaves it: the sum
    of t^2 is held against that of 1 - v. None where the sound heater was not simulated.
    """
    one = next((each for each in fits if each.hypothesis.cause == NOTHING), None)
    if one is None or not one.simulated:
        return None
    one, model = fit(datasets, one.hypothesis, one.corrections, one.u), Model(datasets, one.hypothesis)
    departures = one.nuisance[model.used]
    told = 1 - np.clip(np.diag(one.covariance)[one.u.size : one.u.size + len(model.used)], 0, 1)
    distance = math.sqrt(float(np.sum(departures**2)) / max(float(np.sum(told)), 1e-9))
    order = sorted(range(len(model.used)), key=lambda k: -abs(departures[k]))[:MOST_FAR]
    far = tuple((model.names[model.used[k]], float(departures[k])) for k in order if abs(departures[k]) >= LEAST_FAR)
    return Spread(distance, far)
