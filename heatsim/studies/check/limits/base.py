# SPDX-License-Identifier: GPL-3.0-or-later
"""What every limit is made from. A remedy says in words what moves a limit; numbers come from simulated remedies alone."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from heatsim.parts.heater import Heater
from heatsim.quantity import format_quantity
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.schema import LimitsTable

Measures = Mapping[str, Any]


LATE, LATE_FALL = 0.1, 0.15
"""Shares of the half cycle beyond which a gate that lags behind the drain that drives it rises and falls late; working values: with
sound gates these are 1 to 3 %, and 5 to 9 % with the time that the drain's rise holds the gate near its threshold."""


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

    def late(self, side: str) -> bool:
        """Whether a gate rises too late for its half cycle, or not as far as its supply could take it: its pull-up is too weak."""
        delay, frequency = self.number(f"gate.{side}.rise_delay_s"), self.number("tank.frequency_hz")
        needed, supply = self.heater.switch.on_gate_voltage, self.heater.gate_supply_voltage
        return delay * 2 * frequency > LATE or self.number(f"gate.{side}.max_voltage_v") < needed < supply

    def slow_to_fall(self, side: str) -> bool:
        """Whether a gate stays up for so long after its half cycle that both banks conduct at once."""
        return self.number(f"gate.{side}.fall_delay_s") * 2 * self.number("tank.frequency_hz") > LATE_FALL

    def lag(self, side: str) -> str:
        """How long a gate takes after the opposite drain to pass its threshold, in words; empty if that was not measured."""
        rise, fall = (self.number(f"gate.{side}.{name}_delay_s") for name in ("rise", "fall"))
        half = 0.5 / self.number("tank.frequency_hz") if self.measures.get("tank.frequency_hz") else math.nan
        told = [
            f"{verb} {format_quantity(delay, 's')} after the opposite drain"
            for verb, delay in (("rises", rise), ("falls", fall))
            if math.isfinite(delay * half)
        ]
        return f" The gate {' and '.join(told)}; the half cycle lasts {format_quantity(half, 's')}." if told else ""

    def number(self, key: str) -> float:
        """A measure, NaN when it is missing."""
        value = self.measures.get(key)
        return math.nan if value is None else float(value)
