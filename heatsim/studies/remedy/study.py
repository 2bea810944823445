# SPDX-License-Identifier: GPL-3.0-or-later
"""The search for remedies: which searches there are, in which order, and within which bounds."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import tee

from heatsim.engine import simulators
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.written import with_fields
from heatsim.studies.check import CaseResult, CheckResult, agreed
from heatsim.studies.remedy import changes as ways
from heatsim.studies.remedy.changes import Change, fields_of
from heatsim.studies.remedy.result import Remedies, Remedy, Tried
from heatsim.studies.remedy.runner import Bounds, Runner, Search
from heatsim.studies.remedy.search import (
    SHARED,
    Ground,
    gate_faults,
    gate_moves,
    gate_search,
    options_search,
    rewound_and_lower,
    start_faults,
    start_search,
    supply_search,
    too_warm,
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
    jobs: int | None = None,
    progress: Callable[[int], None] | None = None,
    seconds: float | None = SECONDS,
    most: int = MOST,
    enough: int = ENOUGH,
) -> Remedies:
    """What to change so that every limit holds in every case of the scenario, each remedy simulated as a whole.

    result: of a scenario that does not hold
    jobs: processes, by default one a core
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
    with simulators(jobs) as pool:
        runner = Runner(pool, result.scenario, order, bounds, progress or (lambda _: None))
        ground = Ground(result.scenario, {case.name: case for case in result.cases}, order, deadline=bounds.deadline)
        cured: list[Tried] = []
        faults = gate_faults(result.cases)
        if faults:
            starts = dict.fromkeys(case.starts_with for case in result.cases if case.starts_with)
            first = [*(ways.started_with(result.scenario, *each) for each in starts), *ways.earlier_gates(result.scenario)]
            asked = gate_moves(finding for _, finding in result.findings)
            runner.run(iter([gate_search(ground, first, asked, faults, cured)]))
        ground = _begun(ground, cured)
        if start_faults(ground.known.values()) and _measured(ground):
            calmer: list[Tried] = []
            runner.run(iter([start_search(ground, calmer)]))
            ground = _begun(ground, calmer)
        if _measured(ground) and len(runner.found) < enough:
            runner.run(searches(ground))
    found = tuple(sorted(runner.found, key=_preference))
    return Remedies(found, runner.tried, before, "", runner.ended, runner.simulations, time.monotonic() - begun)


def fixed_text(scenario: Scenario, remedy: Remedy) -> str:
    """The scenario's file with a remedy in it, comments kept."""
    heading = "\n".join(["Changed as heatsim check proposes:", *(f"- {each.words}" for each in remedy.changes)])
    return with_fields(scenario, fields_of(remedy.changes), heading)


def in_line(result: CheckResult, remedies: Remedies | None) -> CheckResult:
    """A check's result with the advice of its limits in line with what was simulated: none asks for the opposite."""
    before = result.scenario.tables.gate
    values = {"pull-up": before.pull_up, "gate resistor": before.resistor}
    moves: dict[str, int] = {}
    for remedy in reversed(remedies.found if remedies else ()):
        after = remedy.scenario.tables.gate
        changed = {"pull-up": after.pull_up, "gate resistor": after.resistor}
        moves |= {part: 1 if value > values[part] else -1 for part, value in changed.items() if value != values[part]}
    return replace(result, cases=agreed(result.cases, moves)) if moves else result


def searches(ground: Ground) -> Iterator[Search]:
    """Every search, the more useful first."""
    scenario, limits = ground.scenario, ground.scenario.tables.limits
    shop = ground.workshop
    yield options_search(ground, ((change,) for change in ways.connections_of(scenario)), alone=True)
    yield options_search(ground, iter([()]))
    if too_warm(ground.known.values()):
        for cooler in (ways.fans_of(scenario), ways.sinks_of(scenario), ways.devices_of(scenario)):
            yield options_search(ground, ((change,) for change in cooler))
    if all(each.limit in SHARED for case in ground.known.values() for each in case.findings if each.grade != "holds"):
        yield supply_search(ground, alone=True)
        yield options_search(ground, _banks(ground))
        return
    stock = tee(shop.windings(shop.drawer() if shop.wind else shop.catalogue(), ground.duty, limits, ground.wanted))
    yield winding_search(ground, stock[0])
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
    yield rewound_and_lower(ground, stock[1])
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
        return f"No changes were tried: case {', '.join(gone)} did not come to a steady state, so there is nothing to start from."
    missing = dict.fromkeys(f"{each.part}, {each.limit}" for _, each in result.findings if _stays_unknown(each))
    if missing:
        return (
            f"No changes were tried: nothing can hold while a limit cannot be judged ({'; '.join(missing)}). Clear that up first."
        )
    return ""


def _stays_unknown(finding: Finding) -> bool:
    """Whether a limit cannot be judged whatever is changed. One of a choke can once that is wound anew, and one of switch or gate
    that was only not measured, because no gate came to its threshold, once they do.
    """
    part = finding.part.split(".")[0]
    unmeasured = finding.allowed is not None and part in ("switch", "gate")
    return finding.grade == "unknown" and part != "choke" and not unmeasured


def _begun(ground: Ground, cured: list[Tried]) -> Ground:
    """The ground that every further change is added to."""
    for tried in cured:
        ground = replace(ground, known={**ground.known, **tried.cases}, begun=tried.changes)
    return ground


def _hardest_first(result: CheckResult) -> tuple[str, ...]:
    """All cases of the scenario, those checked first and the worst of them before the others."""

    def ease(case: CaseResult) -> tuple[int, float]:
        rooms = [each.headroom for each in case.findings if each.headroom is not None]
        return -SEVERITY[case.grade], min(rooms, default=-10.0)

    checked = [case.name for case in sorted(result.cases, key=ease)]
    return (*checked, *(name for name in result.scenario.cases if name not in checked))


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
