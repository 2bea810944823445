# SPDX-License-Identifier: GPL-3.0-or-later
"""The ways to a steady state, each timed from a point's fields to its judged result."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from heatsim.engine import poincare, shooting
from heatsim.engine.outcome import Run
from heatsim.engine.session import Session
from heatsim.engine.simulate import simulate
from heatsim.engine.steady import start_to_steady
from heatsim.netlist.deck import Deck
from heatsim.parts.heater import Heater
from heatsim.studies.check import case_deck, judge_run
from heatsim.studies.check.shortened import shortened
from heatsim.studies.points.path import evaluate_path
from heatsim.studies.points.point import ContinuationPath, Point, PointResult, summarise
from tests.benchmarks.circuits import Circuit
from tests.benchmarks.clock import Spans, Spread, Took, now
from tests.benchmarks.truth import Short, Truth, ended_at, errors, tail
from tests.support.engine.binary import run_binary

TIME_LIMIT = 300.0
"""Wall clock for one run [s]; none is meant to reach it."""

PLAIN = "plain ngspice -b"
SETTLED = "until settled"
CHECK = "heatsim check"
CHEAPEST = "cheapest settled"
FASTER = "cheapest, faster supply"
SINGLE = "periodic, single"
SUPPLY = "periodic, along supply"
LOAD = "periodic, along load"

METHODS = {
    PLAIN: "cold start by the plain program, as long as the next one's, raw file written and read back",
    SETTLED: "cold start by the shared library until heatsim itself finds it settled",
    CHECK: "cold start with coarse steps, then the periodic state that it leads to; where there is none, as before after it",
    CHEAPEST: "cold start by the shared library, ended as soon as it agrees with the reference from there on",
    FASTER: "the same, with whichever rise time of the supply makes it shortest",
    SINGLE: "periodic state from a neighbour's section, nothing else known",
    SUPPLY: "periodic state from the neighbour before it, 0.5 V apart",
    LOAD: "periodic state from the neighbour before it, 5 % of the workpiece apart",
}
"""Name -> what is done, in the order of the tables."""


@dataclass(frozen=True)
class Timing:
    """One point by one method. sim: the simulator's part; whole: from the fields to the judged result; off: errors
    against the reference, of points that have one; periods: simulated, of periodic states; method: that it came to.
    """

    method: str
    circuit: str
    turn: int
    sim: Took
    whole: Took
    off: tuple[float | None, ...] | None = None
    periods: int | None = None
    came_to: str = ""


@dataclass(frozen=True)
class Bench:
    """What the timed methods of one circuit need: the truth about it, and neighbours' states to start from."""

    truth: Truth
    session: Session
    over_supply: tuple[Any, tuple[Point, ...]]
    over_load: tuple[Any, tuple[Point, ...]]

    @property
    def circuit(self) -> Circuit:
        """The circuit."""
        return self.truth.circuit


def prepare(session: Session, truth: Truth) -> Bench:
    """Find the neighbours' states."""
    pairs = []
    for start, path in (truth.circuit.over_supply(), truth.circuit.over_load()):
        found: list[PointResult] = []
        evaluate_path(
            session, truth.circuit.scenario, ContinuationPath((start,)), lambda place, result, found=found: found.append(result)
        )
        pairs.append((found[0].state, path))
    return Bench(truth, session, pairs[0], pairs[1])


@dataclass(frozen=True)
class Ends:
    """Processor time [s] of the points at the ends of paths. first: one without a neighbour, started coarsely, which leads to its
    periodic state; last: one that is followed, and then confirmed by a coarse start.
    """

    first: Spread
    last: Spread


def path_ends(bench: Bench, turns: int) -> Ends:
    """Both, as sweeps make them, on the point next to where each path begins."""
    first, last = [], []
    for _ in range(turns):
        for guess, path in (bench.over_supply, bench.over_load):
            for start, taken in ((None, first), (guess, last)):
                begun = now()
                evaluate_path(bench.session, bench.circuit.scenario, ContinuationPath(path[:1], start), lambda place, result: None)
                taken.append((now() - begun).cpu)
    return Ends(Spread.of(first), Spread.of(last))


