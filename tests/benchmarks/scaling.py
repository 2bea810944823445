# SPDX-License-Identifier: GPL-3.0-or-later
"""How sweeps scale: with workers, with points, and with the size of the circuit. Whole sweeps into a store, as users run them."""

from __future__ import annotations

import gc
import os
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import numpy as np

from heatsim.engine import shooting
from heatsim.engine.outcome import Run
from heatsim.engine.session import Session
from heatsim.engine.simulate import simulate
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck, judge_run
from heatsim.studies.points import Point, local_pool
from heatsim.studies.points.path import FOLLOWED, evaluate_path
from heatsim.studies.points.point import ContinuationPath, PointResult, summarise
from heatsim.studies.store import Store
from heatsim.studies.sweep import SweepPlan, sweep
from heatsim.studies.sweep.order import LONGEST, chains, corners
from tests.benchmarks.circuits import SCENARIOS, Circuit, by_size
from tests.benchmarks.clock import Spans, Spread, Took, now
from tests.benchmarks.methods import PLAIN, TIME_LIMIT
from tests.benchmarks.truth import at_point, ended_at
from tests.support.engine.binary import run_binary

GRIDS = {25: (5, 5), 50: (10, 5), 100: (10, 10), 200: (20, 10), 400: (20, 20)}
"""Points of a sweep -> steps of the supply voltage and of the load."""

MILLION = 1_000_000

CLOSE_FROM = 70.0
"""Load [%] at which the points begin that lie as close as a million do."""

COLD_SPAN = 0.6e-3
"""Simulated time [s] over which a cold start's cost is taken."""


@dataclass(frozen=True)
class ColdStarts:
    """Points that a sweep by its own plan starts cold. first: without a neighbour to follow from; besides: followed points that
    are started cold as well, at the ends of paths and in the corners of the grid; paths: their number.
    """

    first: int
    besides: int
    paths: int


def planned(plan: SweepPlan, workers: int) -> ColdStarts:
    """Those of a plan, as `heatsim.studies.sweep` divides it into paths for so many workers."""
    places = range(len(plan))
    found = chains(plan, places, LONGEST, workers)
    first, ends = {chain[0][0] for chain in found}, {path[-1] for chain in found for path in chain}
    return ColdStarts(len(first), len((ends | corners(plan, places)) - first), sum(map(len, found)))


def cold_starts(methods: Mapping[str, int]) -> int:
    """Points of a sweep that were started cold, from how many came by which way."""
    return sum(count for method, count in methods.items() if method != FOLLOWED)


def _unplanned(methods: Mapping[str, int], plan: ColdStarts) -> int:
    return cold_starts(methods) - plan.first - plan.besides


@dataclass(frozen=True)
class Swept:
    """One sweep. took: the clock from start to end, and processor time of all; parent: processor time of the process
    that keeps the store; put: storing one result, of which it waits for the disk most of the time; methods: how many
    points came by which way; size: of the store's file [bytes].
    """

    workers: int
    points: int
    took: Took
    parent: float
    put: Took
    methods: dict[str, int]
    size: int
    planned: ColdStarts

    @property
    def rate(self) -> float:
        """Points a second, all included."""
        return self.points / self.took.wall

    @property
    def unplanned(self) -> int:
        """Cold starts beyond the plan: of the worst points, on both sides of a jump, and of what could not be followed."""
        return _unplanned(self.methods, self.planned)


@dataclass(frozen=True)
class Beside:
    """A whole sweep, store and start of the workers included, beside plain ngspice -b on some points of the same grid.

    sweep, plain: processor time of all processes, a point [s], plain from the point's fields to its judged result; found: how many
    points of the sweep came by which way; planned: cold starts by its plan.
    """

    workers: int
    points: int
    sweep: float
    plain: Spread
    found: dict[str, int]
    planned: ColdStarts

    @property
    def ratio(self) -> float:
        """How many times less the sweep takes [1]."""
        return self.plain.median / self.sweep

    @property
    def unplanned(self) -> int:
        """As of `Swept`."""
        return _unplanned(self.found, self.planned)


@dataclass(frozen=True)
class Sized:
    """One circuit. states: nodes and inductors; followed: processor time of a followed point [s], of which sim in the
    simulator; period: processor time of one period of a cold start [s].
    """

    name: str
    states: int
    followed: Spread
    sim: Spread
    period: float


