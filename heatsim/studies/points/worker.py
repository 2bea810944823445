# SPDX-License-Identifier: GPL-3.0-or-later
"""What a worker process does with a continuation path."""

from __future__ import annotations

import gc
import time
from collections.abc import Mapping
from functools import cache

from heatsim.engine.worker import simulator
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points.path import evaluate_path
from heatsim.studies.points.point import ContinuationPath
from heatsim.studies.points.portable import unpacked
from heatsim.tasks import Context

ALIVE_EVERY = 1.0
"""Seconds between two signs of life."""


@cache
def _settled_in() -> None:
    """Take what is loaded for good out of the garbage collector's rounds, once: they cost 5 % of a followed point."""
    from heatsim.engine import shooting, simulate  # noqa: F401

    gc.collect()
    gc.freeze()


def evaluate(context: Context, scenario: Scenario, path: ContinuationPath, files: Mapping[str, str]) -> None:
    """Evaluate every point of a path, telling each place and result at once; files: see `Packing`.

    Between results None is told now and then, as a sign of life.
    """
    _settled_in()
    session, latest = simulator(), 0.0

    def alive() -> None:
        nonlocal latest
        if time.monotonic() - latest > ALIVE_EVERY:
            latest = time.monotonic()
            context.tell(None)

    with unpacked(scenario, files) as there:
        evaluate_path(session, there, path, lambda place, result: context.tell((place, result)), alive)
    context.worn = session.poisoned
