# SPDX-License-Identifier: GPL-3.0-or-later
"""The bench test of an unknown ring: what its file may say, and reading it.

A test file describes the ring, the turns on it and one or more measurements: [lcr], one small-signal reading; [bias],
readings at several direct currents; [ramp], a captured current under a known or recorded voltage.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, get_args

from pydantic import BaseModel, Field, ValidationError

from heatsim.errors import InputError, Problem
from heatsim.parts.ring import Ring, Winding
from heatsim.physics.conductor import enamelled_diameter
from heatsim.physics.ringcore import PathConvention, RingSize
from heatsim.scenario.fields import Name, Table, Unit
from heatsim.scenario.ringcsv import Capture, read_capture
from heatsim.scenario.source import LineFinder, parse_toml, read_text

Share = Annotated[float, Unit("%", 0.0, 0.3)]


class RingTable(Table):
    """[ring]: the core as callipers see it."""

    name: Name
    outer_diameter: Annotated[float, Unit("m", 3e-3, 0.5)]
    inner_diameter: Annotated[float, Unit("m", 1e-3, 0.4)]
    height: Annotated[float, Unit("m", 5e-4, 0.2)]
    stack: Annotated[int, Field(strict=True, ge=1, le=8)] = 1
    accuracy: Annotated[float, Unit("m", 0, 2e-3)] = Field(
        1e-4, description="limit of error of each dimension; 0.1 mm for callipers on a coated ring: common practice"
    )
    path_rule: PathConvention = Field("logarithmic", description="which path length permeability and field are given for")
    path_length: Annotated[float, Unit("m", 2e-3, 2)] | None = Field(None, description="as printed; else computed")
    area: Annotated[float, Unit("m2", 1e-7, 1e-2)] | None = Field(None, description="of one ring, as printed")


class WindingTable(Table):
    """[winding]: the test winding, spread evenly round the ring."""

    turns: Annotated[int, Field(strict=True, ge=1, le=2000)]
    wire_diameter: Annotated[float, Unit("m", 2e-5, 0.01)] | None = Field(None, description="bare copper")
    strands: Annotated[int, Field(strict=True, ge=1, le=1000)] = 1
    resistance: Annotated[float, Unit("ohm", 1e-6, 100)] | None = Field(None, description="at direct current")
    resistance_accuracy: Share = 0.05


class LcrTable(Table):
    """[lcr]: one reading at small signal and without direct current."""

    inductance: Annotated[float, Unit("H", 1e-9, 10)]
    frequency: Annotated[float, Unit("Hz", 1, 5e6)]
    accuracy: Share = Field(0.01, description="limit of error of the meter")
    resistance: Annotated[float, Unit("ohm", 1e-6, 1e5)] | None = Field(None, description="series, at that frequency")


class BiasTable(Table):
    """[bias]: differential inductance at several direct currents."""

    readings: Annotated[
        list[tuple[Annotated[float, Unit("A", 0, 5000)], Annotated[float, Unit("H", 1e-9, 10)]]],
        Field(min_length=3, max_length=500),
    ]
    accuracy: Share = Field(0.01, description="limit of error of the meter, common to all readings")
    scatter: Share | None = Field(None, description="standard deviation of a reading; else found from the readings")


class RampTable(Table):
    """[ramp]: the captured current under a voltage step, the choke without current before it."""

    file: Annotated[str, Field(min_length=1, max_length=400)] | None = None
    voltage: Annotated[float, Unit("V", 1e-3, 5000)] | None = Field(
        None, description="of the step behind all resistance; not needed where the capture has a voltage column"
    )
    resistance: Annotated[float, Unit("ohm", 0, 100)] | None = Field(
        None, description="in series: winding, shunt, switch, source; left out, it is found from the ramp"
    )
    resistance_accuracy: Share = 0.05
    shunt: Annotated[float, Unit("ohm", 1e-6, 100)] | None = Field(None, description="the current column is in volts across this")
    bits: Annotated[int, Field(strict=True, ge=4, le=24)] | None = Field(None, description="of the oscilloscope")
    full_scale: Annotated[float, Unit("A", 1e-4, 20000)] | None = Field(
        None, description="current from the lowest to the highest code; goes with bits"
    )
    noise: Annotated[float, Unit("A", 0, 1000)] | None = Field(None, description="rms; else found from the capture")
    current_accuracy: Share | None = Field(None, description="limit of gain error of probe and oscilloscope")
    voltage_accuracy: Share | None = Field(None, description="limit of error of the voltage")


class RingTestTables(Table):
    """A whole test file."""

    ring: RingTable
    winding: WindingTable
    lcr: LcrTable | None = None
    bias: BiasTable | None = None
    ramp: RampTable | None = None


@dataclass(frozen=True)
class RingTest:
    """A bench test. label: file name for messages; tables: its content; capture: the ramp's samples or None."""

    label: str
    tables: RingTestTables
    capture: Capture | None = None

    @classmethod
    def from_file(cls, path: str | Path, capture: str | Path | None = None) -> RingTest:
        """Read and validate a test file; `capture` takes the place of the file named in [ramp].

        Raises InputError with everything wrong with the file, or with the first row wrong in the capture.
        """
        where = Path(path)
        test = cls.from_text(read_text(where), str(path))
        ramp = test.tables.ramp
        if capture is not None and ramp is None:
            raise InputError.single(
                f"{path}: ramp", "is missing, but a capture was named", str(capture), "[ramp] with the voltage of the step"
            )
        if ramp is None:
            return test
        if capture is None and ramp.file is None:
            raise InputError.single(f"{path}: ramp.file", "is missing", allowed="a CSV file, here or after FILE")
        source = Path(capture) if capture is not None else where.parent / str(ramp.file)
        found = read_capture(source, ramp.shunt)
        if found.voltage is None and ramp.voltage is None:
            raise InputError.single(
                f"{path}: ramp.voltage",
                "is missing, and the capture has no voltage column",
                allowed='the voltage of the step, such as "12 V"',
            )
        return cls(str(path), test.tables, found)

    @classmethod
    def from_text(cls, text: str, label: str = "ring test") -> RingTest:
        """The same from a text already read, without the capture."""
        lines = LineFinder(text)
        try:
            tables = RingTestTables.model_validate(parse_toml(text, label))
        except ValidationError as error:
            raise InputError(*(_problem(dict(item), label, lines) for item in error.errors()[:40])) from None
        problems = [
            Problem(_place(label, lines, path), what, allowed=allowed)
            for bad, path, what, allowed in _contradictions(tables)
            if bad
        ]
        if problems:
            raise InputError(*problems)
        return cls(label, tables)

    @property
    def name(self) -> str:
        """The ring's name."""
        return self.tables.ring.name

    @property
    def size(self) -> RingSize:
        """One ring [m]."""
        ring = self.tables.ring
        return RingSize(ring.outer_diameter, ring.inner_diameter, ring.height)

    def ring(self, convention: PathConvention | None = None, size: RingSize | None = None) -> Ring:
        """The stack by a path convention (the file's own unless named); printed length and area win for the file's."""
        table = self.tables.ring
        own = convention is None or convention == table.path_rule
        return Ring.from_size(
            size or self.size, table.stack, convention or table.path_rule, table.path_length if own else None, table.area
        )

    @property
    def winding(self) -> Winding:
        """Turns and wire; a wire of no thickness where none is given."""
        table = self.tables.winding
        bare = table.wire_diameter or 0.0
        return Winding(table.turns, table.strands, bare, float(enamelled_diameter(bare, 2)) if bare else 0.0)


