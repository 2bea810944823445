# SPDX-License-Identifier: GPL-3.0-or-later
"""What a match of readings finds: the readings beside the fit, fitted quantities, what to read next, the fitted scenario."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import heatsim
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CheckResult
from heatsim.studies.match.readings.parse import Condition, Reading
from heatsim.studies.match.result import CorrelatedPair, FittedQuantity, told, verdict_as_dict

SCHEMA = "heatsim.match.readings/1"
"""Name and version of the results schema; keys are added, never renamed."""

UNLIKELY = 0.01
"""Chance below which no sound heater of the file gives such readings: of sound heaters 1 in 100 is refused."""

WORTH_READING = 0.03
"""Share by which a further reading must narrow what is not known to be worth proposing."""


@dataclass(frozen=True)
class Compared:
    """A reading beside the scenario and the fit.

    expected, fitted: what the meter would show of the scenario's heater and of the fitted one [unit of the reading]
    deviation: standard deviation of reading and model together [same unit]
    left_out: by how much it differs from what the file and all other readings lead to expect, in standard deviations
    """

    reading: Reading
    expected: float
    fitted: float
    deviation: float
    left_out: float

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI."""
        given = self.reading
        return {
            "text": given.text,
            "case": given.condition.case,
            "supply_voltage_v": given.condition.supply_voltage,
            "key": given.what.measure,
            "after_s": given.after,
            "value": given.value,
            "meter_standard_error": given.error,
            "error_stated": given.stated,
            "standard_error": self.deviation,
            "expected": self.expected,
            "fitted": self.fitted,
            "left_out": self.left_out,
        }


@dataclass(frozen=True)
class Proposal:
    """A reading that has not been taken.

    expected, error: what the fitted heater would show, and half of a 95 % interval of meter and model [unit of `what`]
    gain: share by which it is expected to narrow what matters, 0 to 1
    """

    condition: Condition
    key: str
    unit: str
    meter: str
    after: float | None
    expected: float
    error: float
    gain: float

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI."""
        plain = {name: value for name, value in vars(self).items() if name not in ("condition", "after")}
        condition = {"case": self.condition.case, "supply_voltage_v": self.condition.supply_voltage, "after_s": self.after}
        return condition | plain


@dataclass(frozen=True)
class Departure:
    """A fitted unknown, in standard deviations of what the file and the ordinary spread say.

    shrinkage: share of its standard deviation that the readings took away
    free: whether the user said that it is not known
    """

    name: str
    size: float
    shrinkage: float
    free: bool

    @property
    def told(self) -> str:
        """Whether the readings tell it: yes, partly, no."""
        return told(self.shrinkage)


@dataclass(frozen=True)
class ReadingsResult:
    """What a match of readings found.

    compared: the readings in the order in which they were given
    departures: of everything that was fitted
    estimates, tied: fitted quantities and which of them are tied
    cost: what the fit leaves, which follows a chi-square law with as many degrees of freedom as readings where the file is right
    chance: that a heater of the file gives readings as far off as these
    at_rest: whether the fit came to rest
    proposals: readings to take next, the most telling first
    fitted: text of the fitted scenario file
    checked: that scenario judged by every limit in every case; None where the readings do not fit it or it cannot be built
    simulations, spared: made, and found in the cache of earlier runs
    wall_s: wall clock [s]
    """

    scenario: Scenario
    compared: tuple[Compared, ...]
    departures: tuple[Departure, ...]
    estimates: tuple[FittedQuantity, ...]
    tied: tuple[CorrelatedPair, ...]
    cost: float
    chance: float
    at_rest: bool
    proposals: tuple[Proposal, ...]
    fitted: str
    checked: CheckResult | None
    simulator_version: str
    simulations: int
    spared: int
    wall_s: float

    @property
    def consistent(self) -> bool:
        """Whether a heater of this file gives such readings."""
        return self.at_rest and self.chance >= UNLIKELY

    @property
    def furthest(self) -> Compared:
        """The reading that agrees least with the file and the others."""
        return max(self.compared, key=lambda each: abs(each.left_out))

    @property
    def free(self) -> tuple[Departure, ...]:
        """What the user does not know."""
        return tuple(each for each in self.departures if each.free)

    @property
    def exit_code(self) -> int:
        """0 when a heater of this file gives such readings, 1 when none does or the fit did not come to rest."""
        return 0 if self.consistent else 1

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI, the schema `heatsim.match.readings/1`."""
        return {
            "schema": SCHEMA,
            "heatsim_version": heatsim.__version__,
            "simulator_version": self.simulator_version,
            "scenario": self.scenario.identity,
            "consistent": self.consistent,
            "at_rest": self.at_rest,
            "chi_square": self.cost,
            "degrees_of_freedom": len(self.compared),
            "chance": self.chance if math.isfinite(self.chance) else None,
            "readings": [each.as_dict() for each in self.compared],
            "unknowns": [vars(each) for each in self.departures],
            "estimates": {each.key: each.as_dict() for each in self.estimates},
            "tied": [{"keys": list(each.keys), "correlation": each.correlation} for each in self.tied],
            "next": [each.as_dict() for each in self.proposals],
            **verdict_as_dict(self.checked, "fitted_"),
            "simulations": self.simulations,
            "simulations_spared": self.spared,
            "wall_s": self.wall_s,
        }
