# SPDX-License-Identifier: GPL-3.0-or-later
"""`map`: over two fields of a scenario, where the heater is usable, and which limit ends that where.

A coarse scan tells what each limit's headroom does over the map. Then the boundary is found column by column, each
change between usable and not enclosed by two evaluated points; columns are put where the boundary came out otherwise than
predicted, where another limit begins to end it, and where it is lowest. What lies between columns was predicted within the
accuracy at a column that was then evaluated. A region narrower than the scan can be missed.

Whether a state is reached by switching on is seen where points are started from rest: all of the column at which the
headline is given, the ends of every other column of the first look, all points near one that was dead or latched, and all
points of a map of fields that bear on the start. The others are followed from a neighbour that was reached.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_limits
from heatsim.studies.map.axis import default_axes, read_map_axis
from heatsim.studies.map.column import Column, Profile, next_probe
from heatsim.studies.map.points import Place, Points, Search, scan
from heatsim.studies.map.prediction import from_edges, from_surfaces
from heatsim.studies.map.refine import Refinement, accuracy_of
from heatsim.studies.map.result import MapResult
from heatsim.studies.map.surface import Evidence, Surface
from heatsim.studies.points import local_pool
from heatsim.studies.store import stale_results
from heatsim.tasks import Pool

if TYPE_CHECKING:
    from heatsim.studies.store import Store

ACCURACY = 0.005
"""Share of each axis within which the boundary is found, unless asked otherwise."""

FIRST_LOOK = 5
"""Columns and rows of the first look, unless asked otherwise."""

MOST_POINTS = 600
"""Points after which no further column is begun, unless asked otherwise."""


@dataclass(frozen=True)
class MapProgress:
    """How far a map is. points: evaluated or found so far; columns: finished; step: what is being done; share: of this step that is
    done [1]. How many steps there will be, nobody knows beforehand.
    """

    points: int
    columns: int
    step: str
    share: float = 0.0


Watch = Callable[[MapProgress], None]


def operating_map(
    scenario: Scenario,
    horizontal: str | None = None,
    vertical: str | None = None,
    pool: Pool | None = None,
    case: str | None = None,
    store: Store | None = None,
    accuracy: float = ACCURACY,
    most_points: int = MOST_POINTS,
    first_look: int = FIRST_LOOK,
    progress: Watch | None = None,
) -> MapResult:
    """Map two fields of a scenario, by default the supply voltage against load.

    horizontal, vertical: `FIELD = LOW to HIGH`; pool: where points are evaluated, by default worker processes, one a core;
    case: by default the first with a workpiece; store: points found there are not computed again, new ones are put there;
    accuracy: share of each axis within which the boundary is wanted, 0.0005 to 0.05; most_points: no further column is
    begun after so many; first_look: columns and rows of the first look, 3 to 15; a usable or unusable region that fits
    between them can be missed. Raises InputError for axes that make no sense, and SetupError without a simulator.
    """
    begun = time.monotonic()
    if not 0.0005 <= accuracy <= 0.05:
        raise InputError.single("accuracy", "is out of range", f"{100 * accuracy:g} %", "0.05 % to 5 %")
    if not 3 <= first_look <= 15:
        raise InputError.single("first look", "is out of range", first_look, "3 to 15 columns and rows")
    name = _case(scenario, case)
    texts = default_axes(scenario, name)
    across = read_map_axis(scenario, horizontal or texts[0], name, accuracy)
    upwards = read_map_axis(scenario, vertical or texts[1], name, accuracy)
    if across.field.in_case(name) == upwards.field.in_case(name):
        raise InputError.single("axes", "are the same field", across.field.path, "two different fields")
    with local_pool() if pool is None else nullcontext(pool) as evaluating:
        points = Points(scenario, name, (across, upwards), accuracy_of(across, upwards, accuracy), evaluating, store)
        outdated = stale_results(store.sweeps(), points.described()).outdated if store is not None else 0
        refinement = _refined(points, _first_places(points, first_look), most_points, progress or (lambda _: None))
        wishes = _wishes(scenario, name)
        columns = tuple(_with_wanted(points, column, wishes, most_points) for column in refinement.finished())
    return MapResult(
        across,
        upwards,
        accuracy,
        points.evidence,
        columns,
        refinement.errors,
        scenario.tables.heater.wanted_headroom,
        wishes,
        scenario,
        name,
        tuple((one.u, two.u) for one, two in refinement.gaps()),
        refinement.missed,
        points.evaluated,
        points.known,
        outdated,
        time.monotonic() - begun,
    )


def _case(scenario: Scenario, wanted: str | None) -> str:
    """The case to map."""
    if wanted is not None:
        scenario.case(wanted)
        return wanted
    loaded = [name for name in scenario.cases if scenario.tables.case[name].workpiece is not None]
    return (loaded or list(scenario.cases))[0]


def _refined(points: Points, first: list[list[Place]], most_points: int, watch: Watch) -> Refinement:
    """A first look, then column after column until nothing is left to be verified."""
    refinement, near = Refinement(points.accuracy), points.accuracy.v
    asked = sum(map(len, first))
    points.told = lambda: watch(MapProgress(len(points), 0, "first look", len(points) / asked))
    points.told()
    scan(points, first)
    looked = [Column(column[0][0], tuple(points.samples[place] for place in column), len(column)) for column in first]
    columns, later = looked[::2], looked[1::2]
    step = "boundary at the columns of the first look"
    while columns and len(points) < most_points:
        before = points.evidence
        surface = Surface(before, near)
        profiles = {column.u: _profiles(refinement, column, surface, before) for column in columns}
        found: list[Column] = []
        points.told = partial(_tell, points, refinement, found, len(columns), step, watch)
        for column in Search(points, columns, profiles).run():
            found.append(column)
            points.told()
        refinement.settle(found, surface, before, points.evidence)
        columns, later = later, []
        if not columns:
            columns = [Column(u) for u in refinement.proposals(Surface(points.evidence, near), points.evidence)]
            step = "columns in between"
    points.told = partial(_tell, points, refinement, (), 1, "where the wanted headroom ends", watch)
    return refinement


def _tell(points: Points, refinement: Refinement, found: Sequence[Column], wanted: int, step: str, watch: Watch) -> None:
    """How far a round of columns is. wanted: how many they are."""
    watch(MapProgress(len(points), len(refinement.columns) + len(found), step, len(found) / wanted))


def _wishes(scenario: Scenario, case: str) -> dict[str, float]:
    """Headroom wanted of each limit that does not go by the scenario's."""
    limits = case_limits(scenario.case(case), scenario.heater(case), {})
    return {f"{limit.part}: {limit.name}": limit.wanted for limit in limits if limit.wanted is not None}


