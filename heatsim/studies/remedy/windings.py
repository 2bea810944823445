# SPDX-License-Identifier: GPL-3.0-or-later
"""Windings that could replace those of the chokes: on their own rings, on those of the drawer, on those of the catalogue.

Only what goes through the bore with a hole left for the last turn, and only as much as the drawer holds.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from heatsim.constants import COPPER_DENSITY
from heatsim.parts.catalogue import Catalogue
from heatsim.parts.choke import Choke, Core
from heatsim.parts.duty import Duty, estimate
from heatsim.parts.ring import LARGEST_STACK, RingCore
from heatsim.parts.winding import Winding
from heatsim.physics.ringcore import RingSize
from heatsim.quantity import format_quantity
from heatsim.scenario.catalogue import catalogue_with
from heatsim.scenario.drawer import choke_on, most_turns, overall, ring_fields, wire_fields
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.schema import ChokeTable, DrawerWireTable, LimitsTable
from heatsim.studies.remedy.changes import Change

WIRES = (0.8, 1.0, 1.25, 1.6, 2.0)
"""Diameters of wire [mm] that are easily bought; preferred sizes of IEC 60317, from memory."""

FREE_BORE, TAIL, MOST_STRANDS = 4e-3, 0.15, 6
"""Hole left [m], length of each end [m] and strands where the scenario has no drawer that says so; common practice, no source."""

CORE_DENSITY = 6000.0
"""Of powder cores [kg/m3], for telling light from heavy; memory."""

USUAL = "fe-si-al-60"
"""Material of new rings where the present one cannot be judged."""

TURNS, LEAST_TURNS = 7, 5
"""Numbers of turns looked at on each core, and the least of them."""

LENIENT = 1.35
"""Factor by which the rule of thumb's temperature may exceed the limit before a winding is left out."""

LARGER = 16.0
"""Rings of the catalogue are looked at up to so many times the volume of the present ones."""


@dataclass(frozen=True)
class RingChoice:
    """A ring: how it is told, its fields in [choke.core] and what one of them is; most: in a stack; price: of one."""

    told: str
    fields: Mapping[str, Any]
    ring: RingCore
    material: str
    gap: float
    most: int
    where: str
    price: float | None = None


@dataclass(frozen=True)
class Wound:
    """A winding on a stack. core: ring, winding, material; tables: of the scenario's chokes by side; length: of wire for all
    chokes [m]; weight: of copper and core [kg]; price: for all or None; measured: whether the present chokes are known from the
    bench.
    """

    ring: RingChoice
    wire: DrawerWireTable
    core: Core
    tables: Mapping[str, ChokeTable]
    length: float
    price: float | None
    chokes: int
    measured: bool

    @cached_property
    def choke(self) -> Choke:
        """As a part of the circuit."""
        return choke_on(self.core, self.tables)

    @cached_property
    def weight(self) -> float:
        """Copper and core of one choke [kg]."""
        winding, ring = self.core.winding, self.core.ring
        return winding.copper_area * self.length / winding.strands / self.chokes * COPPER_DENSITY + ring.volume * CORE_DENSITY

    def change(self) -> Change:
        """The change that winds it."""
        winding, stack = self.core.winding, self.core.ring.stack
        strands = f"{winding.strands} strands" if winding.strands > 1 else "one strand"
        rings = f"{stack} stacked rings ({self.ring.told})" if stack > 1 else f"one ring ({self.ring.told})"
        each = "each choke" if self.chokes > 1 else "the choke"
        words = f"Wind {each} with {winding.turns} turns, {strands} of {self.wire.diameter * 1e3:g} mm, on {rings}"
        fill = winding.fill(self.core.ring)
        layers = f"{len(fill.layers)} layer{'s' if len(fill.layers) > 1 else ''}"
        count = stack * self.chokes
        cost = f"{count} ring{'s' if count > 1 else ''} {self.ring.where} and {self.length:.3g} m of wire"
        cost += f"; {layers}, {format_quantity(fill.free_diameter, 'm')} of hole left"
        cost += f"; {self.price:.2f} at the drawer's prices" if self.price is not None else ""
        return Change("chokes", self.fields, words, cost)

    @property
    def fields(self) -> dict[str, Any]:
        """Dotted fields of the scenario; what was measured on the old choke goes."""
        winding = self.core.winding
        core = {**self.ring.fields, "stack": self.core.ring.stack}
        wound = {"choke.turns": winding.turns, "choke.core": core, "choke.wire": wire_fields(self.wire, winding.strands)}
        return ({"choke.measured": None} if self.measured else {}) | wound