def _contradictions(tables: RingTestTables) -> list[tuple[bool, tuple[str, ...], str, str]]:
    """(whether it is so, field, fault, allowed) of faults that lie in more than one field."""
    ring, winding, ramp = tables.ring, tables.winding, tables.ramp
    bore = winding.wire_diameter is not None and winding.wire_diameter >= 0.9 * ring.inner_diameter
    currents = [current for current, _ in tables.bias.readings] if tables.bias else []
    return [
        (ring.inner_diameter >= ring.outer_diameter, ("ring", "inner_diameter"), "must be below outer_diameter", ""),
        (
            4 * ring.accuracy >= min(ring.height, abs(ring.outer_diameter - ring.inner_diameter)),
            ("ring", "accuracy"),
            "is too coarse for a ring of this size",
            "less than a quarter of height and wall",
        ),
        (bore, ("winding", "wire_diameter"), "does not pass the bore", f"below {0.9e3 * ring.inner_diameter:.3g} mm"),
        (not (tables.lcr or tables.bias or ramp), (), "has no measurement", "one or more of [lcr], [bias], [ramp]"),
        (len(set(currents)) != len(currents), ("bias", "readings"), "has a current twice", "each current once"),
        (
            ramp is not None and (ramp.bits is None) != (ramp.full_scale is None),
            ("ramp", "bits"),
            "goes together with full_scale",
            "both or neither",
        ),
    ]


def _place(label: str, lines: LineFinder, path: Sequence[str]) -> str:
    line = lines.line(path)
    field = ".".join(path)
    return f"{label}:{line}: {field}" if line else f"{label}: {field}" if field else label


def _problem(item: Mapping[str, Any], label: str, lines: LineFinder) -> Problem:
    """One of pydantic's findings in our words."""
    path = [str(part) for part in item["loc"]]
    place, given, kind = _place(label, lines, path), item.get("input"), item["type"]
    shown = repr(given)[:80] if not isinstance(given, dict | list) else f"a {type(given).__name__}"
    if kind == "missing":
        return Problem(place, "is missing", allowed=_described(path))
    if kind == "extra_forbidden":
        known = list(_model(path[:-1]).model_fields)
        close = difflib.get_close_matches(path[-1], known, n=1, cutoff=0.5)
        hint = f"did you mean {close[0]}? Known: " if close else ""
        return Problem(place, "is not a known key", allowed=hint + ", ".join(known))
    if kind in ("quantity", "range"):
        return Problem(place, item["msg"], shown, str(item["ctx"]["allowed"]))
    if kind == "string_pattern_mismatch":
        return Problem(
            place, "has signs that are not allowed", shown, "one line of letters, digits, spaces and . _ , + ( ) / -, at most 80"
        )
    if kind == "literal_error":
        return Problem(place, "is not one of the choices", shown, str(item["ctx"]["expected"]))
    return Problem(place, item["msg"].lower(), shown, _described(path))


def _model(path: Sequence[str]) -> type[BaseModel]:
    """The table a path of keys leads to."""
    model: type[BaseModel] = RingTestTables
    for key in path:
        annotation = model.model_fields[key].annotation if key in model.model_fields else None
        choices = [annotation, *get_args(annotation)]
        model = next((kind for kind in choices if isinstance(kind, type) and issubclass(kind, BaseModel)), model)
    return model


def _described(path: Sequence[str]) -> str:
    field = _model(path[:-1]).model_json_schema()["properties"].get(path[-1], {}) if path else {}
    return str(field.get("description", field.get("type", "")))


__all__ = ["Capture", "RingTest", "RingTestTables"]