def _with_wanted(points: Points, column: Column, wishes: Mapping[str, float], most_points: int) -> Column:
    """The column where the headline is given with points that enclose where the wanted headroom ends; any other as it is."""
    usual, accuracy, across = points.scenario.tables.heater.wanted_headroom, points.accuracy, points.axes[0]

    def wanted(key: str) -> float:
        return wishes.get(key, usual)

    if usual == 0 or across.at(column.u) != across.snapped(across.reference):
        return column
    before = points.evidence.beyond(wanted)
    spare = Column(column.u, tuple(sample.beyond(wanted) for sample in column.samples), len(column.samples))
    profile = from_surfaces(column.u, Surface(before, accuracy.v), [spare], before)
    while len(points) < most_points:
        v = next_probe(spare, profile, points.evidence.beyond(wanted), accuracy.v, accuracy.snap_v)
        if v is None:
            break
        scan(points, [[(column.u, v)]])
        sample = points.samples[column.u, v]
        column, spare = column.with_sample(sample), spare.with_sample(sample.beyond(wanted))
    return column


def _profiles(refinement: Refinement, column: Column, surface: Surface, evidence: Evidence) -> list[Profile]:
    """What is expected along a column; the first ones have only themselves to tell where there is no headroom."""
    columns = refinement.finished()
    if not columns:
        return [replace(from_surfaces(column.u, surface, [column], evidence), guessed=True)]
    return [refinement.predict(column.u, surface, evidence), from_edges(column.u, columns, evidence)]


def _first_places(points: Points, count: int) -> list[list[Place]]:
    """The first look, with columns where the headline is given and where the scenario itself stands, and that very point."""
    horizontal, vertical = points.axes
    snap_u, snap_v, width = points.accuracy.snap_u, points.accuracy.snap_v, points.accuracy.u
    us = [snap_u(float(u)) for u in np.linspace(0, 1, count)]
    vs = [snap_v(float(v)) for v in np.linspace(0, 1, count)]
    own = snap_u(horizontal.share(horizontal.own)) if horizontal.own is not None and horizontal.inside(horizontal.own) else None
    for u in (snap_u(horizontal.share(horizontal.reference)), own):
        if u is not None and u not in us:
            us = [each for each in us if abs(each - u) > width or each in (0.0, 1.0)] + [u]
    places = {u: [(u, v) for v in vs] for u in sorted(us)}
    if own is not None and vertical.own is not None and vertical.inside(vertical.own):
        places[own].append((own, snap_v(vertical.share(vertical.own))))
    return [sorted(set(column)) for column in places.values()]
