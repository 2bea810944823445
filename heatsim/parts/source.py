# SPDX-License-Identifier: GPL-3.0-or-later
"""What stands behind a supply's voltage: its kind, its current limit, a bouncing contact, a fuse."""

from __future__ import annotations

from dataclasses import dataclass

from heatsim.physics.rectifier import Rectified


@dataclass(frozen=True)
class CurrentLimit:
    """What a switch-mode supply does at its current limit.

    form: "constant", "foldback" or "hiccup"; current: the limit at full voltage [A]; short_circuit: what is left of it at no
    voltage [A]; knee_voltage: output voltage from which on it is whole [V]; trip_delay: how long it is stood [s]; retry_time: for
    which it stays off then [s]
    """

    form: str
    current: float
    short_circuit: float
    knee_voltage: float
    trip_delay: float = 0.0
    retry_time: float = 0.0

    def at(self, voltage: float) -> float:
        """The limit [A] at an output voltage [V]."""
        share = min(max(voltage / self.knee_voltage, 0.0), 1.0)
        return self.short_circuit + (self.current - self.short_circuit) * share


@dataclass(frozen=True)
class Bridge:
    """A transformer with a bridge of diodes: resistance [ohm] and leakage [H] as the secondary sees them, mains_frequency [Hz]."""

    resistance: float
    leakage: float
    mains_frequency: float


@dataclass(frozen=True)
class Source:
    """kind: "battery", "rectifier" or "switch mode"; limit: of a switch-mode supply that has one; bridge: of a rectifier;
    bounce: whether the contact is made, and for how long [s], one after the other until it is made for good; fuse_i2t [A2s],
    fuse_rating [A]: of the fuse, None without; rectified: what the bridge does at the heater's load, None before that is known.
    """

    kind: str
    limit: CurrentLimit | None = None
    bridge: Bridge | None = None
    bounce: tuple[tuple[bool, float], ...] = ()
    fuse_i2t: float | None = None
    fuse_rating: float | None = None
    rectified: Rectified | None = None

    @property
    def behavioural(self) -> bool:
        """Whether the netlist needs more than voltage, resistance and ripple for it."""
        return self.limit is not None or bool(self.bounce)

    @property
    def bounce_time(self) -> float:
        """When the contact is made for good [s]."""
        return sum(length for _, length in self.bounce)
