# SPDX-License-Identifier: GPL-3.0-or-later
"""The search for remedies: which searches there are, in which order, and within which bounds."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

from heatsim.engine import simulators
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.written import with_fields
from heatsim.studies.check import CaseResult, CheckResult
from heatsim.studies.remedy import changes as ways
from heatsim.studies.remedy.changes import Change, fields_of
from heatsim.studies.remedy.result import Remedies, Remedy, Tried
from heatsim.studies.remedy.runner import Bounds, Runner, Search
from heatsim.studies.remedy.search import (
    GATES,
    SHARED,
    Ground,
    gate_search,
    options_search,
    rewound_and_lower,
    supply_search,
    winding_search,
)
from heatsim.verdict import SEVERITY, Finding

SECONDS, MOST, ENOUGH = 40.0, 40, 3
"""Bounds of a search: wall clock [s], cases simulated, remedies."""

POWERS = ("supply.power_w", "workpiece.power_w")

GENTLE = 2.0
"""Speed of air [m/s] that goes together with another change: a small fan."""


def find_remedies(
    result: CheckResult,
    workers: int | None = None,
    progress: Callable[[int], None] | None = None,
    seconds: float | None = SECONDS,
    most: int = MOST,
    enough: int = ENOUGH,
) -> Remedies:
    """What to change so that every limit holds in every case of the scenario, each remedy simulated as a whole.

    result: of a scenario that does not hold
    workers: processes, by default one a core
    progress: called with the number of cases simulated so far
    seconds: wall clock after which nothing more is simulated, None for no bound
    most: cases simulated at most; enough: remedies at which the search ends
    """
    begun = time.monotonic()
    before = {key: _largest(result, key) for key in POWERS}
    why_not = _why_not(result)
    if why_not:
        return Remedies((), (), before, why_not, "", 0, 0.0)
    order = _hardest_first(result)
    bounds = Bounds(most, enough, None if seconds is None else begun + seconds)
    with simulators(workers) as pool:
        runner = Runner(pool, result.scenario, order, bounds, progress or (lambda _: None))
        ground = Ground(result.scenario, {case.name: case for case in result.cases}, order)
        ends = _gate_faults(result)
        cured: list[Tried] = []
        if ends:
            runner.run(iter([gate_search(ground, ends, cured)]))
        for tried in cured:
            ground = Ground(ground.scenario, {**ground.known, **tried.cases}, order, tried.changes)
        if _measured(ground) and len(runner.found) < enough:
            runner.run(searches(ground))
    found = tuple(sorted(runner.found, key=_preference))
    return Remedies(found, runner.tried, before, "", runner.ended, runner.simulations, time.monotonic() - begun)


def fixed_text(scenario: Scenario, remedy: Remedy) -> str:
    """The scenario's file with a remedy in it, comments kept."""
    heading = "\n".join(["Changed as heatsim check proposes:", *(f"- {each.words}" for each in remedy.changes)])
    return with_fields(scenario, fields_of(remedy.changes), heading)


def searches(ground: Ground) -> Iterator[Search]:
    """Every search, the more useful first."""
    scenario, limits = ground.scenario, ground.scenario.tables.limits
    shop = ground.workshop
    yield options_search(ground, iter([()]))
    if all(each.limit in SHARED for case in ground.known.values() for each in case.findings if each.grade != "holds"):
        yield supply_search(ground, alone=True)
        yield options_search(ground, _banks(ground))
        return
    stock = shop.windings(shop.drawer() if shop.wind else shop.catalogue(), ground.duty, limits, ground.wanted)
    yield winding_search(ground, stock)
    yield supply_search(ground, alone=True)
    air = [ways.air_at(scenario, speed) for speed in ways.faster_air(scenario)]
    yield options_search(ground, ((change,) for change in air))
    own = shop.windings(shop.own(), ground.duty, limits, ground.wanted)
    yield winding_search(ground, own)
    gentle = tuple(change for change in air if change.fields["heater.air_speed"] == f"{GENTLE:g} m/s")
    if gentle:
        yield supply_search(ground, gentle)
        yield winding_search(ground, shop.windings(shop.own(), ground.duty, limits, -1.0), gentle)
    yield supply_search(ground)
    yield rewound_and_lower(ground, shop.windings(shop.own(), ground.duty, limits, -1.0))
    if shop.wind:
        yield winding_search(ground, shop.windings(shop.catalogue(), ground.duty, limits, ground.wanted))
    yield options_search(ground, _banks(ground))


def _banks(ground: Ground) -> Iterator[tuple[Change, ...]]:
    """More or fewer of the present capacitors, the nearest numbers first."""
    table = ground.scenario.tables.capacitors
    for step in range(1, 5):
        for count in (table.count - step, table.count + step):
            if count >= 1:
                words = f"Take {count} capacitors instead of {table.count}"
                cost = f"{count - table.count} more capacitors" if count > table.count else ""
                yield (Change("capacitors", {"capacitors.count": count}, words, cost),)


def _why_not(result: CheckResult) -> str:
    """Why nothing can be searched for; empty if it can."""
    if result.verdict == "holds":
        return "Everything holds: there is nothing to mend."
    gone = [case.name for case in result.cases if case.outcome in ("stalled", "unsolved", "drifting")]
    if gone:
        return (
            f"Nothing was searched for: case {', '.join(gone)} did not come to a steady state, so there is nothing to start from."
        )
    missing = dict.fromkeys(f"{each.part}, {each.limit}" for _, each in result.findings if _stays_unknown(each))
    if missing:
        return (
            f"Nothing was searched for: nothing can hold while a limit cannot be judged ({'; '.join(missing)}). Settle that first."
        )
    return ""


def _stays_unknown(finding: Finding) -> bool:
    """Whether a limit cannot be judged whatever is changed; of a choke it can once that is wound anew."""
    return finding.grade == "unknown" and not finding.part.startswith("choke.")


def _hardest_first(result: CheckResult) -> tuple[str, ...]:
    """All cases of the scenario, those checked first and the worst of them before the others."""

    def ease(case: CaseResult) -> tuple[int, float]:
        rooms = [each.headroom for each in case.findings if each.headroom is not None]
        return -SEVERITY[case.grade], min(rooms, default=-10.0)

    checked = [case.name for case in sorted(result.cases, key=ease)]
    return (*checked, *(name for name in result.scenario.cases if name not in checked))


def _gate_faults(result: CheckResult) -> frozenset[str]:
    return frozenset(each.limit for _, each in result.findings if each.grade in ("fails", "marginal") and each.limit in GATES)


def _measured(ground: Ground) -> bool:
    """Whether every case that predictions start from oscillates."""
    return all(case.outcome == "settled" for case in ground.known.values())


def _largest(result: CheckResult, key: str) -> float | None:
    values = [value for case in result.cases if isinstance(value := case.measures.get(key), float)]
    return max(values, default=None)


def _preference(tried: Tried) -> tuple[bool, int, float]:
    """The remedy to name first: one that keeps the supply voltage, then fewer changes, then more power."""
    lowered = any(change.kind == "supply" for change in tried.changes)
    return lowered, len(tried.changes), -(tried.measure("supply.power_w") or 0.0)
