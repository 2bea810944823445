# SPDX-License-Identifier: GPL-3.0-or-later
"""What is done while something else is: simulators start while the command loads, the command loads while they simulate."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from contextlib import AbstractContextManager
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from heatsim.parts.heater import Heater
    from heatsim.report.base.aside import Aside
    from heatsim.tasks.kept import Stock

CASES = 2
"""Of a scenario, as long as it is not read."""


def simulators_ahead(options: argparse.Namespace, files: int = 1) -> AbstractContextManager[Stock]:
    """Simulators for all that is simulated in the block, as many as the cases of so many files are likely to need."""
    from heatsim.engine.pool import kept_simulators

    return kept_simulators(min(options.jobs or os.cpu_count() or 1, files * len(options.case or range(CASES))))


def matching_ahead(options: argparse.Namespace) -> AbstractContextManager[Stock]:
    """Simulators for a match in the block, which load what it asks of them while this process loads it too."""
    from heatsim.engine.pool import kept_simulators

    return kept_simulators(options.jobs or os.cpu_count() or 1, "heatsim.studies.match.pool:ready")


def loading(
    watch: Callable[..., None], cases: int, jobs: int | None, drawn: Callable[[], Heater] | None = None, aside: Aside | None = None
) -> Callable[..., None]:
    """Shows progress, and loads what tells of the result as soon as a core has nothing to simulate.

    watch: shows the progress; cases: that are simulated; jobs: as of the option
    drawn: the heater of the report, if one is written; aside: a process that draws it
    """
    cores, ended = os.cpu_count() or 1, set[int]()
    at_once = min(jobs or cores, cases)
    load = lru_cache(lambda: _load(drawn, aside))

    def told(index: int, reached: float, target: float) -> None:
        watch(index, reached, target)
        if reached >= target:
            ended.add(index)
        if min(at_once, cases - len(ended)) < cores:
            load()

    return told


def _load(drawn: Callable[[], Heater] | None, aside: Aside | None) -> None:
    """Load what tells of the result, and what draws it."""
    from heatsim.report.check import load, load_page, load_pictures, show  # noqa: F401

    if drawn is None:
        return
    heater = drawn()
    if aside is not None and aside.here:
        aside.begin(load_pictures, heater.switch)
        load_page(heater)
    else:
        load(heater)
