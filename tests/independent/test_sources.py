# SPDX-License-Identifier: GPL-3.0-or-later
"""Classes of a start on supplies that limit, hiccup or bounce: ngspice on heatsim's own deck against SciPy on equations by hand.

What is compared: the class, told here from the other leg's waves by its definition; bus voltage and supply current over the last
0.2 ms (allowed 2 %, and 5 % where the limit holds, which is soft by that much in the netlist); and the instant of the first trip
(allowed a tenth of the delay).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import heatsim as hs
from heatsim.engine import run_deck
from heatsim.studies.check import case_deck
from heatsim.studies.check.limits.start import start_measures
from tests.support.book import INDEPENDENT, known
from tests.support.independent.sources import Feed, start

TAIL = 0.2e-3
S = "supply.source."
COMMON = {
    "supply.rise_time": "0.3 ms",
    "supply.reservoir": "100 uF",
    "gate.supply_rise": "0.1 us",
    "simulate.steps_per_period": 150,
    "choke.measured": {"inductance": "80 uH", "resistance": "15 mohm"},
    S + "kind": "switch mode",
}
KINDS = {
    "constant, strong": ({S + "limit": "constant", S + "current_limit": "40 A"}, Feed(24, 3e-4, 40, 40, 24), 1e-3),
    "constant, weak": ({S + "limit": "constant", S + "current_limit": "6 A"}, Feed(24, 3e-4, 6, 6, 24), 1.2e-3),
    "foldback": (
        {S + "limit": "foldback", S + "current_limit": "8 A", S + "short_circuit_current": "2 A"},
        Feed(24, 3e-4, 8, 2, 24),
        1.6e-3,
    ),
    "hiccup": (
        {S + "limit": "hiccup", S + "current_limit": "6 A", S + "trip_delay": "0.4 ms", S + "retry_time": "20 ms"},
        Feed(24, 3e-4, 6, 6, 24, 4e-4, 20e-3),
        0.6e-3,
    ),
    "bounce": ({S + "bounce": ["0.5 ms on", "0.3 ms off"]}, Feed(24, 3e-4, open=((0.51e-3, 0.81e-3),)), 1.2e-3),
}
"""Changes, the same for SciPy, and how long is looked at [s]: past the rise, the trip or the bounce."""


def told(found, feed):
    """The class by its definition: off for good, held below 95 % of the voltage, oscillating or not."""
    late = found.time > found.time[-1] - TAIL
    if found.trips:
        return "hiccups"
    if feed.most is not None:
        given = [feed.emf(1.0, i, u) for i, u in zip(found.current[late], found.bus[late], strict=True)]
        if np.mean(given) < 0.95 * feed.voltage:
            return "stalls"
    return "starts" if np.abs(found.tank[late]).max() > feed.voltage else "does not start"


@pytest.mark.slow
@pytest.mark.parametrize("name", KINDS)
def test_both_legs_come_to_the_same_class_and_the_same_supply(name, checkout):
    changes, feed, end = KINDS[name]
    scenario = hs.load(checkout / "scenarios" / "failures" / "supply-too-weak.toml")
    scenario = scenario.change({"supply.source": {"kind": "switch mode"}}).change(COMMON | changes)
    heater = scenario.heater("loaded")
    deck = case_deck(scenario, "loaded")
    run = run_deck(replace(deck, settle=replace(deck.settle, first=end, limit=end)))
    waves = run.waveforms
    assert waves is not None and waves.time[-1] == pytest.approx(end, rel=1e-3)
    other = start(heater, feed, end)
    outcome = "drifting" if np.abs(waves["tank.voltage"][waves.time > end - TAIL]).max() > 24 else run.outcome
    kind = start_measures(heater, outcome, waves, deck.settle, False, {})["startup.class"]
    assert kind == told(other, feed)
    if other.trips:
        off = waves.time[np.argmax(waves["supply.shut_off"] > 0.5)]
        trip = other.trips[0]
        assert off == known(
            trip, f"{name}: instant of the trip", "equations by hand, SciPy", INDEPENDENT, unit="s", abs=0.1 * feed.trip
        )
        return
    late, same = waves.time > end - TAIL, other.time > end - TAIL
    for signal, theirs in (("bus.voltage", other.bus), ("supply.current", other.current)):
        ours = np.trapezoid(waves[signal][late], waves.time[late]) / np.ptp(waves.time[late])
        wanted, band = float(np.mean(theirs[same])), 0.05 if kind == "stalls" else 0.02
        unit = "V" if signal.endswith("voltage") else "A"
        assert ours == known(wanted, f"{name}: {signal}", "equations by hand, SciPy", INDEPENDENT, unit=unit, rel=band), signal
