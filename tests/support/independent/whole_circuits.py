# SPDX-License-Identifier: GPL-3.0-or-later
"""The fixed circuits, which together hold every element, and what they are made of."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from tests.support.independent.datasheet import Figures
from tests.support.independent.drawn import Drawn
from tests.support.independent.whole_bank import terminal_inductance

Fields = dict[str, Any]

QUICK: Fields = {
    "supply.rise_time": "0.3 ms",
    "supply.reservoir": "200 uF",
    "choke.wire.strands": 1,
    "choke.wire.diameter": "0.6 mm",
}
"""A supply soon up, and thin wire, of which the chokes soon share the mean current."""

OWN = Path(__file__).with_name("own-switch.lib")
HYSTERESIS: Fields = {
    "saturation": "716.5 kA/m",
    "shape": "6567 A/m",
    "pinning": "1040 A/m",
    "coupling": 0.01055,
    "reversible": "96.3 %",
}
TOTEM: Fields = {
    "kind": "totem-pole",
    "source_resistance": "1 ohm",
    "sink_resistance": "0.7 ohm",
    "source_current": "4 A",
    "sink_current": "4 A",
}
INTEGRATED: Fields = {
    "kind": "integrated",
    "source_resistance": "2.5 ohm",
    "sink_resistance": "1.5 ohm",
    "source_current": "3 A",
    "sink_current": "4 A",
    "delay": "40 ns",
}


def own_law() -> Figures:
    """The law of own-switch.lib, its numbers read off."""
    scale = {"": 1.0, "n": 1e-9, "p": 1e-12, "m": 1e-3, "u": 1e-6}
    text = OWN.read_text(encoding="utf-8")
    value = {key: float(number) * scale[unit] for key, number, unit in re.findall(r"(\w+)=([\d.]+)([a-z]?)", text)}
    return Figures(
        threshold=value["vto"],
        stiffness=value["kp"],
        modulation=value["lambda"],
        triode=value["mtriode"],
        drain=value["rd"],
        source=value["rs"],
        saturation=value["is"],
        emission=value["n"],
        bulk=value["rb"],
        depletion=value["cjo"],
        least=value["cgdmin"],
        most=value["cgdmax"],
        steepness=value["a"],
        gate_source=value["cgs"],
        plateau=0.0,
    )


OWN_FIELDS: Fields = {
    "switch.model_file": str(OWN),
    "switch.model": "ownswitch",
    "switch.gate_resistance": "1.6 ohm",
    "switch.recovery_time": "120 ns",
}


def bench(**more: Any) -> Fields:
    """Chokes known from the bench."""
    return {"choke.measured": {"resistance": "50 mohm"} | ({} if "table" in more else {"inductance": "60 uH"}) | more}


def rails(count: int, segment: float, own: float, coil: str, drains: str = "") -> Fields:
    """A bank of 330 nF capacitors along bars, with the inductance that it has where the coil connects; segment, own [H]."""
    found = terminal_inductance(count, 330e-9, own, (segment, 2e-4), coil, 86e3)
    bars = {
        "segment_inductance": f"{1e9 * segment:.6g} nH",
        "segment_resistance": "0.2 mohm",
        "own_inductance": f"{1e9 * own:.6g} nH",
    }
    bars |= {"coil_connection": coil} | ({"drain_connection": drains} if drains else {})
    return {"capacitors.count": count, "capacitors.inductance": f"{1e9 * found:.6g} nH", "capacitors.rails": bars}


TABLE = [["0 A", "60 uH"], ["8 A", "55 uH"], ["14 A", "40 uH"], ["20 A", "25 uH"], ["30 A", "12 uH"]]
ADDS_FLUX: Fields = {"case.loaded.workpiece.measured": {"inductance": "1.95 uH", "resistance": "120 mohm"}}
TAKES_FLUX: Fields = {"case.loaded.workpiece.measured": {"inductance": "1.45 uH", "resistance": "90 mohm"}}


def driven(driver: Fields) -> Fields:
    """Gates behind a driver."""
    return {"gate.drive": "push-pull", "gate.pull_up": "470 ohm", "gate.driver": driver}


def scaled(times: float) -> Fields:
    """The bench heater with so many times its tank's inductance and capacitance, and chokes for its lower frequency."""
    return {
        "choke.measured": {"inductance": f"{60 * times:.6g} uH", "resistance": "20 mohm"},
        "capacitors.capacitance": f"{330 * times:.6g} nF",
        "coil.measured": {"inductance": f"{1.75 * times:.6g} uH", "resistance": "14 mohm"},
        "case.loaded.workpiece.measured": {"inductance": f"{1.6 * times:.6g} uH", "resistance": "110 mohm"},
    }


def switched(kind: str, current: float) -> Fields:
    """A switch-mode supply with a limit [A]."""
    short = {"short_circuit_current": f"{0.6 * current:.4g} A"} if kind == "foldback" else {}
    return {"supply.source": {"kind": "switch mode", "limit": kind, "current_limit": f"{current:.4g} A"} | short}


ON_MAIN: Fields = {"gate.supply": "main", "gate.pull_up": "220 ohm"}
RIPPLE: Fields = {"supply.ripple": "6 V", "supply.ripple_frequency": "5 kHz"}
SHORTED: Fields = {"choke.right.short_resistance": "20 ohm", "choke.right.short_inductance": "10 uH", "choke.right.turns": 18}
RECTIFIED: Fields = {"supply.source": {"kind": "rectifier", "transformer_resistance": "60 mohm"}, "supply.reservoir": "4700 uF"}

FIXED = (
    Drawn("one choke", QUICK | {"heater.topology": "one-choke"}),
    Drawn("measured table, pull-ups on the main supply, ripple", QUICK | bench(table=TABLE) | ON_MAIN | RIPPLE),
    Drawn(
        "hysteresis, source leads, a piece that adds flux",
        QUICK | {"choke.core.hysteresis": HYSTERESIS, "switch.source_inductance": "4 nH"} | ADDS_FLUX,
    ),
    Drawn(
        "powder by points, shorted turn, unequal, foldback",
        QUICK | {"choke.core.material": "iron-powder-75"} | SHORTED | switched("foldback", 50),
    ),
    Drawn(
        "emitter followers, gapped chokes, a piece that takes flux",
        QUICK
        | bench(saturation_current="18 A", knee="sharp", resistance="0.1 ohm")
        | TAKES_FLUX
        | driven(TOTEM)
        | {"switch.threshold_spread": "-0.3 V"},
    ),
    Drawn("integrated driver, straight chokes, current limit", QUICK | bench() | driven(INTEGRATED) | switched("constant", 45)),
    Drawn(
        "a model of one's own, three a side, soft chokes",
        QUICK | OWN_FIELDS | bench(saturation_current="16 A") | {"switch.count": 3, "gate.pull_up": "33 ohm"},
        own=own_law(),
    ),
    Drawn("bank along bars, one device a side", QUICK | rails(4, 3e-9, 15e-9, "same end") | {"switch.count": 1}),
    Drawn(
        "nothing in the coil, copper of one resistance",
        {"supply.rise_time": "0.3 ms", "case.loaded.workpiece.share": "0 %"},
        "gallery/bench-measurements",
    ),
    Drawn("rectifier, 5 kHz", QUICK | RECTIFIED | scaled(16)),
)
"""Together they hold every element of `elements.ELEMENTS`, as tests/independent/test_whole_circuit.py asks."""
