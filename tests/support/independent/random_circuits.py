# SPDX-License-Identifier: GPL-3.0-or-later
"""Random whole circuits over all elements; each number is the same circuit on every run.

Sizes are drawn so that most start and come to rest: chokes of 40 uH or more that carry their current, gates that are fed in time.
"""

from __future__ import annotations

from random import Random

from tests.support.independent.drawn import Drawn
from tests.support.independent.whole_circuits import (
    HYSTERESIS,
    INTEGRATED,
    OWN_FIELDS,
    RECTIFIED,
    TABLE,
    TOTEM,
    Fields,
    bench,
    driven,
    own_law,
    rails,
    scaled,
    switched,
)

POWDERS = ("fe-si-al-60", "fe-si-al-75", "ni-fe-60", "iron-powder-75", "iron-powder-60")
CORES = ("powder", "powder", "powder", "ferrite", "hysteresis", "table", "soft", "sharp", "straight")
GATES = ("pull-up", "pull-up", "pull-up", "main", "totem", "integrated")
SUPPLIES = ("plain", "plain", "plain", "ripple", "constant", "foldback", "battery")
DEVICES = ("file", "file", "generic 200 V 20 mohm", "generic 250 V 75 mohm", "own")


def drawn(number: int) -> Drawn:
    """The circuit of a number."""
    dice = Random(f"whole circuit {number}")
    volts = dice.uniform(24, 48)
    one = dice.random() < 0.2
    chokes, core = _chokes(dice, one)
    gates, drive = _gates(dice, volts)
    supply, feed = _supply(dice, volts)
    switch, device = _switch(dice)
    tank, bank = _tank(dice)
    load, piece = _load(dice)
    fields: Fields = {"simulate.time_limit": "60 s"} | ({"heater.topology": "one-choke"} if one else {})
    fields |= {"heater.bus_inductance": f"{dice.uniform(8, 40):.3g} nH", "heater.stray_corner": f"{dice.uniform(6, 15):.3g} MHz"}
    fields |= chokes | gates | supply | switch | tank | load
    if feed == "plain" and core == "straight" and not one and bank == "one piece" and dice.random() < 0.5:
        fields, feed = fields | RECTIFIED | scaled(16) | {"gate.resistor": "4.7 ohm"}, "rectifier"
    told = f"{volts:.0f} V {feed}, {'one choke' if one else 'two chokes'} {core}, {drive} gates, {device}, {bank}, {piece}"
    return Drawn(str(number), fields, own=own_law() if "switch.model" in fields else None, told=told)


def _chokes(dice: Random, one: bool) -> tuple[Fields, str]:
    core = dice.choice(CORES)
    wire: Fields = {
        "choke.wire.strands": dice.choice([1, 1, 2]),
        "choke.wire.diameter": f"{dice.choice([0.5, 0.7, 0.9])} mm",
        "choke.wire.lay": dice.choice(["side by side", "twisted"]),
        "choke.capacitance": f"{dice.uniform(20, 120):.3g} pF",
        "choke.turns": dice.randint(18, 24),
    }
    half = dice.uniform(16, 30)
    inductance = f"{dice.uniform(45, 90):.4g} uH"
    by_core: dict[str, Fields] = {
        "powder": {"choke.core.material": dice.choice(POWDERS)},
        "ferrite": {"choke.core.material": "mnzn-power-ferrite", "choke.core.gap": f"{dice.uniform(1.6, 2.6):.3g} mm"},
        "hysteresis": {"choke.core.hysteresis": HYSTERESIS},
        "table": bench(table=TABLE),
        "soft": bench(inductance=inductance, saturation_current=f"{half:.4g} A"),
        "sharp": bench(inductance=inductance, saturation_current=f"{half:.4g} A", knee="sharp"),
        "straight": bench(inductance=inductance),
    }
    fields = wire | by_core[core]
    if "choke.measured" in fields and dice.random() < 0.5:  # nothing known of its winding
        fields = {"choke": {"capacitance": wire["choke.capacitance"], "measured": fields["choke.measured"]}}
    if not one and dice.random() < 0.3:
        apart = 1 + dice.choice([-1, 1]) * dice.uniform(0.04, 0.12)
        if "choke.turns" in fields and "choke.measured" not in fields:
            fields["choke.right.turns"] = round(fields["choke.turns"] * apart)
        elif core != "table":
            fields["choke.right.measured.inductance"] = f"{float(inductance.split()[0]) * apart:.4g} uH"
    if dice.random() < 0.15:
        side = "centre" if one else dice.choice(["left", "right"])
        fields |= {f"choke.{side}.short_resistance": f"{dice.uniform(15, 60):.3g} ohm"}
        fields |= {f"choke.{side}.short_inductance": f"{dice.uniform(3, 20):.3g} uH"}
    return fields, core


