# SPDX-License-Identifier: GPL-3.0-or-later
"""The division of a bank's current over its capacitors, against published values and against the whole circuit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatsim.parts.bank import TankCurrents, divided, rails_resistance, resonances, terminal_inductance, worst_hit
from heatsim.parts.rails import CONNECTIONS, MeasuredSegment, Rails, places
from heatsim.parts.tank import CapacitorBank
from tests.support import references_heating as ref
from tests.support.book import CLOSED, INDEPENDENT, known, listed

RAILS = Rails("same end", None, MeasuredSegment(40e-9, 0.3e-3), 25e-9)
BANK = CapacitorBank(1e-6, 10, 0.2e-3, 100e-9, None, None, RAILS)


def alone(current: complex, frequency: float = 84e3, rest: float = 0.0) -> TankCurrents:
    """A sine in the bank, as much in the coil."""
    return TankCurrents(frequency, np.array([current]), np.array([-0.98 * current]), np.array([-0.98 * current]), rest)


@pytest.mark.parametrize("row", ref.CAP)
def test_bars_of_no_length_share_the_published_current_evenly(row: tuple) -> None:
    """Published values, section 12: four capacitors of a quarter each carry a quarter of the current and of the loss."""
    c, volts, frequency, _, _, esr, *_ = row
    bank = replace(BANK, unit=c / 4, count=4, resistance=esr)
    current = 2 * np.pi * frequency * c * volts
    found = divided(bank, replace(RAILS, segment=MeasuredSegment(0.0, 0.0), own_inductance=0.0), alone(current, frequency))
    assert 4 * found.rms == listed("CAP", "current", row)
    assert 4 * esr * float(np.sum(found.rms**2)) == listed("CAP", "loss", row)
    assert found.rails_loss == 0.0


def test_places_of_the_coil_and_of_the_drains() -> None:
    assert [places(way, 10) for way in (*CONNECTIONS, "far end")] == [(1, 1), (1, 10), (5.5, 5.5), (10, 10)]


@pytest.mark.parametrize("coil", CONNECTIONS)
def test_drains_where_the_coil_is_add_nothing(coil) -> None:
    one = divided(BANK, replace(RAILS, coil=coil), alone(100.0))
    more = TankCurrents(84e3, np.array([100.0 + 0j]), np.array([-90 + 30j]), np.array([-90 + 30j]))
    assert divided(BANK, replace(RAILS, coil=coil), more).rms == pytest.approx(one.rms, rel=1e-12)


def test_drains_at_the_far_end_carry_the_current_through_the_bars() -> None:
    """All that the coil draws comes from the drains and nothing is left for the capacitors: they see the drop along the bars."""
    currents = TankCurrents(84e3, np.array([0j]), np.array([100 + 0j]), np.array([100 + 0j]))
    found = divided(BANK, replace(RAILS, drains="far end"), currents)
    assert found.rms[0] == pytest.approx(found.rms[-1], rel=1e-3) and found.rms[4] < found.rms[0] / 3
    bars = 9 * RAILS.segment.resistance * 100**2
    assert bars < found.rails_loss < 1.3 * bars


def test_opposite_ends_and_the_middle_even_out_what_the_same_end_does_not() -> None:
    uneven = [float(np.ptp(divided(BANK, RAILS, alone(100.0), way).rms)) for way in CONNECTIONS]
    assert uneven[0] > 3 * uneven[1] == pytest.approx(3 * uneven[2], rel=0.01)


def test_harmonics_add_as_squares_and_the_rest_is_shared_evenly() -> None:
    both = TankCurrents(84e3, np.array([100.0, 0.0, 5j]), np.zeros(3, complex), np.zeros(3, complex), rest=20.0)
    third = TankCurrents(3 * 84e3, np.array([5j]), np.zeros(1, complex), np.zeros(1, complex))
    squares = divided(BANK, RAILS, alone(100.0)).rms ** 2 + divided(BANK, RAILS, third).rms ** 2 + 4.0
    assert divided(BANK, RAILS, both).rms == pytest.approx(np.sqrt(squares), rel=1e-9)


def ladder(frequency: float, first: int, last: int) -> complex:
    """Impedance [ohm] of places `first` to `last` as seen from the first, series and parallel from the far end on."""
    w = 2 * np.pi * frequency
    place = BANK.count * BANK.resistance + 1j * (w * RAILS.own_inductance - 1 / (w * BANK.unit))
    seen = place
    for _ in range(last - first):
        seen = 1 / (1 / place + 1 / (seen + RAILS.segment.resistance + 1j * w * RAILS.segment.inductance))
    return seen


def test_inductance_at_the_terminals_is_that_of_the_ladder_put_together_from_its_far_end() -> None:
    frequency = 84e3
    w = 2 * np.pi * frequency
    wanted = (ladder(frequency, 1, 10).imag + 1 / (w * 10e-6)) / w
    assert terminal_inductance(BANK, RAILS, frequency) == known(
        wanted, "inductance at a bank's terminals", "ladder put together from its far end", INDEPENDENT, unit="H", rel=1e-9
    )
    half = RAILS.segment.resistance / 2 + 1j * w * RAILS.segment.inductance / 2
    middle = (ladder(frequency, 6, 10) + half) / 2
    assert terminal_inductance(BANK, replace(RAILS, coil="middle"), frequency) == pytest.approx(
        (middle.imag + 1 / (w * 10e-6)) / w, rel=1e-9
    )
    assert terminal_inductance(BANK, replace(RAILS, coil="opposite ends"), frequency) is None


def test_a_resonance_near_a_harmonic_is_told_and_one_that_is_not_driven_is_weak() -> None:
    first = float(resonances(BANK, RAILS, 84e3)[0])
    harmonics = np.array([100.0, 0.0, 5.0], dtype=complex)
    currents = TankCurrents(first / 3.1, harmonics, np.zeros(3, complex), np.zeros(3, complex))
    hit = worst_hit(BANK, RAILS, currents, divided(BANK, RAILS, currents))
    assert hit is not None and hit.order == 3 and hit.frequency == pytest.approx(first) and hit.current > 20
    symmetric = replace(RAILS, coil="middle")
    weak = worst_hit(BANK, symmetric, currents, divided(BANK, symmetric, currents))
    assert weak is not None and weak.current < 1.02 * divided(BANK, symmetric, currents).rms.max()
    away = replace(currents, frequency=first / 3.5)
    assert worst_hit(BANK, RAILS, away, divided(BANK, RAILS, away)) is None


def test_a_rating_by_frequency_is_straight_in_logarithms_and_held_beyond_its_ends() -> None:
    rails = replace(RAILS, rating=((50e3, 32.0), (200e3, 8.0)))
    assert rails.rated_current(100e3) == pytest.approx(16.0)
    assert [rails.rated_current(f) for f in (10e3, 1e6)] == pytest.approx([32.0, 8.0])
    assert [rails.beyond_rating(f) for f in (10e3, 50e3, 100e3, 1e6)] == [True, False, False, True]
    assert RAILS.rated_current(1e5) is None and not RAILS.beyond_rating(1e5)


@pytest.mark.parametrize("coil", CONNECTIONS)
def test_resistance_of_the_bars_is_that_of_capacitors_that_share_evenly(coil) -> None:
    """At 100 Hz the capacitors' reactance is millions of times that of the bars: each carries 1/n, and a segment what is beyond
    it. Loss at 1 A: R/2 of either bar times the sum of the squares of these shares, from the end or, for the middle, from both."""
    n, (left, right) = BANK.count, places(coil, BANK.count)
    shares = [(k / n if k < at else (n - k) / n) for at in (left, right) for k in range(1, n)]
    found = rails_resistance(BANK, replace(RAILS, coil=coil, drains="far end"), 100.0)
    wanted = RAILS.segment.resistance / 2 * sum(share**2 for share in shares)
    assert found == known(
        wanted, f"resistance of a bank's bars, coil at: {coil}", "even shares by hand", CLOSED, unit="ohm", rel=1e-3
    )
