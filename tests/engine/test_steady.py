# SPDX-License-Identifier: GPL-3.0-or-later
"""Starts that are taken to their periodic state, against the same heaters simulated until they rest."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import heatsim as hs
from heatsim.engine import Run
from heatsim.engine.session import Session
from heatsim.engine.settle import rising_zeros
from heatsim.engine.simulate import simulate
from heatsim.engine.steady import LAST, shortened_run, start_to_steady
from heatsim.measures.errors import stated_errors
from heatsim.netlist.deck import Deck
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, case_deck, judge_run
from tests.support.short_way import BothWays
from tests.support.short_way import both_ways as random_heaters

pytestmark = [pytest.mark.ngspice, pytest.mark.numerics]

MOST_AT_REST = 1.0
"""Largest difference from the long run, in stated errors."""


def to_be_shortened(scenario: Scenario, case: str) -> Deck:
    return replace(case_deck(scenario, case), paused=case_deck(scenario, case, paused=True))


@pytest.fixture(scope="module")
def small(checkout: Path) -> Scenario:
    return hs.load(checkout / "scenarios" / "gallery" / "small-12-to-24-volts.toml")


@pytest.fixture(scope="module")
def small_run(session: Session, small: Scenario) -> Run:
    """The small heater the short way."""
    run = start_to_steady(session, to_be_shortened(small, "low"), 60)
    assert run is not None
    return run


def both_ways(session: Session, scenario: Scenario, case: str, short: Run | None) -> tuple[CaseResult, CaseResult]:
    """A case the short way, as it came out, and the long way, judged."""
    assert short is not None
    long = simulate(session, case_deck(scenario, case), 60)
    heater = scenario.heater(case)
    found, wanted = (judge_run(scenario, case, heater, run) for run in (short, long))
    return found, wanted


def hold_beside_each_other(found: CaseResult, wanted: CaseResult) -> None:
    """Every finding alike, every number within its stated error."""
    assert shortened_run(found.attempts) and not shortened_run(wanted.attempts)
    assert BothWays("", found, wanted, (0.0, 0.0)).differs == ()
    short, long, compared = stated_errors(found.measures), stated_errors(wanted.measures), 0
    for key, value in wanted.measures.items():
        other, error = found.measures.get(key), max(short.get(key, 0.0), long.get(key, 0.0))
        if isinstance(value, float) and isinstance(other, float) and error:
            assert abs(other - value) <= MOST_AT_REST * error, key
            compared += 1
    assert compared > 100


def test_a_small_heater_comes_to_the_same_either_way(session: Session, small: Scenario, small_run: Run) -> None:
    hold_beside_each_other(*both_ways(session, small, "low", small_run))


@pytest.mark.slow
@pytest.mark.parametrize("case", ["idle", "loaded"])
def test_the_bench_heater_comes_to_the_same_either_way(session: Session, checkout: Path, case: str) -> None:
    scenario = hs.load(checkout / "scenarios" / "bench-heater.toml")
    short = start_to_steady(session, to_be_shortened(scenario, case), 60)
    hold_beside_each_other(*both_ways(session, scenario, case, short))


@pytest.mark.slow
def test_random_heaters_are_judged_alike_either_way(session: Session) -> None:
    """`python -m tests.support.short_way 110` draws more of them: 42 of 102 went the short way, all judged as the long way."""
    found = list(random_heaters(session, 4, 3))
    assert [each.told for each in found if each.differs] == []
    assert sum(each.short is not None for each in found) >= 2


def test_the_last_periods_join_on_and_are_at_rest(small_run: Run) -> None:
    """Time runs on, nothing jumps where they begin, and period is like period; the deck alone rests not before the run ends."""
    run, waves = small_run, small_run.waveforms
    assert waves is not None and run.deck.paused is None
    assert (np.diff(waves.time) > 0).all()
    marks = rising_zeros(waves.time, waves["coil.current"])
    joint = waves.time[-1] - LAST * (marks[-1] - marks[-2])
    beside = np.searchsorted(waves.time, joint) + np.arange(-3, 4)
    for name in ("tank.voltage", "choke.left.current", "supply.current"):
        steps = np.abs(np.diff(waves[name][beside]))
        assert steps.max() < 0.05 * np.ptp(waves[name][-2000:]) + 0.02 * abs(waves[name][-2000:].mean()), name
    lengths = np.diff(marks[-LAST + 1 :])
    assert np.ptp(lengths) < 2e-4 * lengths.mean()
    assert run.deck.transient.stop >= waves.time[-1]


def test_an_oscillation_that_falls_back_on_its_way_is_left_to_the_long_way(session: Session, checkout: Path) -> None:
    """The long bank's drains reach 156 V with the deck's own steps and 58 V with coarse ones: no answer, not the wrong one."""
    scenario = hs.load(checkout / "scenarios" / "bench-heater-long-bank.toml")
    assert start_to_steady(session, to_be_shortened(scenario, "loaded"), 60) is None


def test_a_heater_that_does_not_start_is_left_to_the_long_way(session: Session, checkout: Path) -> None:
    scenario = hs.load(checkout / "scenarios" / "failures" / "latch.toml")
    assert start_to_steady(session, to_be_shortened(scenario, "loaded"), 60) is None


def test_a_deck_without_a_paused_circuit_is_not_touched(session: Session, checkout: Path) -> None:
    scenario = hs.load(checkout / "scenarios" / "bench-heater.toml")
    before = session.points
    assert start_to_steady(session, case_deck(scenario, "loaded"), 60) is None
    assert session.points == before