def _gates(dice: Random, volts: float) -> tuple[Fields, str]:
    drive = dice.choice(GATES)
    clamp = dice.choice([12, 15, 16, 18])
    fields: Fields = {
        "gate.supply_voltage": f"{dice.uniform(11, 14):.3g} V",
        "gate.clamp_voltage": f"{clamp} V",
        "gate.clamp_capacitance": f"{dice.uniform(80, 400):.3g} pF",
        "gate.resistor": f"{dice.uniform(2.5, 8):.3g} ohm",
        "gate.inductance": f"{dice.uniform(5, 25):.3g} nH",
        "gate.pull_up": f"{dice.uniform(40, 80):.3g} ohm",
        "gate.pull_down": f"{dice.choice([2.2, 4.7, 10])} kohm",
        "gate.diode_drop": f"{dice.uniform(0.7, 1.1):.3g} V",
        "gate.diode_capacitance": f"{dice.uniform(30, 120):.3g} pF",
        "gate.diode_recovery": f"{dice.uniform(15, 50):.3g} ns",
    }
    if drive == "main":
        fields |= {"gate.supply": "main", "gate.pull_up": f"{(volts - 8) / 0.15:.3g} ohm"}
    if drive in ("totem", "integrated"):
        fields["gate.clamp_voltage"] = f"{max(clamp, 16)} V"
        fields |= driven(TOTEM if drive == "totem" else INTEGRATED)
    return fields, drive


def _supply(dice: Random, volts: float) -> tuple[Fields, str]:
    feed = dice.choice(SUPPLIES)
    fields: Fields = {
        "supply.voltage": f"{volts:.4g} V",
        "supply.rise_time": f"{dice.choice([0.3, 0.5, 1.0])} ms",
        "supply.resistance": f"{dice.uniform(8, 60):.3g} mohm",
        "supply.inductance": f"{dice.uniform(0.3, 3):.3g} uH",
        "supply.reservoir": f"{dice.uniform(100, 500):.4g} uF",
        "supply.reservoir_resistance": f"{dice.uniform(8, 30):.3g} mohm",
    }
    if feed == "ripple":
        fields |= {"supply.ripple": f"{dice.uniform(1, 6):.3g} V", "supply.ripple_frequency": f"{dice.uniform(4, 12):.4g} kHz"}
    if feed in ("constant", "foldback"):
        fields |= switched(feed, dice.uniform(55, 80))
    if feed == "battery":
        fields |= {"supply.source": {"kind": "battery", "internal_resistance": f"{dice.uniform(5, 40):.3g} mohm"}}
    return fields, feed


def _switch(dice: Random) -> tuple[Fields, str]:
    """The file's figures, a device of the catalogue in place of them, or a model of one's own."""
    device, count = dice.choice(DEVICES), dice.choice([1, 2, 2, 3])
    around: Fields = {
        "count": count,
        "threshold_spread": f"{dice.choice([-1, 1]) * dice.uniform(0.05, 0.4):.3g} V",
        "drain_inductance": f"{dice.uniform(3, 12):.3g} nH",
        "source_inductance": f"{dice.choice([0.0, 0.0, dice.uniform(1, 6)]):.3g} nH",
    }
    if device not in ("own", "file"):
        return {"switch": around | {"device": device}}, f"{count} x {device}"
    fields = {f"switch.{name}": value for name, value in around.items()}
    return fields | (OWN_FIELDS if device == "own" else {}), f"{count} x {device}"


def _tank(dice: Random) -> tuple[Fields, str]:
    fields: Fields = {
        "coil.lead_inductance": f"{dice.uniform(20, 120):.3g} nH",
        "coil.half_coupling": f"{dice.uniform(10, 60):.3g} %",
        "capacitors.dissipation_factor": f"{dice.uniform(0.03, 0.2):.3g} %",
    }
    if dice.random() < 0.2:
        way = dice.choice(["same end", "middle"])
        return fields | rails(dice.randint(3, 6), dice.uniform(1e-9, 3e-9), dice.uniform(10e-9, 20e-9), way), "along bars"
    return fields | {"capacitors.count": dice.randint(4, 8), "capacitors.inductance": f"{dice.uniform(4, 20):.3g} nH"}, "one piece"


def _load(dice: Random) -> tuple[Fields, str]:
    if dice.random() < 0.12:
        return {"case.loaded.workpiece.share": "0 %"}, "nothing in the coil"
    inductance, resistance = dice.uniform(1.35, 2.0), dice.uniform(50, 130)
    piece = {"inductance": f"{inductance:.4g} uH", "resistance": f"{resistance:.4g} mohm"}
    return {"case.loaded.workpiece.measured": piece}, f"{inductance:.2f} uH {resistance:.0f} mohm"
