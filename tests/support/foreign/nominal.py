# SPDX-License-Identifier: GPL-3.0-or-later
"""A scenario's plain numbers, read from its TOML file without heatsim: the only door between the two.

It reads the two-choke circuit with measured coil and workpiece and chokes wound on rings of Fe-Si-Al powder of permeability 60, and
says so of any other. What the file leaves out has values of our own (common practice, no source): 5 nH of drain leads a
bank, diode capacitance 60 pF, clamp 200 pF, body diode 1 V at 20 A with 150 ns.
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PREFIXES = {"": 1.0, "p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "k": 1e3}
BASES = ("ohm", "V", "A", "H", "F", "C", "S", "s", "m")
OTHERS = {"": 1.0, "%": 1e-2, "°C": 1.0, "mm2": 1e-6}

MU0 = 4e-7 * math.pi
POWDER = "fe-si-al-60"
PERMEABILITY, HALF_FIELD, EXPONENT = 60.0, 7.56e3, 1.86
"""Of that powder; field [A/m] at which half of the permeability is left, and how steeply it goes (memory: some 95 Oe, 1.86)."""


def number(text: str | float) -> float:
    """A quantity such as "4.7 nF" in SI units."""
    if not isinstance(text, str):
        return float(text)
    found = re.fullmatch(r"\s*([-+0-9.eE]+)\s*(\S*)\s*", text)
    if not found:
        raise ValueError(f"not a quantity: {text!r}")
    unit = found[2]
    if unit in OTHERS:
        return float(found[1]) * OTHERS[unit]
    for base in BASES:
        if unit.endswith(base) and unit.removesuffix(base) in PREFIXES:
            return float(found[1]) * PREFIXES[unit.removesuffix(base)]
    raise ValueError(f"unknown unit in {text!r}")


@dataclass(frozen=True)
class Nominal:
    """Values as the scenario states them [SI], each name `table_key`; loss_factor: of the capacitors [1]; half_current: of a
    choke at half its inductance [A]; path, area: of the choke's core [m, m2]."""

    supply_voltage: float
    supply_resistance: float
    supply_inductance: float
    reservoir: float
    reservoir_resistance: float
    bar_inductance: float
    choke_inductance: float
    choke_air: float
    choke_half_current: float
    choke_copper: float
    choke_capacitance: float
    turns: float
    count: int
    on_resistance: float
    on_gate_voltage: float
    threshold: float
    threshold_spread: float
    transconductance: float
    transconductance_current: float
    input_capacitance: float
    output_capacitance: float
    reverse_capacitance: float
    capacitance_voltage: float
    gate_drain_charge: float
    voltage_rating: float
    gate_resistance: float
    gate_supply: float
    pull_up: float
    pull_down: float
    clamp_voltage: float
    resistor: float
    gate_inductance: float
    diode_drop: float
    bank_capacitance: float
    bank_count: int
    loss_factor: float
    bank_inductance: float
    coil_inductance: float
    coil_resistance: float
    lead_inductance: float
    lead_resistance: float
    work_inductance: float
    work_resistance: float

    @property
    def frequency(self) -> float:
        """Of the loaded tank [Hz], undamped."""
        return 1 / (2 * math.pi * math.sqrt((self.work_inductance + self.lead_inductance) * self.bank_capacitance))

    @property
    def choke_current(self) -> float:
        """Mean of one choke in the ideal loaded stage [A]: (pi V/sqrt 2)^2 / (L/(r C)) / V, shared by two."""
        parallel = (self.work_inductance + self.lead_inductance) / (
            (self.work_resistance + self.lead_resistance) * self.bank_capacitance
        )
        return (math.pi**2 / 2) * self.supply_voltage / parallel / 2


def read(path: Path, case: str = "loaded") -> Nominal:
    """The numbers of a case."""
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    core, work = table["choke"]["core"], table["case"][case]["workpiece"]["measured"]
    if table["heater"]["topology"] != "two-choke" or core["material"] != POWDER:
        raise ValueError(f"{path}: only the two-choke circuit on {POWDER} is known here")
    return Nominal(
        **_stage(table), **_choke(table["choke"]), **_switch(table["switch"]), **_gate(table["gate"]), **_tank(table, work)
    )


def _stage(table: dict[str, Any]) -> dict[str, float]:
    supply = table["supply"]
    return {
        "supply_voltage": number(supply["voltage"]),
        "supply_resistance": number(supply["resistance"]),
        "supply_inductance": number(supply["inductance"]),
        "reservoir": number(supply["reservoir"]),
        "reservoir_resistance": number(supply["reservoir_resistance"]),
        "bar_inductance": 2 * number(table["heater"]["bus_inductance"]),
    }


def _choke(choke: dict[str, Any]) -> dict[str, float]:
    """Inductance mu0 mu N^2 A/l; that of the air the ring encloses about 1/40 of it; copper 1.72e-8 ohm m at 20 degC, 60 degC,
    and a turn as long as round the section's edge and half a wire more on each side."""
    core, wire = choke["core"], choke["wire"]
    turns, stack = float(choke["turns"]), float(core["stack"])
    path, area = number(core["path_length"]), number(core["area"]) * stack
    width = (number(core["outer_diameter"]) - number(core["inner_diameter"])) / 2
    diameter = number(wire["diameter"])
    length = turns * 2 * (width + stack * number(core["height"]) + 2 * diameter)
    copper = 1.72e-8 * (1 + 0.0039 * 40) * length / (wire["strands"] * math.pi * diameter**2 / 4)
    zero = MU0 * PERMEABILITY * turns**2 * area / path
    return {
        "choke_inductance": zero,
        "choke_air": zero / 40,
        "choke_half_current": HALF_FIELD * path / turns,
        "choke_copper": copper,
        "choke_capacitance": number(choke["capacitance"]),
        "turns": turns,
    }


def _switch(switch: dict[str, Any]) -> dict[str, Any]:
    names = "on_resistance threshold threshold_spread transconductance transconductance_current input_capacitance".split()
    names += "output_capacitance reverse_capacitance capacitance_voltage gate_drain_charge gate_resistance voltage_rating".split()
    return {
        "count": int(switch["count"]),
        "on_gate_voltage": number(switch.get("on_gate_voltage", "10 V")),
        **{name: number(switch[name]) for name in names},
    }


def _gate(gate: dict[str, Any]) -> dict[str, float]:
    names = {"gate_supply": "supply_voltage", "gate_inductance": "inductance"}
    return {
        **{own: number(gate[name]) for own, name in names.items()},
        **{name: number(gate[name]) for name in ("pull_up", "pull_down", "clamp_voltage", "resistor", "diode_drop")},
    }


def _tank(table: dict[str, Any], work: dict[str, Any]) -> dict[str, Any]:
    bank, coil = table["capacitors"], table["coil"]
    return {
        "bank_capacitance": number(bank["capacitance"]) * bank["count"],
        "bank_count": int(bank["count"]),
        "loss_factor": number(bank["dissipation_factor"]),
        "bank_inductance": number(bank["inductance"]),
        "coil_inductance": number(coil["measured"]["inductance"]),
        "coil_resistance": number(coil["measured"]["resistance"]),
        "lead_inductance": number(coil["lead_inductance"]),
        "lead_resistance": number(coil["lead_resistance"]),
        "work_inductance": number(work["inductance"]),
        "work_resistance": number(work["resistance"]),
    }
