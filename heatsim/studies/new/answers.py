# SPDX-License-Identifier: GPL-3.0-or-later
"""What the answers to the questions mean: read from one line of text each, within the bounds that scenario files have."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, NoReturn, get_args, get_origin

from pydantic_core import PydanticCustomError

from heatsim.errors import InputError, known_names
from heatsim.quantity import exact_quantity, shown
from heatsim.scenario import builtin
from heatsim.scenario.schema import (
    CapacitorsTable,
    CoilTable,
    MeasuredChokeTable,
    MeasuredCoilTable,
    SupplyTable,
    WireTable,
    WorkpieceTable,
)
from heatsim.scenario.schema.fields import Table, Unit

Read = Mapping[str, Any]
"""Key of a question -> what its answer means, of the questions answered so far."""

NONE, SUGGEST, UNKNOWN = "none", "suggest", "unknown"
"""Answers in words."""

COOLING = (NONE, "sink", "fan")

POWDERS = {"powder": "fe-si-al-60", "iron": "iron-powder-75"}
"""Family of rings, as their names in the catalogue begin -> the material that such rings often are (common practice, no source)."""


@dataclass(frozen=True)
class Capacitors:
    """count of them in parallel, each of capacitance [F]; ratings of one: voltage [V, peak], current [A, rms]."""

    count: int
    capacitance: float
    voltage: float | None
    current: float | None

    @property
    def total(self) -> float:
        """Capacitance of the bank [F]."""
        return self.count * self.capacitance


@dataclass(frozen=True)
class CoilBySize:
    """turns [1], diameter from the middle of the tube to the middle of the tube [m], outer diameter of the tube [m]."""

    turns: float
    diameter: float
    tube: float

    @property
    def length(self) -> float:
        """Turns half a tube's diameter apart, an estimate [m]."""
        return round(1.5 * self.turns * self.tube, 6)


@dataclass(frozen=True)
class MeasuredCoil:
    """A meter's reading at the coil, empty or with the workpiece in: inductance [H], resistance [ohm]."""

    inductance: float
    resistance: float | None


@dataclass(frozen=True)
class Bar:
    """material by name, diameter [m], length [m]."""

    material: str
    diameter: float
    length: float

    @property
    def words(self) -> str:
        """As it is answered."""
        return f"{self.material} {exact_quantity(self.diameter, 'm')} x {exact_quantity(self.length, 'm')}"


@dataclass(frozen=True)
class Rings:
    """count of rings under one winding, name in the catalogue, material; stated: whether the material was said."""

    count: int
    name: str
    material: str
    stated: bool


@dataclass(frozen=True)
class MeasuredChoke:
    """inductance [H], current where half of it is left [A], resistance [ohm]."""

    inductance: float
    saturation: float
    resistance: float | None


@dataclass(frozen=True)
class Winding:
    """turns [1], bare diameter of the wire [m], strands in parallel [1]."""

    turns: int
    diameter: float
    strands: int


Tank = MeasuredCoil | CoilBySize
Piece = MeasuredCoil | Bar | None


def quantity(text: str, table: type[Table], field: str) -> float:
    """A number in SI as that field of a scenario file takes it; InputError says what is allowed."""
    unit = next(mark for mark in _marks(table, field) if isinstance(mark, Unit))
    try:
        return unit.read(text)
    except PydanticCustomError as error:
        allowed = str((error.context or {}).get("allowed", unit.words))
        raise InputError.single("", error.message(), shown(text), allowed) from None


def _marks(table: type[Table], field: str) -> Iterator[Any]:
    """What a field's type is annotated with, be it one of several types."""
    found = table.model_fields[field]
    yield from found.metadata
    for each in get_args(found.annotation):
        if get_origin(each) is Annotated:
            yield from get_args(each)[1:]


def refuse(what: str, given: str, allowed: str) -> NoReturn:
    """Raise InputError; whoever asked adds where."""
    raise InputError.single("", what, shown(given), allowed)


def parts(text: str) -> list[str]:
    """What stands between the commas."""
    return [part.strip() for part in text.split(",")]


