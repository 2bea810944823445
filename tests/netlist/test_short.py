# SPDX-License-Identifier: GPL-3.0-or-later
"""A choke's shorted turn: fields, and the simulated circuit against the independent integration."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.netlist.generate import make_deck
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import check
from tests.captures.circuit import Faulty, Turn
from tests.captures.features import harmonics
from tests.captures.orbit import Flow, settle, waveforms

BENCH = Scenario.from_file(Path(__file__).resolve().parents[2] / "scenarios" / "bench-heater.toml")
FIELDS = {"choke.left.short_resistance": "2 ohm", "choke.left.short_inductance": "12 uH"}


def test_both_fields_or_none() -> None:
    with pytest.raises(InputError, match="goes together with short_inductance"):
        BENCH.change({"choke.left.short_resistance": "2 ohm"}).heater("loaded")
    assert BENCH.heater("loaded").chokes[0].short is None


def test_the_turn_is_in_the_netlist_of_its_side_only() -> None:
    text = make_deck(BENCH.change(FIELDS).heater("loaded"), "short").text
    assert "rturn_left turn_left turnl_left 2" in text
    assert "turn_right" not in text


@pytest.mark.slow
def test_simulated_turn_against_the_independent_integration() -> None:
    """Tank harmonics 2 to 11 within 3e-4 of the fundamental, loss within 3 %, energy balance within 1 %; and what heats the choke
    is what the circuit loses."""
    case = check(BENCH.change(FIELDS), ["loaded"])["loaded"]
    assert case.outcome == "settled"
    flow = Flow(Faulty(BENCH.heater("loaded"), turns={"left": Turn(2.0, 12e-6)}))
    settled = settle(flow)
    lines = harmonics(waveforms(flow, settled)["tank.voltage"])
    assert case.measures["tank.frequency_hz"] == pytest.approx(1 / settled.period, rel=6e-4)
    assert case.measures["tank.harmonic_ratios"][1:11] == pytest.approx(np.abs(lines[2:12]) / abs(lines[1]), abs=3e-4)
    assert case.measures["energy.imbalance_ratio"] < 0.01
    loss = case.measures["loss.choke.left.short_w"]
    turn = flow(settled.state, settled.period, 4097)[:, 5]
    assert loss == pytest.approx(2.0 * float(np.mean(turn[:-1] ** 2)), rel=0.03)
    sound = check(BENCH, ["loaded"])["loaded"].measures
    assert case.measures["choke.left.core_loss_w"] == pytest.approx(loss + sound["choke.left.core_loss_w"], rel=0.05)
