# SPDX-License-Identifier: GPL-3.0-or-later
"""What readings may tell of a heater: the ordinary spread of its parts, and what the user does not know at all."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from heatsim.errors import InputError, known_names
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.faults import nuisance_parameters
from heatsim.studies.match.parameters import ModelParameters, add_changes, at_supply, with_changes
from heatsim.studies.match.readings.parse import Condition
from heatsim.waves import Array

WIDE = {
    "ring": math.log(2.0),
    "reach": math.log(2.0),
    "load": math.log(2.0),
    "coil_resistance": math.log(2.0),
    "capacitance": 0.3,
    "coil": 0.3,
}
"""Standard deviation of what the user does not know, of its logarithm: 95 % of it lies within a factor of four, of capacitance
and coil of 1.8. Common practice, no source."""

WIDER = 5.0
"""Factor on the ordinary spread of what is freed and not in `WIDE`."""

SUPPLY = "supply"


@dataclass(frozen=True)
class Unknown:
    """Something that is fitted.

    name: as in `nuisance_parameters`
    deviation: standard deviation beforehand
    changes: of model parameters, per unit
    free: the user does not know it
    """

    name: str
    deviation: float
    changes: ModelParameters
    free: bool = False


def unknowns_of(heater: Heater, free: Sequence[str] = ()) -> tuple[Unknown, ...]:
    """What is fitted; free: names of what the user does not know. Raises InputError for a name that this heater does not have."""
    found = [Unknown(each.name, each.deviation, each.changes) for each in nuisance_parameters(heater)]
    names = [each.name for each in found]
    for name in free:
        if name not in names:
            raise InputError.single("--free", "names nothing that can be fitted in this scenario", name, known_names(name, names))
    wide = {each.name: WIDE.get(each.name, WIDER * each.deviation) for each in found if each.name in free}
    return tuple(replace(each, deviation=wide.get(each.name, each.deviation), free=each.name in wide) for each in found)


def changes_of(unknowns: Sequence[Unknown], t: Array, supply_error: float | None = None) -> dict[str, float]:
    """Changes of the model parameters at unknowns t; supply_error: of the condition, see `Condition`."""
    changes: dict[str, float] = {}
    for each, size in zip(unknowns, t, strict=True):
        stated = supply_error if each.name == SUPPLY and not each.free else None
        add_changes(changes, each.changes, float(size) * (each.deviation if stated is None else stated))
    return changes


@dataclass(frozen=True)
class Bench:
    """Conditions in which a heater runs, and its heaters as the scenario has them.

    sound: one a condition
    """

    conditions: tuple[Condition, ...]
    sound: tuple[Heater, ...]
    unknowns: tuple[Unknown, ...]

    @classmethod
    def of(cls, scenario: Scenario, conditions: Sequence[Condition], free: Sequence[str] = ()) -> Bench:
        """The bench of a scenario. Raises InputError."""
        sound = tuple(at_supply(scenario.heater(each.case), each.supply_voltage) for each in conditions)
        return cls(tuple(conditions), sound, unknowns_of(sound[0], free))

    def heater(self, k: int, t: Array) -> Heater:
        """The heater at condition k with unknowns t. Raises ValueError where a part cannot be so."""
        return with_changes(self.sound[k], changes_of(self.unknowns, t, self.conditions[k].supply_error))

    def changed(self, own: Heater, t: Array) -> Heater:
        """Any heater of the scenario with unknowns t."""
        return with_changes(own, changes_of(self.unknowns, t))

    @property
    def matter(self) -> list[int]:
        """Places of the unknowns that matter: those the user does not know, all of them where there are none."""
        return [k for k, each in enumerate(self.unknowns) if each.free] or list(range(len(self.unknowns)))

    @property
    def named(self) -> Mapping[str, int]:
        """Name of an unknown -> its place."""
        return {each.name: k for k, each in enumerate(self.unknowns)}
