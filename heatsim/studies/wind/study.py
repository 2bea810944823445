# SPDX-License-Identifier: GPL-3.0-or-later
"""`wind`: turns, stack, wire and strands from the rings and wire on hand.

Every combination that fits the bore and the drawer is estimated (`heatsim.studies.wind.screen`), those that keep every limit
are ranked, and the best few are simulated in full with `heatsim.studies.check.study`. Nothing is called good that was only
estimated.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from heatsim.constants import COPPER_DENSITY
from heatsim.errors import InputError
from heatsim.parts.catalogue import Catalogue
from heatsim.parts.choke import Choke, Core, wound_curve
from heatsim.parts.materials import Material
from heatsim.parts.ring import Ring, Winding
from heatsim.physics.conductor import enamelled_diameter
from heatsim.physics.ringcore import RingSize
from heatsim.scenario.build import winding_capacitance
from heatsim.scenario.catalogue import catalogue_with
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.schema import DrawerRingTable, DrawerWireTable, WindTable
from heatsim.studies.check import CheckResult, check
from heatsim.studies.wind.screen import Duty, Estimate, duty_of, estimate


@dataclass(frozen=True)
class Candidate:
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
    estimate: Estimate
    cut_length: float
    copper_mass: float
    cost: float | None
    free_bore: float
    layers: int
    headroom: float
    worst: str

    @property
    def key(self) -> tuple[str, int, int, str, int]:
        """What tells it from every other candidate."""
        return self.ring, self.stack, self.turns, self.wire, self.strands


@dataclass(frozen=True)
class Confirmed:
    """A candidate with its full simulation and the scenario it was simulated in."""

    candidate: Candidate
    scenario: Scenario
    result: CheckResult


@dataclass(frozen=True)
class WindResult:
    """scenario: as given; considered: combinations looked at; fitting: those that fit bore and drawer;
    candidates: all that were estimated, best first; front: those that no other beats in headroom, temperature and
    copper at once; confirmed: the best few, simulated, best first.
    """

    scenario: Scenario
    duty: Duty
    considered: int
    candidates: tuple[Candidate, ...]
    front: tuple[Candidate, ...]
    confirmed: tuple[Confirmed, ...]

    @property
    def best(self) -> Confirmed | None:
        """The first candidate whose full simulation holds, None when there is none."""
        return next((each for each in self.confirmed if each.result.verdict == "holds"), None)


def wind(scenario: Scenario, workers: int | None = None, progress: Callable[..., None] | None = None) -> WindResult:
    """Find a winding for both chokes of a scenario. InputError when it has no [wind] table or the drawer is unusable."""
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
    considered, found = 0, []
    known = catalogue_with(scenario.tables.heater.catalogue, scenario.folder)
    for ring, stack, turns, wire, strands in _combinations(table, known, len(scenario.tables.choke)):
        considered += 1
        material = known.materials[ring.material]
        choke = make_choke(ring, material, stack, turns, wire, strands, scenario.tables.choke)
        candidate = _candidate(scenario, table, duty, ring, wire, choke)
        if candidate is not None:
            found.append(candidate)
    ranked = tuple(sorted(found, key=_rank, reverse=True))
    confirmed = _confirm(scenario, _various(ranked, table.confirm), workers, progress)
    return WindResult(scenario, duty, considered, ranked, pareto(ranked), confirmed)


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
                    for turns in range(4, most_turns(ring, table, wire, strands) + 1):
                        yield ring, stack, turns, wire, strands


def _wire(wire: DrawerWireTable) -> float:
    return wire.overall_diameter or float(enamelled_diameter(wire.diameter, 2))


def most_turns(ring: DrawerRingTable, table: WindTable, wire: DrawerWireTable, strands: int) -> int:
    """Turns that fit the bore with the wanted hole left, by layers of touching wires."""
    overall, left, total = _wire(wire), ring.inner_diameter, 0
    from heatsim.physics.ringcore import wires_in_layer

    while left - 2 * overall >= table.free_bore:
        total += wires_in_layer(left, overall)
        left -= 2 * overall
    return total // strands


def _candidate(
    scenario: Scenario, table: WindTable, duty: Duty, ring: DrawerRingTable, wire: DrawerWireTable, choke: Choke
) -> Candidate | None:
    """The candidate, or None when the drawer has not enough wire."""
    core = choke.core
    assert core is not None
    stack, turns, strands = core.ring.stack, core.winding.turns, core.winding.strands
    fill = core.winding.fill(core.ring)
    cut = turns * core.winding.mean_turn(core.ring) + 2 * table.tail
    if cut * strands * len(scenario.tables.choke) > wire.on_hand:
        return None
    found = estimate(choke, duty)
    room, worst = least_headroom(found, scenario)
    prices = (ring.price, wire.price_per_metre)
    cost = None if None in prices else stack * float(prices[0] or 0) + cut * strands * float(prices[1] or 0)
    return Candidate(
        ring.name,
        wire.name,
        stack,
        turns,
        strands,
        choke,
        found,
        cut,
        cut * core.winding.copper_area * COPPER_DENSITY,
        cost,
        fill.free_diameter,
        len(fill.layers),
        room,
        worst,
    )


def make_choke(
    ring: DrawerRingTable, material: Material, stack: int, turns: int, wire: DrawerWireTable, strands: int, chokes: Any
) -> Choke:
    """The choke of one combination; temperature and capacitance are the scenario's."""
    common = next(iter(chokes.values()))
    size = RingSize(ring.outer_diameter, ring.inner_diameter, ring.height)
    whole = Ring.from_size(size, stack, material.path_rule, ring.path_length, ring.area)  # type: ignore[arg-type]
    core = Core(whole, Winding(turns, strands, wire.diameter, _wire(wire)), material, ring.gap or 0.0)
    resistance = core.winding.resistance(whole, common.temperature)
    side = "centre" if "centre" in chokes else "left"
    return Choke(
        side,
        wound_curve(core),
        resistance,
        winding_capacitance(common, core),
        common.temperature,
        core.winding.copper_area,
        core,
        material.provenance,
    )


