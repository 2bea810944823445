# SPDX-License-Identifier: GPL-3.0-or-later
"""A worker process of `match`: one step of an atlas or of the search for each message in.

Started by `heatsim.studies.match_crew` with `python -m heatsim.studies.match_worker`; never by hand. Messages in: (name of a task
in `TASKS`, its arguments). Messages out: ("ready", version) or ("setup", text) once; then for each task ("done", answer, worn),
("none", text) when there is no periodic state, or ("fault", text).
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, BinaryIO

from heatsim.engine.worker import main, send
from heatsim.parts.heater import Heater
from heatsim.studies.match_atlas import sheet_of, slopes_of
from heatsim.studies.match_fit import Plain, Site
from heatsim.studies.match_kinds import kinds_of
from heatsim.studies.match_search import hypotheses, settled
from heatsim.studies.match_solver import NoSolution, Solution, Solver
from heatsim.studies.match_tolerances import tolerances_of

if TYPE_CHECKING:
    from heatsim.engine.session import Session

Setting = tuple[Heater, tuple[str, ...], int]
"""Heater, signals whose lines are wanted, steps a period."""


def start(session: Session, setting: Setting, limit: float) -> Solution:
    """The sound heater, from a cold start."""
    return Solver(session, *setting[1:]).start(setting[0], limit)


def slopes(session: Session, setting: Setting, begun: Solution) -> Any:
    """Slopes in the tolerances."""
    return slopes_of(Solver(session, *setting[1:]), setting[0], begun, tolerances_of(setting[0]))


def sheet(session: Session, setting: Setting, begun: Solution, name: str) -> Any:
    """A kind's sheet, without the kind."""
    kind = next(kind for kind in kinds_of(setting[0]) if kind.name == name)
    try:
        found = sheet_of(Solver(session, *setting[1:]), setting[0], begun, kind)
    except ValueError as problem:
        raise NoSolution(str(problem)) from None
    return found.places, found.values, found.reached, found.seeds


def settle(session: Session, sites: Sequence[Site], steps: int, plain: Plain, behind: float) -> tuple[Plain, int]:
    """A fit set right by the simulator, and how many simulations that took."""
    hypothesis = next(h for h in hypotheses(sites) if h.name == plain.name)
    solvers = [Solver(session, site.atlas.signals, steps) for site in sites]
    one, _ = settled(solvers, sites, plain.of(hypothesis), behind)
    return one.plain, sum(solver.solved for solver in solvers)


def solve(session: Session, heater: Heater, signals: tuple[str, ...], steps: int, near: Solution) -> Solution:
    """One heater with all its waveforms."""
    return Solver(session, signals, steps, whole=True).solve(heater, near)


TASKS: dict[str, Callable[..., Any]] = {task.__name__: task for task in (start, slopes, sheet, settle, solve)}


def serve(session: Session, message: Any, outward: BinaryIO) -> None:
    """Do one task."""
    name, arguments = message
    try:
        send(outward, ("done", TASKS[name](session, *arguments), session.poisoned))
    except NoSolution as problem:
        send(outward, ("none", str(problem)))


if __name__ == "__main__":
    sys.exit(main(serve))
