# SPDX-License-Identifier: GPL-3.0-or-later
"""What a sweep of any size comes to: what decides, the best and the worst points, what each varied field does, ranges of measures.

Terminal and page read it here, so that both tell the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from heatsim.errors import printable
from heatsim.report.base.words import either_side, field_words, named_measure, sentence_case, value_text
from heatsim.report.sweep.view import Dimension, SweepView, columns_of
from heatsim.studies.store import FAILED
from heatsim.waves import Array

MEASURES = (
    "tank.peak_voltage_v",
    "tank.frequency_hz",
    "tank.thd_ratio",
    "supply.mean_current_a",
    "supply.power_w",
    "workpiece.power_w",
    "choke.*.peak_current_a",
    "choke.*.temperature_c",
    "switch.*.junction_temperature_c",
    "drain.*.peak_voltage_v",
    "capacitor.rms_current_a",
)
"""Measures told of a sweep, where it has them; a star stands for either side, and the larger one counts."""

STRETCHES = 24
"""At most so many rows are told of one field; more values than that go together, neighbour by neighbour."""

CAUSES = 8
"""At most so many causes of points without a result are told."""


@dataclass(frozen=True)
class Deciding:
    """A limit that decides somewhere. limit: without its side; key: that of the worst point, side and all; count: points; least:
    headroom there [1], -inf where the circuit does not run; place: of the worst point.
    """

    limit: str
    key: str
    count: int
    least: float
    place: int


def deciding(view: SweepView) -> list[Deciding]:
    """The limits that decide, those with the least headroom first."""
    keys, headroom = view.texts("ends"), view.column("headroom")
    limits = np.array([either_side(text) if text else "" for text in keys], dtype=object)
    found = []
    for limit in sorted(set(limits) - {""}):
        places = np.flatnonzero(limits == limit)
        known = places[np.isfinite(headroom[places])]
        worst = int(known[np.argmin(headroom[known])]) if len(known) else int(places[0])
        found.append(Deciding(limit, str(keys[worst]), len(places), headroom[worst] if len(known) else -np.inf, worst))
    return sorted(found, key=lambda one: (one.least, one.limit))


def causes(view: SweepView) -> list[str]:
    """Causes of points without a result, the most frequent first, each with where it is met first."""
    outcomes, details = view.texts("outcome"), view.texts("outcome_detail")
    by_cause: dict[str, list[int]] = {}
    for place in np.flatnonzero(np.isin(outcomes, FAILED)):
        by_cause.setdefault(f"{outcomes[place]}: {printable(details[place])[:300]}", []).append(int(place))
    ranked = sorted(by_cause.items(), key=lambda item: -len(item[1]))[:CAUSES]
    return [f"{len(places):,} × {cause}, first at {view.where(places[0])}" for cause, places in ranked]


def lost(view: SweepView) -> int:
    """How many points have no result."""
    return int(np.isin(view.texts("outcome"), FAILED).sum())


def followed(view: SweepView) -> str:
    """That some points are known in their steady state only; empty where there are none."""
    steady = np.char.endswith(view.texts("method").astype(str), "periodic")
    if not steady.any():
        return ""
    return (
        f"At {steady.sum():,} of these points the steady state was found without a whole start: drains at switch-on are not "
        "judged there. Check a point to see how it starts."
    )


def ranked(view: SweepView) -> list[int]:
    """Places of the points with a result, the worst first: those that do not run, then by headroom."""
    headroom, outcomes = view.column("headroom"), view.texts("outcome")
    order = np.argsort(np.where(np.isfinite(headroom), headroom, -np.inf), kind="stable")
    return [int(place) for place in order if outcomes[place] and outcomes[place] not in FAILED]


def largest(view: SweepView, key: str) -> Array:
    """A measure by place, the larger of both sides."""
    return view.largest_of(columns_of(key))


def told_measures(view: SweepView) -> list[str]:
    """Which of `MEASURES` the sweep has."""
    return [key for key in MEASURES if np.isfinite(largest(view, key)).any()]


def measure_name(key: str) -> str:
    """A measure in words, without a side: "choke peak current"."""
    part, words, _ = named_measure(key)
    return sentence_case(f"{part.replace('.*', '').replace('_', ' ')} {words}".strip())


def measure_text(view: SweepView, key: str, place: int) -> str:
    """A measure at a place, with its unit."""
    value = float(largest(view, key)[place])
    return value_text(value if np.isfinite(value) else None, named_measure(key)[2])


@dataclass(frozen=True)
class Stretch:
    """Points that share a value of a field, or some neighbouring ones. label: of the values; places: of the points."""

    label: str
    places: NDArray[np.int64]


def stretches(view: SweepView, at: int) -> list[Stretch]:
    """The points of a sweep by the values of one dimension, in their order."""
    dimension = view.dimensions[at]
    index = np.unravel_index(np.arange(len(view.frame)), view.shape)[at + 1]
    order = _order(dimension)
    parts = np.array_split(order, min(len(order), STRETCHES))
    return [Stretch(_span(dimension, part.tolist()), np.flatnonzero(np.isin(index, part)).astype(np.int64)) for part in parts]


def _order(dimension: Dimension) -> Any:
    """The values' numbers, rising where they are numbers."""
    return np.arange(len(dimension.values)) if dimension.numbers is None else np.argsort(dimension.numbers, kind="stable")


def _span(dimension: Dimension, part: Sequence[int]) -> str:
    first, last = (printable(str(dimension.values[k])) for k in (part[0], part[-1]))
    if first == last:
        return first
    return f"{first} to {last}" if dimension.numbers is not None else ", ".join(str(dimension.values[k]) for k in part)


def varied(plan: Any) -> Iterator[tuple[str, str]]:
    """Each varied field with its values in words: ("supply voltage", "24 V to 60 V, 10 values")."""
    for group in plan["groups"]:
        for axis in group:
            values = [printable(str(value)) for value in axis["values"]]
            many = f"{values[0]} to {values[-1]}, {len(values)} values"
            told = many if axis["numbers"] is not None and len(values) > 4 else ", ".join(values)
            yield field_words(axis["field"]), told + (" (in step with the one before)" if axis is not group[0] else "")
    samples = plan.get("samples")
    for banded in samples["fields"] if samples else ():
        width = f"{100 * banded['width']:.3g} %" if banded["relative"] else value_text(banded["width"], banded["unit"])
        yield field_words(banded["field"]), f"± {width} round its value in the file"
