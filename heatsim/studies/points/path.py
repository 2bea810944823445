# SPDX-License-Identifier: GPL-3.0-or-later
"""Evaluate a continuation path of operating points in this process: cold starts at its ends, periodic states in between.

The first and the last point of a path are started cold, as the builder would switch them on. The points between are
followed by continuation: each is a periodic state found from its neighbour's. The state followed to the last point must be
the one the cold start came to. If it is not, or if one end does not settle, a point in the middle is started cold and both
halves are treated alike. So each followed point lies between two points that a cold start has reached, on one branch of
periodic states. A point that cannot be followed is started cold itself.

A supply with slow ripple has no periodic state. Where the ripple is slow beside everything the stage remembers, each
instant of it is as good as a steady supply: the states at its crest and in its valley are followed, and said to be that.
Each limit is judged at the worse of the two.
"""

from __future__ import annotations

import math
import re
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from heatsim.engine import MEASURABLE
from heatsim.engine.outcome import Run
from heatsim.errors import InputError
from heatsim.netlist.deck import Deck
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, at_worst, case_deck, judge_run, quarter_before_crest
from heatsim.studies.points.point import ContinuationPath, Point, PointResult, failed, summarise

if TYPE_CHECKING:
    from heatsim.engine.session import Session
    from heatsim.engine.shooting import InitialGuess, PeriodicState

Emit = Callable[[int, PointResult], None]
"""Called with a point's place in the path and its result, once for every point, in any order; final when called."""

PERIODS = 4
"""Times the one period of a periodic state is laid end to end to be measured."""

SAME = {"tank.frequency_hz": 0.005, "tank.peak_voltage_v": 0.01, "supply.mean_current_a": 0.03}
"""Largest difference between a followed state and a cold start that came to the same one. A cold start that counts as
settled may still move by a few parts in a thousand, most of all its supply current."""

SAME_CHOKE = 0.05
"""The same for the peak currents of the chokes."""

RIPPLED = "at crest and valley of the supply's ripple, taken as steady because it is slow beside the stage"

TWICE = 0.02
"""Difference between odd and even periods, as a share of the swing, from which a state counts as one of two periods."""

SLOW_RIPPLE = 0.1
"""A ripple is slow when less than this share of its period passes while tank and supply settle. What settles exponentially
swings less than from one steady state to the other, so that these bound it; a tenth of a resonance's frequency swings 1 % more.
"""

NEAR = 0.3
"""Share of its size by which the tank's voltage may differ between an unfinished cold start and the periodic state
taken for its end."""


def evaluate_path(
    session: Session, scenario: Scenario, path: ContinuationPath, emit: Emit, alive: Callable[[], None] = lambda: None
) -> None:
    """Evaluate every point of a path. A point that cannot be built or simulated is a result with its cause.

    alive: called at every step of the work
    """
    _Path(session, scenario, path, emit, alive).evaluate()


@dataclass(frozen=True)
class _Built:
    """A point's scenario and parts."""

    scenario: Scenario
    heater: Heater
    case: str

    def deck(self) -> Deck:
        """Its netlist for a cold start, with every vector saved."""
        return replace(case_deck(self.scenario, self.case, self.heater), every=True)

    def deck_at_crest(self) -> Deck:
        """As `deck`, at the crest of a slow ripple."""
        steady = self.steady.get("crest", self.heater)
        return replace(case_deck(self.scenario, self.case, steady), every=True)

    @property
    def steady(self) -> dict[str, Heater]:
        """The heater on a steady supply, at crest and valley of a slow ripple; none where the ripple is not slow."""
        supply = self.heater.supply
        if not supply.ripple:
            return {"crest": self.heater}
        tank = self.heater.quality / (math.pi * self.heater.frequency)
        decay, ringing = supply.slow_mode(self.heater.supply_current / supply.voltage)
        if max(tank, decay, ringing) * supply.ripple_frequency > SLOW_RIPPLE:
            return {}
        volts = {"crest": supply.voltage + supply.ripple / 2, "valley": supply.voltage - supply.ripple / 2}
        return {
            name: replace(self.heater, supply=replace(supply, voltage=value, ripple=0.0))
            for name, value in volts.items()
            if value > 0
        }


