# SPDX-License-Identifier: GPL-3.0-or-later
"""Catalogues of materials and rings: reading and joining them; `heatsim.parts.catalogue_text` writes.

One format for the built-in files and for a user's own, TOML with [material.NAME], its [.bias], [.loss] and [.ageing],
and [ring.NAME]; quantities are texts with units, coefficients stand as printed. `parts/data/materials.toml` describes
every key.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any, cast, get_args

from heatsim.constants import OERSTED
from heatsim.errors import InputError, Problem
from heatsim.parts.materials import (
    LOSS_COEFFICIENTS,
    PROVENANCES,
    Bias,
    CoreLoss,
    LossForm,
    Material,
    Provenance,
    half_field_through,
)
from heatsim.parts.ring import RingEntry
from heatsim.physics.ringcore import PathConvention, RingSize
from heatsim.quantity import QuantityError, format_quantity, parse_quantity

Where = Callable[..., str]
"""Turns a field path into the place to name in errors, `file:line: field`."""

_NAME = re.compile(r"^[A-Za-z0-9][A-Za-z0-9 ._,+()/-]{0,79}$")


@dataclass(frozen=True)
class Catalogue:
    """Materials and rings by name."""

    materials: Mapping[str, Material]
    rings: Mapping[str, RingEntry]

    def joined(self, own: Catalogue) -> Catalogue:
        """This catalogue with another on top, whose entries win."""
        return Catalogue({**self.materials, **own.materials}, {**self.rings, **own.rings})

    def material(self, name: str, place: str) -> Material:
        """A material by name; InputError with the nearest names."""
        return cast(Material, _named(self.materials, name, place))

    def ring(self, name: str, place: str) -> RingEntry:
        """A ring by name; InputError with the nearest names."""
        return cast(RingEntry, _named(self.rings, name, place))


def _named(known: Mapping[str, object], name: str, place: str) -> object:
    if name in known:
        return known[name]
    close = difflib.get_close_matches(name, known, n=4, cutoff=0.5)
    raise InputError.single(place, "is not in the catalogue", repr(name), ", ".join(close or known))


@lru_cache(maxsize=1)
def builtin() -> Catalogue:
    """The built-in catalogue."""
    return _builtin_file("materials.toml").joined(_builtin_file("rings.toml"))


def _builtin_file(name: str) -> Catalogue:
    text = files("heatsim.parts").joinpath(f"data/{name}").read_text(encoding="utf-8")
    return read_catalogue(tomllib.loads(text), lambda *field: f"{name}: {'.'.join(field)}")


def read_catalogue(raw: Mapping[str, Any], where: Where) -> Catalogue:
    """A catalogue from parsed TOML; InputError lists every fault, each at its place."""
    problems: list[Problem] = []
    top = _Table(raw, (), where, problems)
    materials = {name: _material(name, table) for name, table in top.tables("material").items()}
    rings = {name: _ring(name, table) for name, table in top.tables("ring").items()}
    top.finish()
    if problems:
        raise InputError(*problems)
    return Catalogue(materials, rings)


class _Table:
    """A table being read: each reader notes the key as known, and a fault as a problem."""

    def __init__(self, raw: Any, path: tuple[str, ...], where: Where, problems: list[Problem]) -> None:
        self.raw: Mapping[str, Any] = raw if isinstance(raw, Mapping) else {}
        self.path, self.where, self.problems, self.known = path, where, problems, set[str]()
        if not isinstance(raw, Mapping):
            self.fault("", "must be a table", raw, "[table] of keys")

    def fault(self, key: str, what: str, given: object = "", allowed: str = "") -> None:
        """Note a problem."""
        shown = repr(given)[:80] if given != "" else ""
        self.problems.append(Problem(self.where(*self.path, *([key] if key else [])), what, shown, allowed))

    def has(self, key: str) -> bool:
        """Whether a key is there; it counts as known from now on."""
        self.known.add(key)
        return key in self.raw

    def _missing(self, key: str, needed: bool, allowed: str) -> bool:
        if self.has(key):
            return False
        if needed:
            self.fault(key, "is missing", allowed=allowed)
        return True

    def text(self, key: str, needed: bool = True, longest: int = 300) -> str:
        """A text."""
        if self._missing(key, needed, "a text"):
            return ""
        value = self.raw[key]
        if not isinstance(value, str) or not 0 < len(value) <= longest or "\n" in value:
            self.fault(key, "must be one line of text", value, f"1 to {longest} characters")
            return ""
        return value

    def choice(self, key: str, choices: Sequence[str]) -> str:
        """One of the choices."""
        if self._missing(key, True, ", ".join(choices)):
            return choices[0]
        if self.raw[key] not in choices:
            self.fault(key, "is not one of the choices", self.raw[key], ", ".join(choices))
            return choices[0]
        return str(self.raw[key])

    def number(self, key: str, low: float, high: float, default: float | None = None) -> float:
        """A bare number, for coefficients as printed; `default` None when it must be given."""
        if self._missing(key, default is None, f"a number from {low:g} to {high:g}"):
            return low if default is None else default
        return self._inside(key, self.raw[key], low, high)

    def _inside(self, key: str, value: Any, low: float, high: float) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            self.fault(key, "must be a number in range", value, f"{low:g} to {high:g}")
            return low
        return float(value)

    def numbers(self, key: str, count: int) -> tuple[float, ...]:
        """A list of positive numbers."""
        allowed = f"a list of {count} positive numbers, as printed"
        if self._missing(key, True, allowed):
            return (1.0,) * count
        value = self.raw[key]
        fine = (
            isinstance(value, list)
            and len(value) == count
            and all(isinstance(item, int | float) and not isinstance(item, bool) and 0 < item < 1e30 for item in value)
        )
        if not fine:
            self.fault(key, "must be a list of numbers", value, allowed)
            return (1.0,) * count
        return tuple(float(item) for item in value)

    def quantity(self, key: str, unit: str, low: float, high: float, needed: bool = True) -> float | None:
        """A quantity in SI; None when it may be and is missing."""
        if self._missing(key, needed, f"{format_quantity(low, unit)} to {format_quantity(high, unit)}"):
            return low if needed else None
        return self.read(key, self.raw[key], unit, low, high)

    def read(self, key: str, value: Any, unit: str, low: float, high: float) -> float:
        """A value as a quantity in SI; the lower bound after noting a fault."""
        try:
            number = parse_quantity(value, unit)
        except QuantityError as error:
            self.fault(key, error.what, value, error.allowed)
            return low
        if not low <= number <= high:
            self.fault(key, "is out of range", value, f"{format_quantity(low, unit)} to {format_quantity(high, unit)}")
            return low
        return number

    def pairs(self, key: str, first: tuple[str, float, float], second: tuple[str, float, float]) -> tuple[tuple[float, float], ...]:
        """A list of pairs of quantities, each with unit and bounds."""
        value = self.raw.get(key, [])
        self.known.add(key)
        if not isinstance(value, list) or not all(isinstance(item, list) and len(item) == 2 for item in value):
            self.fault(key, "must be a list of pairs", value, f"[[{first[0]}, {second[0]}], ...] as texts with units")
            return ()
        return tuple(
            (self.read(key, a, *first) if first[0] else self._inside(key, a, *first[1:]), self.read(key, b, *second))
            for a, b in value
        )

    def table(self, key: str) -> _Table | None:
        """A table inside, None when it is missing."""
        return _Table(self.raw[key], (*self.path, key), self.where, self.problems) if self.has(key) else None

    def tables(self, key: str) -> dict[str, _Table]:
        """The named tables under a key."""
        outer = self.table(key)
        if outer is None:
            return {}
        for name in outer.raw:
            if not _NAME.match(name):
                outer.fault(
                    name[:40], "has signs that are not allowed in a name", allowed="letters, digits, blanks and . _ , + ( ) / -"
                )
        return {name: _Table(raw, (*outer.path, name), self.where, self.problems) for name, raw in outer.raw.items()}

    def origin(self) -> tuple[Provenance, str]:
        """Provenance and source, which every entry must have."""
        return cast(Provenance, self.choice("provenance", PROVENANCES)), self.text("source")

    def finish(self) -> None:
        """Note every key nobody asked for."""
        for key in self.raw.keys() - self.known:
            close = difflib.get_close_matches(key, self.known, n=1, cutoff=0.5)
            hint = f"did you mean {close[0]}? Known: " if close else ""
            self.fault(key, "is not a known key", allowed=hint + ", ".join(sorted(self.known)))


_FIELD = ("A/m", 1.0, 1e6)
_SHARE = ("%", 0.005, 1.0)


def _material(name: str, table: _Table) -> Material:
    provenance, source = table.origin()
    bias, loss, ageing = table.table("bias"), table.table("loss"), table.table("ageing")
    limit, note = (ageing.quantity("limit", "°C", 20, 300), ageing.text("note")) if ageing else (None, "")
    if ageing:
        ageing.origin()
        ageing.finish()
    material = Material(
        name,
        table.text("alloy"),
        table.number("permeability", 1.0, 2e5),
        table.choice("path_rule", get_args(PathConvention)),
        provenance,
        source,
        table.quantity("permeability_tolerance", "%", 0.0, 0.5, needed=False) or 0.1,
        table.quantity("saturation_flux_density", "T", 0.05, 2.5, needed=False),
        loss=_loss(loss) if loss else None,
        ageing_limit_c=limit,
        ageing_note=note,
    )
    table.finish()
    return material.with_bias(_bias(bias)) if bias else material


def _bias(table: _Table) -> Bias:
    """Any of: b and c as printed; one point and an exponent; measured points."""
    provenance, source = table.origin()
    tolerance = table.quantity("tolerance", "%", 0.0, 0.4) or 0.0
    if table.has("b"):
        b, c = table.number("b", 1e-15, 1.0), table.number("c", 1.01, 6.0)
        bias = Bias((100.0 * b) ** (-1.0 / c) * OERSTED, c, tolerance, provenance, source)
    elif table.has("point"):
        bias = _bias_through(table, tolerance, provenance, source)
    elif table.has("points"):
        bias = _bias_measured(table, tolerance, provenance, source)
    else:
        table.fault("", "says nothing of the curve", allowed="b and c, or point and exponent, or points")
        bias = Bias(1.0, 2.0, tolerance, provenance, source)
    table.finish()
    return bias


def _bias_through(table: _Table, tolerance: float, provenance: Provenance, source: str) -> Bias:
    exponent, band = table.number("exponent", 1.01, 6.0), table.number("exponent_band", 0.0, 2.0)
    raw = table.raw["point"]
    if not isinstance(raw, list) or len(raw) != 2:
        table.fault("point", "must be a field and the share left", raw, '["50 Oe", "51 %"]')
        raw = ["1 A/m", "50 %"]
    field, share = table.read("point", raw[0], *_FIELD), table.read("point", raw[1], "%", 0.01, 0.995)
    if exponent - band <= 1.0:
        table.fault("exponent_band", "reaches down to an exponent of 1, a core that never saturates", band)
        band = 0.0
    half = half_field_through(field, share, exponent)
    return Bias(half, exponent, tolerance, provenance, source, anchor=field, exponent_band=band)


def _bias_measured(table: _Table, tolerance: float, provenance: Provenance, source: str) -> Bias:
    points = ((0.0, 1.0), *(pair for pair in table.pairs("points", ("A/m", 0.0, 1e6), _SHARE) if pair[0] > 0))
    exponent = table.number("exponent", 1.01, 6.0, default=1.8)
    rising = all(a[0] < b[0] and a[1] >= b[1] for a, b in zip(points, points[1:], strict=False))
    if len(points) < 3 or not rising or points[-1][1] >= 1.0:
        table.fault(
            "points", "must be two or more points of rising field and falling share, the last below 100 %", table.raw["points"]
        )
        return Bias(1.0, exponent, tolerance, provenance, source)
    import numpy as np

    fields, shares = np.array(points).T
    half = half_field_through(fields[-1], shares[-1], exponent)
    if shares[-1] < 0.5:
        half = float(np.interp(-0.5, -shares, fields))
    return Bias(half, exponent, tolerance, provenance, source, points=points)


def _loss(table: _Table) -> CoreLoss:
    provenance, source = table.origin()
    form = cast(LossForm, table.choice("form", tuple(LOSS_COEFFICIENTS)))
    loss = CoreLoss(
        form, table.numbers("coefficients", LOSS_COEFFICIENTS[form]), table.number("band", 1.0, 10.0), provenance, source
    )
    table.finish()
    return loss


def _ring(name: str, table: _Table) -> RingEntry:
    provenance, source = table.origin()
    before = len(table.problems)
    outer, inner, height = (table.quantity(key, "m", 2e-3, 0.3) or 0.0 for key in ("outer_diameter", "inner_diameter", "height"))
    if inner >= outer and len(table.problems) == before:
        table.fault("inner_diameter", "must be smaller than outer_diameter", table.raw.get("inner_diameter", ""))
    entry = RingEntry(
        name,
        RingSize(outer, inner, height),
        cast(PathConvention, table.choice("path_rule", get_args(PathConvention))),
        provenance,
        source,
        table.quantity("path_length", "m", 5e-3, 1.0, needed=False),
        table.quantity("area", "m2", 1e-6, 1e-2, needed=False),
        table.quantity("coating", "m", 0.0, 3e-3, needed=False) or 0.0,
        table.pairs("inductance_factors", ("", 1.0, 2e5), ("H/turn2", 1e-10, 1e-4)),
        table.quantity("inductance_tolerance", "%", 0.0, 0.5, needed=False) or 0.1,
    )
    table.finish()
    return entry
