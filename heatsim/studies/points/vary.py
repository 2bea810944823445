# SPDX-License-Identifier: GPL-3.0-or-later
"""What a sweep varies, in words: `supply.voltage = 24 V to 60 V in 20`, `choke.turns = 16, 18, 20`, `... = 5 %`.

An axis is a field and its values. Values are listed with commas, and each item may be a range: `A to B in N` (N values,
ends included), `A to B in N steps` (N + 1 values), either with `by ratio` for equal ratios instead of equal
differences, or `A to B by STEP`. A field that holds a word takes a list only; a value with a comma is put in quotes.
"""

from __future__ import annotations

import csv
import difflib
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from functools import cache
from typing import Any, Literal

from heatsim.errors import InputError
from heatsim.parts.gauge import read_wire
from heatsim.quantity import QuantityError, exact_quantity, parse_quantity
from heatsim.scenario.overrides import SIDES
from heatsim.scenario.scenario import Scenario, json_schema

LOAD = "load"
"""Short for the share of the workpiece of the point's case."""

MOST_VALUES = 1_000_000
"""More values than this on one axis are a slip of the pen."""

LONGEST_VALUE = 200
"""Characters of a value or a range."""

Kind = Literal["quantity", "count", "number", "word"]

_RANGE = re.compile(
    r"^(?P<low>.+?)\s+to\s+(?P<high>.+?)\s+(?:in\s+(?P<count>\d+)(?:\s+(?P<of>values|steps))?"
    r"(?P<ratio>\s+by\s+ratio)?|by\s+(?P<step>.+))$"
)
_BARE = re.compile(r"^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$")


@dataclass(frozen=True)
class Field:
    """A field of a scenario. kind: what it holds; unit: SI, of a quantity; wire: whether a gauge says it too."""

    path: str
    kind: Kind
    unit: str = ""
    wire: bool = False

    def in_case(self, case: str) -> str:
        """The dotted field to set for a point of this case."""
        return f"case.{case}.workpiece.share" if self.path == LOAD else self.path

    def number(self, text: str) -> float:
        """SI number of a text; InputError with what is allowed."""
        if self.kind == "quantity":
            try:
                return read_wire(text) if self.wire else parse_quantity(text, self.unit)
            except QuantityError as error:
                raise InputError.single(f"axis {self.path}", error.what, text, error.allowed) from None
        if not _BARE.match(text):
            raise InputError.single(f"axis {self.path}", "needs a bare number", text, "a number without a unit")
        return float(text)

    def written(self, number: float) -> Any:
        """A number as a scenario file would hold it, the same for equal numbers."""
        if self.kind == "quantity":
            return exact_quantity(number, self.unit)
        if self.kind == "count" and number != round(number):
            raise InputError.single(f"axis {self.path}", "holds whole numbers", f"{number:g}", "a whole number")
        return int(number) if number == round(number) else number


@dataclass(frozen=True)
class Axis:
    """A field and the values it takes, in the user's order. numbers: the values in SI, None for words."""

    field: Field
    values: tuple[Any, ...]
    numbers: tuple[float, ...] | None

    def as_dict(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "field": self.field.path,
            "kind": self.field.kind,
            "unit": self.field.unit,
            "values": list(self.values),
            "numbers": None if self.numbers is None else list(self.numbers),
        }


@dataclass(frozen=True)
class Band:
    """How far a field may lie from its nominal value to either side: a ratio, or an SI number when not relative."""

    field: Field
    width: float
    relative: bool

    def half_width(self, nominal: float) -> float:
        """Distance of the ends from the nominal value [SI]."""
        return abs(nominal) * self.width if self.relative else self.width


def read_axis(scenario: Scenario, text: str) -> Axis:
    """`FIELD = VALUES` as an axis; InputError when field or values are not what they should be."""
    field, rest = _assigned(scenario, text)
    items = _items(rest)
    if field.kind == "word":
        return _without_twins(Axis(field, tuple(items), None))
    numbers = [number for item in items for number in _numbers(field, item)]
    return _without_twins(Axis(field, tuple(field.written(number) for number in numbers), tuple(numbers)))


