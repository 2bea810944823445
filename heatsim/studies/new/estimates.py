# SPDX-License-Identifier: GPL-3.0-or-later
"""What is not asked: estimates from what was answered. All rules are common practice, no source, unless they name one."""

from __future__ import annotations

import math

from heatsim.errors import InputError
from heatsim.parts.device import Device
from heatsim.physics.inductance import solenoid_inductance
from heatsim.physics.stage import peak_voltage, resonant_frequency
from heatsim.quantity import exact_quantity, format_quantity
from heatsim.scenario import builtin
from heatsim.studies.new.answers import SUGGEST, CoilBySize, Read, Tank

DRAIN_RESERVE = 1.4
"""Voltage rating over the ideal peak of the drains: overshoot at switch-on, ringing, and some headroom."""

GATE_SHARE = 0.05
"""Time constant of the gates' pull-up over the tank's period: slower gates heat the MOSFETs, faster ones the pull-ups."""

PULL_UPS = (22, 27, 33, 39, 47, 56, 68, 82, 100, 120, 150, 180, 220, 270, 330, 390, 470)
"""Resistances [ohm] to choose from, the E12 series (IEC 60063)."""

QUALITY = 60.0
"""Of an empty water-cooled coil of copper tube near 100 kHz."""

LEADS = 50e-9
"""Inductance of the coil's leads [H]."""


def suggested(volts: float) -> Device:
    """The device of the catalogue for a supply voltage [V]: of the lowest sufficient voltage class the one for the highest current.

    Raises InputError where none is enough.
    """
    needed, known = DRAIN_RESERVE * float(peak_voltage(volts)), builtin().devices.values()
    enough = [each for each in known if each.figures["voltage_rating"] >= needed]
    if not enough:
        most = max(each.figures["voltage_rating"] for each in known) / (DRAIN_RESERVE * float(peak_voltage(1.0)))
        raise InputError.single("", "is too high for every MOSFET of the catalogue", f"{volts:g} V", f"up to {most:.3g} V")
    return min(enough, key=lambda each: (each.figures["voltage_rating"], -each.figures.get("current_rating", 0.0)))


def device_of(found: Read) -> Device:
    """The device that was named, or the one suggested."""
    return suggested(found["supply_voltage"]) if found["device"] == SUGGEST else builtin().devices[found["device"]]


def why_suggested(volts: float) -> str:
    """Reason for the suggested device at a supply voltage [V]."""
    return f"drains peak at {format_quantity(float(peak_voltage(volts)), 'V', 2)} or more; a class, not a device to buy"


def inductance(tank: Tank) -> float:
    """Of the coil with its leads [H]; turns half a tube apart."""
    if isinstance(tank, CoilBySize):
        return LEADS + solenoid_inductance(tank.diameter, tank.length, tank.turns, tank.tube)
    return LEADS + tank.inductance


def coil_resistance(tank: Tank, capacitance: float) -> float:
    """Of an empty coil of usual quality [ohm], sqrt(L/C)/Q at resonance with a capacitance [F], to two digits."""
    value = math.sqrt(inductance(tank) / capacitance) / QUALITY
    return round(value, 1 - math.floor(math.log10(value)))


def pull_up(found: Read) -> int:
    """Of each side's gates [ohm], by the charge they take in a share of the period."""
    period = 1.0 / float(resonant_frequency(inductance(found["coil"]), found["capacitors"].total))
    gates = found["count"] * device_of(found).figures["input_capacitance"]
    wanted = GATE_SHARE * period / gates
    return min(PULL_UPS, key=lambda each: abs(math.log(each / wanted)))


def wall(tube: float) -> str:
    """Of a copper tube [m]: 1 mm, a sixth of thin ones."""
    return exact_quantity(min(1e-3, round(tube / 6, 5)), "m")
