# SPDX-License-Identifier: GPL-3.0-or-later
"""What a worker process does with a continuation path."""

from __future__ import annotations

from collections.abc import Mapping

from heatsim.engine.worker import simulator
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points.path import evaluate_path
from heatsim.studies.points.point import ContinuationPath
from heatsim.studies.points.portable import unpacked
from heatsim.tasks import Context


def evaluate(context: Context, scenario: Scenario, path: ContinuationPath, files: Mapping[str, str]) -> None:
    """Evaluate every point of a path, telling each place and result at once; files: see `Packing`."""
    session = simulator()
    with unpacked(scenario, files) as there:
        evaluate_path(session, there, path, lambda place, result: context.tell((place, result)))
    context.worn = session.poisoned