def times(text: str) -> list[str]:
    """What stands between signs of multiplication, each after a blank or a digit."""
    return [part.strip() for part in re.split(r"(?<=[\s0-9])[x×*](?=[\s0-9])", text)]


def whole(text: str, most: int, what: str) -> int:
    """A whole number from 1 to `most`; what: of what, for the message."""
    if not re.fullmatch("[0-9]{1,6}", text) or not 1 <= int(text) <= most:
        refuse(f"is no number of {what}", text, f"a whole number from 1 to {most}")
    return int(text)


def capacitors(text: str) -> Capacitors:
    """Such as "6 x 330 nF, 400 V, 16 A", ratings only as far as known."""
    bank, *ratings = parts(text)
    pair = times(bank)
    if len(pair) != 2 or len(ratings) > 2:
        refuse(
            "is not a count and the value of one", text, '"6 x 330 nF", with peak volts and rms amperes of one after it if known'
        )
    count, value = whole(pair[0], 200, "capacitors"), quantity(pair[1], CapacitorsTable, "capacitance")
    volts = [each for each in ratings if each.endswith("V")]
    amperes = [each for each in ratings if not each.endswith("V")]
    if max(len(volts), len(amperes)) > 1:
        refuse("says a rating twice", text, "peak volts and rms amperes of one capacitor")
    voltage = quantity(volts[0], CapacitorsTable, "voltage_rating") if volts else None
    current = quantity(amperes[0], CapacitorsTable, "current_rating") if amperes else None
    return Capacitors(count, value, voltage, current)


def coil(text: str) -> Tank:
    """Such as "8 x 46 mm x 6 mm", turns, diameter and tube, or a reading such as "1.75 uH, 14 mohm"."""
    sizes = times(text)
    if len(sizes) == 1:
        return _reading(text, '"8 x 46 mm x 6 mm" (turns, diameter, tube), or measured, "1.75 uH, 14 mohm"')
    if len(sizes) != 3:
        refuse("is not turns, diameter and tube", text, '"8 x 46 mm x 6 mm"')
    if not re.fullmatch(r"[0-9]{1,3}(\.[0-9]{1,3})?", sizes[0]) or not 0.5 < float(sizes[0]) <= 100:
        refuse("is no number of turns", sizes[0], "a number above 0.5, up to 100")
    found = CoilBySize(float(sizes[0]), quantity(sizes[1], CoilTable, "diameter"), quantity(sizes[2], CoilTable, "tube_diameter"))
    if found.tube >= found.diameter / 2:
        refuse("has too thick a tube for its diameter", text, f"a tube below {500 * found.diameter:.4g} mm, half of the diameter")
    return found


def _reading(text: str, allowed: str) -> MeasuredCoil:
    """A meter's inductance and, if it is said, resistance."""
    values = parts(text)
    if len(values) > 2 or not re.search(r"[0-9]\s*[a-zµ]?H$", values[0]):
        refuse("is neither a size nor a reading", text, allowed)
    resistance = quantity(values[1], MeasuredCoilTable, "resistance") if len(values) == 2 else None
    return MeasuredCoil(quantity(values[0], MeasuredCoilTable, "inductance"), resistance)


def workpiece(text: str, tank: Tank) -> Piece:
    """Such as "none", a bar, "steel 12 mm x 100 mm", or the coil's reading with the piece in, "1.6 uH, 80 mohm"."""
    if text == NONE:
        return None
    sizes = times(text)
    if len(sizes) != 2:
        reading = _reading(text, '"none", a bar such as "steel 12 mm x 100 mm", or measured, "1.6 uH, 80 mohm"')
        if reading.resistance is None:
            refuse("lacks the resistance", text, "inductance and resistance of the coil with the piece in, such as 1.6 uH, 80 mohm")
        return reading
    if isinstance(tank, MeasuredCoil):
        refuse(
            "is a size, which needs the coil by size too", text, '"none", or the coil measured with the piece in, "1.6 uH, 80 mohm"'
        )
    material, diameter = _material(sizes[0])
    return Bar(material, quantity(diameter, WorkpieceTable, "diameter"), quantity(sizes[1], WorkpieceTable, "length"))


