# SPDX-License-Identifier: GPL-3.0-or-later
"""What every limit is made from. A remedy says in words what moves a limit; numbers come from simulated remedies alone."""

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
    def limits(self) -> LimitsTable:
        """The scenario's own limits."""
        return self.scenario.tables.limits

    def number(self, key: str) -> float:
        """A measure, NaN when it is missing."""
        value = self.measures.get(key)
        return math.nan if value is None else float(value)
