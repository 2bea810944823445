# SPDX-License-Identifier: GPL-3.0-or-later
"""Paused circuits: steady supplies, states that can be perturbed, a state to start from."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from heatsim.engine.guard import check_deck
from heatsim.netlist.deck import State
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck


@pytest.fixture(scope="module")
def scenario(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def test_supplies_stand_from_the_start_and_do_not_ripple(scenario: Scenario) -> None:
    text = case_deck(scenario.change({"supply.ripple": "2 V"}), "loaded", paused=True).text
    assert re.search(r"v=42 tr=0\.002 v0=42\b", text)
    assert "vrip=0 " in text
    assert "vgate vgs 0 dc 14" in text


def test_a_cold_start_has_nothing_of_it(scenario: Scenario) -> None:
    text = case_deck(scenario, "loaded").text
    assert "iperturb" not in text
    assert "v0=42" not in text


def test_every_slow_state_has_a_source_that_is_in_the_deck(scenario: Scenario) -> None:
    deck = case_deck(scenario, "loaded", paused=True)
    assert [state.name for state in deck.slow] == ["tank", "reservoir", "supply", "choke.left", "choke.right"]
    for state in deck.slow:
        assert state.scale > 0
        assert re.search(rf"^{state.source.removeprefix('v.xsupply.')} ", deck.text, re.MULTILINE), state.source
    check_deck(deck.text)


def test_gains_are_those_of_charge_and_flux(scenario: Scenario) -> None:
    """dV = I t/C, dI = V t/L; the flux node counts 100 uWb a volt on one farad."""
    heater = scenario.heater("loaded")
    gains = {state.name: state.gain for state in case_deck(scenario, "loaded", paused=True).slow}
    assert gains["tank"] == pytest.approx(1 / heater.capacitors.capacitance)
    assert gains["reservoir"] == pytest.approx(1 / 470e-6)
    assert gains["supply"] == pytest.approx(-1 / 1e-6)
    assert gains["choke.left"] == pytest.approx(100e-6)


def test_scales_are_those_of_the_ideal_stage(scenario: Scenario) -> None:
    heater = scenario.heater("loaded")
    scales = {state.name: state.scale for state in case_deck(scenario, "loaded", paused=True).slow}
    assert scales["tank"] == pytest.approx(math.pi * 42)
    across = heater.loaded_inductance / (heater.capacitors.capacitance * heater.loaded_resistance)
    assert heater.supply_current == pytest.approx((math.pi * 42) ** 2 / (2 * across) / 42)


def test_one_choke_has_no_difference_of_fluxes(scenario: Scenario) -> None:
    single = Scenario.from_text(scenario.text.replace('"two-choke"', '"one-choke"'))
    deck = case_deck(single, "loaded", paused=True)
    assert deck.slowest_mode == ()
    assert [state.name for state in deck.slow][-1] == "choke.centre"
    assert len(case_deck(scenario, "loaded", paused=True).slowest_mode) == 5


def test_a_start_stands_in_the_text(scenario: Scenario) -> None:
    deck = replace(case_deck(scenario, "loaded", paused=True), start=State({"bus": 41.5, "xtank.c3": -7.25}, {"l.xtank.lw": 2.0}))
    assert ".ic v(bus)=41.5\n.ic v(xtank.c3)=-7.25\n" in deck.text
    assert "* analysis: from a given state" in deck.text
    assert ".save all" in deck.text
    check_deck(deck.text)
