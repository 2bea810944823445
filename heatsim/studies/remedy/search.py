# SPDX-License-Identifier: GPL-3.0-or-later
"""Searches after one kind of remedy each. A search proposes what its predictions promise and learns from what came out."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice

from heatsim.errors import InputError
from heatsim.parts.duty import Duty, duty_of
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import SWITCH_ON, CaseResult, moves_of
from heatsim.studies.remedy import changes as ways
from heatsim.studies.remedy.changes import Change, fields_of
from heatsim.studies.remedy.predict import predicted
from heatsim.studies.remedy.result import Tried
from heatsim.studies.remedy.runner import OutOfTime, Proposal, Search
from heatsim.studies.remedy.windings import Workshop, Wound
from heatsim.verdict import Finding

TRIES = 4
"""Proposals of one search."""

MARGIN = 0.02
"""Headroom [1] asked of a prediction beyond the wanted one, for what predictions miss."""

LOOKED_AT = 60
"""Windings predicted in one search."""

SHARED = {
    "current of one capacitor, rms": "capacitors",
    "current of the most loaded capacitor, rms": "capacitors",
    "peak current of a device": "switches",
    "current of a device at switch-on": "switches",
}
"""Limits that more parts in parallel mend, whatever else is changed -> kind of the change."""

GATES = ("highest gate voltage", "lowest gate voltage", "gate drive reached", "drain voltage at turn-on", "starts and settles")
"""Limits that gate resistor and pull-up move."""

WARM = ("junction temperature", "temperature of the sink")
"""Starts of the names of limits that a better sink, a fan or more devices mend."""

Known = Mapping[str, CaseResult]

Moves = frozenset[tuple[str, int]]
"""Parts of the gate drive and whether more (1) or less (-1) of each is asked for."""


@dataclass(frozen=True)
class Ground:
    """What a search stands on. scenario: as given; known: simulated cases from which predictions are made; cases: all that
    must hold, hardest first; begun: changes that every proposal contains; deadline: by time.monotonic() [s], beyond which
    nothing more is estimated.
    """

    scenario: Scenario
    known: Known
    cases: tuple[str, ...]
    begun: tuple[Change, ...] = ()
    deadline: float | None = None

    @property
    def wanted(self) -> float:
        """Headroom asked for [1]."""
        return self.scenario.tables.heater.wanted_headroom

    @cached_property
    def workshop(self) -> Workshop:
        """What chokes can be wound from."""
        return Workshop(self.scenario)

    @cached_property
    def duty(self) -> Duty:
        """Of the case with the largest supply current; the simulated mean current where it is known."""
        hardest = max(self.known.values(), key=lambda case: case.heater.supply_current)
        mean = hardest.measures.get("supply.mean_current_a")
        duty = duty_of(hardest.heater)
        return replace(duty, mean_current=mean / len(hardest.heater.chokes)) if isinstance(mean, float) else duty

    def learned(self, tried: Tried) -> Ground:
        """The ground with the cases of a trial in place of older ones; those that were not measured stay."""
        settled = {name: case for name, case in tried.cases.items() if case.measures.get("tank.frequency_hz") is not None}
        return replace(self, known={**self.known, **settled})

    def short(self, changes: Sequence[Change]) -> list[Finding] | None:
        """What a prediction finds short or not to be judged in all known cases; None when it cannot be built. Raises OutOfTime."""
        if self.deadline is not None and time.monotonic() > self.deadline:
            raise OutOfTime
        try:
            changed = self.scenario.change(fields_of((*self.begun, *changes)))
            found = [each for case in self.known.values() for each in predicted(case, changed, MARGIN)]
        except InputError:
            return None
        return [each for each in found if each.grade != "holds"]

    def fitted(self, changes: Sequence[Change], alone: bool = False) -> tuple[Change, ...] | None:
        """The changes, with parts in parallel added where a prediction asks for them; None when it promises nothing.

        alone: add none
        """
        short = self.short(changes)
        if short is None or any(alone or each.limit not in SHARED for each in short):
            return None
        added = tuple(self._added(kind, short, changes) for kind in dict.fromkeys(SHARED[each.limit] for each in short))
        if any(change is None for change in added):
            return None
        whole = (*self.begun, *changes, *(change for change in added if change is not None))
        return whole if whole and (not added or not self.short((*changes, *added))) else None  # type: ignore[arg-type]

    def _added(self, kind: str, short: Sequence[Finding], changes: Sequence[Change]) -> Change | None:
        """More parts in parallel, enough for the worst finding; None when nobody would build so many."""
        own = [each for each in short if SHARED.get(each.limit) == kind and each.value and each.allowed]
        ratio = max(((each.value or 0.0) / (each.allowed or 1.0) for each in own), default=0.0) / (1 - self.wanted - MARGIN)
        tables = self.scenario.tables
        if kind == "switches":
            count = math.ceil(tables.switch.count * ratio)
            return ways.switches_of(self.scenario, count) if count <= ways.MOST_SWITCHES else None
        counts = range(math.ceil(tables.capacitors.count * ratio), ways.MOST_CAPACITORS + 1)
        fits = (ways.capacitors_of(self.scenario, count) for count in counts)
        return next((change for change in fits if not self._bank_short((*changes, change))), None)

    def _bank_short(self, changes: Sequence[Change]) -> bool:
        return any(SHARED.get(each.limit) == "capacitors" for each in self.short(changes) or ())


def supply_search(ground: Ground, changes: tuple[Change, ...] = (), alone: bool = False) -> Search:
    """The highest supply voltage that holds, on a grid of half volts, together with other changes."""
    grid = ways.supply_grid(ground.scenario)
    for _ in range(TRIES):
        best = highest(ground, grid, changes, alone)
        if best is None:
            return
        volts, fitted = best
        tried = yield Proposal(fitted)
        if tried.holds:
            return
        ground, grid = ground.learned(tried), [each for each in grid if each < volts]


def highest(
    ground: Ground, grid: Sequence[float], changes: tuple[Change, ...], alone: bool = False
) -> tuple[float, tuple[Change, ...]] | None:
    """The highest voltage [V] of a rising grid that a prediction promises, and all changes; None where none is.

    By halving: what holds at a voltage is taken to hold below it.
    """
    low, high, best = 0, len(grid) - 1, None
    while low <= high:
        middle = (low + high) // 2
        fitted = ground.fitted((ways.supply_at(ground.scenario, grid[middle]), *changes), alone)
        if fitted is None:
            high = middle - 1
        else:
            low, best = middle + 1, (grid[middle], fitted)
    return best


def winding_search(ground: Ground, wounds: Iterable[Wound], changes: tuple[Change, ...] = ()) -> Search:
    """The lightest winding that holds, together with other changes."""
    tries = 0
    for wound in islice(wounds, LOOKED_AT):
        fitted = ground.fitted((wound.change(), *changes))
        if fitted is None:
            continue
        tried = yield Proposal(fitted)
        tries += 1
        if tried.holds or tries == TRIES:
            return
        ground = ground.learned(tried)


def options_search(ground: Ground, options: Iterator[tuple[Change, ...]], alone: bool = False) -> Search:
    """The first of some joint changes that holds."""
    tries = 0
    for option in options:
        fitted = ground.fitted(option, alone)
        if fitted is None:
            continue
        tried = yield Proposal(fitted)
        tries += 1
        if tried.holds or tries == TRIES:
            return
        ground = ground.learned(tried)


def rewound_and_lower(ground: Ground, wounds: Iterable[Wound]) -> Search:
    """Chokes wound anew and the supply lowered: the winding that a prediction gives the highest voltage."""
    grid = ways.supply_grid(ground.scenario)
    best: tuple[float, tuple[Change, ...]] | None = None
    for wound in islice(wounds, 8):
        found = highest(ground, [each for each in grid if best is None or each > best[0]], (wound.change(),))
        best = found or best
    if best is not None:
        yield from supply_search(ground, tuple(each for each in best[1] if each.kind == "chokes"))


def gate_search(ground: Ground, first: Sequence[Change], asked: Moves, faults: frozenset[str], cured: list[Tried]) -> Search:
    """Gate resistor, pull-up and the supply's rise: the first values with which no limit of the gates fails; put into `cured`.

    first: what a heater was found to start with; asked: which way the failing limits want the parts; faults: these limits, which
    must hold, too, where what is left of their fault is no longer the gates' by itself
    """

    def cures(cases: Collection[CaseResult]) -> bool:
        return not gate_faults(cases) and not faults & {each.limit for each in _short(cases)}

    return _first_cure(ground, (*first, *ways.gate_values(ground.scenario, asked)), cures, cured)


def start_search(ground: Ground, cured: list[Tried]) -> Search:
    """A calmer start: the first rise of the supply or pull-up with which the drains stay low at switch-on; put into `cured`."""

    def cures(cases: Collection[CaseResult]) -> bool:
        return not start_faults(cases) and not gate_faults(cases)

    return _first_cure(ground, ways.calmer_starts(ground.scenario), cures, cured)


def _first_cure(
    ground: Ground, changes: Iterable[Change], cures: Callable[[Collection[CaseResult]], bool], cured: list[Tried]
) -> Search:
    """The first change with which every case comes to a steady state and that cures them; put into `cured`."""
    for change in changes:
        tried = yield Proposal((*ground.begun, change), whole=True)
        if _oscillates(tried) and cures(tried.cases.values()):
            cured.append(tried)
            return


def _oscillates(tried: Tried) -> bool:
    """Whether every case came to a steady state, so that its limits could be judged."""
    return tried.complete and all(case.outcome == "settled" for case in tried.cases.values())


def start_faults(cases: Iterable[CaseResult]) -> bool:
    """Whether drains go too high at switch-on."""
    return any(each.limit == SWITCH_ON for each in _short(cases))


def too_warm(cases: Iterable[CaseResult]) -> bool:
    """Whether switches or their sink get too warm."""
    return any(each.limit.startswith(WARM) for each in _short(cases))


def gate_faults(cases: Iterable[CaseResult]) -> frozenset[str]:
    """Limits that fail or are marginal and that gate resistor or pull-up would move."""
    return frozenset(each.limit for each in _short(cases) if each.limit in GATES or gate_moves([each]))


def _short(cases: Iterable[CaseResult]) -> Iterator[Finding]:
    """Findings that fail or are marginal."""
    return (each for case in cases for each in case.findings if each.grade in ("fails", "marginal"))


def gate_moves(findings: Iterable[Finding]) -> Moves:
    """Which way the remedies of failing limits move gate resistor and pull-up."""
    told = (move for each in findings if each.grade in ("fails", "marginal") for move in moves_of(each.remedy))
    return frozenset((part, way) for part, way in told if part in ways.GATE_PARTS)
