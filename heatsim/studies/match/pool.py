# SPDX-License-Identifier: GPL-3.0-or-later
"""Simulations for `match` on a pool, with the answers of earlier runs from the cache."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Self

from heatsim.engine import simulators
from heatsim.studies.match.cache import AnswerCache
from heatsim.tasks import Failed, Task, Told

WEAR = 2
"""Share of a worker's life that a simulation takes, see `heatsim.engine.pool`."""

CACHED = ("start", "slopes", "surface")
"""Questions whose answers serve other captures of the same heater."""

Question = tuple[str, tuple[Any, ...]]
"""Name of a function in `heatsim.studies.match.worker`, and its arguments."""


class MatchPool:
    """Use it in a `with` statement.

    workers: processes, by default one a core; folder: of the cache, None for no cache
    simulations: how many were made so far; spared: how many were not, because their answers were in the cache
    """

    def __init__(self, workers: int | None = None, folder: Path | None = None) -> None:
        self._pool = simulators(workers)
        self._folder = folder
        self._cache: AnswerCache | None = None
        self.simulations = self.spared = 0

    @property
    def version(self) -> str:
        """Of the simulator. SetupError when it cannot be started."""
        return self._pool.about

    def each(self, questions: Sequence[Question]) -> Iterator[tuple[int, Any]]:
        """(number of the question, its answer or Failed), as they come. SetupError when the simulator cannot be started."""
        known = {number: self._cached(question) for number, question in enumerate(questions)}
        running = {
            self._pool.submit(Task("heatsim.studies.match.worker:answer", questions[number], wear=WEAR)): number
            for number, found in known.items()
            if found is None
        }
        for number, found in known.items():
            if found is not None:
                self.spared += found[1]
                yield number, found[0]
        for event in self._pool.as_completed():
            number = running[event.number]
            if isinstance(event, Failed):
                yield number, event
            elif not isinstance(event, Told):
                yield number, self._new(questions[number], event.value)

    def one(self, question: Question) -> Any:
        """The answer to one question."""
        return next(self.each([question]))[1]

    def _cached(self, question: Question) -> tuple[Any, int] | None:
        """An answer in the cache and how many simulations it took."""
        asked = _asked(question)
        if self._folder is None or asked is None:
            return None
        self._cache = self._cache or AnswerCache(self._folder, self.version)
        found: tuple[Any, int] | None = self._cache.get(asked)
        return found

    def _new(self, question: Question, found: tuple[Any, int]) -> Any:
        """A new answer, put into the cache."""
        answer, simulations = found
        self.simulations += simulations
        asked = _asked(question)
        if self._cache is not None and asked is not None and not isinstance(answer, Failed):
            self._cache.put(asked, found)
        return answer

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self._pool.close()


def _asked(question: Question) -> tuple[Any, ...] | None:
    """What an answer depends on, where it is worth keeping: heater, signals, steps, and the name of the fault model. The
    sound heater's solution among the arguments follows from these."""
    name, arguments = question
    if name not in CACHED:
        return None
    return name, arguments[0], *(each for each in arguments[1:] if isinstance(each, str))
