# SPDX-License-Identifier: GPL-3.0-or-later
"""Pools without processes: results of points by formula, so that tests of sweeps are about sweeping."""

from __future__ import annotations

import itertools
import time
from collections.abc import Iterator
from typing import Self

from heatsim.quantity import parse_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points import ContinuationPath, Point, PointResult, failed
from heatsim.tasks import Done, Event, Task, Told


def result_of(point: Point) -> PointResult:
    """Headroom 40 V / U - 1; no result at 13 V."""
    volts = parse_quantity(dict(point.fields).get("supply.voltage", "42 V"), "V")
    if volts == 13:
        return failed("stalled", "thirteen is too much")
    headroom = 40 / volts - 1
    return PointResult(
        "settled",
        "",
        "holds" if headroom >= 0 else "fails",
        headroom,
        "choke.left: temperature",
        {"tank.peak_voltage_v": 3.1 * volts},
        (),
        "cold start",
        0.001,
    )


class PathPool:
    """Evaluates continuation paths in this process. closed, cancelled: whether it was; paths, seen: what it was given
    and which points it evaluated; stop: raise KeyboardInterrupt after so many points.
    """

    remote = False

    def __init__(self, size: int, stop: int | None = None) -> None:
        self.size, self.stop = size, stop
        self.closed = self.cancelled = False
        self.paths: list[ContinuationPath] = []
        self.seen: list[Point] = []
        self._numbers = itertools.count()
        self._running: dict[int, tuple[Scenario, ContinuationPath, list[int]]] = {}

    def submit(self, task: Task) -> int:
        """Take in a path."""
        scenario, path, _ = task.arguments
        self.paths.append(path)
        number = next(self._numbers)
        self._running[number] = scenario, path, list(range(len(path.points)))
        return number

    def as_completed(self) -> Iterator[Event]:
        """Evaluate the points of what is running."""
        while self._running:
            number, at = self.choose({number: len(places) for number, (_, _, places) in self._running.items()})
            scenario, path, places = self._running[number]
            if self.stop is not None and len(self.seen) >= self.stop:
                raise KeyboardInterrupt
            place = places.pop(at)
            self.seen.append(path.points[place])
            yield Told(number, (place, self.result(scenario, path.points[place])))
            if not places:
                del self._running[number]
                yield Done(number, None)

    def choose(self, left: dict[int, int]) -> tuple[int, int]:
        """Which path goes on, and with which of its points that are left."""
        number = min(left)
        return number, left[number] - 1

    def result(self, scenario: Scenario, point: Point) -> PointResult:
        """What becomes of a point."""
        raise NotImplementedError

    def cancel(self) -> None:
        """Note it."""
        self._running.clear()
        self.cancelled = True

    def close(self) -> None:
        """Note it."""
        self.closed = True

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()


class Instant(PathPool):
    """Two paths at once, the points of each from last to first. pause: time for each point [s]."""

    def __init__(self, pause: float = 0.0, stop: int | None = None, size: int = 2) -> None:
        super().__init__(size, stop)
        self.pause = pause

    def result(self, scenario: Scenario, point: Point) -> PointResult:
        """See `result_of`."""
        time.sleep(self.pause)
        return result_of(point)