def _material(text: str) -> tuple[str, str]:
    """Material and diameter of such as "steel C45 12 mm"."""
    known = sorted(builtin().metals, key=len, reverse=True)
    if name := next((each for each in known if text.startswith(f"{each} ")), ""):
        return name, text.removeprefix(name).strip()
    unknown = text[: re.search("[0-9]|$", text).start()].strip()  # type: ignore[union-attr]
    refuse("is no material of the catalogue", unknown, known_names(unknown, builtin().metals))


def device(text: str) -> str:
    """A name of the catalogue, or "suggest"."""
    if text != SUGGEST and text not in (known := builtin().devices):
        refuse("is not in the catalogue", text, f"{SUGGEST}, or: {known_names(text, known)}")
    return text


def chokes(text: str) -> Rings | MeasuredChoke:
    """Such as "powder-39.9x24.1x14.5", "2 x iron-26.9x14.5x11.1, iron-powder-75", or measured, "65 uH, 30 A, 15 mohm"."""
    values = parts(text)
    if re.match(r"[0-9.]+\s*[a-zµ]?H$", values[0]):
        return _measured_choke(text, values)
    count, name = found.groups() if (found := re.fullmatch(r"([0-9]+)\s*[x×*]\s+(.*)", values[0])) else ("1", values[0])
    if name not in (known := builtin().rings):
        near = ", ".join(difflib.get_close_matches(name, known, n=4, cutoff=0.5)) or "one that heatsim parts --kind ring lists"
        refuse("is neither a ring of the catalogue nor a reading", name, f"{near}; or such as 65 uH, 30 A")
    if len(values) > 2:
        refuse("says more than rings and their material", text, '"2 x powder-39.9x24.1x14.5, fe-si-al-60"')
    usual = POWDERS.get(name.split("-")[0])
    if len(values) == 1 and usual is None:
        refuse("is a ferrite, which needs an air gap that is not asked for here", name, "a powder ring, or the choke measured")
    return Rings(whole(count, 4, "rings"), name, _powder(values[1]) if len(values) == 2 else str(usual), len(values) == 2)


def _powder(name: str) -> str:
    """A material that needs no gap."""
    material = builtin().material(name, "")
    if material.bias is None:
        refuse("needs an air gap, which is not asked for here", name, "a powder, or the choke measured")
    return name


def _measured_choke(text: str, values: list[str]) -> MeasuredChoke:
    if not 2 <= len(values) <= 3:
        refuse("is not inductance, saturation current and perhaps resistance", text, '"65 uH, 30 A, 15 mohm"')
    inductance = quantity(values[0], MeasuredChokeTable, "inductance")
    saturation = quantity(values[1], MeasuredChokeTable, "saturation_current")
    return MeasuredChoke(
        inductance, saturation, quantity(values[2], MeasuredChokeTable, "resistance") if len(values) == 3 else None
    )


def winding(text: str) -> Winding:
    """Such as "16 x 1.6 mm, 2 strands": turns, wire, and strands in parallel if there are several."""
    values = parts(text)
    pair = times(values[0])
    strands = re.fullmatch(r"([0-9]+)(?: strands?)?", values[-1]) if len(values) == 2 else None
    if len(pair) != 2 or len(values) > 2 or (len(values) == 2 and strands is None):
        refuse("is not turns and wire", text, '"16 x 1.6 mm", or "16 x 1.6 mm, 2 strands"')
    turns, diameter = whole(pair[0], 1000, "turns"), quantity(pair[1], WireTable, "diameter")
    return Winding(turns, diameter, whole(strands[1], 200, "strands") if strands else 1)


def cooling(text: str) -> str:
    """How the switches are cooled."""
    if text not in COOLING:
        refuse("is none of the choices", text, ", ".join(COOLING))
    return text


def supply_current(text: str) -> float | None:
    """Rating of the supply [A]; "unknown" where it is not known."""
    return None if text == UNKNOWN else quantity(text, SupplyTable, "current_rating")
