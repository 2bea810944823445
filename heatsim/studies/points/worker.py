# SPDX-License-Identifier: GPL-3.0-or-later
"""A worker process of a crew: scenarios and strips in on standard input, results of points out as they are found.

Started by `heatsim.studies.points.crew` with `python -m heatsim.studies.points.worker`; never by hand. Messages in:
(scenario, strip). Messages out: ("ready", version) or ("setup", text) once; then for each strip ("result", place,
PointResult) for each point, in any order, and ("end", worn) or ("fault", text) last.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any, BinaryIO

from heatsim.engine.worker import main, send
from heatsim.studies.points.path import evaluate_path

if TYPE_CHECKING:
    from heatsim.engine.session import Session


def evaluate(session: Session, task: Any, outward: BinaryIO) -> None:
    """Evaluate one strip, telling each result at once."""
    scenario, strip = task
    evaluate_path(session, scenario, strip, lambda place, result: send(outward, ("result", place, result)))
    send(outward, ("end", session.poisoned))


if __name__ == "__main__":
    sys.exit(main(evaluate))
