# SPDX-License-Identifier: GPL-3.0-or-later
"""Simulated lines of a heater: its periodic state on the simulator, found from that of a neighbour."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from heatsim.engine import MEASURABLE
from heatsim.measures.lines import BANDS, band_powers, lines_of_period
from heatsim.measures.solving import Complex
from heatsim.netlist.generate import make_deck
from heatsim.netlist.slow import currents_of, fluxes_of, slow_states
from heatsim.parts.heater import Heater
from heatsim.studies.match.metered import metered
from heatsim.waves import Array, Waveforms

if TYPE_CHECKING:
    from heatsim.engine.session import Session
    from heatsim.engine.shooting import InitialGuess

COUNT = 40
"""Highest order of the lines kept."""

REFERENCE = "tank.voltage"


@dataclass(frozen=True)
class Solution:
    """A heater's periodic state.

    frequency: [Hz]
    lines: signal -> peak amplitudes in the phase of the tank's fundamental, shape (COUNT + 1,)
    bands: signal -> rms in each of `BANDS`
    seed: what neighbours start from
    waveforms: of one period
    meters: see `metered`
    """

    heater: Heater = field(repr=False)
    frequency: float
    lines: dict[str, Complex]
    bands: dict[str, Array]
    seed: InitialGuess
    waveforms: Waveforms
    meters: Array = field(default_factory=lambda: np.zeros(0))

    @property
    def point(self) -> Array:
        """Slow states over their scales."""
        assert self.seed.point is not None
        return self.seed.point

    def point_in(self, heater: Heater) -> Array:
        """Slow states of another heater over its scales: voltages as they are over theirs, the chokes' currents as they are."""
        point, old = self.point.copy(), self.heater
        shared = old.mutual_inductance != heater.mutual_inductance
        if not shared and all(was.curve == now.curve for was, now in zip(old.chokes, heater.chokes, strict=True)):
            return point
        before, after = slow_states(old), slow_states(heater)
        places = [k for k, state in enumerate(after) if state.name.startswith("choke.")]
        currents = currents_of(old, [point[k] * before[k].scale for k in places])
        pairs = zip(old.chokes, heater.chokes, fluxes_of(heater, currents), strict=True)
        for k, (was, now, flux) in zip(places, pairs, strict=True):
            if shared or was.curve != now.curve:
                point[k] = flux / after[k].scale
        return point


class NoSolution(Exception):
    """The heater has no periodic state, or it was not found; the text says why."""


class Solver:
    """Solves heaters on one session, and counts them in `solved`.

    signals: those whose lines are wanted, beside the tank voltage
    whole: keep the waveforms of every signal, not of these alone
    tell: called with the number of heaters solved before each further one
    """

    def __init__(
        self,
        session: Session,
        signals: Sequence[str],
        steps_per_period: int = 200,
        whole: bool = False,
        tell: Callable[[int], object] = lambda solved: None,
    ) -> None:
        self.session, self.steps, self.whole, self.tell = session, steps_per_period, whole, tell
        self.signals = tuple(dict.fromkeys((REFERENCE, *signals)))
        self.solved = 0

    def solve(self, heater: Heater, near: Solution, point: Array | None = None) -> Solution:
        """The periodic state next to a neighbour's; point: where the slow states are expected. Raises NoSolution."""
        return self._solve(heater, near.seed, near.point_in(heater) if point is None else point)

    def _solve(self, heater: Heater, seed: InitialGuess, point: Array | None) -> Solution:
        from heatsim.engine.shooting import NoPeriodicState, find_periodic_state

        self.tell(self.solved)
        self.solved += 1
        try:
            deck = make_deck(heater, "hypothesis", self.steps, paused=True)
            found = find_periodic_state(self.session, deck, seed, point)
        except (NoPeriodicState, ValueError) as problem:
            raise NoSolution(str(problem)) from None
        return self._read(heater, found.waveforms, found.guess)

    def free_run(self, near: Solution, count: int) -> list[Solution]:
        """Successive periods of a heater left to itself from its periodic state on. Raises NoSolution."""
        from heatsim.engine.shooting import NoPeriodicState, free_periods

        self.tell(self.solved)
        self.solved += 1
        deck = make_deck(near.heater, "free run", self.steps, paused=True)
        try:
            return [self._read(near.heater, waves, near.seed) for waves in free_periods(self.session, deck, near.seed, count)]
        except NoPeriodicState as problem:
            raise NoSolution(str(problem)) from None

    def _read(self, heater: Heater, waves: Waveforms, seed: InitialGuess) -> Solution:
        """A period's lines, in the phase of the tank's fundamental."""
        turn = float(np.angle(lines_of_period(waves.time, waves[REFERENCE], 1)[1]))
        every = {name: lines_of_period(waves.time, waves[name], BANDS[-1], turn) for name in self.signals}
        lines = {name: c[: COUNT + 1] for name, c in every.items()}
        bands = {name: np.sqrt(band_powers(c)) for name, c in every.items()}
        kept = waves if self.whole else waves.only(self.signals)
        return Solution(heater, 1 / waves.duration, lines, bands, seed, kept, metered(heater, waves))

    def start(self, heater: Heater, limit: float = 60.0) -> Solution:
        """The periodic state a cold start leads to; limit: of the wall clock [s]. Raises NoSolution with the cause."""
        from heatsim.engine.shooting import guess_at_section
        from heatsim.engine.simulate import simulate

        deck = replace(make_deck(heater, "start", self.steps), every=True)
        run = simulate(self.session, deck.to_first_look(), limit)
        seed = guess_at_section(self.session, deck) if run.outcome in MEASURABLE else None
        if seed is None:
            raise NoSolution(f"the scenario's own heater does not start: {run.outcome} {run.detail}".strip())
        return self._solve(heater, seed, None)
