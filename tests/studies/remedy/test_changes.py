# SPDX-License-Identifier: GPL-3.0-or-later
"""Changes in values one can buy, and windings that go through a real bore. No simulator."""

from __future__ import annotations

from functools import cache

import pytest

import heatsim as hs
from heatsim.parts.duty import duty_of
from heatsim.studies.check.start import KNOBS, RAISED
from heatsim.studies.remedy import changes as ways
from heatsim.studies.remedy.changes import fields_of
from heatsim.studies.remedy.windings import Workshop


@pytest.fixture(scope="module")
def small(checkout):
    return hs.load(checkout / "scenarios" / "bench-heater-small-rings.toml")


@pytest.fixture(scope="module")
def shop(small):
    return Workshop(small)


def windings(shop, rings):
    scenario = shop.scenario
    return list(shop.windings(rings, duty_of(scenario.heater("loaded")), scenario.tables.limits, 0.1))


@pytest.mark.parametrize(
    ("value", "near"), [(330e-9, 330e-9), (286e-9, 270e-9), (95.0, 100.0), (1.1, 1.2), (46.24, 47.0), (9.2, 10.0)]
)
def test_values_are_those_of_the_series(value, near):
    assert ways.nearest(value) == pytest.approx(near)


def test_the_supply_goes_down_in_half_volts(small):
    grid = ways.supply_grid(small)
    assert grid[-1] == 41.5 and grid[0] == 13.0 and all(2 * volts == int(2 * volts) for volts in grid)


def test_a_bank_of_more_capacitors_keeps_its_capacitance_within_a_step_of_the_series(small):
    for count in range(7, 25):
        fields = ways.capacitors_of(small, count).fields
        bank = small.change(fields).heater("loaded").capacitors
        assert bank.count == count and 0.9 < bank.capacitance / (6 * 330e-9) < 1.1


LESS_PULL_UP, MORE_PULL_UP, LESS_RESISTOR, MORE_RESISTOR = ((part, way) for part in ("pull-up", "gate resistor") for way in (-1, 1))


@pytest.mark.parametrize(
    "asked",
    [
        {LESS_PULL_UP},
        {MORE_PULL_UP},
        {LESS_RESISTOR},
        {MORE_RESISTOR},
        {LESS_PULL_UP, LESS_RESISTOR},
        {MORE_PULL_UP, LESS_RESISTOR},
    ],
)
def test_gate_values_are_of_the_series_and_go_the_way_that_is_asked_for(small, asked):
    found = list(ways.gate_values(small, frozenset(asked)))
    assert len(found) >= 3 and len({str(change.fields) for change in found}) == len(found)
    before = small.tables.gate
    for change in found:
        gate = small.change(change.fields).tables.gate
        assert ways.nearest(gate.pull_up) == pytest.approx(gate.pull_up)
        assert ways.nearest(gate.resistor) == pytest.approx(gate.resistor)
        moved = {("pull-up", gate.pull_up - before.pull_up), ("gate resistor", gate.resistor - before.resistor)}
        assert {(part, 1 if by > 0 else -1) for part, by in moved if by} <= asked
    together = {field for change in found for field in change.fields}
    assert len(together) == len(asked)


def test_gate_values_asked_for_both_ways_stay(small):
    assert list(ways.gate_values(small, frozenset({LESS_PULL_UP, MORE_PULL_UP}))) == []


FOLDING = {
    "gate.supply_delay": "3 ms",
    "supply.source.kind": "switch mode",
    "supply.source.limit": "foldback",
    "supply.source.current_limit": "20 A",
    "supply.source.short_circuit_current": "2 A",
}


@pytest.mark.parametrize("knob", [*KNOBS, *RAISED], ids=lambda knob: knob.field)
def test_every_value_that_may_start_a_heater_is_a_change(small, knob):
    """`check` of a supply held down by its limit ended in a traceback, for the search knew gates and rise only."""
    scenario = small.change(FOLDING)
    value = knob.values(scenario.heater("loaded"))[1]
    change = ways.started_with(scenario, knob.field, knob.written(value))
    assert change.fields == {knob.field: knob.written(value)} and " instead of " in change.words
    assert knob.own(scenario.change(change.fields).heater("loaded")) == pytest.approx(value)


@pytest.fixture(scope="module")
def wound(shop):
    """Windings on the rings of a source."""
    return cache(lambda source: windings(shop, getattr(shop, source)()))


@pytest.mark.parametrize("source", ["own", "drawer", "catalogue"])
def test_a_winding_goes_through_the_bore_and_comes_from_the_drawer(small, wound, source):
    drawer, found = small.tables.wind, wound(source)
    assert source == "own" or found
    on_hand = {ring.name: ring.on_hand for ring in drawer.ring}
    for one in found:
        core = one.core
        assert core.winding.fill(core.ring).free_diameter >= max(drawer.free_bore, core.winding.threaded)
        assert core.winding.copper_fill(core.ring) <= small.tables.limits.choke_copper_fill
        assert one.length <= one.wire.on_hand and core.winding.strands <= drawer.most_strands
        if source == "drawer":
            assert 2 * core.ring.stack <= on_hand[one.ring.told.split(",")[0]]


@pytest.mark.parametrize("source", ["drawer", "catalogue"])
def test_the_fields_of_a_winding_make_the_choke_it_was_judged_as(small, wound, source):
    found = wound(source)
    for one in found[:: max(1, len(found) // 6)]:
        choke = small.change(one.fields).heater("loaded").chokes[0]
        assert choke.curve.inductance_zero == pytest.approx(one.choke.curve.inductance_zero, rel=1e-6)
        assert choke.resistance == pytest.approx(one.choke.resistance, rel=1e-6)
        assert choke.core.winding.wires == one.core.winding.wires


def test_a_measured_choke_is_wound_anew(small):
    bench = {"inductance": "30 uH", "resistance": "20 mohm", "saturation_current": "9 A"}
    measured = small.change({"choke.measured": bench})
    wound = windings(Workshop(measured), Workshop(measured).drawer())[0]
    changed = measured.change(fields_of([wound.change()]))
    assert changed.tables.choke["left"].measured is None
    assert changed.heater("loaded").chokes[1].core.winding.turns == wound.core.winding.turns
