# SPDX-License-Identifier: GPL-3.0-or-later
"""A sweep as arrays over its dimensions: what pictures and tables of sweeps read. Missing points are NaN or empty."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from heatsim.errors import printable
from heatsim.report.base.words import SIDES, field_words
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
        self._columns: dict[str, Array] = {}
        self._texts: dict[str, Any] = {}
        self.wanted = float(plan.get("scenario", {}).get("wanted_headroom", 0.0))

    @property
    def name(self) -> str:
        """The heater's name."""
        return printable(str(self.plan.get("scenario", {}).get("name", "")))

    def column(self, key: str) -> Array:
        """Numbers of a column by place, NaN where there are none."""
        import pandas as pd

        if key not in self._columns:
            known = self.frame[key] if key in self.frame else pd.Series(np.nan, self.frame.index)
            self._columns[key] = np.asarray(pd.to_numeric(known, errors="coerce"), dtype=float)
        return self._columns[key]

    def texts(self, key: str) -> Any:
        """Texts of a column by place, empty where there are none."""
        if key not in self._texts:
            self._texts[key] = np.array([value if isinstance(value, str) else "" for value in self.frame[key]], dtype=object)
        return self._texts[key]

    def cube(self, values: Any) -> Any:
        """Values by place in the shape of the sweep."""
        return np.asarray(values).reshape(self.shape)

    def where(self, place: int) -> str:
        """A point in words: "supply voltage 42 V, load 50 % (loaded)"."""
        case, *at, sample = np.unravel_index(place, self.shape)
        groups = zip(self.plan["groups"], at, strict=True)
        values = [f"{field_words(axis['field'])} {axis['values'][index]}" for group, index in groups for axis in group]
        values += [f"sample {sample + 1}"] if self.samples else []
        return printable(f"{', '.join(values)} ({self.cases[case]})")

    def others(self, pick: Sequence[Any], named: bool = False) -> str:
        """The case and the values of the dimensions at one place; those with one value only or a slice of all are left out.

        named: say the fields' names before the values.
        """
        shown = [("", self.cases), *((f"{one.label} " if named else "", one.values) for one in self.dimensions)]
        pairs = zip(shown, pick, strict=False)
        texts = [f"{name}{values[at]}" for (name, values), at in pairs if isinstance(at, int) and len(values) > 1]
        return printable(", ".join(texts))

    def offsets(self, banded: Mapping[str, Any]) -> Array:
        """Deviation of a toleranced field from its nominal value by place [%]."""
        nominal = np.repeat([banded["nominal"][case] for case in self.cases], len(self.frame) // len(self.cases))
        return np.asarray(100 * (self.column(column_of(banded["field"], banded["unit"])) / nominal - 1))

    def largest_of(self, keys: Sequence[str]) -> Array:
        """Largest of several columns by place: of both chokes, say."""
        return np.asarray(np.fmax.reduce([self.column(key) for key in keys]))


def _dimension(group: Sequence[Mapping[str, Any]]) -> Dimension:
    """The dimension of a group of axes, drawn over its first axis with numbers."""
    shown = next((axis for axis in group if axis["numbers"] is not None), group[0])
    numbers = None if shown["numbers"] is None else np.array(shown["numbers"], dtype=float)
    others = tuple(axis["field"] for axis in group if axis is not shown)
    return Dimension(shown["field"], tuple(shown["values"]), numbers, shown["unit"], others)


def columns_of(key: str) -> tuple[str, ...]:
    """The measures an output stands for: `choke.*.peak_current_a` for that of each choke there is."""
    return tuple(key.replace("*", side) for side in SIDES) if "*" in key else (key,)


def column_of(field: str, unit: str) -> str:
    """A varied field's column in the frame of a store."""
    return f"{field}_{SUFFIXES[unit]}" if unit else field
