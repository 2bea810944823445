# SPDX-License-Identifier: GPL-3.0-or-later
"""Evaluate a continuation path of operating points in this process: cold starts at its ends, periodic states in between.

The first point of a path is started cold, as the builder would switch it on, or followed from a neighbour that a cold start has
reached. The others are followed by continuation: each is a periodic state found from its neighbour's. Then the last one is started
cold, and so are the worst one that holds and those at a jump: each must come to the state that was followed there. If one does not,
it divides the path; without such a point the middle is started cold, and the parts are treated alike. So each followed point
lies between two points that a cold start has reached, on one branch of periodic states. A point that cannot be followed is
started cold itself.

A supply with slow ripple has no periodic state. Where the ripple is slow beside everything the stage remembers, each
instant of it is as good as a steady supply: the states at its crest and in its valley are followed, and said to be that.
Each limit is judged at the worse of the two.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from heatsim.engine import MEASURABLE
from heatsim.engine.outcome import Run
from heatsim.errors import InputError
from heatsim.measures.errors import SIGMAS
from heatsim.measures.gather import Measures, standard_error_key
from heatsim.netlist.deck import Deck
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, at_worst, case_deck, judge_run, quarter_before_crest
from heatsim.studies.points.built import Built
from heatsim.studies.points.point import ContinuationPath, PointResult, failed, summarise
from heatsim.studies.points.same import departure, relative_step, same_state, same_step

if TYPE_CHECKING:
    from heatsim.engine.session import Session
    from heatsim.engine.shooting import InitialGuess, PeriodicState

Emit = Callable[[int, PointResult], None]
"""Called with a point's place in the path and its result, once for every point, in any order; final when called."""

FOLLOWED, CONFIRMED = "periodic", "cold start, then periodic"
"""Methods of a point that was followed from a neighbour, and of one whose periodic state is what a cold start leads to."""

PERIODS = 4
"""Times the one period of a periodic state is laid end to end to be measured."""

JUMP, MOST_JUMPS = 5.0, 2
"""Departure from the line through the two points before, in SAME and SAME_CHOKE, that counts as a jump, and how many of a path are
looked into."""

BESIDE = 3
"""Points of a path from one that is started cold to the nearest for which that is answer enough."""

RIPPLED = "at crest and valley of the supply's ripple, taken as steady because it is slow beside the stage"

TWICE = 0.02
"""Difference between odd and even periods, as a share of the swing, from which a state counts as one of two periods."""

NEAR = 0.3
"""Share of its size by which the tank's voltage may differ between an unfinished cold start and the periodic state
taken for its end."""


def _start_fails(followed: PointResult, cold: PointResult) -> bool:
    """Whether a limit that only a start from rest tells of, such as the drains' voltage at switch-on, does not plainly hold."""
    known = {(finding.part, finding.limit) for finding in followed.findings}
    return any(each.grade in ("fails", "marginal") for each in cold.findings if (each.part, each.limit) not in known)


def _unclosed(state: PeriodicState) -> Measures:
    """Standard error of the supply's small ripple [A]: that its current does not quite close may bend the period by as much again,
    which `ripple`, to which all periods are alike, cannot see.
    """
    current = state.waveforms["supply.current"]
    return {standard_error_key("supply.ripple_current_a"): abs(float(current[-1] - current[0])) / SIGMAS}


def evaluate_path(
    session: Session, scenario: Scenario, path: ContinuationPath, emit: Emit, alive: Callable[[], None] = lambda: None
) -> None:
    """Evaluate every point of a path. A point that cannot be built or simulated is a result with its cause.

    alive: called at every step of the work
    """
    _Path(session, scenario, path, emit, alive).evaluate()