class _Path:
    """One path on one session. _latest: places and states of the two points followed last."""

    def __init__(self, session: Session, scenario: Scenario, path: ContinuationPath, emit: Emit, alive: Callable[[], None]) -> None:
        self.session, self.scenario, self.path, self.emit, self.alive = session, scenario, path, emit, alive
        self.points = path.points
        self._latest: list[tuple[int, InitialGuess]] = []

    def evaluate(self) -> None:
        """All points, the ends first."""
        last = len(self.points) - 1
        if self.path.start is not None and not self.path.confirm:
            self._onward(self.path.start)
            return
        first = self._emitted(0, self._cold(0))
        if last > 0:
            self._between(0, first, last, self._emitted(last, self._cold(last)))

    def _emitted(self, place: int, result: PointResult) -> PointResult:
        self.emit(place, result)
        return result

    def _onward(self, guess: InitialGuess) -> None:
        """From a neighbour's state through all points, without a cold start but where one cannot be followed."""
        for place in range(len(self.points)):
            result = self._followed(place, guess)
            if result is None:
                result = self._cold(place)
            guess = result.state or guess
            self.emit(place, result)

    def _between(self, low: int, first: PointResult, high: int, last: PointResult) -> None:
        """The points between two that were started cold."""
        if high - low < 2:
            return
        if first.state is not None and last.state is not None:
            found = self._branch(low, first, high, last)
            if found is not None:
                for place, result in found:
                    self.emit(place, result)
                return
        middle = (low + high) // 2
        result = self._emitted(middle, self._cold(middle))
        self._between(low, first, middle, result)
        self._between(middle, result, high, last)

    def _branch(self, low: int, first: PointResult, high: int, last: PointResult) -> list[tuple[int, PointResult]] | None:
        """The points between, followed; None unless the branch leads to what the cold start at the end came to."""
        found: list[tuple[int, PointResult]] = []
        guess = first.state
        self._latest = []
        for place in range(low + 1, high):
            result = self._followed(place, guess)
            if result is None:
                result = self._cold(place)
                if result.state is None and result.outcome != "unbuildable":
                    return None
            guess = result.state or guess
            found.append((place, result))
        end = self._followed(high, guess)
        return found if end is not None and same_state(end, last) else None

    def _build(self, place: int) -> _Built | PointResult:
        begun = time.perf_counter()
        point = self.points[place]
        try:
            changed = self.scenario.change(dict(point.fields))
            return _Built(changed, changed.heater(point.case), point.case)
        except InputError as error:
            told = "; ".join(str(problem) for problem in error.problems)
            return failed("unbuildable", told, time.perf_counter() - begun)

    def _cold(self, place: int) -> PointResult:
        """One point from a cold start. From where it stands at the first look, a periodic state close by may be found by
        shooting. What neither has settled nor leads to one runs its full time.
        """
        from heatsim.engine.shooting import guess_at_section
        from heatsim.engine.simulate import simulate

        begun = time.perf_counter()
        built = self._build(place)
        if isinstance(built, PointResult):
            return built
        deck, limit = built.deck(), built.scenario.tables.simulate.time_limit
        look = built.deck_at_crest()
        run = simulate(self.session, look.to_first_look(), limit, self._reported)
        guess = guess_at_section(self.session, deck) if run.outcome in MEASURABLE else None
        ripples = bool(built.heater.supply.ripple)
        if (run.outcome == "drifting" or ripples) and guess is not None:
            reached = self._periodic(built, guess, begun, "cold start, then periodic", NEAR)
            if reached is not None:
                return reached
        if run.outcome not in ("settled", "unsolved", "stalled") or ripples and run.outcome != "stalled":
            run = simulate(self.session, deck, limit, self._reported)
            guess = guess_at_section(self.session, deck) if run.outcome == "settled" else None
        case = judge_run(built.scenario, built.case, built.heater, run)
        guess = guess if run.outcome == "settled" and not run.swings and not ripples else None
        result = summarise(case, "cold start", time.perf_counter() - begun, guess)
        twice = result.measures.get("tank.period_two_ratio")
        if isinstance(twice, float) and twice > TWICE:
            return replace(result, state=None, notes=("repeats itself only after two periods",))
        return result

    def _reported(self, reached: float, target: float) -> None:
        self.alive()

    def _followed(self, place: int, guess: InitialGuess) -> PointResult | None:
        """One point as the periodic state next to a neighbour's; None when there is none or the supply's ripple is not slow."""
        begun = time.perf_counter()
        built = self._build(place)
        if isinstance(built, PointResult):
            return built
        result = self._periodic(built, self._predicted(place) or guess, begun, "periodic", None)
        if result is not None:
            self._latest = [*self._latest[-1:], (place, result.state)]
        return result

    def _periodic(self, built: _Built, guess: InitialGuess, begun: float, method: str, near: float | None) -> PointResult | None:
        """A point as a periodic state, or two on a slow ripple; None when there is none, or none as `near` as asked."""
        states: dict[str, PeriodicState] = {}
        decks: dict[str, Deck] = {}
        for name, heater in built.steady.items():
            first = states.get("crest")
            decks[name] = case_deck(built.scenario, built.case, heater, paused=True)
            found = self._state(decks[name], first.guess if first else guess)
            if found is None or near is not None and not first and abs(found.away[0]) > near:
                return None
            states[name] = found
        if "crest" not in states or built.heater.supply.ripple and len(states) < 2:
            return None
        cases = {name: self._judged(built, heater, decks[name], states[name], begun) for name, heater in built.steady.items()}
        case = self._rippled(built, cases) if len(cases) > 1 else cases["crest"]
        crest = states["crest"]
        result = summarise(case, method, time.perf_counter() - begun, crest.guess)
        return replace(result, waveforms=crest.waveforms, notes=(RIPPLED,) if len(cases) > 1 else ())

    def _rippled(self, built: _Built, cases: dict[str, CaseResult]) -> CaseResult:
        """Crest and valley of a slow ripple as one result."""
        supply = built.heater.supply
        charging = math.pi * supply.ripple_frequency * supply.reservoir * supply.ripple
        between = quarter_before_crest(built.scenario, cases["crest"], cases["valley"], charging)
        return at_worst(built.scenario, cases | {"between": between})

    def _state(self, deck: Deck, guess: InitialGuess) -> PeriodicState | None:
        """The periodic state of a paused circuit on a steady supply, None without."""
        from heatsim.engine.shooting import NoPeriodicState, find_periodic_state

        self.alive()
        try:
            return find_periodic_state(self.session, deck, guess)
        except NoPeriodicState:
            return None

    def _judged(self, built: _Built, heater: Heater, deck: Deck, state: PeriodicState, begun: float) -> CaseResult:
        waves = state.waveforms.repeated(PERIODS)
        run = Run("settled", "", waves, deck, (), time.perf_counter() - begun, self.session.version)
        return judge_run(built.scenario, built.case, heater, run, from_rest=False)

    def _predicted(self, place: int) -> InitialGuess | None:
        """The state by the secant through the two points before."""
        if len(self._latest) < 2:
            return None
        (a, x), (b, y) = self._latest
        step = relative_step(self.points[a], self.points[b], self.points[place])
        return None if step is None else y.beyond(x, step)


