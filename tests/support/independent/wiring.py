# SPDX-License-Identifier: GPL-3.0-or-later
"""A heater's circuit in the making: what `whole` and its neighbours add to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from tests.support.independent.nodal import GROUND, Circuit, Row

SIDES = (("left", "right"), ("right", "left"))
"""Each side and the other one."""

Voltage = Callable[[float], float]
"""[V] over time [s]."""


@dataclass
class Whole:
    """circuit; signals: sums of unknowns by the names of heatsim's waveforms; start: what the ideal stage says of the unknowns."""

    circuit: Circuit = field(default_factory=Circuit)
    signals: dict[str, dict[int, float]] = field(default_factory=dict)
    start: dict[str, float] = field(default_factory=dict)

    def node(self, name: str) -> int:
        """A node, made where it is not there yet."""
        names = self.circuit.names
        return names.index(name) if name in names else self.circuit.unknown(name)

    def show(self, name: str, row: Row) -> None:
        """A signal, ground left out."""
        self.signals[name] = {k: v for k, v in row.items() if k != GROUND}

    def first(self) -> np.ndarray:
        """All unknowns at the start."""
        return np.array([self.start.get(name, 0.0) for name in self.circuit.names])
