# SPDX-License-Identifier: GPL-3.0-or-later
"""An operating point as parts, and on which steady supplies it can be taken."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from heatsim.netlist.deck import Deck
from heatsim.parts.heater import Heater
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import case_deck

SLOW_RIPPLE = 0.1
"""A ripple is slow when less than this share of its period passes while tank and supply settle. What settles exponentially
swings less than from one steady state to the other, so that these bound it; a tenth of a resonance's frequency swings 1 % more.
"""


@dataclass(frozen=True)
class Built:
    """A point's scenario and parts."""

    scenario: Scenario
    heater: Heater
    case: str

    def deck(self) -> Deck:
        """Its netlist for a cold start, with every vector saved."""
        return replace(case_deck(self.scenario, self.case, self.heater), every=True)

    def deck_at_crest(self) -> Deck:
        """As `deck`, at the crest of a slow ripple."""
        steady = self.steady.get("crest", self.heater)
        return replace(case_deck(self.scenario, self.case, steady), every=True)

    @property
    def steady(self) -> dict[str, Heater]:
        """The heater on a steady supply, at crest and valley of a slow ripple; none where the ripple is not slow."""
        supply = self.heater.supply
        if not supply.ripple:
            return {"crest": self.heater}
        tank = self.heater.quality / (math.pi * self.heater.frequency)
        decay, ringing = supply.slow_mode(self.heater.supply_current / supply.voltage)
        if max(tank, decay, ringing) * supply.ripple_frequency > SLOW_RIPPLE:
            return {}
        volts = {"crest": supply.voltage + supply.ripple / 2, "valley": supply.voltage - supply.ripple / 2}
        return {
            name: replace(self.heater, supply=replace(supply, voltage=value, ripple=0.0))
            for name, value in volts.items()
            if value > 0
        }
