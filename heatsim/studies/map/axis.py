# SPDX-License-Identifier: GPL-3.0-or-later
"""The two axes of an operating map: a scenario field each, over a range, on a grain fine enough to be called continuous."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import LOAD, Field, find_field, own_values, range_ends, try_value

FINENESS = 20
"""Coordinates are rounded to at most the wanted accuracy over this."""

FULL_LOAD = 1.0
"""Share of the workpiece at full load."""

SPAN = (0.5, 1.5)
"""Range of the supply voltage unless given, as shares of the scenario's own."""


@dataclass(frozen=True)
class MapAxis:
    """A field from `low` to `high` [SI]. grain: of coordinates [SI]; own: the scenario's own value, None without one."""

    field: Field
    low: float
    high: float
    grain: float
    own: float | None = None

    @property
    def span(self) -> float:
        """From end to end [SI]."""
        return self.high - self.low

    def share(self, number: float) -> float:
        """0 at the low end, 1 at the high one."""
        return (number - self.low) / self.span

    def number(self, share: float) -> float:
        """SI number at a share of the range."""
        return self.low + share * self.span

    def at(self, share: float) -> float:
        """The nearest coordinate [SI] to a share of the range."""
        return self.snapped(self.number(share))

    def snapped(self, number: float) -> float:
        """The nearest coordinate: an end, or a multiple of the grain between the ends."""
        if number <= self.low or number >= self.high:
            return self.low if number <= self.low else self.high
        grain = Decimal(repr(self.grain))
        near = float((Decimal(repr(float(number))) / grain).to_integral_value() * grain)
        return min(max(near, self.low), self.high)

    def tolerance(self, accuracy: float) -> float:
        """Width [SI] that this share of the range is, at least one grain."""
        return max(accuracy * self.span, self.grain)

    def inside(self, number: float | None) -> bool:
        """Whether a number lies in the range."""
        return number is not None and self.low <= number <= self.high

    @property
    def reference(self) -> float:
        """Where the headline is given [SI]: full load on the load axis, else the scenario's own value, else the high end."""
        if self.field.path == LOAD and self.inside(FULL_LOAD):
            return FULL_LOAD
        return self.own if self.own is not None and self.inside(self.own) else self.high

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI."""
        return {
            "field": self.field.path,
            "unit": self.field.unit,
            "low": self.low,
            "high": self.high,
            "grain": self.grain,
            "own": self.own,
            "reference": self.reference,
        }


def default_axes(scenario: Scenario, case: str) -> tuple[str, str]:
    """Texts of the axes of a map unless given: load, or the capacitance without a workpiece, and supply voltage."""
    volts = scenario.case(case).tables.supply.voltage
    low, high = (float(f"{share * volts:.2g}") for share in SPAN)
    voltage = f"supply.voltage = {max(low, 5.0):g} V to {min(high, 400.0):g} V"
    if scenario.tables.case[case].workpiece is not None:
        return f"{LOAD} = 0 % to 100 %", voltage
    unit = scenario.tables.capacitors.capacitance * 1e9
    return f"capacitors.capacitance = {0.5 * unit:.3g} nF to {1.5 * unit:.3g} nF", voltage


def read_map_axis(scenario: Scenario, text: str, case: str, accuracy: float) -> MapAxis:
    """`FIELD = LOW to HIGH` as an axis; InputError when field or range are not what they should be."""
    name, equals, rest = text.partition("=")
    ends = [part.strip() for part in rest.split(" to ")]
    if not equals or len(ends) != 2 or not all(ends):
        raise InputError.single("axis", "needs FIELD = LOW to HIGH", text, '"supply.voltage = 24 V to 60 V"')
    field = find_field(scenario, name.strip())
    if field.kind == "word":
        raise InputError.single(f"axis {field.path}", "is a word, not a number", text, "a field with a range")
    low, high = range_ends(field, *ends)
    if not low < high:
        raise InputError.single(f"axis {field.path}", "has no width", rest.strip(), "a low end, then a higher one")
    own = set(own_values(scenario, field, case).values())
    axis = MapAxis(field, low, high, _grain(field, high - low, accuracy), own.pop() if len(own) == 1 else None)
    if field.kind == "count" and axis.span < 2:
        raise InputError.single(f"axis {field.path}", "is too short", rest.strip(), "three whole numbers or more")
    _validate(scenario, axis, case)
    return axis


def _grain(field: Field, span: float, accuracy: float) -> float:
    """A power of ten, fine against the accuracy; 1 for whole numbers."""
    if field.kind == "count":
        return 1.0
    return float(Decimal(1).scaleb(math.floor(math.log10(span * accuracy / FINENESS))))


def _validate(scenario: Scenario, axis: MapAxis, case: str) -> None:
    """Both ends must be allowed, and the field must apply to the case."""
    path, where = axis.field.in_case(case), f"axis {axis.field.path}"
    if axis.field.path == LOAD and scenario.tables.case[case].workpiece is None:
        having = [name for name in scenario.cases if scenario.tables.case[name].workpiece is not None]
        raise InputError.single(where, "needs a case with a workpiece", case, ", ".join(having))
    if path.startswith("case.") and path.split(".")[1] != case:
        raise InputError.single(where, f"does not apply to case {case}", path, f"a field of case.{case}")
    for end in (axis.low, axis.high):
        try_value(scenario, axis.field, case, axis.field.written(end))
