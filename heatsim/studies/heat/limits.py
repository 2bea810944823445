# SPDX-License-Identifier: GPL-3.0-or-later
"""The limits of the heater all along a heat, not only at its start.

At each of some instants the measures are those interpolated between the simulated states. Temperatures of chokes, junctions, sink
and water are put in as they are then, for they lag behind. What comes of it is judged as `check` judges a case.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np

from heatsim.parts.heater import Heater
from heatsim.physics.numeric import FloatArray as Array
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import Measured, case_limits, water_measures
from heatsim.studies.heat.course import Moment
from heatsim.studies.heat.responses import Responses, distance, loaded
from heatsim.studies.heat.result import Watched
from heatsim.studies.heat.warmth import PartsWarmth
from heatsim.verdict import SEVERITY, Finding, judge

INSTANTS = 60
"""Instants at which limits are judged, half of them evenly over the heat's time, half over the way of what the coil sees."""

CAUGHT = ("radiation_coil", "convection_coil", "lining")
"""Names of heat flows that the coil's water carries off; see `heatsim.physics.hot_surface`."""


def caught(moment: Moment) -> float:
    """Heat of the piece that the coil's water carries off [W]."""
    return sum(moment.given.get(name, 0.0) for name in CAUGHT)


def measures_at(responses: Responses, warmth: PartsWarmth, moment: Moment, parts: Mapping[str, float]) -> dict[str, Measured]:
    """All measures of one instant; parts: temperature [°C] of each part then."""
    found = responses.measures(moment.load)
    found |= warmth.measures(parts, moment.load)
    return found | water_measures(loaded(responses.heater, moment.load), found, caught(moment))


def watched(
    scenario: Scenario, responses: Responses, warmth: PartsWarmth, moments: Sequence[Moment], parts: Mapping[str, Array]
) -> tuple[Watched, ...]:
    """Every limit along a heat.

    scenario: of the case, its changes applied; moments: of the heat; parts: temperatures [°C] at each moment, by part
    """
    chosen = _chosen(moments)
    found: dict[tuple[str, str], list[tuple[float, Finding]]] = {}
    for place in chosen:
        moment = moments[place]
        measures = measures_at(responses, warmth, moment, {name: float(values[place]) for name, values in parts.items()})
        for finding in _judged(scenario, loaded(responses.heater, moment.load), measures):
            found.setdefault((finding.part, finding.limit), []).append((moment.time, finding))
    return tuple(_along(rows) for rows in found.values())


def _judged(scenario: Scenario, heater: Heater, measures: Mapping[str, Measured]) -> tuple[Finding, ...]:
    return judge(measures, case_limits(scenario, heater, measures), scenario.tables.heater.wanted_headroom)


def _chosen(moments: Sequence[Moment]) -> list[int]:
    """Places of the moments that are judged: evenly over the heat's time, and over the way of its load."""
    if len(moments) <= INSTANTS:
        return list(range(len(moments)))
    steps = [distance(one.load, other.load) for one, other in pairwise(moments)]
    way, time = np.concatenate([[0.0], np.cumsum(steps)]), np.array([each.time for each in moments])
    even = np.linspace(0.0, 1.0, INSTANTS // 2)
    return sorted({int(np.searchsorted(values, share * values[-1])) for values in (way, time) for share in even})


def _along(rows: Sequence[tuple[float, Finding]]) -> Watched:
    times = np.array([time for time, _ in rows])
    headroom = np.array([np.nan if each.headroom is None else each.headroom for _, each in rows])
    at, worst = max(rows, key=lambda row: (SEVERITY[row[1].grade], -(row[1].headroom if row[1].headroom is not None else 0.0)))
    crossed = next((time for time, each in rows if each.grade == "fails"), None)
    return Watched(times, headroom, worst, at, crossed)
