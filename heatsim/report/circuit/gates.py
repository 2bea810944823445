# SPDX-License-Identifier: GPL-3.0-or-later
"""The gate networks on the sheet, with drivers where there are some."""

from __future__ import annotations

from dataclasses import replace

from heatsim.parts.gate import IntegratedDriver
from heatsim.parts.heater import Heater
from heatsim.report.circuit.sheet import AXIS, Sheet, Words
from heatsim.report.circuit.strokes import Stroke, ring

GATE, FOOT = -22.67, -24.7
"""Heights of the gate's line and of the grounds below it."""

PIN = 17.167
"""Of the right bank's gate."""

CROSS = {"left": -19.9, "right": -20.5}
"""Heights of the wires from the diodes to the other drain."""


def lay_gates(sheet: Sheet, heater: Heater) -> None:
    """Both networks."""
    rail = "bus" if heater.gate.from_main else "Vg"
    driven = heater.gate.driver is not None
    for side in ("left", "right"):
        with sheet.half(side):
            _at_the_gate(sheet, side, driven)
            _pull_up_and_diode(sheet, side, driven, rail)
            if driven:
                _driver(sheet, side, rail, isinstance(heater.gate.driver, IntegratedDriver))
            sheet.say(f"gate.{side}", Words((17.9, -25.9), 4.4 if driven else 6.6, "end"))
    sheet.say("diode", Words((AXIS, -23.5 if driven else -21.4), 2.9, "middle"))
    if driven:
        sheet.say("driver", Words((AXIS, -25.2), 4.2, "middle"))


def _at_the_gate(sheet: Sheet, side: str, driven: bool) -> None:
    """Gate resistor and loop of the bank, clamp and pull-down at the gate node."""
    clamp, pull_down = 15.2, 14.4 if driven else 12.6
    above = Words((16.85, -22.3), 2.2, "end", upwards=True)
    sheet.part(f"gate_resistor.{side}", "Resistor", (PIN, GATE), (16.15, GATE), above)
    sheet.part(f"gate_loop.{side}", "Inductor", (16.15, GATE), (15.15, GATE), replace(above, at=(16.85, -21.88)))
    sheet.lines(f"gate.{side}", ring(clamp, GATE))
    sheet.wire((15.15, GATE), (pull_down, GATE))
    sheet.part(f"clamp.{side}", "Zener", (clamp, FOOT), (clamp, GATE), Words((clamp + 0.45, -23.7), 2.5))
    room = Words((pull_down, FOOT - 0.7), 1.8, "middle") if driven else Words((pull_down + 0.4, -23.8), 1.9)
    sheet.part(f"pull_down.{side}", "Resistor", (pull_down, GATE), (pull_down, FOOT), room)
    sheet.ground((clamp, FOOT), (pull_down, FOOT))
    sheet.dot((clamp, GATE), (pull_down, GATE))


def _pull_up_and_diode(sheet: Sheet, side: str, driven: bool, rail: str) -> None:
    """From their common node, the gate's or the driver's input, to the rail and to the other drain."""
    (pull_up, node), across = (12.95, 12.2) if driven else (14.2, 12.6), CROSS[side]
    sheet.part(f"pull_up.{side}", "Resistor", (pull_up, GATE), (pull_up, -21.3), Words((pull_up + 0.4, -21.0), 2.9))
    sheet.wire((pull_up - 0.25, -21.3), (pull_up + 0.25, -21.3))
    sheet.word((pull_up, -21.15), rail, "middle")
    sheet.part(f"diode.{side}", "Diode", (node, GATE), (node, -21.2))
    sheet.wire((node, -21.2), (node, across), (4.0, across))
    sheet.wire((node, GATE), (pull_up, GATE))
    sheet.dot((4.0, across), (pull_up, GATE), (node, GATE))


def _driver(sheet: Sheet, side: str, rail: str, integrated: bool) -> None:
    """A triangle that points to the gate, with its supply; hysteresis is written into that of an integrated one."""
    tip, base = 14.15, 13.3
    body = [Stroke(((base, GATE + 0.5), (base, GATE - 0.5), (tip, GATE), (base, GATE + 0.5)))]
    if integrated:
        loop = ((0.1, -0.12), (0.3, -0.12), (0.3, 0.12), (0.4, 0.12), (0.2, 0.12), (0.2, -0.12))
        body.append(Stroke(tuple((base + x, GATE + y) for x, y in loop), width=1.0))
    sheet.lines(f"driver.{side}", *body)
    sheet.wire((12.95, GATE), (base, GATE))
    sheet.wire((tip, GATE), (14.4, GATE))
    sheet.wire((base + 0.3, GATE - 0.34), (base + 0.3, GATE - 0.75))
    sheet.word((base + 0.3, GATE - 1.1), rail, "middle")
