# SPDX-License-Identifier: GPL-3.0-or-later
"""A function for worker processes in tests: evaluates continuation paths as the points themselves say."""

from __future__ import annotations

import os

from heatsim.studies.points import ContinuationPath, failed
from heatsim.tasks import Context
from tests.support.scripted import do, start

__all__ = ["evaluate", "start"]  # to start with it is to import this first, which takes a while


def evaluate(context: Context, scenario: object, path: ContinuationPath, files: object) -> None:
    """Do what the `do` field of each point says; `last` answers after all others, as following may; `skip` never."""
    actions = [str(dict(point.fields)["do"]) for point in path.points]
    late = []
    for place, action in enumerate(actions):
        do(action)
        if action == "last":
            late.append(place)
        elif action != "skip":
            context.tell((place, failed("settled", path.points[place].case, method=str(os.getpid()))))
    for place in late:
        context.tell((place, failed("settled", path.points[place].case, method=str(os.getpid()))))
