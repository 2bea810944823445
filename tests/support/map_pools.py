# SPDX-License-Identifier: GPL-3.0-or-later
"""Pools for maps whose truth is known: headrooms by formula instead of by simulation."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping
from typing import Any

from heatsim.scenario.scenario import Scenario
from heatsim.studies.map import MapResult, operating_map
from heatsim.studies.points import Point, PointResult
from heatsim.verdict.finding import Finding
from heatsim.verdict.judge import grade
from tests.support.pools import PathPool

Margins = Mapping[str, float | None]
"""Headroom of each `part: limit`, None where it cannot be judged."""

Formula = Callable[[float, float], Margins | str]
"""The two varied fields, such as load [1] and supply voltage [V] -> headrooms, or an outcome without any."""

SUPPLY, CHOKE = "supply: mean current", "choke.left: inductance left at the peak"


def two_limits(load: float, volts: float) -> Margins:
    """Two curved limits that cross: the choke's up to some 90 % load, then the supply's; a third one far above."""
    return {
        SUPPLY: 1 - (0.1 + load) * volts / 48,
        "switch.left: drain voltage": 1 - volts / 65,
        CHOKE: 1 - (volts / 50) ** 2 * (1 + 0.15 * math.sin(3 * load)),
    }


def two_limits_end(load: float) -> float:
    """The voltage [V] at which `two_limits` ends."""
    return min(48 / (0.1 + load), 50 / math.sqrt(1 + 0.15 * math.sin(3 * load)))


def dead_below(load: float, volts: float) -> Margins | str:
    """The same, but it does not start below a curve, and latches in a corner beyond the limits."""
    if volts < 24 + 10 * load**2:
        return "dead"
    return "latched" if load > 0.8 and volts > 50 else two_limits(load, volts)


def jump(load: float, volts: float) -> Margins:
    """The same, but the choke falls into another state at a line."""
    margins = dict(two_limits(load, volts))
    return margins | ({CHOKE: (margins[CHOKE] or 0.0) - 0.8} if volts > 38 + 4 * load else {})


def island(load: float, volts: float) -> Margins:
    """Usable inside an ellipse only."""
    return {SUPPLY: 0.2 - ((load - 0.5) / 0.4) ** 2 - ((volts - 40) / 12) ** 2}


def numbers(point: Point) -> tuple[float, float]:
    """The two varied fields, shares as ratios, in the order of the axes."""
    first, second = (_number(value) for _, value in point.fields)
    return first, second


def _number(value: Any) -> float:
    text, _, unit = str(value).partition(" ")
    return float(text) * {"%": 0.01, "V": 1.0, "nF": 1e-9, "us": 1e-6, "ms": 1e-3, "": 1.0}[unit]


def result_of(margins: Margins | str) -> PointResult:
    """The result of a point with these headrooms."""
    if isinstance(margins, str):
        return PointResult(margins, "by formula", "fails", None, "oscillator: starts and settles", {}, (), "formula", 0.0)
    findings = tuple(
        Finding(*key.split(": ", 1), None, None, "", margin, "unknown" if margin is None else grade(margin, 0.1), "estimate")
        for key, margin in margins.items()
    )
    known = {key: margin for key, margin in margins.items() if margin is not None}
    ends = min(known, key=lambda key: known[key])
    return PointResult(
        "settled", "", grade(known[ends], 0.1), known[ends], ends, {}, findings, "formula", 0.0, None, ("state of", ends)
    )


class FormulaPool(PathPool):
    """Evaluates points by formula. size: paths it holds at once, answered in a random but repeatable order; most: points
    after which it is interrupted, as by Ctrl-C.
    """

    def __init__(self, formula: Formula, size: int = 1, most: int | None = None, seed: int = 1) -> None:
        super().__init__(size, most)
        self.formula = formula
        self._random = random.Random(seed)

    def choose(self, left: dict[int, int]) -> tuple[int, int]:
        """By chance."""
        number = self._random.choice(list(left))
        return number, self._random.randrange(left[number])

    def result(self, scenario: Scenario, point: Point) -> PointResult:
        """See `result_of`."""
        return result_of(self.formula(*numbers(point)))


def mapped(
    scenario: Scenario,
    formula: Formula,
    horizontal: str = "load = 0 % to 100 %",
    vertical: str = "supply.voltage = 20 V to 60 V",
    **more: Any,
) -> MapResult:
    """The map of a formula."""
    return operating_map(scenario, horizontal, vertical, FormulaPool(formula), **more)
