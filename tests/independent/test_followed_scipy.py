# SPDX-License-Identifier: GPL-3.0-or-later
"""Periodic states found on the simulator against periodic solutions of the SciPy integration, ten circuits.

Allowed: 0.1 % of frequency, 0.5 % of tank and drain peaks and of supply current, 1 % of the chokes' peaks.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatsim.engine.session import Session
from heatsim.engine.shooting import NoPeriodicState, PeriodicState, find_periodic_state, guess_at_section
from heatsim.engine.simulate import simulate
from heatsim.netlist.generate import make_deck
from heatsim.parts.heater import Heater
from tests.support.independent.circuits import CIRCUITS, bench
from tests.support.independent.measure import numbers
from tests.support.independent.solve import Integrator, periodic

pytestmark = pytest.mark.ngspice

TEN = CIRCUITS | {
    "half load, 50 V": lambda: bench(supply__voltage="50 V", case__loaded__workpiece__share="50 %"),
    "thin reservoir": lambda: bench(supply__reservoir="100 uF", supply__resistance="60 mohm", capacitors__count=5),
}

ALLOWED = {
    "frequency": 0.001,
    "tank peak": 0.005,
    "coil rms": 0.005,
    "supply mean": 0.005,
    "drain left peak": 0.005,
    "drain right peak": 0.005,
}
"""Relative; the chokes' peaks 1 %."""


def found_from_cold(session: Session, heater: Heater) -> PeriodicState:
    """From a cold start looked at once; where the search fails from there, from one that has settled, as a strip does."""
    deck, paused = replace(make_deck(heater, "second leg"), every=True), make_deck(heater, "second leg", paused=True)
    for limit in (deck.settle.first, deck.settle.limit):
        simulate(session, replace(deck, settle=replace(deck.settle, limit=limit)), 120)
        guess = guess_at_section(session, deck)
        assert guess is not None
        try:
            return find_periodic_state(session, paused, guess)
        except NoPeriodicState as error:
            failure = error
    raise failure


@pytest.mark.slow
@pytest.mark.parametrize("name", TEN)
def test_a_periodic_state_is_the_other_legs(session: Session, name: str) -> None:
    heater = TEN[name]()
    waves = found_from_cold(session, heater).waveforms
    found = numbers(waves.time, waves.signals, 1)
    settled = periodic(Integrator(heater))
    wanted = numbers(settled.time, settled.signals, 1)
    apart = {what: (found[what] / value - 1) / ALLOWED.get(what, 0.01) for what, value in wanted.items()}
    assert len(apart) >= 7
    assert max(map(abs, apart.values())) < 1, ", ".join(f"{what} {share:+.2f}" for what, share in apart.items())
