# SPDX-License-Identifier: GPL-3.0-or-later
"""An executor without a simulator: results by formula, so that tests of sweeps are about sweeping."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator

from heatsim.quantity import parse_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.points.crew import Answer
from heatsim.studies.points.point import Point, PointResult, Strip, failed


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


class Instant:
    """Evaluates in this process. pause: seconds for each point; stop: raise KeyboardInterrupt after so many."""

    def __init__(self, pause: float = 0.0, stop: int | None = None) -> None:
        self.pause, self.stop = pause, stop
        self.seen: list[Point] = []
        self.closed = False

    @property
    def slots(self) -> int:
        """Two."""
        return 2

    def evaluate(self, scenario: Scenario, strips: Iterable[Strip | None]) -> Iterator[Answer]:
        """One strip after the other, the points of each from last to first."""
        number = -1
        for strip in strips:
            if strip is None:
                continue
            number += 1
            for place in reversed(range(len(strip.points))):
                if self.stop is not None and len(self.seen) >= self.stop:
                    raise KeyboardInterrupt
                time.sleep(self.pause)
                self.seen.append(strip.points[place])
                yield number, place, result_of(strip.points[place])

    def close(self) -> None:
        """Note it."""
        self.closed = True
