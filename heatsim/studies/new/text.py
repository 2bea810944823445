# SPDX-License-Identifier: GPL-3.0-or-later
"""The scenario file that answers come to: its lines, and how they are laid out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from heatsim.quantity import exact_quantity
from heatsim.studies.new import estimates
from heatsim.studies.new.answers import NONE, SUGGEST, Bar, MeasuredChoke, MeasuredCoil, Read, Rings

MARK = "estimate: "
"""Begins the comment beside every value that was not answered."""


@dataclass(frozen=True)
class Line:
    """table and key of a value, the value as TOML has it, and what stands beside it; without a key the header of an empty table."""

    table: str
    key: str
    value: str = ""
    comment: str = ""

    @property
    def field(self) -> str:
        """Its dotted name."""
        return f"{self.table}.{self.key}"


def lines_of(found: Read, name: str) -> list[Line]:
    """The lines of a heater. found: every answer"""
    steps = (_supply, _choke, _switch, _cooling, _gate, _capacitors, _coil, _cases)
    return [Line("heater", "name", _text(name)), *(line for step in steps for line in step(found))]


def in_full(lines: Sequence[Line], file: str) -> str:
    """A file with groups of tables apart."""
    rows: list[str] = []
    for _, group in groupby(lines, key=lambda line: line.table.split(".")[0]):
        rows += ["", *_tables(group)]
    head = (
        "# A first heater, written from a few answers. What is marked as an estimate is usual, not known: put in what your parts",
        f"# have. Check it with: heatsim check {file}. All fields that there are: heatsim schema",
    )
    return "\n".join([*head, *rows]) + "\n"


def in_short(lines: Sequence[Line], file: str) -> str:
    """The shortest file: no blank line, nothing that has this value anyway, of the cases the last alone."""
    last = lines[-1].table
    kept = [line for line in lines if (line.table, line.key, line.value) != ("switch", "count", "1")]
    first, *rows = _tables(line for line in kept if line.table != "case.idle" or last == "case.idle")
    return "\n".join([f"{first}  # measured on the bench; check it with: heatsim check {file}", *rows]) + "\n"


def _tables(lines: Iterable[Line]) -> Iterator[str]:
    """Rows with a header a table."""
    for table, group in groupby(lines, key=lambda line: line.table):
        yield f"[{table}]"
        yield from (_with_comment(f"{line.key} = {line.value}", line) for line in group if line.key)


def _with_comment(row: str, line: Line) -> str:
    return f"{row:<34} # {line.comment}" if line.comment else row


def _text(value: str) -> str:
    return f'"{value}"'


def _quantity(value: float, unit: str) -> str:
    return _text(exact_quantity(float(f"{value:.6g}"), unit))


def _rows(table: str, *rows: tuple[str, str, str]) -> Iterator[Line]:
    """Lines of a table from key, text, and comment of an estimate, empty where it was answered."""
    for key, value, comment in rows:
        yield Line(table, key, value, MARK + comment if comment else "")


def _supply(found: Read) -> Iterator[Line]:
    yield Line("supply", "voltage", _quantity(found["supply_voltage"], "V"))
    if found["supply_current"] is not None:
        yield Line("supply", "current_rating", _quantity(found["supply_current"], "A"))
        yield from _rows(
            "supply",
            ("rise_time", '"300 us"', "from switching on to full voltage"),
            ("reservoir", '"1 mF"', "capacitor at the chokes' feed"),
        )


def _choke(found: Read) -> Iterator[Line]:
    choke = found["chokes"]
    if isinstance(choke, MeasuredChoke):
        table, resistance = "choke.measured", choke.resistance
        yield Line(table, "inductance", _quantity(choke.inductance, "H"))
        yield Line(table, "saturation_current", _quantity(choke.saturation, "A"), "half of the inductance is left")
        guess = "" if resistance else "a few metres of thick wire"
        yield from _rows(table, ("resistance", _quantity(resistance or 15e-3, "ohm"), guess))
        return
    wound = found["winding"]
    yield Line("choke", "turns", str(wound.turns), "of each of the two")
    yield from _choke_core(choke)
    yield Line("choke.wire", "diameter", _quantity(wound.diameter, "m"), "bare copper")
    yield Line("choke.wire", "strands", str(wound.strands))


def _choke_core(choke: Rings) -> Iterator[Line]:
    why = "" if choke.stated else "what such rings often are; see what is printed on it"
    yield from _rows("choke.core", ("material", _text(choke.material), why))
    yield Line("choke.core", "ring", _text(choke.name))
    yield Line("choke.core", "stack", str(choke.count))


def _switch(found: Read) -> Iterator[Line]:
    yield Line("switch", "count", str(found["count"]), "in parallel on each side")
    why = estimates.why_suggested(found["supply_voltage"]) if found["device"] == SUGGEST else ""
    yield from _rows("switch", ("device", _text(estimates.device_of(found).name), why))


def _cooling(found: Read) -> Iterator[Line]:
    if found["cooling"] == NONE:
        return
    yield from _rows(
        "switch.cooling",
        ("junction_to_case", '"0.7 K/W"', "see the datasheet"),
        ("pad", '"silicone pad"', "what lies under each case"),
        ("pad_area", '"1.6 cm2"', "metal of one case on the sink"),
        ("sink_resistance", '"2 K/W"', "one sink for all, in still air"),
    )
    if found["cooling"] == "fan":
        yield from _rows(
            "switch.cooling",
            ("sink_resistance_fan", '"0.6 K/W"', "the same sink in the fan's air"),
            ("fan_speed", '"3 m/s"', "of that air"),
            ("air_speed", '"3 m/s"', "as it runs; 0 m/s is a fan that stands"),
        )


def _gate(found: Read) -> Iterator[Line]:
    yield from _rows(
        "gate",
        ("supply_voltage", '"12 V"', "regulated, for the gates"),
        ("pull_up", _text(f"{estimates.pull_up(found)} ohm"), "from that supply to each side's gates"),
        ("clamp_voltage", '"15 V"', "zener diode at the gates"),
        ("resistor", '"4.7 ohm"', "in series with each gate"),
    )


def _capacitors(found: Read) -> Iterator[Line]:
    bank, table = found["capacitors"], "capacitors"
    yield Line(table, "capacitance", _quantity(bank.capacitance, "F"), "of one")
    yield Line(table, "count", str(bank.count))
    yield from _rows(table, ("dissipation_factor", '"0.06 %"', "metallised polypropylene"))
    if bank.voltage is not None:
        yield Line(table, "voltage_rating", _quantity(bank.voltage, "V"), "peak, at tank frequency")
    if bank.current is not None:
        yield Line(table, "current_rating", _quantity(bank.current, "A"), "rms, of one, at tank frequency")


def _coil(found: Read) -> Iterator[Line]:
    coil = found["coil"]
    if isinstance(coil, MeasuredCoil):
        yield from _measured("coil", coil, found["capacitors"].total)
        return
    yield Line("coil", "turns", f"{coil.turns:g}")
    yield Line("coil", "diameter", _quantity(coil.diameter, "m"), "middle of the tube")
    yield from _rows("coil", ("length", _quantity(coil.length, "m"), "half a tube between turns"))
    yield Line("coil", "tube_diameter", _quantity(coil.tube, "m"))
    yield from _rows(
        "coil",
        ("tube_wall", _text(estimates.wall(coil.tube)), "of the tube"),
        ("lead_inductance", '"50 nH"', "both leads, coil to capacitors"),
        ("lead_resistance", '"1 mohm"', "likewise"),
    )


def _measured(owner: str, coil: MeasuredCoil, capacitance: float) -> Iterator[Line]:
    """A meter's reading; capacitance [F] for the resistance where it was not read."""
    table, guess = f"{owner}.measured", "" if coil.resistance else f"a quality of {estimates.QUALITY:g}"
    yield Line(table, "inductance", _quantity(coil.inductance, "H"))
    resistance = coil.resistance or estimates.coil_resistance(coil, capacitance)
    yield from _rows(table, ("resistance", _quantity(resistance, "ohm"), guess))


def _cases(found: Read) -> Iterator[Line]:
    piece, table = found["workpiece"], "case.loaded.workpiece"
    yield Line("case.idle", "")
    if isinstance(piece, Bar):
        yield Line(table, "material", _text(piece.material))
        yield Line(table, "diameter", _quantity(piece.diameter, "m"))
        yield Line(table, "length", _quantity(piece.length, "m"), "cold, in the middle of the coil")
    elif piece is not None:
        yield from _measured(table, piece, found["capacitors"].total)
