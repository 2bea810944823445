# SPDX-License-Identifier: GPL-3.0-or-later
"""Iterations of the Poincaré map: a restarted circuit goes on as it would have, and a perturbation adds what it says.

The laws checked are those of charge and flux: a current into a capacitance, or a voltage on a winding, for a time. They
need no source.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.engine.poincare import PoincareMap, SectionReader, lagrange, point_of
from heatsim.engine.session import Session
from heatsim.engine.shooting import InitialGuess, NoPeriodicState, PeriodicState, find_periodic_state
from heatsim.engine.simulate import simulate
from heatsim.netlist.deck import Deck
from heatsim.parts.choke import ShortedTurn
from heatsim.parts.thermal import short_loss
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck
from heatsim.waves import Array

pytestmark = [pytest.mark.ngspice, pytest.mark.numerics]

BEFORE = 8
"""Periods before the end of the cold start at which the iterations begin."""


@pytest.fixture(scope="module")
def scenario(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


@pytest.fixture(scope="module")
def paused(scenario: Scenario) -> Deck:
    return case_deck(scenario, "loaded", paused=True)


@pytest.fixture(scope="module")
def cold(session: Session, scenario: Scenario) -> tuple[InitialGuess, Array]:
    """State at a section of a cold start, and the slow states at the sections that follow in the same run."""
    deck = replace(case_deck(scenario, "loaded"), every=True)
    simulate(session, deck.to_first_look(), 60)
    reader = SectionReader(session, deck)
    at = reader.crossings()[-BEFORE - 1 : -1]
    points = np.array([between_samples(reader, int(k)) for k in at])
    return InitialGuess(session.state(int(at[0]) + 1), points[0]), points


def between_samples(reader: SectionReader, sample: int) -> Array:
    """Slow states where the coil's current passes zero between a sample and the next, by straight lines."""
    before, after = (point_of(reader.deck, reader.session.state(k)) for k in (sample, sample + 1))
    first, last = reader.sum(reader.coil, slice(sample, sample + 2))
    return np.asarray(before + first / (first - last) * (after - before))


def iterated(session: Session, paused: Deck, guess: InitialGuess, perturbations: list[Array]) -> Array:
    """Slow states at the sections passed from an initial guess."""
    poincare = PoincareMap(session, replace(paused, start=guess.state))
    points = []
    for perturbation in perturbations:
        poincare.iterate(perturbation)
        points.append(poincare.point)
    return np.array(points)


@pytest.fixture(scope="module")
def free(session: Session, paused: Deck, cold: tuple[InitialGuess, Array]) -> Array:
    return iterated(session, paused, cold[0], [np.zeros(5)] * 5)


def test_a_restarted_circuit_goes_on_as_the_run_it_was_taken_from(free: Array, cold: tuple[InitialGuess, Array]) -> None:
    """The restart lacks the charge in the diodes and the integrator's past: 1.5e-3 at first, forgotten within some periods."""
    apart = np.abs(free[1:] - cold[1][2:6])
    assert apart[:, 0].max() < 1.5e-3
    assert apart[-1, 0] < 5e-4
    assert apart[:, 1:3].max() < 1e-3
    assert apart[:, 3:].max() < 3e-3


@pytest.mark.parametrize(("state", "kept"), [(0, 0.2), (1, 0.1), (2, 0.2)])
def test_a_perturbation_shows_in_its_own_state(
    session: Session, paused: Deck, cold: tuple[InitialGuess, Array], free: Array, state: int, kept: float
) -> None:
    """After a period some of it has gone to the others; at least the sign and the order are its own."""
    perturbation = np.zeros(5)
    perturbation[state] = 0.1
    change = iterated(session, paused, cold[0], [perturbation])[0] - free[0]
    assert kept * 0.1 < change[state] < 0.12


def test_the_difference_of_the_fluxes_takes_what_is_put_in_and_keeps_it(
    session: Session, paused: Deck, cold: tuple[InitialGuess, Array], free: Array
) -> None:
    """Only resistance levels it: some 0.3 % a period; a perturbation comes out within a hundredth or so."""
    perturbation = np.array([0, 0, 0, 0.1, -0.1])
    perturbations = [perturbation, *[np.zeros(5)] * 4]
    change = (iterated(session, paused, cold[0], perturbations) - free) @ np.array(paused.slowest_mode)
    assert change[0] == pytest.approx(0.2, rel=0.02)
    assert np.all(np.diff(change) < 0)
    assert change[-1] / change[0] == pytest.approx(0.997**4, abs=0.006)


