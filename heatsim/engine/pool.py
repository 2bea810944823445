# SPDX-License-Identifier: GPL-3.0-or-later
"""Decks to runs on several worker processes: a crash or a hang costs one deck, never the batch."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager

from heatsim.engine.ladder import LADDER
from heatsim.engine.outcome import Attempt, Outcome, Run
from heatsim.netlist.deck import Deck
from heatsim.tasks import Done, Event, Failed, LocalPool, Task, kept_workers
from heatsim.tasks.kept import Making, Stock

Progress = Callable[[int, float, float], None]
"""Called with deck index, simulated time so far and the time now aimed at [s]. The time so far never falls, not even
when a deck is tried again; a finished deck is told with both equal to its end."""

GRACE = 30.0
"""Seconds of silence beyond the time limit after which a worker is killed: on a busy machine it may take long to hand over
what it has."""

TIME_LIMIT = 600.0
"""Wall clock a deck may take [s]: the last guard, because what a deck comes to must not depend on the machine."""

START = "heatsim.engine.worker:start"
"""What a worker calls first, by default."""

LIFE, WEAR = 400, 10
"""A worker is replaced after so much wear, of which a deck takes so much, so that memory cannot creep."""

FOREIGN = ("SPICE_SCRIPTS", "SPICE_LIB_DIR", "SPICE_EXEC_DIR", "NGSPICE_INPUT_DIR", "USERPROFILE")
"""Environment variables by which the simulator would find start-up files of the user's."""


def simulators(size: int | None = None, start: str = START) -> LocalPool:
    """A pool of processes with a simulator each, by default one a core; its `about` is the simulator's version.

    start: import path of what each calls first, if that does more than start the simulator
    """
    return LocalPool(size, *_making(start))


def kept_simulators(size: int, start: str = START) -> AbstractContextManager[Stock]:
    """Simulators that begin to start now, for the pools made by `simulators` in the block; see `heatsim.tasks.kept_workers`."""
    return kept_workers(size, *_making(start))


def _making(start: str = START) -> Making:
    return start, LIFE, simulator_variables()


def simulator_variables() -> dict[str, str]:
    """This process's environment without what leads to start-up files; the simulator's library by its absolute path."""
    kept = {name: value for name, value in os.environ.items() if name not in FOREIGN}
    library = kept.get("NGSPICE_LIBRARY_PATH", "")
    return kept | ({"NGSPICE_LIBRARY_PATH": os.path.abspath(library)} if os.path.dirname(library) else {})


def run_deck(deck: Deck, time_limit: float = TIME_LIMIT, progress: Progress | None = None) -> Run:
    """Run one deck in a worker of its own."""
    return run_decks([deck], 1, time_limit, progress)[0]


def run_decks(
    decks: Sequence[Deck],
    workers: int | None = None,
    time_limit: float = TIME_LIMIT,
    progress: Progress | None = None,
    grace: float = GRACE,
) -> list[Run]:
    """Run every deck, results in the order of the decks. Always one Run a deck, whatever happens to it.

    workers: processes, by default one a core but no more than decks
    time_limit: wall clock [s] for each deck, at which it stops by itself
    grace: silence [s] beyond, after which a worker is killed
    Raises SetupError when the simulator is not installed; KeyboardInterrupt ends the workers at once.
    """
    with simulators(max(1, min(workers or os.cpu_count() or 1, len(decks)))) as pool:
        return run_on(pool, decks, time_limit, progress, grace)


def run_on(
    pool: LocalPool, decks: Sequence[Deck], time_limit: float = TIME_LIMIT, progress: Progress | None = None, grace: float = GRACE
) -> list[Run]:
    """As `run_decks`, on a pool of simulators."""
    stories = [_Story(deck) for deck in decks]
    numbers = {
        pool.submit(Task("heatsim.engine.worker:run", (deck, time_limit), time_limit, grace, WEAR)): index
        for index, deck in enumerate(decks)
    }
    for event in pool.as_completed():
        index = numbers[event.number]
        story = stories[index]
        target = story.hear(event, pool)
        if progress is not None and target is not None:
            progress(index, story.furthest, max(story.furthest, target))
    return [story.run for story in stories if story.run is not None]


class _Story:
    """What is known of a deck's run."""

    def __init__(self, deck: Deck) -> None:
        self.deck = deck
        self.attempts: list[Attempt] = []
        self.reached = self.furthest = 0.0
        self.run: Run | None = None

    def hear(self, event: Event, pool: LocalPool) -> float | None:
        """Take in what its worker tells; returns the time aimed at [s], None if there is no progress to tell of."""
        target: float | None = 0.0
        if isinstance(event, Done):
            self.run = event.value
        elif isinstance(event, Failed):
            self.run = self._failed(event, pool.about)
        elif isinstance(event.message, Attempt):
            self.attempts.append(event.message)
            target = None
        else:
            self.reached, target = event.message
        if self.run is not None:
            self.reached = self.run.deck.transient.stop
        self.furthest = max(self.furthest, self.reached)
        return target

    def _failed(self, failed: Failed, version: str) -> Run:
        """The run of a worker that could not tell it: the attempts it had told of and the one it was at."""
        outcome: Outcome = "unsolved" if failed.reason == "fault" else "stalled"
        detail = f"{failed.cause}, with {self.reached * 1e3:.3g} ms simulated" if outcome == "stalled" else failed.cause
        if failed.reason == "hung":
            detail = f"gave up after {failed.wall_s:.3g} s of wall time on this machine: not a property of the circuit; {detail}"
        rung = LADDER[min(len(self.attempts), len(LADDER) - 1)]
        wall = failed.wall_s - sum(attempt.wall_s for attempt in self.attempts)
        last = Attempt(rung, outcome, detail, wall, self.reached)
        return Run(outcome, detail, None, self.deck.lasting(self.reached), (*self.attempts, last), failed.wall_s, version)
