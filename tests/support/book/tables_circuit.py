# SPDX-License-Identifier: GPL-3.0-or-later
"""Columns of tests/support/references*.py, sections 8 and 11 to 14: stage, waveforms, capacitors, ampacity, MOSFETs."""

from __future__ import annotations

from tests.support.book.columns import MEMORY, PUBLISHED, Column, table

STAGE = {
    "INV_CONST": table("laws of the ideal stage (Baxandall 1959)", value=Column(1, "ideal stage: {0}")),
    "INV_EXAMPLE": table(
        "laws of the ideal stage, worked example",
        peak=Column(5, "ideal stage, {4} choke(s): drain peak at {0} V", "V"),
        power=Column(6, "ideal stage, {4} choke(s): power into {1} ohm", "W"),
        current=Column(7, "ideal stage, {4} choke(s): supply current", "A"),
        ripple=Column(8, "ideal stage, {4} choke(s): ripple of a choke of {3} H", "A"),
    ),
    "TANK_SERIES_R": table(
        "unity power factor of L, r and C",
        frequency=Column(3, "tank of {0} H, {1} ohm, {2} F: frequency of unity power factor", "Hz"),
        parallel=Column(4, "tank of {0} H, {1} ohm, {2} F: parallel resistance", "ohm"),
    ),
    "TANK_HARMONIC": table(
        "square current into a parallel tank", ratio=Column(2, "harmonic {1} of a tank of Q {0} over the fundamental")
    ),
}

WAVES = {
    "THD": table(
        "closed forms of the series; Blagouchine & Moreau, IEEE T-COM 59, 2011",
        thd=Column(2, "distortion of the wave: {0}, orders up to {1}"),
    ),
    "WAVE_FACTORS": table(
        "closed forms; terms of IEEE 181",
        unchecked={"value[2]": "rise time/tau: heatsim tells no transition from 10 to 90 %"},
        value=Column(1, "{0}"),
    ),
}

PARTS = {
    "TAN_DELTA": table(
        "comparison chart of a capacitor maker's page, typical within a factor of two",
        tan=Column(2, "loss tangent of {0} at {1} Hz", "1", PUBLISHED, rel=0.5),
    ),
    "CAP": table(
        "capacitor under a sine",
        current=Column(4, "capacitor of {0} F at {1} V, {2:g} Hz: current", "A"),
        esr=Column(5, "capacitor of {0} F at {2:g} Hz, tan d {3}: series resistance", "ohm"),
        loss=Column(6, "capacitor of {0} F at {1} V, {2:g} Hz: loss", "W"),
        slope=Column(7, "capacitor at {1} V, {2:g} Hz: greatest slope", "V/us"),
    ),
    "IPC2221": table("IPC-2221's law", current=Column(4, "current of a track of {2} by {3} mil at {1} K, k = {0}", "A")),
    "ONDERDONK": table("Onderdonk's law", current=Column(4, "current that melts {0} circular mil in {1} s", "A")),
    "PREECE": table("Preece's law", current=Column(1, "fusing current of copper wire of {0} in", "A")),
}

MOSFET = {
    "RDSON_T": table("power of 2.3, from memory", ratio=Column(1, "on-resistance at {0} K over that at 300 K", "1", MEMORY)),
    "MOS1": table(
        "level 1; coefficients of a published SPICE library", current=Column(5, "drain current at Vgs {3} V, Vds {4} V", "A")
    ),
    "VDMOS_CGD": table("form of ngspice's VDMOS, from memory", cgd=Column(4, "gate-drain capacitance at Vgd = {3} V", "F", MEMORY)),
    "FOSTER": table("sum of exponentials", rise=Column(4, "rise of a Foster chain after {3} s", "K")),
    "LUMPED_HEAT": table("(P/hA)(1 - exp(-t hA/mc))", rise=Column(4, "rise of a lump after {3} s", "K")),
}

CIRCUIT = STAGE | WAVES | PARTS | MOSFET