class Workshop:
    """What a scenario's chokes can be wound from."""

    def __init__(self, scenario: Scenario) -> None:
        tables = scenario.tables
        self.scenario, self.wind = scenario, tables.wind
        self.known: Catalogue = catalogue_with(tables.heater.catalogue, scenario.folder)
        self.table: ChokeTable = next(iter(tables.choke.values()))
        self.chokes = len(tables.choke)
        self.measured = any(each.measured is not None for each in tables.choke.values())
        self.present = scenario.heater(scenario.cases[0]).chokes[0].core
        self.free_bore = self.wind.free_bore if self.wind else FREE_BORE
        self.tail = self.wind.tail if self.wind else TAIL

    def own(self) -> Iterator[RingChoice]:
        """The rings that are there already, as many as there are."""
        core, table = self.present, self.table.core
        if core is None or table is None:
            return
        if table.hysteresis is None:
            one = replace(core.ring, stack=1)
            yield RingChoice("the present ones", ring_fields(table), one, table.material, core.gap, core.ring.stack, "as they are")

    def drawer(self) -> Iterator[RingChoice]:
        """The rings of the scenario's drawer."""
        for ring in self.wind.ring if self.wind else ():
            material = self.known.materials.get(ring.material)
            if material is None or material.loss is None or ring.inner_diameter >= ring.outer_diameter:
                continue
            size = RingSize(ring.outer_diameter, ring.inner_diameter, ring.height)
            one = RingCore.from_size(size, 1, material.path_rule, ring.path_length, ring.area)
            most = min(LARGEST_STACK, ring.on_hand // self.chokes)
            yield RingChoice(
                f"{ring.name}, {ring.material}",
                ring_fields(ring),
                one,
                ring.material,
                ring.gap or 0.0,
                most,
                "from the drawer",
                ring.price,
            )

    def catalogue(self) -> Iterator[RingChoice]:
        """Rings of the catalogue in the present material, or the usual one where that is gapped or its loss is not known."""
        own = self.present.material if self.present and not self.present.gap else None
        name = own.name if own and own.bias and own.loss else USUAL
        material = self.known.materials.get(name)
        if material is None:
            return
        volume = self.present.ring.volume if self.present else 3e-6
        for entry in self.known.rings.values():
            if entry.path_rule != material.path_rule:
                continue
            one = RingCore.from_entry(entry, 1, material.path_rule)
            if 0.3 * volume <= one.volume <= LARGER * volume:
                fields = {"material": name, "ring": entry.name}
                yield RingChoice(f"{entry.name}, {name}", fields, one, name, 0.0, 3, "to buy")

    def wires(self) -> list[DrawerWireTable]:
        """Wire of the drawer; without one the present wire and what is easily bought."""
        if self.wind:
            return list(self.wind.wire)
        sizes = {size * 1e-3 for size in WIRES} | ({self.present.winding.diameter} if self.present else set())
        rows = [{"name": f"{1e3 * size:g} mm", "diameter": f"{1e3 * size:g} mm", "on_hand": "1 km"} for size in sorted(sizes)]
        return [DrawerWireTable.model_validate(row) for row in rows]

    def windings(self, rings: Iterator[RingChoice], duty: Duty, limits: LimitsTable, wanted: float) -> Iterator[Wound]:
        """Windings that a quick estimate does not rule out on a duty, the lightest first; each estimated when it is asked for."""
        found = sorted((wound for ring in rings for wound in self._on(ring)), key=lambda wound: wound.weight)
        return (wound for wound in found if _may_hold(wound, duty, limits, wanted))

    def _on(self, ring: RingChoice) -> Iterator[Wound]:
        strands = range(1, (self.wind.most_strands if self.wind else MOST_STRANDS) + 1)
        for stack in range(1, ring.most + 1):
            for wire in self.wires():
                for count in strands:
                    yield from self._turns(ring, stack, wire, count)

    def _turns(self, ring: RingChoice, stack: int, wire: DrawerWireTable, strands: int) -> Iterator[Wound]:
        """Some numbers of turns from the most that fit down."""
        whole, thick = replace(ring.ring, stack=stack), overall(wire)
        most = most_turns(whole.whole.inner_diameter, wire, strands, self.free_bore)
        material = self.known.materials[ring.material]
        for turns in sorted({round(LEAST_TURNS + (most - LEAST_TURNS) * k / (TURNS - 1)) for k in range(TURNS)}):
            if not LEAST_TURNS <= turns <= most:
                continue
            core = Core(whole, Winding(turns, strands, wire.diameter, thick, tail=self.tail), material, ring.gap)
            length = core.winding.cut_length(whole) * strands * self.chokes
            if length > wire.on_hand:
                continue
            price = None
            if ring.price is not None and wire.price_per_metre is not None:
                price = stack * self.chokes * ring.price + length * wire.price_per_metre
            yield Wound(ring, wire, core, self.scenario.tables.choke, length, price, self.chokes, self.measured)


def _may_hold(wound: Wound, duty: Duty, limits: LimitsTable, wanted: float) -> bool:
    """Whether a quick estimate leaves it in: the rule of thumb for its temperature is taken leniently."""
    winding, ring = wound.core.winding, wound.core.ring
    if winding.copper_fill(ring) > limits.choke_copper_fill or winding.fill(ring).free_diameter < winding.threaded:
        return False
    if duty.mean_current / winding.copper_area > limits.copper_current_density * (1 - wanted):
        return False
    found = estimate(wound.choke, duty)
    cool = found.temperature is None or found.temperature <= LENIENT * limits.choke_temperature * (1 - wanted)
    return cool and found.remaining >= 0.95 * limits.choke_inductance_remaining * (1 + wanted)
