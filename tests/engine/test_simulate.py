# SPDX-License-Identifier: GPL-3.0-or-later
"""How runs end: each outcome on a circuit that really behaves so, and laws any settled run must obey."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from heatsim.engine.ladder import LADDER
from heatsim.engine.outcome import Attempt, Run
from heatsim.engine.session import Session
from heatsim.engine.settle import Judgement, rising_zeros
from heatsim.engine.simulate import _detail, _verdict, simulate
from heatsim.netlist.deck import TRIAL_EFFORT
from heatsim.waves import Waveforms
from heatsim.waves.periods import per_period
from tests.engine.test_session import GOOD
from tests.support.engine.circuits import RULE, heater, small

LATCHING = replace(RULE, latch_current=60.0, limit=2e-3)

COLLAPSING = """\
V1 s 0 SIN(0 100 50k)
L1 s a 10u
S1 a 0 a 0 sw
R1 a 0 1k
.model sw SW(Vt=50 Vh=0 Ron=1u Roff=1e9)
"""
"""A coil cut off by a switch that closes by its own voltage: no time step is small enough."""


@pytest.fixture(scope="module")
def settled(session: Session) -> Run:
    """The test heater, once."""
    return simulate(session, heater(), 60)


def mean(waves: Waveforms, name: str, start: float, stop: float) -> float:
    """Time average [SI] between two instants."""
    cut = waves.between(start, stop)
    return float(np.trapezoid(cut[name], cut.time) / (stop - start))


def test_the_heater_settles(settled: Run) -> None:
    assert (settled.outcome, settled.detail) == ("settled", "")
    waves = settled.waveforms
    assert waves is not None
    assert set(waves.names) == {signal.name for signal in settled.deck.signals}
    assert waves.time[0] < 1e-8
    assert waves.time[-1] == settled.deck.transient.stop
    assert RULE.first <= settled.deck.transient.stop <= RULE.limit
    assert np.all(np.diff(waves.time) > 0)
    assert settled.attempts[0].reached_s == settled.deck.transient.stop
    assert settled.deck.options == heater().options


def test_settled_means_that_nothing_is_left_to_go(settled: Run, session: Session) -> None:
    """Against a run of four times the length: the slow mean current of the chokes, 5 ms of time constant, is there."""
    later = simulate(session, heater(rule=replace(RULE, tolerance=1e-9, first=19e-3, limit=19e-3)), 60)
    values = []
    for run in (settled, later):
        waves = run.waveforms
        assert waves is not None
        marks = rising_zeros(waves.time, waves["tank.voltage"])[-11:]
        values.append(
            {name: per_period(waves.time, waves[name], marks) for name in RULE.watched} | {"period": np.diff(marks).mean()}
        )
    assert values[0].pop("period") == pytest.approx(values[1].pop("period"), rel=2e-4)
    for name in RULE.watched:
        now, end = (each[name] for each in values)
        scale = abs(end.mean.mean()) + end.swing.mean()
        assert abs(now.mean.mean() - end.mean.mean()) < RULE.tolerance * scale, name
        assert abs(now.swing.mean() - end.swing.mean()) < RULE.tolerance * scale, name


def test_volt_second_balance_of_the_chokes(session: Session) -> None:
    """The mean voltage of a coil is R times its mean current plus L times what its current gained (Faraday's law);
    exact for trapezoidal integration, whose steps are trapezia.
    """
    run = simulate(session, heater(options={"method": "trap"}, rule=replace(RULE, limit=1e-3)), 60)
    waves = run.waveforms
    assert waves is not None
    start, stop = waves.time[[-4000, -1]]
    for side, inductance in (("left", 100e-6), ("right", 94e-6)):
        drop = mean(waves, "bus.voltage", start, stop) - mean(waves, f"drain.{side}.voltage", start, stop)
        current = waves[f"choke.{side}.current"]
        gained = inductance * (current[-1] - current[-4000]) / (stop - start)
        assert drop == pytest.approx(9e-3 * mean(waves, f"choke.{side}.current", start, stop) + gained, abs=1e-3)


def test_peak_and_frequency_of_the_ideal_stage(settled: Run) -> None:
    """Half sine of peak pi times the mean drain voltage; resonance with both chokes in parallel to the coil; both in
    the reference file. The switches overlap for about 1 % of a period here, hence the width.
    """
    waves = settled.waveforms
    assert waves is not None
    marks = rising_zeros(waves.time, waves["tank.voltage"])
    late = waves.between(marks[-21], marks[-1])
    level = mean(waves, "drain.left.voltage", marks[-21], marks[-1])
    assert late["drain.left.voltage"].max() == pytest.approx(np.pi * level, rel=0.015)
    coil = 1 / (1 / 2e-6 + 1 / 194e-6)
    resonance = 1 / (2 * np.pi * np.sqrt(coil * 1.5e-6))
    assert 1 / np.diff(marks[-21:]).mean() == pytest.approx(resonance, rel=0.015)


def test_without_gate_drive_it_is_dead(session: Session) -> None:
    run = simulate(session, heater(gate=0.0, rule=LATCHING), 60)
    assert (run.outcome, run.detail) == ("dead", "no oscillation")
    assert run.deck.transient.stop == pytest.approx(2 * RULE.first, rel=0.2)
    assert run.waveforms is not None


def test_with_an_overloaded_tank_it_is_latched(session: Session) -> None:
    run = simulate(session, heater(coil=5.0, rule=LATCHING), 60)
    assert run.outcome == "latched"
    assert "current stands high and still changes" in run.detail
    assert run.waveforms is not None and run.waveforms["supply.current"].max() > 60


def test_at_the_longest_time_allowed_it_is_drifting(session: Session) -> None:
    run = simulate(session, heater(rule=replace(RULE, limit=1.2e-3)), 60)
    assert run.outcome == "drifting"
    assert "still to go" in run.detail
    assert run.deck.transient.stop == pytest.approx(1.2e-3, rel=1e-6)


def test_an_oscillator_that_starts_late_is_waited_for(session: Session) -> None:
    """Quiet at twice the first look, because the gate supply has not come yet, but the supply still rises."""
    deck = heater(rule=replace(RULE, first=1e-4, again=1e-4, watched=(*RULE.watched, "bus.voltage")))
    slow = replace(
        deck,
        circuit=deck.circuit.replace("PWL(0 0 150u 40)", "PWL(0 0 1.2m 40)").replace("PWL(0 0 20u 12)", "PWL(0 0 600u 0 620u 12)"),
    )
    assert slow.circuit.count("PWL(0 0 1.2m 40)") == slow.circuit.count("620u") == 1
    run = simulate(session, slow, 60)
    assert run.outcome == "settled"
    assert run.waveforms is not None
    early = run.waveforms.between(1e-5, 5e-4)
    assert np.abs(early["tank.voltage"]).max() < RULE.quiet


def test_a_collapsing_step_is_unsolved_with_place_and_partial_waveforms(session: Session) -> None:
    told: list[Attempt] = []
    run = simulate(session, small(COLLAPSING, {"x": "v(a)"}, max_step=1e-6), 60, attempted=told.append)
    assert run.outcome == "unsolved"
    assert "time step became too small at 1.6766" in run.detail and "s1" in run.detail
    assert run.waveforms is not None
    assert run.deck.transient.stop == run.waveforms.time[-1] < 2e-6
    assert tuple(told) == run.attempts
    assert len({attempt.rung.name for attempt in run.attempts}) == len(run.attempts) > 2


def test_a_run_cut_short_in_silence_is_unsolved(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    """The simulator comes back early without a message: never taken for done."""
    whole = session.advance
    monkeypatch.setattr(session, "advance", lambda to, points=None: whole(3e-5, points))
    run = simulate(session, small(GOOD, {"x": "v(b)"}, max_step=1e-6), 60, ladder=LADDER[:1])
    assert run.outcome == "unsolved"
    assert "stopped at 0.03" in run.detail and "without saying why" in run.detail
    assert run.waveforms is not None


@pytest.mark.parametrize("bad", ["X1 a b nosub", "D1 a b nomod", "R1 a 0 2k", "V2 b b 1"])
def test_a_deck_at_fault_is_not_tried_again(session: Session, bad: str) -> None:
    run = simulate(session, small(GOOD + bad + "\n", {"x": "v(b)"}), 60)
    assert run.outcome == "unsolved"
    assert len(run.attempts) == 1
    assert run.waveforms is None
    assert run.detail


def test_a_vector_that_is_not_there_is_unsolved(session: Session) -> None:
    run = simulate(session, small(GOOD, {"x": "v(b)", "y": "v(nowhere)"}), 60)
    assert run.outcome == "unsolved"
    assert "v(nowhere)" in run.detail


def test_waveforms_that_are_not_finite_are_never_settled(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    genuine = session._vector

    def spoiled(name: str) -> object:
        samples = genuine(name)
        if samples is None or name == "time" or samples.size < 50:
            return samples
        samples = samples.copy()
        samples[40:] = np.nan
        return samples

    monkeypatch.setattr(session, "_vector", spoiled)
    run = simulate(session, small(GOOD, {"x": "v(b)"}, max_step=1e-6), 60)
    assert run.outcome == "unsolved"
    assert "not finite" in run.detail
    assert run.waveforms is not None and run.waveforms.time.size == 40


def test_time_is_up_between_two_pieces(session: Session) -> None:
    run = simulate(session, heater(rule=replace(RULE, first=0.2, limit=0.2)), 0.3)
    assert run.outcome == "stalled"
    assert "of wall time on this machine" in run.detail and "not a property of the circuit" in run.detail
    assert run.wall_s < 2
    assert run.waveforms is not None


def test_a_run_ends_at_so_many_time_points_whatever_the_machine(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    """Twice, once on a machine a hundred times slower by its clock: the same outcome at the same instant."""
    monkeypatch.setattr("heatsim.engine.simulate.MOST_POINTS", 30_000)
    monkeypatch.setattr("heatsim.engine.simulate.MOST_PER_STEP", 0.0)
    deck = heater(rule=replace(RULE, first=0.2, limit=0.2))
    quick = simulate(session, deck, 1e4)
    clock = time.perf_counter
    monkeypatch.setattr(time, "perf_counter", lambda: 100 * clock())
    slow = simulate(session, deck, 1e4)
    assert quick.outcome == slow.outcome == "stalled"
    assert quick.detail == slow.detail and "time points" in quick.detail
    assert quick.deck.transient.stop == slow.deck.transient.stop


def test_a_trial_is_given_up_where_it_takes_more_time_points_than_a_sound_heater(session: Session) -> None:
    """The test heater takes some two a largest step: worth three it settles as ever, worth one it does not."""
    deck = heater()
    assert simulate(session, replace(deck, settle=replace(deck.settle, effort=3.0)), 60).outcome == "settled"
    run = simulate(session, replace(deck, settle=replace(deck.settle, effort=1.0)), 60)
    assert run.outcome == "stalled" and run.detail.startswith("given up as a trial at")
    assert run.waveforms is not None and run.waveforms.time[-1] < RULE.first
    assert deck.as_trial().settle.effort == TRIAL_EFFORT > 3.0


def test_a_gate_supply_that_comes_late_is_waited_for_before_it_is_called_dead(session: Session) -> None:
    """Silent and still for longer than it takes to be called dead, were the delay not known."""
    deck = heater(rule=replace(RULE, start=3e-3, first=3.8e-3, limit=9e-3))
    late = replace(deck, circuit=deck.circuit.replace("PWL(0 0 20u 12)", "PWL(0 0 3m 0 3.02m 12)"))
    assert late.circuit.count("3.02m 12") == 1
    assert simulate(session, late, 60).outcome == "settled"


def test_at_the_longest_time_a_swing_that_dies_away_is_settled_and_told() -> None:
    """Before that the run goes on; a swing that does not die away leaves it drifting."""
    deck, fading = heater(), Judgement("moving", 5.0, "supply.current (mean) swings", fading=0.02)
    assert _verdict(fading, 0.5 * deck.settle.limit, deck) is None
    assert _verdict(fading, deck.settle.limit, deck) == "settled"
    assert _verdict(replace(fading, fading=None), deck.settle.limit, deck) == "drifting"
    run = Run("settled", _detail("settled", fading), None, deck)
    assert run.swings and "still swings by 2 % and dies away" in run.detail
    assert not Run("settled", _detail("settled", Judgement("settled", 0.5)), None, deck).swings
