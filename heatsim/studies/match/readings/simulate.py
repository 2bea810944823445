# SPDX-License-Identifier: GPL-3.0-or-later
"""What meters would read of a heater: simulated steady states, measured with the functions that `check` uses."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from heatsim.errors import SetupError
from heatsim.measures.gather import measure
from heatsim.netlist.generate import make_deck
from heatsim.parts.heater import Heater
from heatsim.studies.check import heat_of_period, measure_context
from heatsim.studies.match.pool import MatchPool, Question, not_started
from heatsim.studies.match.readings.meters import Readable
from heatsim.studies.match.readings.unknowns import Bench
from heatsim.studies.match.solver import REFERENCE, Solution
from heatsim.tasks import Failed
from heatsim.waves import Array

PERIODS = 4
"""Measures are taken over so many copies of a period, less one."""

STEP, LOG_STEP = 1.0, 0.1
"""Differences reach so many standard deviations of an unknown, and no further than this in any model parameter that is free."""


@dataclass(frozen=True)
class Read:
    """A quantity that is read; after: time since a cold start [s], None in the steady state."""

    what: Readable
    after: float | None = None


def numbers(heater: Heater, solution: Solution, reads: Sequence[Read], steps: int) -> Array:
    """What meters would show, nan for what cannot be told, shape (reads,)."""
    waves = solution.waveforms.repeated(PERIODS)
    deck = make_deck(heater, "as read", steps)
    measures: dict[str, Any] = dict(measure(waves, measure_context(heater, deck, False, PERIODS - 1)))
    for choke in heater.chokes:
        part = f"choke.{choke.side}.temperature"
        times = {each.after for each in reads if each.what.key == part and each.after is not None}
        warming = heat_of_period(choke, heater, solution.waveforms, measures).warming if times else None
        measures |= {f"{part} {time:g}": warming.temperature(time) if warming else None for time in times}
    found = [measures.get(f"{each.what.key} {each.after:g}" if each.after is not None else each.what.measure) for each in reads]
    return np.array([x if isinstance(x, float) else np.nan for x in found])


class Simulator:
    """Simulates a bench on a pool; it remembers where it was last, and begins there.

    used: number of conditions, the first ones, in which something was read
    reads: what is read in every condition
    tell: called before each batch of simulations with their number
    """

    def __init__(
        self,
        pool: MatchPool,
        bench: Bench,
        used: int,
        reads: Sequence[Read],
        steps: int,
        limit: float,
        tell: Callable[[int], object],
    ) -> None:
        self.pool, self.bench, self.used, self.reads, self.steps, self.tell = pool, bench, used, tuple(reads), steps, tell
        self.here = self._starts(limit)
        self.values = np.full((len(bench.conditions), len(self.reads)), np.nan)

    def _starts(self, limit: float) -> list[Solution]:
        found: dict[int, Solution] = {}
        self.tell(len(self.bench.sound))
        asked: list[Question] = [("start", ((heater, (REFERENCE,), self.steps), limit)) for heater in self.bench.sound]
        for k, answer in self.pool.each(asked):
            if isinstance(answer, Failed) and k < self.used:
                at = self.bench.conditions[k]
                raise not_started(at.case, at.supply_voltage, answer)
            if not isinstance(answer, Failed):
                found[k] = answer
        return [found.get(k, found[0]) for k in range(len(asked))]

    def __call__(self, t: Array) -> Array | None:
        """What would be read in every condition in use, shape (conditions, reads), nan for the others; None where one of them has
        no steady state."""
        answers = self._solved([(k, t) for k in range(self.used)])
        if any(each is None for each in answers):
            return None
        self._remember(range(self.used), answers)
        return self.values

    def _remember(self, places: Sequence[int], answers: Sequence[Solution | None]) -> None:
        for k, answer in zip(places, answers, strict=True):
            if answer is not None:
                self.here[k] = answer
                self.values[k] = numbers(answer.heater, answer, self.reads, self.steps)

    def further(self, t: Array) -> Array:
        """Slopes as `slopes`, of the conditions that are not in use; nan, as their values, where there is no steady state."""
        places = range(self.used, len(self.here))
        self._remember(places, self._solved([(k, t) for k in places]))
        return self._slopes([k for k in places if np.any(np.isfinite(self.values[k]))], t)[0]

    def _solved(self, asked: Sequence[tuple[int, Array]]) -> list[Solution | None]:
        """The steady states of conditions k at unknowns t."""
        found: list[Solution | None] = [None] * len(asked)
        questions: list[Question] = []
        places = []
        for place, (k, t) in enumerate(asked):
            try:
                heater = self.bench.heater(k, t)
            except ValueError:
                continue
            questions.append(("solve", (heater, (REFERENCE,), self.steps, self.here[k])))
            places.append(place)
        self.tell(len(questions))
        for number, answer in self.pool.each(questions):
            found[places[number]] = None if isinstance(answer, Failed) else answer
        return found

    def slopes(self, t: Array) -> Array:
        """Derivatives of all that is read in the conditions in use at t, where it was simulated last, shape (conditions, reads,
        unknowns), nan for the other conditions.

        Raises SetupError where neither side of t has a steady state.
        """
        found, lost = self._slopes(range(self.used), t)
        if lost:
            raise SetupError(f"what these change cannot be simulated: {', '.join(lost)}")
        return found

    def _slopes(self, conditions: Sequence[int], t: Array) -> tuple[Array, list[str]]:
        """Derivatives, and names of the unknowns whose are missing somewhere."""
        steps = np.array([_step(each.deviation, each.free) for each in self.bench.unknowns])
        count = len(steps)
        asked = [(k, j) for k in conditions for j in range(count)]
        found = np.full((len(self.here), len(self.reads), count), np.nan)
        for sign in (1.0, -1.0, 0.25):
            answers = self._solved([(k, t + sign * steps * (np.arange(count) == j)) for k, j in asked])
            for (k, j), answer in zip(asked, answers, strict=True):
                if answer is not None:
                    there = numbers(answer.heater, answer, self.reads, self.steps)
                    found[k, :, j] = (there - self.values[k]) / (sign * steps[j])
            asked = [pair for pair, answer in zip(asked, answers, strict=True) if answer is None]
        return found, list(dict.fromkeys(self.bench.unknowns[j].name for _, j in asked))


def _step(deviation: float, free: bool) -> float:
    return min(STEP, LOG_STEP / deviation) if free else STEP
