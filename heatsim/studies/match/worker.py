# SPDX-License-Identifier: GPL-3.0-or-later
"""A worker process of `match`: one step of an atlas or of the search for each message in.

Started by `heatsim.studies.match.crew` with `python -m heatsim.studies.match.worker`; never by hand. Messages in: (name of a task
in `TASKS`, its arguments). Messages out: ("ready", version) or ("setup", text) once; then for each task ("done", answer, number of
simulations, worn), ("none", text) when there is no periodic state, or ("fault", text).
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, BinaryIO

from heatsim.engine.worker import main, send
from heatsim.parts.heater import Heater
from heatsim.studies.match.faults import kinds_of
from heatsim.studies.match.fit import Fit, Site
from heatsim.studies.match.nuisance import tolerances_of
from heatsim.studies.match.response_library import finer_of, sheet_of, slopes_of
from heatsim.studies.match.search import hypotheses, settled
from heatsim.studies.match.solver import NoSolution, Solution, Solver

if TYPE_CHECKING:
    from heatsim.engine.session import Session

Setting = tuple[Heater, tuple[str, ...], int]
"""Heater, signals whose lines are wanted, steps a period."""


Answer = tuple[Any, int]
"""What a task found, and how many simulations that took."""


def start(session: Session, setting: Setting, limit: float) -> Answer:
    """The sound heater, from a cold start."""
    solver = Solver(session, *setting[1:])
    return solver.start(setting[0], limit), solver.solved


def slopes(session: Session, setting: Setting, begun: Solution) -> Answer:
    """Slopes in the tolerances, and what finer steps change."""
    solver = Solver(session, *setting[1:])
    found = slopes_of(solver, setting[0], begun, tolerances_of(setting[0])), finer_of(solver, setting[0], begun)
    return found, solver.solved + 1


def sheet(session: Session, setting: Setting, begun: Solution, name: str) -> Answer:
    """A kind's sheet, without the kind."""
    kind, solver = next(kind for kind in kinds_of(setting[0]) if kind.name == name), Solver(session, *setting[1:])
    try:
        return sheet_of(solver, setting[0], begun, kind).plain, solver.solved
    except ValueError as problem:
        raise NoSolution(str(problem)) from None


def settle(session: Session, sites: Sequence[Site], steps: int, name: str, rest: dict[str, Any]) -> Answer:
    """A fit, as its `plain`, set right by the simulator."""
    hypothesis = next(h for h in hypotheses(sites) if h.name == name)
    solvers = [Solver(session, site.atlas.signals, steps) for site in sites]
    one, _ = settled(solvers, sites, Fit(hypothesis, **rest))
    return one.plain, sum(solver.solved for solver in solvers)


def solve(session: Session, heater: Heater, signals: tuple[str, ...], steps: int, near: Solution) -> Answer:
    """One heater with all its waveforms."""
    return Solver(session, signals, steps, whole=True).solve(heater, near), 1


TASKS: dict[str, Callable[..., Answer]] = {task.__name__: task for task in (start, slopes, sheet, settle, solve)}


def serve(session: Session, message: Any, outward: BinaryIO) -> None:
    """Do one task."""
    name, arguments = message
    try:
        answer, simulations = TASKS[name](session, *arguments)
        send(outward, ("done", answer, simulations, session.poisoned))
    except NoSolution as problem:
        send(outward, ("none", str(problem)))


if __name__ == "__main__":
    sys.exit(main(serve))