def timings(benches: Sequence[Bench], turns: int, tell: Callable[[str], None]) -> Iterator[Timing]:
    """All methods of all circuits, turn after turn, within a turn in random order so that nobody always comes first."""
    order = random.Random(1)
    for turn in range(turns):
        jobs = [(bench, method) for bench in benches for method in METHODS]
        order.shuffle(jobs)
        for place, (bench, method) in enumerate(jobs):
            tell(f"turn {turn + 1} of {turns}, {place + 1} of {len(jobs)}: {method}, {bench.circuit.name}")
            for timing in run(bench, method):
                yield replace(timing, turn=turn)


def run(bench: Bench, method: str) -> list[Timing]:
    """One method of one circuit; nothing when it cannot be done there."""
    truth = bench.truth
    if method == PLAIN:
        return [_cold(bench, method, None, partial(_plain, truth.check_stop))]
    if method == SETTLED:
        return [_cold(bench, method, None, partial(_shared, bench.session))]
    if method == CHECK:
        return [_cold(bench, method, None, partial(_as_check, bench.session))]
    if method in (CHEAPEST, FASTER):
        short = truth.own if method == CHEAPEST else truth.free
        return [] if short is None else [_cold(bench, method, short, partial(_shared, bench.session))]
    guess, path = bench.over_load if method == LOAD else bench.over_supply
    if guess is None:
        return []
    if method == SINGLE:
        return _followed(bench, method, replace(guess, monodromy=None), path[-1:])
    return _followed(bench, method, guess, path)[1:]


def _cold(bench: Bench, method: str, short: Short | None, solve: Callable[[Deck], Run]) -> Timing:
    """A cold start; a short one is measured over its last few periods."""
    begun = now()
    point = bench.circuit.point()
    fields = dict(point.fields) | ({"supply.rise_time": short.rise} if short else {})
    scenario = bench.circuit.scenario.change(fields)
    heater = scenario.heater(point.case)
    deck = case_deck(scenario, point.case, heater)
    deck = deck if short is None else ended_at(deck, short.stop)
    if method == CHECK:
        deck = shortened(deck, case_deck(scenario, point.case, heater, paused=True), heater)
    built = now()
    done = solve(deck)
    simulated = now()
    result = _judged(scenario, point.case, heater, done, short)
    whole = now() - begun
    off = errors(result.measures, bench.truth.measures)
    return Timing(method, bench.circuit.name, 0, simulated - built, whole, off, None, result.outcome)


def _judged(scenario: Any, case: str, heater: Heater, done: Run, short: Short | None) -> PointResult:
    if short is None:
        return summarise(judge_run(scenario, case, heater, done), "cold start", done.wall_s)
    assert done.waveforms is not None
    cut = replace(done, outcome="settled", waveforms=tail(done.waveforms, float(done.waveforms.time[-1]), done.deck.period))
    return summarise(judge_run(scenario, case, heater, cut, from_rest=False), "cold start", done.wall_s)


def _plain(stop: float, deck: Deck) -> Run:
    lasting = deck.lasting(stop)
    return Run("settled", "", run_binary(lasting, TIME_LIMIT), lasting)


def _shared(session: Session, deck: Deck) -> Run:
    return simulate(session, deck, TIME_LIMIT)


def _as_check(session: Session, deck: Deck) -> Run:
    return start_to_steady(session, deck, TIME_LIMIT) or simulate(session, deck, TIME_LIMIT)


def _followed(bench: Bench, method: str, guess: Any, path: Sequence[Point]) -> list[Timing]:
    """Points of a path from a neighbour's state, as the workers of a sweep follow them."""
    marks: list[tuple[Took, PointResult, int, int]] = []
    spans = Spans({"orbit": [(shooting, "find_periodic_state")], "period": [(poincare.PoincareMap, "iterate")]})

    def emit(place: int, result: PointResult) -> None:
        marks.append((now(), result, len(spans.whole.get("orbit", [])), len(spans.whole.get("period", []))))

    begun = now()
    with spans:
        evaluate_path(bench.session, bench.circuit.scenario, ContinuationPath(tuple(path), guess, confirm=False), emit)
    found, since, searches, periods = [], begun, 0, 0
    for place, (at, result, searched, stepped) in enumerate(marks):
        sim = sum(spans.whole["orbit"][searches:searched], Took())
        own = place == len(path) - 1
        off = errors(result.measures, bench.truth.measures) if own else None
        found.append(Timing(method, bench.circuit.name, 0, sim, at - since, off, stepped - periods, result.method))
        since, searches, periods = at, searched, stepped
    return found


__all__ = ["METHODS", "Bench", "Ends", "Timing", "path_ends", "prepare", "run", "timings"]