def least_headroom(found: Estimate, scenario: Scenario) -> tuple[float, str]:
    """Least headroom of an estimate against the scenario's choke limits, and which limit that is."""
    limits = scenario.tables.limits
    rooms = {
        "inductance left": found.remaining / limits.choke_inductance_remaining - 1,
        "current density": 1 - (found.current_density or 0.0) / limits.copper_current_density,
    }
    if found.temperature is not None:
        rooms["temperature"] = 1 - found.temperature / limits.choke_temperature
    worst = min(rooms, key=lambda name: rooms[name])
    return rooms[worst], worst


def _rank(candidate: Candidate) -> tuple[bool, float]:
    """Those that keep every limit first; among them the cheaper in copper, cooler and roomier."""
    room = candidate.headroom
    heat = candidate.estimate.temperature or 100.0
    return room >= 0.2, min(room, 0.4) - 0.004 * heat - 2.0 * candidate.copper_mass - 0.01 * (candidate.cost or 0.0)


def pareto(candidates: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """Candidates that no other beats or equals in headroom, temperature and copper at once, with one better."""
    front: list[Candidate] = []
    for one in candidates:
        mine = _merits(one)
        if not any(_beats(_merits(other), mine) for other in candidates):
            front.append(one)
    return tuple(front)


def _merits(candidate: Candidate) -> tuple[float, float, float]:
    return candidate.headroom, -(candidate.estimate.temperature or 0.0), -candidate.copper_mass


def _beats(first: tuple[float, ...], second: tuple[float, ...]) -> bool:
    return all(a >= b for a, b in zip(first, second, strict=True)) and first != second


def _various(ranked: Sequence[Candidate], count: int) -> list[Candidate]:
    """The best `count`, no two of the same ring, stack, wire and strands: neighbours in turns teach nothing new."""
    chosen: dict[tuple[Any, ...], Candidate] = {}
    for one in ranked:
        if one.headroom > 0:
            chosen.setdefault((one.ring, one.stack, one.wire, one.strands), one)
        if len(chosen) == count:
            break
    return list(chosen.values())


def wound_scenario(scenario: Scenario, candidate: Candidate) -> Scenario:
    """The scenario with both chokes wound as the candidate says."""
    return scenario.change(wound_changes(scenario, candidate))


def wound_changes(scenario: Scenario, candidate: Candidate) -> dict[str, Any]:
    """Dotted fields that turn the scenario's chokes into the candidate."""
    table = scenario.tables.wind
    assert table is not None
    ring = next(each for each in table.ring if each.name == candidate.ring)
    wire = next(each for each in table.wire if each.name == candidate.wire)
    fields: dict[str, Any] = {"choke.turns": candidate.turns}
    core: dict[str, Any] = {"material": ring.material, "stack": candidate.stack}
    for name in ("outer_diameter", "inner_diameter", "height", "path_length", "gap"):
        value = getattr(ring, name)
        if value is not None:
            core[name] = f"{value * 1e3:.6g} mm"
    if ring.area is not None:
        core["area"] = f"{ring.area * 1e6:.6g} mm2"
    fields["choke.core"] = core
    fields["choke.wire"] = {"diameter": f"{wire.diameter * 1e3:.6g} mm", "strands": candidate.strands} | (
        {"overall_diameter": f"{wire.overall_diameter * 1e3:.6g} mm"} if wire.overall_diameter else {}
    )
    return fields


def _confirm(
    scenario: Scenario, chosen: Sequence[Candidate], workers: int | None, progress: Callable[..., None] | None
) -> tuple[Confirmed, ...]:
    """Simulate the chosen candidates in every case of the scenario."""
    found = []
    for number, candidate in enumerate(chosen):
        changed = wound_scenario(scenario, candidate)
        report = None if progress is None else _shifted(progress, number * len(scenario.cases))
        found.append(Confirmed(candidate, changed, check(changed, None, workers, report)))
    order = {"holds": 0, "marginal": 1, "unknown": 2, "fails": 3}
    return tuple(sorted(found, key=lambda each: order[each.result.verdict]))


def _shifted(progress: Callable[..., None], first: int) -> Callable[..., None]:
    """Progress of one check among several: its decks are counted on from `first`."""
    return lambda index, *rest: progress(first + index, *rest)


@dataclass(frozen=True)
class WhatIf:
    """The same duty with one thing changed: name of the change and what it does."""

    change: str
    choke: Choke
    estimate: Estimate


def ring_or_turns(candidate: Candidate, duty: Duty) -> tuple[WhatIf, ...]:
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