def read_band(scenario: Scenario, text: str) -> Band:
    """`FIELD = 5 %` or `FIELD = 0.2 V` as a band round the nominal value."""
    field, rest = _assigned(scenario, text)
    shown = rest.removeprefix("±").removeprefix("+-").strip()
    if field.kind not in ("quantity", "number"):
        kinds = "words" if field.kind == "word" else "whole numbers"
        raise InputError.single(f"tolerance of {field.path}", f"makes no sense for {kinds}", text, "vary it by a list")
    relative = shown.endswith("%")
    width = Field(field.path, "quantity", "%").number(shown) if relative else field.number(shown)
    if width <= 0 or relative and width >= 1:
        raise InputError.single(f"tolerance of {field.path}", "is out of range", shown, "above 0 %, below 100 %")
    return Band(field, width, relative)


def find_field(scenario: Scenario, path: str) -> Field:
    """The field of that name; InputError with the nearest one."""
    known = fields_of(scenario)
    if path in known:
        return known[path]
    path = path[:LONGEST_VALUE]
    last = path.rsplit(".", 1)[-1]
    close = difflib.get_close_matches(path, known, n=2, cutoff=0.6)
    close += [name for name in known if difflib.SequenceMatcher(None, last, name.rsplit(".", 1)[-1]).ratio() > 0.8]
    near = list(dict.fromkeys(close))[:3]
    hint = f"did you mean {' or '.join(near)}?" if near else "a dotted field of the scenario file, such as supply.voltage"
    raise InputError.single(f"axis {path}", "is not a field that can be varied", path, hint)


def fields_of(scenario: Scenario) -> dict[str, Field]:
    """Every field a point may set, by its dotted name."""
    found = {LOAD: Field(LOAD, "quantity", "%")}
    cases = {name: {"$ref": "#/$defs/CaseTable"} for name in scenario.cases}
    schema = _schema()
    tables = schema["properties"] | {"case": {"properties": cases}}
    return found | {field.path: field for field in _walk(schema["$defs"], {"properties": tables}, ())}


@cache
def _schema() -> Mapping[str, Any]:
    return json_schema()