def test_what_moves_the_others_hardly_moves_the_difference_of_the_fluxes(
    session: Session, paused: Deck, cold: tuple[InitialGuess, Array], free: Array
) -> None:
    """From section to section the coil's current is nil, so the integral of the tank's voltage is a drop in resistances.
    With the work coil's resistance at 0.13 of its reactance (Q near 8), a few hundredths of a change show.
    """
    for state in range(3):
        perturbation = np.zeros(5)
        perturbation[state] = 0.1
        change = iterated(session, paused, cold[0], [perturbation])[0] - free[0]
        assert abs(change @ np.array(paused.slowest_mode)) < 0.06 * np.abs(change).max()


@pytest.fixture(scope="module")
def periodic(session: Session, paused: Deck, cold: tuple[InitialGuess, Array]) -> PeriodicState:
    return find_periodic_state(session, paused, cold[0])


def test_a_periodic_state_left_alone_stays(session: Session, paused: Deck, periodic: PeriodicState) -> None:
    assert periodic.guess.point is not None
    points = iterated(session, paused, periodic.guess, [np.zeros(5)] * 40)
    assert np.abs(points[-1] - periodic.guess.point).max() < 0.012
    assert np.abs(points[-1, :3] - periodic.guess.point[:3]).max() < 0.003


def test_a_periodic_state_closes(periodic: PeriodicState) -> None:
    waves = periodic.waveforms
    assert np.abs(periodic.moved).max() < 2e-3
    assert waves.time[-1] - waves.time[0] == pytest.approx(periodic.period, rel=1e-9)
    for name in ("tank.voltage", "choke.left.current", "drain.right.voltage"):
        assert abs(waves[name][-1] - waves[name][0]) < 5e-3 * np.ptp(waves[name])


def test_a_neighbour_is_found_in_few_periods(session: Session, scenario: Scenario, periodic: PeriodicState) -> None:
    near = find_periodic_state(
        session, case_deck(scenario.change({"supply.voltage": "43 V"}), "loaded", paused=True), periodic.guess
    )
    assert near.periods <= 14
    assert near.waveforms["tank.voltage"].max() / periodic.waveforms["tank.voltage"].max() == pytest.approx(43 / 42, rel=2e-3)


def test_a_shorted_turn_is_found_from_a_state_without_one(session: Session, scenario: Scenario, periodic: PeriodicState) -> None:
    """The guess lacks the branch. Its current must take the loss of each harmonic of the winding's voltage on R + jwL."""
    sound = scenario.heater("loaded")
    left = replace(sound.chokes[0], short=ShortedTurn(60.0, 20e-6))
    deck = case_deck(scenario, "loaded", replace(sound, chokes=(left, *sound.chokes[1:])), paused=True)
    found = find_periodic_state(session, deck, periodic.guess)
    waves, time = found.waveforms, found.waveforms.time
    loss = 60.0 * np.trapezoid(waves["choke.left.short_current"] ** 2, time) / (time[-1] - time[0])
    assert np.abs(found.moved).max() < 2e-3
    assert loss > 1.0
    assert loss == pytest.approx(short_loss(left, time, waves["choke.left.flux"]), rel=0.02)


def test_an_oscillation_that_ends_is_no_periodic_state(session: Session, scenario: Scenario, periodic: PeriodicState) -> None:
    heavy = scenario.change({"coil.measured.resistance": "900 mohm", "case.loaded.workpiece.measured.resistance": "1 ohm"})
    with pytest.raises(NoPeriodicState):
        find_periodic_state(session, case_deck(heavy, "loaded", paused=True), periodic.guess)


def test_a_deck_that_is_refused_is_no_periodic_state(session: Session, paused: Deck, periodic: PeriodicState) -> None:
    with pytest.raises(NoPeriodicState, match=r"refused.*\.include"):
        find_periodic_state(session, replace(paused, circuit=paused.circuit + "\n.include other.cir\n"), periodic.guess)


def test_interpolation_is_exact_for_cubics() -> None:
    nodes = np.array([0.0, 0.7, 1.1, 2.0])
    values = 3 - nodes + 0.5 * nodes**2 - 2 * nodes**3
    assert lagrange(nodes, 0.9) @ values == pytest.approx(3 - 0.9 + 0.5 * 0.81 - 2 * 0.729, rel=1e-12)
