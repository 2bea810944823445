# SPDX-License-Identifier: GPL-3.0-or-later
"""A choke's shorted turn: fields, and the simulated circuit against the independent integration."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.engine.session import Session
from heatsim.engine.shooting import find_periodic_state, guess_at_section
from heatsim.engine.simulate import simulate
from heatsim.errors import InputError
from heatsim.netlist.generate import make_deck
from heatsim.parts.choke import ShortedTurn
from heatsim.parts.thermal import short_loss
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import check
from tests.support.captures.circuit import NAMES, Faulty, Turn
from tests.support.captures.features import harmonics
from tests.support.captures.orbit import Flow, settle, waveforms
from tests.support.once import checked

BENCH = Scenario.from_file(Path(__file__).resolve().parents[2] / "scenarios" / "bench-heater.toml")
FIELDS = {"choke.left.short_resistance": "2 ohm", "choke.left.short_inductance": "12 uH"}


@pytest.mark.parametrize(
    "given, missing",
    [
        ({"choke.left.short_resistance": "2 ohm"}, "short_inductance"),
        ({"choke.left.short_inductance": "12 uH"}, "short_resistance"),
    ],
)
def test_both_fields_or_none(given: dict[str, str], missing: str) -> None:
    with pytest.raises(InputError, match=f"goes together with .*{missing}|{missing}.*goes together with"):
        BENCH.change(given).heater("loaded")
    assert BENCH.heater("loaded").chokes[0].short is None


@pytest.mark.parametrize(
    "field, value",
    [
        ("short_resistance", "0.5 mohm"),
        ("short_resistance", "20 kohm"),
        ("short_inductance", "0.5 nH"),
        ("short_inductance", "20 mH"),
    ],
)
def test_values_out_of_range_are_refused(field: str, value: str) -> None:
    with pytest.raises(InputError, match=field):
        BENCH.change(FIELDS | {f"choke.left.{field}": value}).heater("loaded")


def test_both_chokes_and_one_of_them() -> None:
    both = {key.replace("left.", ""): value for key, value in FIELDS.items()}
    chokes = BENCH.change(both | {"choke.right.short_resistance": "3 ohm"}).heater("loaded").chokes
    assert [choke.short for choke in chokes] == [ShortedTurn(2.0, 12e-6), ShortedTurn(3.0, 12e-6)]


def test_a_turn_that_would_not_settle_is_refused() -> None:
    """At the limit, 45 periods, its current is 3e-4 from the independent integration's; at 90 a search for the periodic state
    already comes out 0.6 % off, unnoticed."""
    frequency = BENCH.heater("loaded").frequency

    def turn(periods: float) -> dict[str, str]:
        return FIELDS | {"choke.left.short_resistance": f"{12e-6 * frequency / periods:.6g} ohm"}

    assert BENCH.change(turn(44)).heater("loaded").chokes[0].short is not None
    with pytest.raises(InputError, match="would not settle") as caught:
        BENCH.change(turn(46)).heater("loaded")
    assert "short_inductance" in str(caught.value) and "45 periods" in str(caught.value)


def test_loss_of_a_sine_on_the_turn() -> None:
    """Rms voltage w*flux/sqrt(2) on R + jwL in series; nothing without a short."""
    choke = BENCH.change(FIELDS).heater("loaded").chokes[0]
    time, w = np.linspace(0.0, 1e-5, 2001), 2 * np.pi * 1e5
    flux = 3e-4 + 2e-4 * np.sin(w * time)
    assert short_loss(choke, time, flux) == pytest.approx((w * 2e-4) ** 2 / 2 * 2.0 / (2.0**2 + (w * 12e-6) ** 2), rel=1e-4)
    assert short_loss(BENCH.heater("loaded").chokes[0], time, flux) == 0.0


def test_the_turn_is_in_the_netlist_of_its_side_only() -> None:
    text = make_deck(BENCH.change(FIELDS).heater("loaded"), "short").text
    assert "rturn_left turn_left turnl_left 2" in text
    assert "turn_right" not in text


@pytest.mark.slow
def test_simulated_turn_against_the_independent_integration() -> None:
    """From cold: tank harmonics 2 to 11 within 3e-4 of the fundamental, frequency within 5e-4, the turn's rms current within 3e-3,
    energy balance within 1 %; and what heats the choke is what the circuit loses."""
    case = check(BENCH.change(FIELDS), ["loaded"])["loaded"]
    assert case.outcome == "settled"
    flow = Flow(Faulty(BENCH.heater("loaded"), turns={"left": Turn(2.0, 12e-6)}))
    settled = settle(flow)
    lines = harmonics(waveforms(flow, settled)["tank.voltage"])
    assert case.measures["tank.frequency_hz"] == pytest.approx(1 / settled.period, rel=5e-4)
    assert case.measures["tank.harmonic_ratios"][1:11] == pytest.approx(np.abs(lines[2:12]) / abs(lines[1]), abs=3e-4)
    assert case.measures["energy.imbalance_ratio"] < 0.01
    loss = case.measures["loss.choke.left.short_w"]
    turn = flow(settled.state, settled.period, 4097)[:, NAMES.index("turn_left")]
    assert np.sqrt(loss / 2.0) == pytest.approx(rms(turn), rel=3e-3)
    sound = checked(BENCH)["loaded"].measures
    assert case.measures["choke.left.core_loss_w"] == pytest.approx(loss + sound["choke.left.core_loss_w"], rel=0.05)


@pytest.mark.slow
@pytest.mark.ngspice
@pytest.mark.parametrize("short", [ShortedTurn(2.0, 12e-6), ShortedTurn(0.04, 20e-6)], ids=["usual", "44 periods"])
def test_periodic_state_with_a_turn(session: Session, short: ShortedTurn) -> None:
    """The paused deck's: harmonics 1 to 11 within 3e-4, frequency within 5e-4, rms current of the turn within 1e-3; and the core's
    current is what the winding's leaves after the turn's and the core loss's."""
    sound = BENCH.heater("loaded")
    heater = replace(sound, chokes=(replace(sound.chokes[0], short=short), sound.chokes[1]))
    deck = replace(make_deck(heater, "short", 400), every=True)
    simulate(session, deck, 120)
    guess = guess_at_section(session, deck)
    assert guess is not None
    periodic = find_periodic_state(session, make_deck(heater, "short", 400, paused=True), guess)
    waves, grid = periodic.waveforms, np.linspace(0.0, 1.0, 4097)
    phase = (waves.time - waves.time[0]) / (waves.time[-1] - waves.time[0])
    flow = Flow(Faulty(sound, turns={"left": Turn(short.resistance, short.inductance)}), rtol=1e-6)
    settled = settle(flow)
    mine = np.abs(harmonics(np.interp(grid, phase, waves["tank.voltage"])))
    other = np.abs(harmonics(waveforms(flow, settled)["tank.voltage"]))
    assert 1 / periodic.period == pytest.approx(1 / settled.period, rel=5e-4)
    assert mine[1:12] == pytest.approx(other[1:12], abs=3e-4 * other[1])
    turn = flow(settled.state, settled.period, 4097)[:, NAMES.index("turn_left")]
    assert rms(np.interp(grid, phase, waves["choke.left.short_current"])) == pytest.approx(rms(turn), rel=1e-3)
    magnetising, curve = waves["choke.left.magnetising_current"], heater.chokes[0].curve
    expected = np.array([float(curve.current(y)) for y in waves["choke.left.flux"]])
    assert magnetising == pytest.approx(expected, abs=0.01 * np.abs(expected).max())


def rms(period: np.ndarray) -> float:
    """Of one period on an even grid whose last sample repeats the first."""
    return float(np.sqrt(np.mean(period[:-1] ** 2)))