class _Path:
    """One path on one session.

    done: what has been told, by place; _states: of the points followed on this stretch, by place.
    """

    def __init__(self, session: Session, scenario: Scenario, path: ContinuationPath, emit: Emit, alive: Callable[[], None]) -> None:
        self.session, self.scenario, self.path, self.emit, self.alive = session, scenario, path, emit, alive
        self.points = path.points
        self.done: dict[int, PointResult] = {}
        self._states: dict[int, InitialGuess] = {}

    def evaluate(self) -> None:
        """All points."""
        low, state = -1, self.path.start
        if state is not None and not self.path.confirm:
            self._onward(state)
            return
        if state is None:
            low, state = 0, self._told(0, self._first(0)).state
        self._between(low, state, len(self.points) - 1)

    def _told(self, place: int, result: PointResult) -> PointResult:
        self.done[place] = result
        self.emit(place, result)
        return result

    def _onward(self, guess: InitialGuess) -> None:
        """From a neighbour's state through all points, without a cold start but where one cannot be followed."""
        for place in range(len(self.points)):
            result = self._followed(place, guess)
            if result is None:
                result = self._cold(place)
            guess = result.state or guess
            self._told(place, result)

    def _between(self, low: int, state: InitialGuess | None, high: int) -> None:
        """The points behind one whose state is known to be reached, up to another; that may have been started cold already."""
        known = high in self.done
        if high - low < 1 + known or state is not None and self._branch(low, state, high):
            return
        if high not in self.done:
            self._told(high, self._cold(high))
        marks = [k for k in range(low + 1, high) if k in self.done and self.done[k].outcome != "unbuildable"]
        left = [k for k in range(low + 1, high) if k not in self.done]
        if not marks and left:
            marks = [left[len(left) // 2]]
            self._told(marks[0], self._cold(marks[0]))
        for mark in (*marks, *([high] if marks else [])):
            self._between(low, state, mark)
            low, state = mark, self.done[mark].state

    def _branch(self, low: int, state: InitialGuess, high: int) -> bool:
        """Follow the points from one that is reached and tell them, if cold starts come to the same; whether they do.

        Cold starts that were made on the way are told in any event.
        """
        known = self.done.get(high)
        if known is not None and known.state is None:
            return False
        found = self._through(low, state, high)
        if found is None:
            return False
        end = max(found, default=high)
        if known is not None:
            if end < high or not same_state(found.pop(high), known):
                return False
        elif found and not self._confirmed(found, end, low):
            return False
        for place, result in found.items():
            self._told(place, result)
        return True

    def _through(self, low: int, guess: InitialGuess, high: int) -> dict[int, PointResult] | None:
        """The points behind one up to another, each followed from the one before; None where the branch ends."""
        found: dict[int, PointResult] = {}
        self._states = {}
        for place in range(low + 1, high + 1):
            if place in self.done and place < high:
                guess = self.done[place].state or guess
                continue
            result = self._followed(place, guess)
            if result is None and place in self.done:
                return None
            if result is None or result.outcome == "unbuildable":
                result = self._told(place, result or self._cold(place))
                if result.state is None and result.outcome != "unbuildable":
                    return None
            else:
                found[place] = result
            guess = result.state or guess
        return found

    def _confirmed(self, found: dict[int, PointResult], end: int, low: int) -> bool:
        """Whether cold starts of a sample of followed points come to the same states.

        Those started cold take their places among the followed, or are told where one comes to another state.
        """
        for place in self._sample(found, low, end):
            result = self._checked(place, found[place])
            if not same_state(found[place], result):
                self._told(place, result)
                for other in [k for k in found if found[k].method != FOLLOWED]:
                    self._told(other, found.pop(other))
                return False
            found[place] = result
        return True

    def _sample(self, found: dict[int, PointResult], low: int, end: int) -> list[int]:
        """Followed points that are started cold besides: the end and what was asked for; the worst of those that do not fail, where
        none of these is near; both sides of a jump.
        """
        chosen = [end, *(place for place in self.path.samples if place in found and place != end)]
        marks = [low, *chosen, *self.done]
        held = [place for place, result in found.items() if result.grade != "fails" and result.headroom is not None]
        worst = min(held, key=lambda place: found[place].headroom or 0.0, default=end)
        chosen += [worst] if all(abs(worst - mark) > BESIDE for mark in marks) else []
        return list(dict.fromkeys((*chosen, *self._jumps(found))))

    def _jumps(self, found: dict[int, PointResult]) -> list[int]:
        """Points on both sides of the largest jumps: where what was followed leaves the line through the two points before."""
        sizes: dict[int, float] = {}
        for place in sorted(found):
            if place - 1 in found and place - 2 in found and place - 1 not in sizes:  # the line through a jump leads astray
                step = relative_step(*self.points[place - 2 : place + 1])
                size = 0.0 if step is None else departure(found[place - 2], found[place - 1], found[place], step)
                sizes |= {place: size} if size > JUMP else {}
        largest = sorted(sizes, key=lambda place: -sizes[place])[:MOST_JUMPS]
        return [place - side for place in largest for side in (1, 0)]

    def _checked(self, place: int, followed: PointResult) -> PointResult:
        """A point from rest: what was followed to it if a coarse start comes to the same state, else what a full one does."""
        built = self._build(place)
        start = self._started(built) if isinstance(built, Built) else None
        if start is not None and same_state(followed, start[0]) and not _start_fails(followed, start[0]):
            return replace(followed, method=CONFIRMED)
        return self._cold(place)

    def _first(self, place: int) -> PointResult:
        """A point that has no neighbour: the periodic state that a coarse start leads to, else what a full one comes to."""
        from heatsim.engine.shooting import NoPeriodicState
        from heatsim.engine.steady import coarse_guess

        begun = time.perf_counter()
        built = self._build(place)
        start = self._started(built) if isinstance(built, Built) else None
        if isinstance(built, PointResult) or start is None:
            return self._cold(place)
        try:
            guess = coarse_guess(self.session, case_deck(built.scenario, built.case, built.heater, paused=True), start[1])
        except NoPeriodicState:
            return self._cold(place)
        reached = self._periodic(built, guess, begun, CONFIRMED, None)
        if reached is None or not same_state(reached, start[0]) or _start_fails(reached, start[0]):
            return self._cold(place)
        return reached

    def _started(self, built: Built) -> tuple[PointResult, InitialGuess] | None:
        """A coarse start: what is found at the first look at it, and from where to go on; None where it tells nothing."""
        from heatsim.engine.steady import coarse_start

        if built.heater.supply.ripple:
            return None
        deck = case_deck(built.scenario, built.case, built.heater)
        found = coarse_start(self.session, deck, built.scenario.tables.simulate.time_limit, self._reported)
        if found is None:
            return None
        run = Run("drifting", "", found[0], deck.coarse(), (), 0.0, self.session.version)
        return summarise(judge_run(built.scenario, built.case, built.heater, run), "cold start", 0.0), found[1]

    def _build(self, place: int) -> Built | PointResult:
        begun = time.perf_counter()
        point = self.points[place]
        try:
            changed = self.scenario.change(dict(point.fields))
            return Built(changed, changed.heater(point.case), point.case)
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
            reached = self._periodic(built, guess, begun, CONFIRMED, NEAR)
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
        result = self._periodic(built, self._predicted(place) or guess, begun, FOLLOWED, None)
        if result is not None:
            self._states[place] = result.state
        return result

    def _periodic(self, built: Built, guess: InitialGuess, begun: float, method: str, near: float | None) -> PointResult | None:
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
        told = replace(case, waveforms=crest.waveforms, window=None)
        result = summarise(told, method, time.perf_counter() - begun, crest.guess)
        return replace(result, notes=(RIPPLED,)) if len(cases) > 1 else result

    def _rippled(self, built: Built, cases: dict[str, CaseResult]) -> CaseResult:
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

    def _judged(self, built: Built, heater: Heater, deck: Deck, state: PeriodicState, begun: float) -> CaseResult:
        waves = state.waveforms.repeated(PERIODS)
        run = Run("settled", "", waves, deck, (), time.perf_counter() - begun, self.session.version)
        case = judge_run(built.scenario, built.case, heater, run, from_rest=False)
        return replace(case, measures=case.measures | _unclosed(state))

    def _predicted(self, place: int) -> InitialGuess | None:
        """The state by the secant through the point before and another on its line; where a row of a grid ends, by the step that
        was made in the row before.
        """
        latest = self._states.get(place - 1)
        if latest is None:
            return None
        for other in sorted(self._states.keys() - {place - 1}, reverse=True):
            step = relative_step(self.points[other], self.points[place - 1], self.points[place])
            if step is not None:
                return latest.moved(self._states[other], latest, step)
        beside, before = self._states.get(place - 2), self._states.get(place - 3)
        if beside is None or before is None or not same_step(*self.points[place - 3 : place + 1]):
            return None
        return latest.moved(beside, before, 1.0)