def plan_of(scenario: Scenario, points: int) -> SweepPlan:
    """The demo sweep: supply voltage against load."""
    volts, loads = GRIDS[points]
    return SweepPlan.read(
        scenario,
        [f"supply.voltage = 30 V to 44 V in {volts - 1} steps", f"load = 40 % to 110 % in {loads - 1} steps"],
        cases=["loaded"],
    )


def close_plan(scenario: Scenario, points: int) -> SweepPlan:
    """So many neighbours of the million points of `fine_plan`, along the load, which changes least from one to the next."""
    last = CLOSE_FROM + (points - 1) * 70 / (MILLION // 200 - 1)
    return SweepPlan.read(
        scenario, ["supply.voltage = 37 V", f"load = {CLOSE_FROM:g} % to {last:.9g} % in {points - 1} steps"], cases=["loaded"]
    )


def followed_close(session: Session, points: int, turns: int, tell: Callable[[str], None]) -> Spread:
    """Processor time [s] of such a point, followed in one process as a worker does it, the mean of a path; a turn each."""
    tell(f"{points} points as close as a million are, followed")
    scenario = Scenario.from_file(SCENARIOS / "bench-heater.toml")
    start, *path = close_plan(scenario, points + 1).points()
    first: list[PointResult] = []
    evaluate_path(session, scenario, ContinuationPath((start,)), lambda place, result: first.append(result))
    gc.collect()
    gc.freeze()
    means = []
    for _ in range(turns):
        begun = now()
        evaluate_path(session, scenario, ContinuationPath(tuple(path), first[0].state, confirm=False), lambda place, result: None)
        means.append((now() - begun).cpu / points)
    gc.unfreeze()
    return Spread.of(means)


def close_sweeps(points: Sequence[int], tell: Callable[[str], None]) -> list[Swept]:
    """Sweeps of such neighbours by one worker."""
    found = []
    for count in points:
        tell(f"sweep of {count} points as close as a million are")
        found.append(one_sweep(1, count, close_plan))
    return found


def one_sweep(workers: int, points: int, made: Callable[[Scenario, int], SweepPlan] = plan_of) -> Swept:
    """A sweep in fresh workers into a fresh store."""
    scenario = Scenario.from_file(SCENARIOS / "bench-heater.toml")
    plan = made(scenario, points)
    spans = Spans({"put": [(Store, "put")]})
    with tempfile.TemporaryDirectory(prefix="heatsim-") as folder:
        path = Path(folder) / "points.db"
        begun, own = now(), time.process_time()
        with local_pool(workers) as pool, spans:
            result = sweep(scenario, plan, path, pool, keep="none")
        took, parent = now() - begun, time.process_time() - own
        methods = Counter(result.frame()["method"])
        put = spans.own["put"].per(points)
        return Swept(workers, points, took, parent, put, dict(methods), path.stat().st_size, planned(plan, workers))


def beside_plain(session: Session, workers: int, points: int, some: int, tell: Callable[[str], None]) -> Beside:
    """Both in one run, half of the plain cold starts before the sweep and half behind it, so that a busy machine is one to both."""
    scenario = Scenario.from_file(SCENARIOS / "bench-heater.toml")
    plan = plan_of(scenario, points)
    places = [round(each) for each in np.linspace(0, points - 1, some)]
    tell(f"plain ngspice -b on {some} points of a sweep of {points}")
    plain = [_plain(session, scenario, plan.point(place)) for place in places[::2]]
    tell(f"sweep of {points} points beside it")
    swept = one_sweep(workers, points)
    plain += [_plain(session, scenario, plan.point(place)) for place in places[1::2]]
    return Beside(workers, points, swept.took.cpu / points, Spread.of(plain), swept.methods, swept.planned)


def _plain(session: Session, scenario: Scenario, point: Point) -> float:
    """Processor time [s] of one point by the plain program, as long as heatsim's own cold start, which is not counted."""
    changed = scenario.change(dict(point.fields))
    stop = simulate(session, case_deck(changed, point.case), TIME_LIMIT).deck.transient.stop
    begun = now()
    changed = scenario.change(dict(point.fields))
    heater = changed.heater(point.case)
    deck = case_deck(changed, point.case, heater).lasting(stop)
    summarise(judge_run(changed, point.case, heater, Run("settled", "", run_binary(deck, TIME_LIMIT), deck)), PLAIN, 0.0)
    return (now() - begun).cpu


def sweeps(workers: Sequence[int], points: Sequence[int], fixed: int, tell: Callable[[str], None]) -> list[Swept]:
    """Over the number of workers at a fixed number of points; over points with one worker a core."""
    cores = os.cpu_count() or 1
    wanted = list(dict.fromkeys([*((number, fixed) for number in workers), *((cores, number) for number in points)]))
    found = []
    for number, count in wanted:
        tell(f"sweep of {count} points, {number} worker{'s' if number > 1 else ''}")
        found.append(one_sweep(number, count))
    return found


def fitted(found: Sequence[Swept]) -> tuple[float, float]:
    """Seconds before the first point counts, and seconds a point, through sweeps of different length: a line with the least
    squares of relative errors, or a long sweep would drown what short ones tell of the start.
    """
    points, walls = np.array([[each.points, each.took.wall] for each in found]).T
    slope, start = np.polyfit(points, walls, 1, w=1 / walls) if len(found) > 1 else (walls[0] / points[0], 0.0)
    return float(start), float(slope)


def sizes(session: Session, banks: tuple[int, ...], turns: int, tell: Callable[[str], None]) -> list[Sized]:
    """Circuits of different size."""
    with tempfile.TemporaryDirectory(prefix="heatsim-") as folder:
        return [_sized(session, circuit, turns, tell) for circuit in by_size(Path(folder), banks)]


def _sized(session: Session, circuit: Circuit, turns: int, tell: Callable[[str], None]) -> Sized:
    tell(f"size of the circuit: {circuit.name}")
    start, path = circuit.over_supply()
    first: list[PointResult] = []
    evaluate_path(session, circuit.scenario, ContinuationPath((start,)), lambda place, result: first.append(result))
    guess = first[0].state
    whole: list[float] = []
    sims: list[float] = []
    for _ in range(turns):
        marks = [now()]
        spans = Spans({"orbit": [(shooting, "find_periodic_state")]})
        with spans:
            evaluate_path(
                session,
                circuit.scenario,
                ContinuationPath(path, guess, confirm=False),
                lambda place, result, marks=marks: marks.append(now()),
            )
        whole += [(b - a).cpu for a, b in zip(marks[1:], marks[2:], strict=False)]
        sims += [took.cpu for took in spans.whole["orbit"][1:]]
    states = len(guess.state.nodes) + len(guess.state.inductors)
    return Sized(circuit.name, states, Spread.of(whole), Spread.of(sims), _period(session, circuit, turns))


def _period(session: Session, circuit: Circuit, turns: int) -> float:
    """Processor time of one period of a cold start [s]: two runs of different length, the difference between them."""
    scenario, case = at_point(circuit)
    deck = case_deck(scenario, case)
    stop = scenario.tables.supply.rise_time / 2
    taken = []
    for _ in range(turns):
        spent = []
        for end in (stop, stop + COLD_SPAN):
            begun = now()
            simulate(session, ended_at(deck, end), TIME_LIMIT)
            spent.append((now() - begun).cpu)
        taken.append((spent[1] - spent[0]) * deck.period / COLD_SPAN)
    return Spread.of(taken).median


def fine_plan(scenario: Scenario, points: int) -> SweepPlan:
    """The demo sweep in finer steps, 200 of them in the supply voltage."""
    return SweepPlan.read(
        scenario,
        ["supply.voltage = 30 V to 44 V in 199 steps", f"load = 40 % to 110 % in {points // 200 - 1} steps"],
        cases=["loaded"],
    )


def million() -> ColdStarts:
    """Cold starts of a million points on one worker, by the sweep's own plan."""
    return planned(fine_plan(Scenario.from_file(SCENARIOS / "bench-heater.toml"), MILLION), 1)


def registration(points: int) -> float:
    """Seconds a point to make a plan, hash its points and register them in a store."""
    scenario = Scenario.from_file(SCENARIOS / "bench-heater.toml")
    begun = time.perf_counter()
    plan = fine_plan(scenario, points)
    with tempfile.TemporaryDirectory(prefix="heatsim-") as folder, Store.open(Path(folder) / "points.db") as store:
        store.begin({"benchmark": True}, islice(plan.keyed(scenario), points))
        store.pending(1)
    return (time.perf_counter() - begun) / points


__all__ = [
    "MILLION",
    "Beside",
    "ColdStarts",
    "Sized",
    "Swept",
    "beside_plain",
    "close_sweeps",
    "cold_starts",
    "fitted",
    "followed_close",
    "million",
    "registration",
    "sizes",
    "sweeps",
]
