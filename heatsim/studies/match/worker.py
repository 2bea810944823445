# SPDX-License-Identifier: GPL-3.0-or-later
"""What a worker process does for `match`: one step of a response library or of the search."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from heatsim.engine.worker import simulator
from heatsim.parts.heater import Heater
from heatsim.studies.match.faults import fault_models
from heatsim.studies.match.fit import HypothesisFit
from heatsim.studies.match.hypothesis import Dataset
from heatsim.studies.match.nuisance import nuisance_parameters
from heatsim.studies.match.response_library import response_surface, sensitivities_of, step_error_of
from heatsim.studies.match.search import hypotheses, refined
from heatsim.studies.match.solver import NoSolution, Solution, Solver
from heatsim.tasks import Context, Failed

Setting = tuple[Heater, tuple[str, ...], int]
"""Heater, signals whose lines are wanted, steps a period."""


MakeSolver = Callable[..., Solver]
"""`Solver` on this process's session, which tells of every simulation: a long question is not taken for one that hangs."""

Answer = tuple[Any, int]
"""What a task found, and how many simulations that took."""


def start(make: MakeSolver, setting: Setting, limit: float) -> Answer:
    """The sound heater, from a cold start."""
    solver = make(*setting[1:])
    return solver.start(setting[0], limit), solver.solved


def slopes(make: MakeSolver, setting: Setting, begun: Solution) -> Answer:
    """Sensitivities to the nuisance parameters, and what finer steps change."""
    solver = make(*setting[1:])
    found = sensitivities_of(solver, setting[0], begun, nuisance_parameters(setting[0])), step_error_of(solver, setting[0], begun)
    return found, solver.solved + 2


def surface(make: MakeSolver, setting: Setting, begun: Solution, name: str) -> Answer:
    """A fault's response surface, without the fault model."""
    fault, solver = next(each for each in fault_models(setting[0]) if each.name == name), make(*setting[1:])
    return response_surface(solver, setting[0], begun, fault).plain, solver.solved


def settle(make: MakeSolver, datasets: Sequence[Dataset], steps: int, name: str, rest: dict[str, Any]) -> Answer:
    """A fit, as its `plain`, corrected by the simulator."""
    hypothesis = next(h for h in hypotheses(datasets) if h.name == name)
    solvers = [make(dataset.library.signals, steps) for dataset in datasets]
    one, _ = refined(solvers, datasets, HypothesisFit(hypothesis, **rest))
    return one.plain, sum(solver.solved for solver in solvers)


def solve(make: MakeSolver, heater: Heater, signals: tuple[str, ...], steps: int, near: Solution) -> Answer:
    """One heater with all its waveforms."""
    return make(signals, steps, whole=True).solve(heater, near), 1


QUESTIONS: dict[str, Callable[..., Answer]] = {each.__name__: each for each in (start, slopes, surface, settle, solve)}


def answer(context: Context, name: str, arguments: tuple[Any, ...]) -> Answer:
    """The answer to a question, `Failed` where there is no periodic state, and how many simulations it took."""
    session = simulator()
    try:
        return QUESTIONS[name](partial(Solver, session, tell=context.tell), *arguments)
    except NoSolution as problem:
        return Failed(0, "fault", str(problem)), 0
    finally:
        context.worn = session.poisoned
