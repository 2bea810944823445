# SPDX-License-Identifier: GPL-3.0-or-later
"""The elements that a netlist can hold, and how to see that a heater has one; the package tells how each is covered.

Every subcircuit of the model library belongs to one: a test looks for those that no fixed circuit's deck holds.
"""

from __future__ import annotations

from collections.abc import Callable

from heatsim.parts.curves import GappedCurve, LinearCurve, TableCurve
from heatsim.parts.gate import IntegratedDriver, TotemPole
from heatsim.parts.heater import Heater
from heatsim.parts.hysteresis import HystereticCurve
from heatsim.scenario.scenario import Scenario
from tests.support.independent.whole_bank import by_device

Has = Callable[[Heater, Scenario], bool]


def _curve(kind: type, name: str = "") -> Has:
    return lambda heater, _: any(isinstance(c.curve, kind) and getattr(c.curve, "kind", "") == name for c in heater.chokes)


def _bench(heater: Heater, scenario: Scenario) -> bool:
    tables = scenario.tables.choke.values()
    return any(
        table.measured is not None and table.measured.saturation_current and table.measured.knee == "soft" for table in tables
    )


def _points(heater: Heater, _: Scenario) -> bool:
    return any(
        choke.core is not None and choke.core.material.bias is not None and choke.core.material.bias.points
        for choke in heater.chokes
    )


def _lifted(heater: Heater, _: Scenario) -> bool:
    branch = heater.branch
    return branch is not None and abs(branch.primary / heater.coil.inductance - 1) > 1e-9


ELEMENTS: dict[str, Has] = {
    "two chokes": lambda heater, _: not heater.tapped,
    "one choke and a tapped coil": lambda heater, _: heater.tapped,
    "choke: powder by formula": lambda h, s: _curve(TableCurve, "soft")(h, s) and not _points(h, s) and not _bench(h, s),
    "choke: powder by points": _points,
    "choke: soft, from the bench": _bench,
    "choke: gapped": _curve(GappedCurve),
    "choke: measured table": lambda h, s: any(
        table.measured is not None and table.measured.table for table in s.tables.choke.values()
    ),
    "choke: straight": _curve(LinearCurve),
    "choke: hysteresis": _curve(HystereticCurve),
    "choke: shorted turn": lambda heater, _: any(choke.short is not None for choke in heater.chokes),
    "copper against frequency": lambda heater, _: any(heater.ladder(choke).cells for choke in heater.chokes),
    "copper of one resistance": lambda heater, _: any(not heater.ladder(choke).cells for choke in heater.chokes),
    "unequal chokes": lambda h, _: len({choke.curve.inductance_zero for choke in h.chokes}) == 2,
    "one device a side": lambda heater, _: heater.switch.count == 1,
    "devices in parallel": lambda heater, _: heater.switch.count > 1,
    "source leads": lambda heater, _: heater.switch.source_inductance > 0,
    "no source leads": lambda heater, _: heater.switch.source_inductance == 0,
    "switches by datasheet": lambda heater, _: not heater.switch.user_model,
    "switches by a user's own model": lambda heater, _: bool(heater.switch.user_model),
    "gates: pull-up": lambda heater, _: heater.gate.driver is None,
    "gates: emitter followers": lambda heater, _: isinstance(heater.gate.driver, TotemPole),
    "gates: integrated driver": lambda heater, _: isinstance(heater.gate.driver, IntegratedDriver),
    "gates: supply of their own": lambda heater, _: not heater.gate.from_main,
    "gates: on the main supply, clamped": lambda heater, _: heater.gate.from_main,
    "bank in one piece": lambda heater, _: heater.capacitors.rails is None,
    "bank along bars": lambda heater, _: by_device(heater) is not None,
    "no workpiece": lambda heater, _: heater.workpiece is None,
    "workpiece that takes flux": lambda h, s: h.workpiece is not None and not _lifted(h, s),
    "workpiece that adds flux": _lifted,
    "supply: plain": lambda heater, _: heater.supply.source is None and not heater.supply.ripple,
    "supply: ripple": lambda heater, _: heater.supply.ripple > 0 and heater.supply.source is None,
    "supply: rectifier": lambda h, _: h.supply.source is not None and h.supply.source.bridge is not None,
    "supply: current limit": lambda h, _: h.supply.limit is not None and h.supply.limit.form != "foldback",
    "supply: foldback": lambda h, _: h.supply.limit is not None and h.supply.limit.form == "foldback",
}
"""Name -> whether a heater has it. Every heater has bars, leads, drain leads, gate loops, clamps, winding capacitance."""

ELSEWHERE = {"hs_hiccup": "tests/independent/test_sources.py: a supply that hiccups has no settled state"}
"""Subcircuits of the library that no settled circuit holds, and where they are compared."""


def elements_of(heater: Heater, scenario: Scenario) -> set[str]:
    """The elements of a heater."""
    return {name for name, has in ELEMENTS.items() if has(heater, scenario)}