def _walk(definitions: Mapping[str, Any], node: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[Field]:
    """Leaves of the schema below a node; what stands in lists cannot be set alone and is left out."""
    if "anyOf" in node:
        node = next((choice for choice in node["anyOf"] if choice.get("type") != "null"), {})
    if "$ref" in node:
        node = definitions[node["$ref"].rsplit("/", 1)[-1]]
    if "properties" in node:
        for name, below in node["properties"].items():
            yield from _walk(definitions, below, (*path, name))
        return
    kinds: dict[str, Kind] = {"integer": "count", "number": "number", "string": "word"}
    dotted = ".".join(path)
    if "x-unit" in node:
        yield Field(dotted, "quantity", node["x-unit"], bool(node.get("x-gauge")))
    elif kind := kinds.get(node.get("type", "")):
        yield Field(dotted, kind)


def own_values(scenario: Scenario, field: Field, case: str) -> dict[str, float | None]:
    """What the scenario itself says a field is in a case [SI], by the dotted field: one, or of a choke's field one a side.

    None where it says nothing.
    """
    tables = scenario.case(case).tables
    path = field.in_case(case)
    head, _, rest = path.partition(".")
    if head == "choke" and rest.partition(".")[0] not in tables.choke:
        return {one: _number_at(tables, one) for one in (f"choke.{side}.{rest}" for side in SIDES[tables.heater.topology])}
    found = _number_at(tables, path)
    if found is None and head == "switch" and (switch := scenario.heater(case).switch).origin(rest):
        found = getattr(switch, rest)
    return {path: found}


def _number_at(table: Any, path: str) -> float | None:
    """Number at a dotted path of the tables."""
    for key in path.split("."):
        table = table.get(key) if isinstance(table, dict) else getattr(table, key, None)
    return float(table) if isinstance(table, int | float) else None


def try_value(scenario: Scenario, field: Field, case: str, value: Any) -> Scenario:
    """The scenario with a field of a case set; InputError in terms of the axis."""
    try:
        return scenario.change({field.in_case(case): value})
    except InputError as error:
        problem = error.problems[0]
        raise InputError.single(f"axis {field.path}", problem.what, value, problem.allowed) from None


def _assigned(scenario: Scenario, text: str) -> tuple[Field, str]:
    """Field and what stands right of the equals sign."""
    name, equals, rest = text.partition("=")
    if not equals or not name.strip() or not rest.strip():
        example = '"supply.voltage = 24 V to 60 V in 20"'
        raise InputError.single("axis", "needs FIELD = VALUES", text, example)
    return find_field(scenario, name.strip()), rest.strip()


def _items(text: str) -> list[str]:
    """Items between commas that stand outside quotes."""
    return [item.strip() for item in next(csv.reader([" ".join(text.split())], skipinitialspace=True), [])]


def _numbers(field: Field, item: str) -> list[float]:
    """One item of a list: a value or a range."""
    if not item:
        raise InputError.single(f"axis {field.path}", "has an empty value", "", "values between the commas")
    if len(item) > LONGEST_VALUE:
        raise InputError.single(
            f"axis {field.path}", "has too long a value", f"{item[:40]}...", f"at most {LONGEST_VALUE} characters"
        )
    found = _RANGE.match(item)
    if found is None:
        if re.search(r"\sto\s", item):
            allowed = f"{item} in 20, or {item} by a step"
            raise InputError.single(f"axis {field.path}", "does not say how many values", item, allowed)
        return [field.number(item)]
    low, high = range_ends(field, found["low"], found["high"])
    if low == high:
        raise InputError.single(f"axis {field.path}", "begins where it ends", item, "two different ends")
    if found["step"]:
        return _stepped(field, low, high, field.number(found["step"]), item)
    count = int(found["count"]) + (found["of"] == "steps")
    if not 2 <= count <= MOST_VALUES:
        raise InputError.single(f"axis {field.path}", f"has {count} values", item, f"2 to {MOST_VALUES}")
    return _by_ratio(field, low, high, count, item) if found["ratio"] else _even(low, high, count)


def range_ends(field: Field, low: str, high: str) -> tuple[float, float]:
    """Ends of a range [SI]; the first may leave its unit to the second."""
    if field.kind == "quantity" and _BARE.match(low):
        unit = re.sub(r"^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?\s*", "", high)
        low = f"{low} {unit}"
    return field.number(low), field.number(high)


def _even(low: float, high: float, count: int) -> list[float]:
    """Values at equal distances, rounded to a ten-thousandth of it so that they read well; the ends are exact."""
    first, span = _decimal(low), _decimal(high) - _decimal(low)
    step = span / (count - 1)
    grain = Decimal(1).scaleb(step.copy_abs().adjusted() - 4)
    inner = [(first + step * k).quantize(grain, ROUND_HALF_EVEN) for k in range(1, count - 1)]
    return [low, *(float(value) for value in inner), high]


def _by_ratio(field: Field, low: float, high: float, count: int, item: str) -> list[float]:
    """Values in equal ratios, to six digits; the ends are exact."""
    if low <= 0 or high <= 0:
        raise InputError.single(f"axis {field.path}", "has no ratio to zero or below", item, "two ends above zero")
    inner = [float(f"{low * (high / low) ** (k / (count - 1)):.6g}") for k in range(1, count - 1)]
    return [low, *inner, high]


def _stepped(field: Field, low: float, high: float, step: float, item: str) -> list[float]:
    """Values from low in steps as far as high, exact in decimals; downwards when high is the lower end."""
    if step <= 0:
        raise InputError.single(f"axis {field.path}", "has no step forward", item, "a step above zero")
    span = abs(high - low) / step
    if span > MOST_VALUES or not math.isfinite(span):
        raise InputError.single(f"axis {field.path}", "has too many values", item, f"at most {MOST_VALUES}")
    stride = _decimal(step) if high > low else -_decimal(step)
    count = int((_decimal(high) - _decimal(low)) / stride) + 1
    return [float(_decimal(low) + stride * k) for k in range(count)]


def _decimal(number: float) -> Decimal:
    return Decimal(repr(number))


def _without_twins(axis: Axis) -> Axis:
    """The axis, unless a value stands in it twice."""
    seen: set[Any] = set()
    for value in axis.values:
        if value in seen:
            raise InputError.single(f"axis {axis.field.path}", "has a value twice", value, "each value once")
        seen.add(value)
    return axis
