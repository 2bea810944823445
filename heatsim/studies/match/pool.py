# SPDX-License-Identifier: GPL-3.0-or-later
"""Simulations for `match` on a pool, with the answers of earlier runs from the cache, and what its worker processes do."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cached_property, partial
from pathlib import Path
from typing import Any, Self

from heatsim.engine import simulators
from heatsim.errors import SetupError
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CheckResult, check_on
from heatsim.studies.match.cache import AnswerCache
from heatsim.studies.match.faults import fault_models
from heatsim.studies.match.fit import HypothesisFit
from heatsim.studies.match.hypothesis import Dataset
from heatsim.studies.match.refinement import refined_together
from heatsim.studies.match.response_library import response_surface, sensitivities_of, step_error_of
from heatsim.studies.match.search import hypotheses
from heatsim.studies.match.solver import NoSolution, Solution, Solver
from heatsim.tasks import Context, Failed, Task, Told

WEAR = 2
"""Share of a worker's life that a simulation takes, see `heatsim.engine.pool`."""

CACHED = ("start", "slopes", "surface")
"""Questions whose answers serve other captures of the same heater."""

Question = tuple[str, tuple[Any, ...]]
"""Name in `QUESTIONS`, and its arguments."""

Answer = tuple[Any, int]
"""What a task found, and how many simulations that took."""


class MatchPool:
    """Use it in a `with` statement.

    workers: processes, by default one a core; folder: of the cache, None for no cache
    simulations: how many were made so far; spared: how many were not, because their answers were in the cache
    """

    def __init__(self, workers: int | None = None, folder: Path | None = None) -> None:
        self._pool = simulators(workers, "heatsim.studies.match.pool:ready")
        self._folder = folder
        self.simulations = self.spared = 0

    @property
    def version(self) -> str:
        """Of the simulator. SetupError when it cannot be started."""
        return self._pool.about

    @cached_property
    def _cache(self) -> AnswerCache | None:
        return AnswerCache(self._folder, self.version) if self._folder else None

    def each(self, questions: Sequence[Question]) -> Iterator[tuple[int, Any]]:
        """(number of the question, its answer or Failed), as they come. SetupError when the simulator cannot be started."""
        kept = {number: asked for number, question in enumerate(questions) if (asked := _asked(question)) and self._cache}
        known: dict[int, Answer] = {n: found for n, asked in kept.items() if self._cache and (found := self._cache.get(asked))}
        running = {
            self._pool.submit(Task("heatsim.studies.match.pool:answer", question, wear=WEAR)): number
            for number, question in enumerate(questions)
            if number not in known
        }
        for number, (answer, simulations) in known.items():
            self.spared += simulations
            yield number, answer
        for event in self._pool.as_completed():
            number = running[event.number]
            if isinstance(event, Failed):
                yield number, event
            elif not isinstance(event, Told):
                answer, simulations = event.value
                self.simulations += simulations
                if self._cache and number in kept and not isinstance(answer, Failed):
                    self._cache.put(kept[number], event.value)
                yield number, answer

    def one(self, question: Question) -> Any:
        """The answer to one question."""
        return next(self.each([question]))[1]

    def checked(self, scenarios: Sequence[Scenario | None]) -> list[CheckResult | None]:
        """Scenarios judged by every limit in every case, all at once; None for those that are none."""
        found = iter(check_on(self._pool, [each for each in scenarios if each is not None]))
        return [None if each is None else next(found) for each in scenarios]

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self._pool.close()


def not_started(case: str, voltage: float, failed: Failed) -> SetupError:
    """That a case cannot be simulated at a supply voltage [V]."""
    return SetupError(f"case {case} at {voltage:g} V cannot be simulated, so nothing can be compared: {failed.cause}")


def _asked(question: Question) -> tuple[Any, ...] | None:
    """What an answer depends on, where it is worth keeping: heater, signals, steps, and the name of the fault model. The
    sound heater's solution among the arguments follows from these."""
    name, arguments = question
    return (name, arguments[0], *(each for each in arguments[1:] if isinstance(each, str))) if name in CACHED else None


Setting = tuple[Heater, tuple[str, ...], int]
"""Heater, signals whose lines are wanted, steps a period."""

MakeSolver = Callable[..., Solver]
"""`Solver` on this process's session, which tells of every simulation: a long question is not taken for one that hangs."""


def start(make: MakeSolver, setting: Setting, limit: float) -> Answer:
    """The sound heater, from a cold start."""
    solver = make(*setting[1:])
    return solver.start(setting[0], limit), solver.solved


def slopes(make: MakeSolver, setting: Setting, begun: Solution) -> Answer:
    """Sensitivities to the nuisance parameters, and what finer steps change."""
    solver = make(*setting[1:])
    found = sensitivities_of(solver, setting[0], begun), step_error_of(solver, setting[0], begun)
    return found, solver.solved + 2


def surface(make: MakeSolver, setting: Setting, begun: Solution, name: str) -> Answer:
    """A fault's response surface, without the fault model."""
    fault, solver = next(each for each in fault_models(setting[0]) if each.name == name), make(*setting[1:])
    return response_surface(solver, setting[0], begun, fault).plain, solver.solved


def settle(
    make: MakeSolver,
    datasets: Sequence[Dataset],
    steps: int,
    fits: Sequence[tuple[str, dict[str, Any]]],
    best: float,
    thorough: bool,
) -> Answer:
    """Fits of the same heater, each as its `plain`, corrected by the simulator, None where there is no periodic state.

    best, thorough: see `refined_together`
    """
    known = {each.name: each for each in hypotheses(datasets)}
    solvers = [make(dataset.library.signals, steps) for dataset in datasets]
    found = refined_together(solvers, datasets, [HypothesisFit(known[name], **rest) for name, rest in fits], best, thorough)
    return [one and one.plain for one in found], sum(solver.solved for solver in solvers)


def solve(make: MakeSolver, heater: Heater, signals: tuple[str, ...], steps: int, near: Solution) -> Answer:
    """One heater with all its waveforms."""
    return make(signals, steps, whole=True).solve(heater, near), 1


QUESTIONS: dict[str, Callable[..., Answer]] = {each.__name__: each for each in (start, slopes, surface, settle, solve)}


def ready() -> str:
    """Start the simulator of a worker, which has loaded this module by now, so that its first question need not wait; returns the
    simulator's version."""
    import scipy.optimize  # noqa: F401

    from heatsim.engine.worker import start

    return start()


def answer(context: Context, name: str, arguments: tuple[Any, ...]) -> Answer:
    """The answer to a question, `Failed` where there is no periodic state, and how many simulations it took."""
    from heatsim.engine.worker import simulator

    session = simulator()
    try:
        return QUESTIONS[name](partial(Solver, session, tell=context.tell), *arguments)
    except NoSolution as problem:
        return Failed(0, "fault", str(problem)), 0
    finally:
        context.worn = session.poisoned
