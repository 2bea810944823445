# SPDX-License-Identifier: GPL-3.0-or-later
"""A sweep as arrays over its dimensions: what pictures and tables of sweeps read. Missing points are NaN or empty."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from heatsim.report.base.words import part_words, printable
from heatsim.studies.store import SUFFIXES
from heatsim.waves import Array

BROKEN = ("dead", "latched")
"""Outcomes that fail without a number."""


@dataclass(frozen=True)
class Dimension:
    """One dimension of a sweep. field: of the axis that is drawn; values: as written; numbers: in `unit`, SI, or None
    for words; others: fields that go in step with it.
    """

    field: str
    values: tuple[Any, ...]
    numbers: Array | None
    unit: str
    others: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """The field in words."""
        return field_words(self.field) + "".join(f", {field_words(other)}" for other in self.others)


class SweepView:
    """A plan's mapping and the store's frame of it (rows by place), opened out.

    dimensions: cases first, then the groups of axes; `cube` gives any column in that shape.
    """

    def __init__(self, plan: Mapping[str, Any], frame: Any) -> None:
        self.plan = plan
        self.cases = tuple(plan["cases"])
        self.dimensions = tuple(_dimension(group) for group in plan["groups"])
        self.samples = plan.get("samples")
        sampled = self.samples["count"] if self.samples else 1
        self.shape = (len(self.cases), *(len(dimension.values) for dimension in self.dimensions), sampled)
        self.frame = frame.reindex(range(math.prod(self.shape)))
        self.wanted = float(plan.get("scenario", {}).get("wanted_headroom", 0.0))

    @property
    def name(self) -> str:
        """The heater's name."""
        return printable(str(self.plan.get("scenario", {}).get("name", "")))

    def column(self, key: str) -> Array:
        """Numbers of a column by place, NaN where there are none."""
        if key not in self.frame:
            return np.full(len(self.frame), np.nan)
        import pandas as pd

        return np.asarray(pd.to_numeric(self.frame[key], errors="coerce"), dtype=float)

    def texts(self, key: str) -> Any:
        """Texts of a column by place, empty where there are none."""
        return np.array([value if isinstance(value, str) else "" for value in self.frame[key]], dtype=object)

    def cube(self, values: Any) -> Any:
        """Values by place in the shape of the sweep."""
        return np.asarray(values).reshape(self.shape)

    def where(self, place: int) -> str:
        """A point in words: "supply voltage 42 V, load 50 % (loaded)"."""
        case, *at, sample = np.unravel_index(place, self.shape)
        told = [
            f"{field_words(axis['field'])} {axis['values'][index]}"
            for group, index in zip(self.plan["groups"], at, strict=True)
            for axis in group
        ]
        told += [f"sample {sample + 1}"] if self.samples else []
        return printable(f"{', '.join(told)} ({self.cases[case]})")

    def offsets(self, banded: Mapping[str, Any]) -> Array:
        """Deviation of a toleranced field from its nominal value by place [%]."""
        nominal = np.repeat([banded["nominal"][case] for case in self.cases], len(self.frame) // len(self.cases))
        return np.asarray(100 * (self.column(column_of(banded["field"], banded["unit"])) / nominal - 1))

    def worst_of(self, keys: Sequence[str], largest: bool = True) -> Array:
        """Largest (or least) of several columns by place: of both chokes, say."""
        stack = np.array([self.column(key) for key in keys if key in self.frame] or [self.column("")])
        filled = np.where(np.isnan(stack), -np.inf if largest else np.inf, stack)
        found = filled.max(axis=0) if largest else filled.min(axis=0)
        return np.where(np.isinf(found), np.nan, found)


def _dimension(group: Sequence[Mapping[str, Any]]) -> Dimension:
    """The dimension of a group of axes, drawn over its first axis with numbers."""
    shown = next((axis for axis in group if axis["numbers"] is not None), group[0])
    numbers = None if shown["numbers"] is None else np.array(shown["numbers"], dtype=float)
    others = tuple(axis["field"] for axis in group if axis is not shown)
    return Dimension(shown["field"], tuple(shown["values"]), numbers, shown["unit"], others)


def field_words(field: str) -> str:
    """A dotted field in words: `choke.left.core.area` -> "left choke core area"."""
    if field == "load":
        return "load"
    parts = field.split(".")
    if parts[0] == "case":
        parts = parts[2:]
    if parts[0] == "choke" and len(parts) > 2 and parts[1] in ("left", "right", "centre"):
        parts = [parts[1], "choke", *parts[2:]]
    return " ".join(part.replace("_", " ") for part in parts if part != "measured")


def column_of(field: str, unit: str) -> str:
    """A varied field's column in the frame of a store."""
    return f"{field}_{SUFFIXES[unit]}" if unit else field


def ends_words(ends: str) -> str:
    """`choke.left: temperature` -> "left choke: temperature"."""
    part, _, limit = ends.partition(": ")
    return printable(f"{part_words(part)}: {limit}" if limit else ends)


def either_side(ends: str) -> str:
    """The same without the side, so that equal halves count as one: "choke: temperature"."""
    words = ends_words(ends)
    for side in ("left ", "right ", "centre "):
        words = words.removeprefix(side)
    return words


__all__ = ["BROKEN", "Dimension", "SweepView", "either_side", "ends_words", "field_words"]
