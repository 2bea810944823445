# SPDX-License-Identifier: GPL-3.0-or-later
"""Where each part of the circuit stands: the supply on top, chokes, tank, banks and their gates below. Right-hand places; the left
half is their image. The picture is higher than wide, so that its letters stay large on a phone.
"""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.parts.heater import Heater
from heatsim.report.base.style import CENTRE, LEFT, RIGHT
from heatsim.report.circuit.gates import lay_gates
from heatsim.report.circuit.sheet import AXIS, Sheet, Words
from heatsim.report.circuit.strokes import Stroke, ring, symbol_strokes
from heatsim.report.circuit.tank import BARS, lay_tank

COLOURS = {"left": LEFT, "right": RIGHT, "centre": CENTRE}
"""Of each side's choke and bank, as on all pictures."""

TOP, BUS = -1.6, -5.4
"""Heights of the supply's line and of the bus."""

SOURCE_X = 1.2
"""Of the supply."""

RIGHT_X = 18.0
"""Of the right drain."""

DRAIN, SOURCE = -21.5, -23.17
"""Heights of the banks' pins."""


def lay_out(heater: Heater, drop: float = 0.0) -> Sheet:
    """All parts of a heater on a sheet; drop: room that the words of the capacitors need beyond their own [units]."""
    sheet = Sheet(drop)
    _supply(sheet, heater)
    _gate_supply(sheet, heater)
    _chokes(sheet, heater)
    lay_tank(sheet, heater)
    for side in ("left", "right"):
        with sheet.half(side):
            _bank(sheet, side, heater.switch.source_inductance > 0)
    lay_gates(sheet, heater)
    return sheet


def _supply(sheet: Sheet, heater: Heater) -> None:
    """Source, fuse, contact, resistance and inductance of source and leads, reservoir."""
    _source(sheet, heater)
    x = SOURCE_X
    for name, kind, length in _in_line(heater):
        room = Words((x + length / 2 + 0.15, TOP + 0.55), length + 0.3, "middle", upwards=True)
        sheet.part(name, kind, (x + 0.15, TOP), (x + 0.15 + length, TOP), room)
        sheet.wire((x, TOP), (x + 0.15, TOP))
        sheet.wire((x + 0.15 + length, TOP), (x + 0.3 + length, TOP))
        x += length + 0.3
    sheet.wire((x, TOP), (13.0, TOP))
    sheet.part("supply.reservoir", "Capacitor", (13.0, TOP), (13.0, -3.0), Words((13.5, -2.2), 3.4))
    sheet.part("supply.reservoir_resistance", "Resistor", (13.0, -3.0), (13.0, -4.4), Words((13.5, -3.8), 3.4))
    sheet.ground((SOURCE_X, -4.2), (13.0, -4.4))
    sheet.wire((AXIS, TOP), (AXIS, BUS))
    sheet.dot((AXIS, TOP))
    sheet.word((AXIS + 0.2, BUS + 0.3), "bus")


def _source(sheet: Sheet, heater: Heater) -> None:
    """A battery, an alternating voltage with a diode for the bridge, a source in a box for a switch-mode supply, or a source."""
    source, low, high = heater.supply.source, (SOURCE_X, -4.2), (SOURCE_X, TOP)
    words = Words((SOURCE_X + 1.0, -2.5), 7.4)
    if source and source.bridge:
        lines = (*symbol_strokes("SourceSin", low, (SOURCE_X, -2.6)), *symbol_strokes("Diode", (SOURCE_X, -2.6), high))
        sheet.lines("supply", *lines, words=words)
        return
    lines = symbol_strokes("Battery" if source and source.kind == "battery" else "SourceV", low, high)
    a, b, c, d = SOURCE_X - 0.6, -3.5, SOURCE_X + 0.6, -2.3
    box = (Stroke(((a, b), (c, b), (c, d), (a, d), (a, b))),) if source and source.kind == "switch mode" else ()
    sheet.lines("supply", *lines, *box, words=words)


def _in_line(heater: Heater) -> Iterator[tuple[str, str, float]]:
    """Symbol, kind and length of what lies between the source and the bus."""
    source = heater.supply.source
    if source and (source.fuse_rating is not None or source.fuse_i2t is not None):
        yield "supply.fuse", "Fuse", 1.6
    if source and source.behavioural:
        yield "supply.contact", "Switch", 2.4
    yield "supply.resistance", "Resistor", 1.5
    yield "supply.inductance", "Inductor", 1.5


def _gate_supply(sheet: Sheet, heater: Heater) -> None:
    if not heater.gate.from_main:
        sheet.part("gate_supply", "SourceV", (20.8, -4.2), (20.8, -2.2), Words((20.1, -2.9), 4.2, "end"))
        sheet.ground((20.8, -4.2))
        sheet.wire((20.8, -2.2), (20.8, TOP))
        sheet.word((20.8, TOP + 0.2), "Vg", "middle")


def _chokes(sheet: Sheet, heater: Heater) -> None:
    """From the bus to the drains, or to the centre tap."""
    for choke in heater.chokes:
        x, bottom = (AXIS, -8.0) if heater.tapped else (RIGHT_X, -8.2)
        with sheet.half(choke.side):
            words = Words((x + 0.7, BUS - 0.9), 7.0) if heater.tapped else Words((x - 0.7, BUS - 0.5), 6.3, "end")
            sheet.part(f"choke.{choke.side}", "Inductor2", (x, BUS), (x, bottom), words, COLOURS[choke.side], loops=4)
            if not heater.tapped:
                sheet.wire((x, bottom), (x, BARS))
                sheet.wire((AXIS, BUS), (x, BUS))
    if not heater.tapped:
        sheet.dot((AXIS, BUS))


def _bank(sheet: Sheet, side: str, source_lead: bool) -> None:
    """Drain node, the bank's drain lead, its devices and their source leads."""
    x = RIGHT_X
    sheet.lines(f"drain.{side}", ring(x, BARS), words=Words((x + 0.5, BARS + 0.1), 3.4))
    sheet.dot((x, BARS))
    sheet.wire((x, BARS), (x, -16.6))
    sheet.part(f"drain_lead.{side}", "Inductor", (x, -16.6), (x, -18.2), Words((x + 0.5, -17.5), 3.4))
    sheet.wire((x, -18.2), (x, DRAIN))
    devices = symbol_strokes("NMos", (x, DRAIN), color=COLOURS[side], diode=True)
    sheet.lines(f"switch.{side}", *devices, words=Words((x + 0.75, DRAIN + 1.1), 3.2))
    if source_lead:
        sheet.part(f"source_lead.{side}", "Inductor", (x, SOURCE), (x, SOURCE - 1.4))
    sheet.ground((x, SOURCE - 1.4 if source_lead else SOURCE))
