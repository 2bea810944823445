# SPDX-License-Identifier: GPL-3.0-or-later
"""`wind`: turns, stack, wire and strands from the rings and wire on hand.

Every combination that fits the bore and the drawer is estimated (`heatsim.parts.duty`) and ranked, and the best few
that keep every limit are simulated in full (`heatsim.studies.check`). Nothing is called good that was only estimated.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from heatsim.constants import COPPER_DENSITY
from heatsim.errors import InputError
from heatsim.parts.catalogue import Catalogue
from heatsim.parts.choke import Choke, wound_curve
from heatsim.parts.duty import ChokeEstimate, Duty, duty_of, estimate
from heatsim.scenario.catalogue import catalogue_with
from heatsim.scenario.drawer import choke_on, core_of, most_turns, wound_fields
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.schema import DrawerRingTable, DrawerWireTable, WindTable
from heatsim.studies.check import CheckResult, check
from heatsim.verdict import SEVERITY


@dataclass(frozen=True)
class WindingCandidate:
    """One way to wind a choke. ring, wire: names in the drawer; cut_length: of each strand with tails [m];
    copper_mass: of one choke [kg]; cost: of one choke or None; free_bore [m]; layers in the bore; worst: least headroom
    over the limits and the name of that limit.
    """

    ring: str
    wire: str
    stack: int
    turns: int
    strands: int
    choke: Choke
    estimate: ChokeEstimate
    cut_length: float
    copper_mass: float
    cost: float | None
    free_bore: float
    layers: int
    headroom: float
    worst: str


@dataclass(frozen=True)
class Confirmed:
    """A candidate with its full simulation, whose scenario has it wound."""

    candidate: WindingCandidate
    result: CheckResult


@dataclass(frozen=True)
class WindResult:
    """scenario: as given; considered: combinations looked at; candidates: those that fit bore and drawer, best first; front:
    those that no other beats in headroom, temperature and copper at once; confirmed: the best few, simulated, best first.
    """

    scenario: Scenario
    duty: Duty
    considered: int
    candidates: tuple[WindingCandidate, ...]
    front: tuple[WindingCandidate, ...]
    confirmed: tuple[Confirmed, ...]

    @property
    def best(self) -> Confirmed | None:
        """The first candidate whose full simulation holds, None when there is none."""
        return next((each for each in self.confirmed if each.result.verdict == "holds"), None)

    @property
    def exit_code(self) -> int:
        """0 when a winding holds, 1 when none does."""
        return 1 if self.best is None else 0


def wind(scenario: Scenario, jobs: int | None = None, progress: Callable[..., None] | None = None) -> WindResult:
    """Find a winding for the chokes of a scenario.

    jobs: processes, by default one a core
    progress: see `heatsim.engine.run_decks`
    Raises InputError when there is no [wind] table or its drawer is unusable.
    """
    table = scenario.tables.wind
    if table is None:
        raise InputError.single(
            scenario.label, "has no [wind] table", allowed="[wind] with [[wind.ring]] and [[wind.wire]]: the drawer"
        )
    if table.case not in scenario.cases:
        raise InputError.single(f"{scenario.label}: wind.case", "is no case", table.case, ", ".join(scenario.cases))
    if table.highest_supply is not None:
        scenario = scenario.change({"supply.voltage": f"{table.highest_supply} V"})
    duty = duty_of(scenario.heater(table.case))
    known = catalogue_with(scenario.tables.heater.catalogue, scenario.folder)
    combinations = list(_combinations(table, known, len(scenario.tables.choke)))
    found = [_candidate(scenario, table, known, duty, *each) for each in combinations]
    ranked = tuple(sorted((one for one in found if one is not None), key=_rank, reverse=True))
    confirmed = _confirm(scenario, _various(ranked, table.confirm), jobs, progress)
    return WindResult(scenario, duty, len(combinations), ranked, pareto(ranked), confirmed)


def _combinations(
    table: WindTable, known: Catalogue, chokes: int
) -> Iterator[tuple[DrawerRingTable, int, int, DrawerWireTable, int]]:
    """Every ring, stack, number of turns, wire and number of strands that the drawer could give."""
    for ring in table.ring:
        if ring.inner_diameter >= ring.outer_diameter:
            raise InputError.single("wind.ring", "has an inner diameter that is not below the outer", ring.name)
        known.material(ring.material, "wind.ring.material")
        for stack in range(1, min(4, ring.on_hand // chokes) + 1):
            for wire in table.wire:
                for strands in range(1, table.most_strands + 1):
                    for turns in range(4, most_turns(ring.inner_diameter, wire, strands, table.free_bore) + 1):
                        yield ring, stack, turns, wire, strands


def _candidate(
    scenario: Scenario,
    table: WindTable,
    known: Catalogue,
    duty: Duty,
    ring: DrawerRingTable,
    stack: int,
    turns: int,
    wire: DrawerWireTable,
    strands: int,
) -> WindingCandidate | None:
    """The candidate, or None when the drawer has not enough wire or its hole would hold too much copper."""
    core = core_of(ring, known.materials[ring.material], stack, turns, wire, strands)
    if core.winding.copper_fill(core.ring) > scenario.tables.limits.choke_copper_fill:
        return None
    fill = core.winding.fill(core.ring)
    cut = turns * core.winding.mean_turn(core.ring) + 2 * table.tail
    if cut * strands * len(scenario.tables.choke) > wire.on_hand:
        return None
    choke = choke_on(core, scenario.tables.choke)
    found = estimate(choke, duty)
    headroom, worst = least_headroom(found, scenario)
    cost = None
    if ring.price is not None and wire.price_per_metre is not None:
        cost = stack * ring.price + cut * strands * wire.price_per_metre
    return WindingCandidate(
        ring=ring.name,
        wire=wire.name,
        stack=stack,
        turns=turns,
        strands=strands,
        choke=choke,
        estimate=found,
        cut_length=cut,
        copper_mass=cut * core.winding.copper_area * COPPER_DENSITY,
        cost=cost,
        free_bore=fill.free_diameter,
        layers=len(fill.layers),
        headroom=headroom,
        worst=worst,
    )


def least_headroom(found: ChokeEstimate, scenario: Scenario) -> tuple[float, str]:
    """Least headroom of an estimate against the scenario's choke limits, and which limit that is."""
    limits = scenario.tables.limits
    headrooms = {
        "inductance left": found.remaining / limits.choke_inductance_remaining - 1,
        "current density": 1 - (found.current_density or 0.0) / limits.copper_current_density,
    }
    if found.temperature is not None:
        headrooms["temperature"] = 1 - found.temperature / limits.choke_temperature
    worst = min(headrooms, key=lambda name: headrooms[name])
    return headrooms[worst], worst


