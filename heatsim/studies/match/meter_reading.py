# SPDX-License-Identifier: GPL-3.0-or-later
"""A meter's reading that was taken beside a capture, and what the causes make of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

CONTRADICTS = 3.0
"""Standard deviations from which a reading contradicts a cause's best fit: by chance 3 in 1000."""


@dataclass(frozen=True)
class MeterReading:
    """A reading of the steady state.

    text: as it was given
    case, supply_voltage: in which it was taken, and at which [V]
    key: of the measure as in results.json; unit: its unit
    value, error: reading and standard deviation, meter's and model's together [unit]
    """

    text: str
    case: str
    supply_voltage: float
    key: str
    unit: str
    value: float
    error: float


@dataclass(frozen=True)
class ReadingBeside(MeterReading):
    """A meter's reading beside the captures, and what each cause makes of it.

    expected: of the scenario's own heater [unit]
    fitted: cause -> what its best fit would show [unit]
    """

    expected: float
    fitted: Mapping[str, float]

    def off(self, cause: str) -> float:
        """By how many standard deviations the reading is above what a cause's best fit would show."""
        return (self.value - self.fitted[cause]) / self.error

    def against(self, cause: str) -> bool:
        """Whether the reading contradicts a cause's best fit."""
        return abs(self.off(cause)) > CONTRADICTS

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI."""
        plain = {"text": self.text, "case": self.case, "supply_voltage_v": self.supply_voltage, "key": self.key, "unit": self.unit}
        said = {
            cause: {"fitted": value, "off": self.off(cause), "chi_square": self.off(cause) ** 2}
            for cause, value in self.fitted.items()
        }
        return plain | {"value": self.value, "standard_error": self.error, "expected": self.expected, "causes": said}
