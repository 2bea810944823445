# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the states along a heat come from: a store that has them already, or ngspice.

A state is an operating point whose coil is given as measured with the piece in: two numbers, so that equal loads are equal points
of the store and a heat that was interrupted finds what it had simulated.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import nullcontext
from threading import Lock
from typing import Any

from heatsim.identity import made_with, origin_hash
from heatsim.parts.tank import Workpiece
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import ContinuationPath, Point, PointResult, evaluate_paths, failed, local_pool
from heatsim.studies.store import Store
from heatsim.tasks import Pool


def as_point(case: str, load: Workpiece) -> Point:
    """The operating point at which the coil has a load."""
    values = {"inductance": f"{load.inductance:.9g} H", "resistance": f"{load.resistance:.9g} ohm"}
    head = f"case.{case}.workpiece"
    return Point(((f"{head}.share", "100 %"), *((f"{head}.measured.{name}", value) for name, value in values.items())), case)


class States:
    """The states of one heat. found: how many came from the store; simulated: how many did not.

    Used in a `with` statement, by one thread. Two worker processes: one follows the heat, the other confirms by cold starts; with
    `jobs` = 1 one process does both in turn.
    """

    def __init__(self, scenario: Scenario, case: str, store: Store | None, jobs: int | None = None) -> None:
        self.scenario, self.case, self.store = scenario, case, store
        self.found = self.simulated = 0
        self._origin = origin_hash(scenario.hash)
        self._plan = {"scenario": scenario.identity, "made_with": made_with(), "heat": case}
        self._follows = local_pool(1)
        self._confirms = self._follows if jobs == 1 else local_pool(1)
        self._turn = Lock()
        self._aside = ThreadPoolExecutor(1)
        self._state: Any = None

    def __enter__(self) -> States:
        return self

    def __exit__(self, *_: object) -> None:
        self._aside.shutdown(wait=False, cancel_futures=True)
        for pool in {self._follows, self._confirms}:
            pool.cancel()
            pool.close()

    def follow(self, load: Workpiece) -> PointResult:
        """The state of a load next to the one simulated last, from a cold start where there is none or it leads nowhere."""
        point = as_point(self.case, load)
        known = self._stored(point)
        if known is not None:
            self.found, self._state = self.found + 1, None
            return known
        path = ContinuationPath((point,), self._state, confirm=self._state is None)
        result = self._only(self._follows, path)
        self.simulated, self._state = self.simulated + 1, result.state
        self._keep(point, result)
        return result

    def confirm(self, load: Workpiece) -> Future[PointResult]:
        """A load from rest, as the builder would switch it on; simulated beside all else."""
        path = ContinuationPath((as_point(self.case, load),))
        return self._aside.submit(self._only, self._confirms, path)

    def _only(self, pool: Pool, path: ContinuationPath) -> PointResult:
        """What becomes of a path's only point; where there is one pool, one at a time."""
        with self._turn if self._follows is self._confirms else nullcontext():
            answers: Sequence[PointResult] = [result for _, _, result in evaluate_paths(pool, self.scenario, [path])]
        return answers[0] if answers else failed("unsolved", "the simulation was given up")

    def _stored(self, point: Point) -> PointResult | None:
        return None if self.store is None else self.store.result(point.key(self._origin))

    def _keep(self, point: Point, result: PointResult) -> None:
        if self.store is None or result.outcome in ("stalled", "unsolved"):
            return
        key = point.key(self._origin)
        self.store.begin(self._plan, [(key, point)])
        self.store.put(key, result, keep_waveforms=True)