def same_state(one: PointResult, other: PointResult) -> bool:
    """Whether two results of one point show the same periodic state."""
    chokes = {key: SAME_CHOKE for key in one.measures if key.startswith("choke.") and key.endswith(".peak_current_a")}
    for key, most in {**SAME, **chokes}.items():
        a, b = one.measures.get(key), other.measures.get(key)
        if not isinstance(a, float) or not isinstance(b, float) or abs(a - b) > most * max(abs(a), abs(b)):
            return False
    return True


def relative_step(a: Point, b: Point, c: Point) -> float | None:
    """(c - b)/(b - a) along the one field in which three points differ; None when it is not one, or no number."""
    differ = [k for k, (x, y, z) in enumerate(zip(a.fields, b.fields, c.fields, strict=True)) if not x == y == z]
    if len(differ) != 1:
        return None
    texts = [str(point.fields[differ[0]][1]) for point in (a, b, c)]
    parts = [re.fullmatch(r"([-+0-9.eE]+) ?(\D*)", text) for text in texts]
    if not all(parts) or len({part.group(2) for part in parts if part}) != 1:
        return None
    x, y, z = (float(part.group(1)) for part in parts if part)
    return (z - y) / (y - x) if y != x and abs(z - y) <= 2 * abs(y - x) else None
