# SPDX-License-Identifier: GPL-3.0-or-later
"""The tank on the sheet: bars, work coil with leads and workpiece, capacitor bank with its bars."""

from __future__ import annotations

from heatsim.parts.heater import Heater
from heatsim.parts.rails import places
from heatsim.report.base.style import FAINT, HEAT
from heatsim.report.circuit.sheet import AXIS, Sheet, Words
from heatsim.report.circuit.strokes import Stroke, symbol_strokes

BARS = -11.4
"""Height of the drain nodes, the bars and the coil."""

T_LEFT, T_RIGHT = 6.5, 15.5
"""Of the tank's two nodes."""

BANK = -17.6
"""Height of the capacitors."""

LARGE = 1.6
"""Times that the coil is as large as other parts."""

ROOM, ROWS = 9.0, {True: 1, False: 3}
"""Width of the words of the capacitors [units], and how many rows there is height for, with bars and without."""

SINGLE = 12
"""Most capacitors that are drawn one by one."""


def lay_tank(sheet: Sheet, heater: Heater) -> None:
    """Everything between the two drains."""
    for side in ("left", "right"):
        with sheet.half(side):
            sheet.part(f"bar.{side}", "Inductor", (18.0, BARS), (T_RIGHT, BARS), Words((16.75, BARS - 0.55), 2.2, "middle"))
            sheet.dot((T_RIGHT, BARS))
    (_tapped if heater.tapped else _plain)(sheet)
    sheet.say("tank", Words((6.9, BARS - 1.1), 2.8))
    _workpiece(sheet, heater)
    sheet.wire((T_LEFT, BARS), (T_LEFT, BARS - 0.5))
    sheet.part("capacitor_resistance", "Resistor", (T_LEFT, BARS - 0.5), (T_LEFT, -13.4), Words((6.0, -12.9), 1.8, "end"))
    sheet.wire((T_LEFT, -13.4), (T_LEFT, -13.6))
    sheet.part("capacitor_inductance", "Inductor", (T_LEFT, -13.6), (T_LEFT, -15.2), Words((6.0, -14.6), 1.8, "end"))
    (_one_symbol if heater.capacitors.rails is None else _along_bars)(sheet, heater)


def _plain(sheet: Sheet) -> None:
    """Leads and coil in a row."""

    def under(x: float, width: float) -> Words:
        return Words((x, BARS - 0.55), width, "middle")

    sheet.part("coil_lead", "Inductor", (T_LEFT, BARS), (7.9, BARS), under(7.3, 1.5))
    sheet.part("coil_lead_resistance", "Resistor", (7.9, BARS), (9.4, BARS), under(8.7, 1.5))
    coil = symbol_strokes("Inductor2", (AXIS - 1.6 / LARGE, BARS), (AXIS + 1.6 / LARGE, BARS), loops=7)
    words = Words((AXIS, BARS + 0.85), 4.8, "middle", upwards=True)
    sheet.lines("coil", *(stroke.scaled((AXIS, BARS), LARGE) for stroke in coil), words=words)
    sheet.part("coil_resistance", "Resistor", (12.6, BARS), (14.3, BARS), under(13.5, 1.7))
    sheet.wire((14.3, BARS), (T_RIGHT, BARS))


def _tapped(sheet: Sheet) -> None:
    """Half a coil, its resistance and its lead on each side of the tap, written once for both."""
    for side in ("left", "right"):
        with sheet.half(side):
            coil = symbol_strokes("Inductor2", (AXIS, BARS), (AXIS + 2 / LARGE, BARS), loops=4)
            sheet.lines(f"coil.{side}", *(stroke.scaled((AXIS, BARS), LARGE) for stroke in coil))
            sheet.part(f"coil_resistance.{side}", "Resistor", (13.0, BARS), (14.2, BARS))
            sheet.part(f"coil_lead.{side}", "Inductor", (14.2, BARS), (T_RIGHT, BARS))
    sheet.wire((AXIS, -8.0), (AXIS, BARS))
    sheet.dot((AXIS, BARS))
    sheet.say("coil", Words((AXIS - 0.3, BARS + 0.85), 4.8, "end", upwards=True))
    for name, x in (("coil_resistance", 13.55), ("coil_lead", 14.95)):
        sheet.say(name, Words((x, BARS - 0.55), 1.5, "middle"))


def _workpiece(sheet: Sheet, heater: Heater) -> None:
    """The branch that stands for it, coupled with the coil; a dashed outline where there is none."""
    top, low, left, right = BARS - 1.5, BARS - 2.9, 9.7, 12.3
    words = Words((AXIS, low - 0.85), 6.2, "middle")
    if heater.branch is None:
        around = ((left, top), (right, top), (right, low), (left, low), (left, top))
        sheet.lines("workpiece", Stroke(around, FAINT, dash=(4, 3)), words=words)
        return
    winding = symbol_strokes("Inductor2", (right, top), (left, top), HEAT, loops=5)
    loss = symbol_strokes("Resistor", (left + 0.4, low), (right - 0.4, low), HEAT)
    ends = tuple(Stroke(((x, top), (x, low), (x + d, low)), HEAT) for x, d in ((left, 0.4), (right, -0.4)))
    core = tuple(Stroke(((10.0, y), (12.0, y)), HEAT, 1.0) for y in (BARS - 0.7, BARS - 0.85))
    sheet.lines("workpiece", *winding, *loss, *ends, *core, words=words)
    sheet.say("workpiece_branch", Words((12.5, top - 0.25), 2.6))


def _one_symbol(sheet: Sheet, heater: Heater) -> None:
    """A bank that nothing is known of but that its capacitors are in parallel."""
    sheet.wire((T_LEFT, -15.2), (T_LEFT, BANK), (9.5, BANK))
    sheet.part("capacitors", "Capacitor", (9.5, BANK), (12.5, BANK), Words((AXIS, BANK - 0.75), ROOM, "middle"))
    sheet.wire((12.5, BANK), (T_RIGHT, BANK), (T_RIGHT, BARS))


def _along_bars(sheet: Sheet, heater: Heater) -> None:
    """Capacitors between two bars, and where coil and drains are connected to these."""
    count, rails = heater.capacitors.count, heater.capacitors.rails
    assert rails is not None
    upper, lower = BANK + 0.6, BANK - 0.6

    def x(place: float) -> float:
        return 8.2 + 5.6 * (place - 1) / max(count - 1, 1)

    shown = [k for k in range(1, count + 1) if count <= SINGLE or k <= 5 or k > count - 5]
    each = [stroke for k in shown for stroke in symbol_strokes("Capacitor", (x(k), upper), (x(k), lower))]
    bars = (Stroke(((7.9, y), (14.1, y)), width=3.2) for y in (upper, lower))
    sheet.lines("capacitors", *each, *bars, words=Words((AXIS, lower - 1.2), ROOM, "middle"))
    ends = {"coil": rails.coil} | ({"drains": rails.drains} if rails.drains and rails.drains != rails.coil else {})
    for row, (what, where) in enumerate(ends.items()):
        a, b = (x(place) for place in places(where, count))
        high, deep = upper + 0.4 + 0.45 * row, lower - 0.4 - 0.3 * row
        sheet.wire((T_LEFT, -15.2), (T_LEFT, high), (a, high), (a, upper))
        sheet.wire((T_RIGHT, BARS), (T_RIGHT, deep), (b, deep), (b, lower))
        sheet.word((a + 0.2, high), what if len(ends) > 1 else "coil and drains")