def _rank(candidate: WindingCandidate) -> tuple[bool, float]:
    """Those that keep every limit with headroom to spare first; among them the cheaper in copper, cooler and roomier."""
    headroom = candidate.headroom
    heat = candidate.estimate.temperature or 100.0
    return headroom >= 0.2, min(headroom, 0.4) - 0.004 * heat - 2.0 * candidate.copper_mass - 0.01 * (candidate.cost or 0.0)


def pareto(candidates: Sequence[WindingCandidate]) -> tuple[WindingCandidate, ...]:
    """Candidates that no other beats or equals in headroom, temperature and copper at once, with one better."""
    merits = np.array([(one.headroom, -(one.estimate.temperature or 0.0), -one.copper_mass) for one in candidates])
    beaten = [bool(np.any(np.all(merits >= mine, axis=1) & np.any(merits > mine, axis=1))) for mine in merits]
    return tuple(one for one, worse in zip(candidates, beaten, strict=True) if not worse)


def _various(ranked: Sequence[WindingCandidate], count: int) -> list[WindingCandidate]:
    """The best `count`, no two of the same ring, stack, wire and strands: neighbours in turns teach nothing new."""
    chosen: dict[tuple[Any, ...], WindingCandidate] = {}
    for one in ranked:
        if one.headroom > 0:
            chosen.setdefault((one.ring, one.stack, one.wire, one.strands), one)
        if len(chosen) == count:
            break
    return list(chosen.values())


def wound_changes(scenario: Scenario, candidate: WindingCandidate) -> dict[str, Any]:
    """Dotted fields that turn the scenario's chokes into the candidate."""
    table = scenario.tables.wind
    assert table is not None
    ring = next(each for each in table.ring if each.name == candidate.ring)
    wire = next(each for each in table.wire if each.name == candidate.wire)
    return wound_fields(ring, wire, candidate.stack, candidate.turns, candidate.strands)


def _confirm(
    scenario: Scenario, chosen: Sequence[WindingCandidate], jobs: int | None, progress: Callable[..., None] | None
) -> tuple[Confirmed, ...]:
    """Simulate the chosen candidates in every case of the scenario."""
    found = []
    for number, candidate in enumerate(chosen):
        changed = scenario.change(wound_changes(scenario, candidate))
        report = None if progress is None else _shifted(progress, number * len(scenario.cases))
        found.append(Confirmed(candidate, check(changed, None, jobs, report)))
    return tuple(sorted(found, key=lambda each: SEVERITY[each.result.verdict]))


def _shifted(progress: Callable[..., None], first: int) -> Callable[..., None]:
    """Progress of one check among several: its decks are counted on from `first`."""
    return lambda index, *rest: progress(first + index, *rest)


@dataclass(frozen=True)
class WhatIf:
    """The same duty with one thing changed: name of the change and what it does."""

    change: str
    choke: Choke
    estimate: ChokeEstimate


def ring_or_turns(candidate: WindingCandidate, duty: Duty) -> tuple[WhatIf, ...]:
    """A second ring or more turns? What each does to inductance, flux and losses at the same operating point.

    As it is; one more ring under the same turns; the same inductance by more turns on the same rings.
    """
    core = candidate.choke.core
    assert core is not None
    stack = core.ring.stack + 1
    more = max(core.winding.turns + 1, round(core.winding.turns * (stack / core.ring.stack) ** 0.5))
    ways = {
        "as it is": core,
        f"{stack} rings, same turns": replace(core, ring=replace(core.ring, stack=stack)),
        f"{more} turns, same rings": replace(core, winding=replace(core.winding, turns=more)),
    }
    found = []
    for name, changed in ways.items():
        try:
            changed.winding.fill(changed.ring)
        except InputError:
            continue
        choke = replace(
            candidate.choke,
            core=changed,
            curve=wound_curve(changed),
            resistance=changed.winding.resistance(changed.ring, candidate.choke.temperature),
        )
        found.append(WhatIf(name, choke, estimate(choke, duty)))
    return tuple(found)
