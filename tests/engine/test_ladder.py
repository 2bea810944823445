# SPDX-License-Identifier: GPL-3.0-or-later
"""The ladder on decks that really fail on its first rung."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from heatsim.engine.ladder import LADDER, climb
from heatsim.engine.session import Session
from heatsim.engine.simulate import simulate
from heatsim.netlist.deck import Deck
from tests.support.engine.circuits import heater, small
from tests.support.engine.hard import clipped, cornered, steepest


def floating() -> Deck:
    """A node in the air, between two capacitors: singular unless every node has some capacitance to ground."""
    return small("V1 a 0 SIN(0 10 50k)\nR1 a b 1k\nC1 b 0 1n\nC9 q w 1n\n", {"x": "v(b)"}, max_step=1e-6)


@pytest.mark.parametrize(("make", "rungs"), [(clipped, 2), (cornered, 3), (steepest, 4), (floating, 5)])
def test_each_rung_solves_a_deck_that_those_before_it_do_not(session: Session, make: Callable[[], Deck], rungs: int) -> None:
    deck = make()
    run = simulate(session, deck, 60)
    assert run.outcome in ("settled", "drifting"), run.detail
    assert run.deck.transient.stop >= deck.settle.first * (1 - 1e-6)
    assert run.waveforms is not None
    assert all(attempt.outcome in ("unsolved", "stalled") and attempt.detail for attempt in run.attempts[:-1])
    assert [attempt.rung for attempt in run.attempts] == list(LADDER[: len(run.attempts)])
    assert sum(attempt.wall_s for attempt in run.attempts) <= run.wall_s
    if session.version == "ngspice-39":  # another version may solve them sooner or later
        assert len(run.attempts) == rungs


def test_the_deck_that_ran_is_told_with_its_changes(session: Session) -> None:
    deck = floating()
    run = simulate(session, deck, 60)
    last = run.attempts[-1].rung
    assert run.deck.options == {**deck.options, **last.options}
    assert run.deck.transient.max_step == deck.transient.max_step * last.max_step_factor


def test_each_rung_adds_to_the_one_before_and_accuracy_goes_last() -> None:
    assert LADDER[0].options == {} and LADDER[0].max_step_factor == 1
    for before, after in zip(LADDER[1:], LADDER[2:], strict=False):
        assert before.options.keys() <= after.options.keys()
        assert after.max_step_factor <= before.max_step_factor
    assert [("reltol" in rung.options) for rung in LADDER] == sorted("reltol" in rung.options for rung in LADDER)


def test_climbing_changes_the_deck_and_nothing_else() -> None:
    deck = heater()
    for rung in LADDER:
        changed = climb(deck, rung)
        assert changed.circuit == deck.circuit and changed.settle == deck.settle
        assert changed.transient.max_step == deck.transient.max_step * rung.max_step_factor
        assert changed.options == {**deck.options, **rung.options}


def test_the_loosest_rung_still_tells_the_truth_about_a_tame_heater(session: Session) -> None:
    """What a rescued deck may be off by: period and peak within half a per cent of the deck as given."""
    from heatsim.engine.settle import rising_zeros
    from heatsim.waves.periods import per_period

    found = []
    for rung in (LADDER[0], LADDER[-1]):
        waves = simulate(session, heater(), 60, ladder=(rung,)).waveforms
        assert waves is not None
        marks = rising_zeros(waves.time, waves["tank.voltage"])[-21:]
        found.append((np.diff(marks).mean(), per_period(waves.time, waves["tank.voltage"], marks).swing.mean()))
    assert found[1] == pytest.approx(found[0], rel=5e-3)
