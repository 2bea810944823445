# SPDX-License-Identifier: GPL-3.0-or-later
"""The search for periodic states, on oscillators that are known in closed form and on simulators that fail."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from heatsim.engine import shooting
from heatsim.engine.poincare import PERTURBATION_TIME, PoincareMap
from heatsim.engine.session import Session
from heatsim.engine.shooting import InitialGuess, NoPeriodicState, find_periodic_state, floquet_multipliers
from heatsim.netlist.deck import Deck
from tests.support.engine.oscillators import PERIOD, SCALE, cubic, relay, resistive

pytestmark = [pytest.mark.ngspice, pytest.mark.numerics]

STILL = np.zeros(1)


def guess(deck: Deck) -> InitialGuess:
    """A search's initial guess: where the deck starts."""
    assert deck.start is not None
    return InitialGuess(deck.start)


def amplitudes(session: Session, deck: Deck, periods: int, perturbation: float = 0.0) -> np.ndarray:
    """Tank voltage over SCALE at the sections of a free run, the first one perturbed."""
    poincare = PoincareMap(session, deck)
    found = []
    for k in range(periods):
        poincare.iterate(np.array([perturbation if k == 0 else 0.0]))
        found.append(float(poincare.point[0]))
    return np.array(found)


@pytest.mark.parametrize("quality", [8.0, 30.0, 100.0])
def test_a_tank_rings_down_by_its_quality(session: Session, quality: float) -> None:
    """exp(-pi/sqrt(Q^2 - 1/4)) from section to section: the damped oscillator, any textbook."""
    found = amplitudes(session, resistive(quality), 12)
    shrink = np.exp(np.polyfit(np.arange(10), np.log(found[2:]), 1)[0])
    assert shrink == pytest.approx(math.exp(-math.pi / math.sqrt(quality**2 - 0.25)), abs=3e-4)


@pytest.mark.parametrize("perturbation", [0.3, -0.3, 0.05])
def test_a_perturbation_of_the_tank_adds_its_charge_while_the_tank_turns(session: Session, perturbation: float) -> None:
    """A constant current I for a time t adds I/(w C) (sin wt, 1 - cos wt) to the turning phasor: of a perturbation p, p itself to
    the amplitude and p tan(wt/2) across it (charge and flux laws, own integration).
    """
    deck = resistive(1e4)
    free, perturbed = amplitudes(session, deck, 3), amplitudes(session, deck, 3, perturbation)
    wanted = math.hypot(free[1] + perturbation, perturbation * math.tan(math.pi * PERTURBATION_TIME)) - free[1]
    assert perturbed[1] - free[1] == pytest.approx(wanted, rel=0.02)


@pytest.mark.parametrize("quality", [10.0, 30.0, 100.0])
@pytest.mark.parametrize("begun", [0.8, 1.3])
def test_a_switched_tank_is_found_with_its_multiplier(session: Session, quality: float, begun: float) -> None:
    """Amplitude 4 I R/pi and multiplier exp(-pi/Q); see `relay`."""
    deck = relay(quality, begun * SCALE)
    periodic = find_periodic_state(session, deck, guess(deck))
    assert periodic.guess.point is not None
    assert periodic.guess.point[0] == pytest.approx(1.0, abs=5e-3)
    assert floquet_multipliers(periodic.guess.monodromy)[0] == pytest.approx(math.exp(-math.pi / quality), abs=0.025)
    assert periodic.away[0] == pytest.approx(1 - begun, abs=0.02)


@pytest.mark.parametrize("strength", [0.02, 0.1, 0.3])
def test_the_cubic_oscillator_is_found(session: Session, strength: float) -> None:
    """Amplitude 2 (1 + eps^2/96), period 1 + eps^2/16 of the tank's (second order, from memory); at 200 steps a period the
    simulator's period is 3.5e-4 longer."""
    deck = cubic(strength, 8.0)
    periodic = find_periodic_state(session, deck, guess(deck))
    assert periodic.waveforms["tank.voltage"].max() / SCALE == pytest.approx(1 + strength**2 / 96, abs=3e-3)
    assert periodic.period / PERIOD == pytest.approx(1 + strength**2 / 16, abs=6e-4)
    assert periodic.periods < 50


@pytest.mark.parametrize("deck", [relay(20.0, 7.0), cubic(0.1, 7.0)], ids=["switched", "cubic"])
def test_a_state_that_was_found_stays_when_it_is_left_alone(session: Session, deck: Deck) -> None:
    periodic = find_periodic_state(session, deck, guess(deck))
    poincare = PoincareMap(session, replace(deck, start=periodic.guess.state))
    for _ in range(50):
        poincare.iterate(STILL)
    assert periodic.guess.point is not None
    assert poincare.point[0] == pytest.approx(periodic.guess.point[0], abs=3e-3)
    assert poincare.period == pytest.approx(periodic.period, rel=1e-3)


@pytest.mark.parametrize("strength", [-0.02, -0.1, -0.3])
def test_a_periodic_state_that_repels_is_refused(session: Session, strength: float) -> None:
    """Inside it the oscillation dies, outside it grows without bound."""
    deck = cubic(strength, 9.5)
    with pytest.raises(NoPeriodicState, match="does not attract|did not come back|step became too small|no periodic state"):
        find_periodic_state(session, deck, guess(deck))


@pytest.mark.parametrize("quality", [8.0, 30.0])
def test_an_oscillation_that_dies_is_refused(session: Session, quality: float) -> None:
    deck = resistive(quality)
    with pytest.raises(NoPeriodicState, match="did not come back|no periodic state"):
        find_periodic_state(session, deck, guess(deck))


class Failing:
    """A session that fails in its own way after so many calls of `advance`."""

    def __init__(self, session: Session, after: int, poison: bool) -> None:
        self.session, self.left, self.poison = session, after, poison
        self.calls, self.poisoned = 0, False

    def __getattr__(self, name: str) -> Any:
        return getattr(self.session, name)

    def advance(self, to: float | None, points: int | None = None) -> None:
        self.calls += 1
        if self.calls <= self.left:
            self.session.advance(to, points)
        else:
            self.poisoned = self.poison


@pytest.mark.parametrize("poison", [True, False], ids=["poisoned", "stopped"])
@pytest.mark.parametrize("after", [0, 1, 7])
def test_a_simulator_that_fails_ends_the_search_with_a_cause(session: Session, after: int, poison: bool) -> None:
    """At once, not with a second search on a simulator that is lost."""
    deck = relay(30.0, 8.0)
    failing = Failing(session, after, poison)
    with pytest.raises(NoPeriodicState, match="the simulator stopped on the way"):
        find_periodic_state(failing, deck, replace(guess(deck), monodromy=np.array([[0.9]])))  # type: ignore[arg-type]
    assert failing.calls == after + 1


def test_a_tank_at_rest_has_no_section(session: Session) -> None:
    deck = resistive(30.0, volts=0.0)
    with pytest.raises(NoPeriodicState, match="did not come back"):
        find_periodic_state(session, deck, guess(deck))


def test_a_search_that_a_brief_run_is_too_short_for_goes_on_in_a_longer_one(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To the same state, period for period: a run's length does not show in its time steps."""
    deck = relay(20.0, 7.0)
    near = replace(guess(deck), monodromy=np.array([[0.9]]))
    whole = find_periodic_state(session, deck, near)
    monkeypatch.setattr(shooting, "BRIEF_PERIODS", 0.6 * whole.periods)
    cut = find_periodic_state(session, deck, near)
    assert cut.periods == whole.periods > 3
    assert np.array_equal(cut.waveforms["tank.voltage"], whole.waveforms["tank.voltage"])
