# SPDX-License-Identifier: GPL-3.0-or-later
"""What [supply.source] makes of a supply, what it refuses, and that a file without it gives the same netlist."""

import math
import re

import pytest

import heatsim as hs
from heatsim.errors import InputError
from heatsim.physics.rectifier import full_wave, ripple_transfer
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck

S = "supply.source."
LIMITED = {S + "kind": "switch mode", S + "limit": "foldback", S + "current_limit": "40 A", S + "short_circuit_current": "10 A"}
MAINS = {S + "kind": "rectifier", S + "transformer_resistance": "80 mohm", "supply.reservoir": "47 mF"}


@pytest.fixture(scope="module")
def bench(checkout):
    return hs.load(checkout / "scenarios" / "bench-heater.toml")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({S + "kind": "wall"}, ["supply.source.kind", "'battery', 'rectifier' or 'switch mode'"]),
        ({S + "kind": "battery"}, ["supply.source.internal_resistance", "is missing", "battery"]),
        ({S + "kind": "battery", S + "limit": "constant"}, ["supply.source.limit", "does not belong to a battery"]),
        ({S + "kind": "switch mode", S + "limit": "constant"}, ["supply.source.current_limit", "needed of a constant"]),
        ({S + "kind": "switch mode", S + "current_limit": "9 A"}, ["supply.source.limit", '"foldback"']),
        (LIMITED | {S + "short_circuit_current": "50 A"}, ["short_circuit_current", "is above current_limit", "up to 40 A"]),
        (LIMITED | {S + "foldback_voltage": "60 V"}, ["foldback_voltage", "is above supply.voltage", "up to 42 V"]),
        (LIMITED | {S + "retry_time": "1 s"}, ["retry_time", "does not belong to this limit", '"hiccup"']),
        (LIMITED | {S + "bounce": ["1 ms on", "1 ms on"]}, ["bounce", "does not change", "by turns"]),
        (LIMITED | {S + "bounce": ["1 ms off", "1 ms on"]}, ["bounce", 'ends with "on"']),
        (LIMITED | {S + "bounce": ["1 ms", "1 ms off"]}, ["bounce", "on or off", '"2 ms on"']),
        (LIMITED | {S + "bounce": ["1 us on", "1 ms off"]}, ["bounce", "out of range", "50 µs to 50 ms"]),
        (LIMITED | {S + "fuse_rating": "9 A"}, ["fuse_i2t", "is missing"]),
        (MAINS | {"supply.ripple": "1 V"}, ["supply.ripple", "its own is computed"]),
        (MAINS | {"supply.reservoir": "20 uF", S + "transformer_leakage": "1 mH"}, ["supply.source", "without a pause"]),
    ],
)
def test_what_does_not_go_together_is_refused(bench, changes, words):
    with pytest.raises(InputError) as caught:
        bench.change(changes).heater("loaded")
    assert not [word for word in words if word not in str(caught.value)], str(caught.value)


def test_a_file_with_both_voltages_is_refused_and_a_change_takes_the_others_place(bench):
    twice = re.sub(r"(\[supply\]\n)", r'[supply.source]\nkind = "rectifier"\nsecondary_voltage = "30 V"\n\1', bench.text)
    with pytest.raises(InputError, match="goes without supply.source.secondary_voltage"):
        Scenario.from_text(twice)
    mains = bench.change(MAINS).change({S + "secondary_voltage": "30 V", S + "bridge_drop": "1.6 V"})
    assert mains.heater("loaded").supply.voltage == pytest.approx(30 * math.sqrt(2) - 1.6)
    assert any("supply.voltage = 42 V" in str(gone) for gone in mains.replaced)
    assert mains.change({"supply.voltage": "36 V"}).heater("loaded").supply.voltage == 36.0


def test_a_battery_has_its_own_resistance_and_is_there_at_once(bench):
    supply = bench.change({S + "kind": "battery", S + "internal_resistance": "12 mohm"}).heater("loaded").supply
    assert supply.resistance == pytest.approx(32e-3)
    assert supply.rise_time == pytest.approx(2e-3)  # the file says so


def test_a_rectifiers_reservoir_swings_as_far_as_the_rectifier_lets_it(bench):
    heater = bench.change(MAINS | {S + "mains_frequency": "60 Hz"}).heater("loaded")
    supply, load = heater.supply, heater.supply_current / heater.supply.voltage
    wanted = full_wave(42.0, 60.0, 0.1, 1e-6, 47e-3, 0.015, load)
    seen = supply.ripple * ripple_transfer(120.0, supply.resistance, 1e-6, 47e-3, 0.015, load)
    assert supply.ripple_frequency == 120.0
    assert seen == pytest.approx(wanted.ripple) and 1.0 < seen < 6.0
    sagged = 42.0 / (1 + supply.resistance * load)
    assert sagged == pytest.approx(wanted.mean, rel=2e-3)


def test_a_source_without_a_limit_gives_the_netlist_of_a_file_without_the_table(bench):
    for case in bench.cases:
        plain, named = (case_deck(each, case).text for each in (bench, bench.change({S + "kind": "switch mode"})))
        assert named == plain and "supply_set" not in plain
        assert "hs_supply_limited" in case_deck(bench.change(LIMITED), case).text
