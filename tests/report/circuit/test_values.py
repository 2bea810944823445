# SPDX-License-Identifier: GPL-3.0-or-later
"""The values written beside the parts are the heater's."""

import re

import pytest

from heatsim.quantity import parse_quantity
from heatsim.report.circuit.layout import lay_out
from heatsim.report.circuit.values import values
from tests.support.circuits import QUICK, cases

NUMBER = re.compile(r"−?\d+(?:\.\d+)?(?:e−?\d+)? [a-zµ°]?(?:Ω|H|F|V|A|Hz|s)\b")


def wanted(heater):
    """Symbol -> numbers [SI] that must stand beside it, in any order."""
    s, g, c, b = heater.supply, heater.gate, heater.coil, heater.capacitors
    halves = 2 if heater.tapped else 1
    found = {
        "supply.resistance": [s.resistance],
        "supply.inductance": [s.inductance],
        "supply.reservoir": [s.reservoir],
        "supply.reservoir_resistance": [s.reservoir_resistance],
        "diode": [g.diode_drop, 1.0, g.diode_capacitance, g.diode_rating],
        "coil_lead": [c.lead_inductance / halves],
        "capacitor_resistance": [b.resistance + b.rails_resistance],
        "capacitor_inductance": [b.inductance],
        "coil_resistance": [(c.resistance + c.lead_resistance) / 2 if heater.tapped else c.resistance],
    }
    if not heater.tapped:
        found["coil_lead_resistance"] = [c.lead_resistance]
    if heater.workpiece:
        found["workpiece"] = [heater.workpiece.inductance, heater.workpiece.resistance]
        found["workpiece_branch"] = [heater.branch.secondary, heater.branch.resistance]
    for choke in heater.chokes:
        core = heater.core_resistance(choke)
        copper = heater.ladder(choke).resistance
        numbers = [choke.curve.inductance_zero, choke.capacitance, copper, *([core] if core < 1e6 else [])]
        found[f"choke.{choke.side}"] = numbers
    for side in ("left", "right"):
        found |= {f"pull_up.{side}": [g.pull_up], f"pull_down.{side}": [g.pull_down], f"bar.{side}": [heater.bus_inductance]}
        found |= {f"clamp.{side}": [g.clamp_voltage, g.clamp_capacitance], f"gate_resistor.{side}": [g.resistor]}
        found |= {f"gate_loop.{side}": [g.inductance], f"drain_lead.{side}": [heater.switch.drain_inductance]}
    return found


@pytest.mark.parametrize("path", QUICK, ids=str)
def test_the_values_are_the_heaters(path):
    for heater, _ in cases(path).values():
        told = values(heater)
        for name, numbers in wanted(heater).items():
            texts = [text.replace("Ω", "ohm").replace("−", "-") for text in NUMBER.findall(" ".join(told[name]))]
            units = ("ohm", "Hz", "H", "F", "V", "A", "s")
            read = [parse_quantity(text, next(unit for unit in units if text.endswith(unit))) for text in texts]
            assert sorted(read) == pytest.approx(sorted(numbers), rel=6e-3), name


def test_supply_bank_and_capacitors_are_told():
    (heater, _) = cases(next(p for p in QUICK if p.stem == "bench-heater-long-bank"))["loaded"]
    told = values(heater)
    assert told["capacitors"][:2] == ("capacitors 10 × 680 nF = 6.8 µF", "coil connects at one end")
    assert told["switch.left"][:2] == ("left bank", "2 × MOSFET") and told["supply"][0] == "DC supply 20 V"
    kinds = {"contactor-bounce": "battery 36 V", "small-reservoir": "transformer and bridge", "hiccup": "switch-mode supply"}
    for stem, kind in kinds.items():
        heater, _ = cases(next(p for p in QUICK if p.stem == stem))["loaded"]
        assert values(heater)["supply"][0].startswith(kind)
    heater, _ = cases(next(p for p in QUICK if p.stem == "hiccup"))["loaded"]
    assert any(text.startswith("hiccup limit") for text in values(heater)["supply"])


def test_a_bank_along_bars_has_a_symbol_for_every_capacitor():
    """The plates of one are two lines of a symbol; the bars are two more."""
    (heater, _) = cases(next(p for p in QUICK if p.stem == "bench-heater-long-bank"))["loaded"]
    (bank,) = (symbol for symbol in lay_out(heater).symbols if symbol.name == "capacitors")
    across = [stroke for stroke in bank.strokes if len({round(y, 6) for _, y in stroke.points}) == 1]
    assert len([stroke for stroke in across if stroke.width > 3]) == 2
    assert len([stroke for stroke in across if stroke.width < 3]) == 2 * heater.capacitors.count
