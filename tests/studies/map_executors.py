# SPDX-License-Identifier: GPL-3.0-or-later
"""Executors for maps whose truth is known: headrooms by formula instead of by simulation."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator, Mapping

from heatsim.quantity import parse_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.studies.crew import Answer
from heatsim.studies.operating import Point, PointResult, Strip
from heatsim.verdict.finding import Finding
from heatsim.verdict.judge import grade

Rooms = Mapping[str, float | None]
"""Headroom of each `part: limit`, None where it cannot be judged."""

Formula = Callable[[float, float], Rooms | str]
"""Load [1] and supply voltage [V] -> headrooms, or an outcome without any."""


def numbers(point: Point) -> tuple[float, float]:
    """Load [1] and supply voltage [V] of a point."""
    found = dict(point.fields)
    load = next(value for field, value in found.items() if field.endswith("workpiece.share"))
    return parse_quantity(load, "%"), parse_quantity(found["supply.voltage"], "V")


def result_of(rooms: Rooms | str) -> PointResult:
    """The result of a point with these headrooms."""
    if isinstance(rooms, str):
        return PointResult(rooms, "by formula", "fails", None, "oscillator: starts and settles", {}, (), "formula", 0.0)
    findings = tuple(Finding(*key.split(": ", 1), None, None, "", room, "unknown" if room is None else grade(room, 0.1),
                             "estimate") for key, room in rooms.items())
    known = {key: room for key, room in rooms.items() if room is not None}
    ends = min(known, key=lambda key: known[key])
    return PointResult("settled", "", grade(known[ends], 0.1), known[ends], ends, {}, findings, "formula", 0.0, None,
                       ("state of", ends))


class FormulaExecutor:
    """Evaluates strips by formula. slots: strips it holds at once, answered in a random but repeatable order; most: points
    after which it is interrupted, as by Ctrl-C.
    """

    def __init__(self, formula: Formula, slots: int = 1, most: int | None = None, seed: int = 1) -> None:
        self.formula, self.slots, self.most = formula, slots, most
        self.seen: list[Point] = []
        self.strips: list[Strip] = []
        self._random = random.Random(seed)

    def evaluate(self, scenario: Scenario, strips: Iterable[Strip | None]) -> Iterator[Answer]:
        """As `Executor.evaluate` says."""
        source, flying, number, more = iter(strips), [], 0, True
        while more or flying:
            while more and len(flying) < self.slots:
                try:
                    strip = next(source)
                except StopIteration:
                    more = False
                    break
                if strip is None:
                    break
                self.strips.append(strip)
                flying.append((number, strip, list(range(len(strip.points)))))
                number += 1
            if not flying:
                return
            chosen = self._random.choice(flying)
            place = chosen[2].pop(self._random.randrange(len(chosen[2])))
            if not chosen[2]:
                flying.remove(chosen)
            yield chosen[0], place, self._result(chosen[1].points[place])

    def _result(self, point: Point) -> PointResult:
        if self.most is not None and len(self.seen) >= self.most:
            raise KeyboardInterrupt
        self.seen.append(point)
        return result_of(self.formula(*numbers(point)))

    def close(self) -> None:
        """Nothing to end."""
