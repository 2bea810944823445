# SPDX-License-Identifier: GPL-3.0-or-later
"""What every limit is made from, and the remedies that several parts share."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.schema import LimitsTable

Measures = Mapping[str, Any]


@dataclass(frozen=True)
class JudgedCase:
    """One case of a scenario with its measures."""

    scenario: Scenario
    heater: Heater
    measures: Measures

    @property
    def wanted(self) -> float:
        """The scenario's wanted headroom [1]."""
        return self.scenario.tables.heater.wanted_headroom

    @property
    def limits(self) -> LimitsTable:
        """The scenario's own limits."""
        return self.scenario.tables.limits

    def number(self, key: str) -> float:
        """A measure, NaN when it is missing."""
        value = self.measures.get(key)
        return math.nan if value is None else float(value)

    def lower_supply(self, key: str, allowed: float, parts: str) -> str:
        """Remedy for a measure that goes with the supply voltage: the voltage that leaves the wanted headroom, or `parts`."""
        value = self.number(key)
        if not value > 0:
            return ""
        voltage = self.heater.supply.voltage * allowed * (1 - self.wanted) / value
        return f"Keep the supply at or below {half_volts(voltage):g} V, or take {parts}."

    def count_needed(self, count: int, value: float, allowed: float) -> int:
        """How many parallel parts bring a shared current `value` (per part, with `count` of them) inside its limit."""
        return math.ceil(count * value / (allowed * (1 - self.wanted)) - 1e-9)


def half_volts(voltage: float) -> float:
    """A voltage [V] rounded down to half a volt."""
    return math.floor(voltage * 2) / 2
