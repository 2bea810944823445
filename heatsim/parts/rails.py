# SPDX-License-Identifier: GPL-3.0-or-later
"""The two bars that a capacitor bank stands along, and what each of its capacitors bears."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from heatsim.physics.bank import string_share
from heatsim.physics.bars import facing_bars_impedance
from heatsim.physics.conductor import copper_resistivity

Connection = Literal["same end", "opposite ends", "middle", "far end"]

CONNECTIONS: tuple[Connection, ...] = ("same end", "opposite ends", "middle")
"""Ways of connecting the coil."""


def places(connection: Connection, count: int) -> tuple[float, float]:
    """Where on the left and on the right bar a pair of conductors connects, counted in capacitors from 1; the middle of an even
    number lies between two.
    """
    middle = (count + 1) / 2
    ends = {"same end": (1.0, 1.0), "far end": (count, count), "opposite ends": (1.0, count), "middle": (middle, middle)}
    return ends[connection]


@dataclass(frozen=True)
class MeasuredSegment:
    """Bars from one capacitor to the next, both as go and return. inductance [H], resistance [ohm]: taken as the same at every
    frequency.
    """

    inductance: float
    resistance: float
    basis: str = "measured"

    def impedance(self, frequency: float) -> complex:
        """Of the loop [ohm] at a frequency [Hz]."""
        return complex(self.resistance, 2 * math.pi * frequency * self.inductance)


@dataclass(frozen=True)
class FacingBars:
    """The same by geometry: copper bars, broad sides facing. pitch, width, thickness, spacing [m]; celsius: of the bars [°C]."""

    pitch: float
    width: float
    thickness: float
    spacing: float
    celsius: float
    basis: str = "estimate"

    def impedance(self, frequency: float) -> complex:
        """Of the loop [ohm] at a frequency [Hz]."""
        resistivity = float(copper_resistivity(self.celsius))
        return facing_bars_impedance(self.pitch, self.width, self.thickness, self.spacing, resistivity, frequency)


@dataclass(frozen=True)
class Rails:
    """coil, drains: where they connect; segment: of the bars; own_inductance: in series with each place [H]; in_series: capacitors
    at each place; tolerance: of capacitances [1]; rating: (frequency [Hz], rms current of one [A]), rising, empty where not given;
    thermal_resistance: of one, hottest spot to air [K/W], temperature_limit [°C]: None where not known.
    """

    coil: Connection
    drains: Connection | None
    segment: MeasuredSegment | FacingBars
    own_inductance: float
    in_series: int = 1
    tolerance: float = 0.0
    rating: tuple[tuple[float, float], ...] = ()
    thermal_resistance: float | None = None
    temperature_limit: float | None = None

    def segment_inductance(self, frequency: float) -> float:
        """Loop inductance of the bars from one capacitor to the next [H] at a frequency [Hz]."""
        return self.segment.impedance(frequency).imag / (2 * math.pi * frequency)

    def rated_current(self, frequency: float) -> float | None:
        """Rms current [A] that one capacitor is rated for at a frequency [Hz], straight in logarithms between the points of
        `rating` and held beyond its ends; None without points.
        """
        if not self.rating:
            return None
        points = np.log(np.array(self.rating))
        return float(np.exp(np.interp(math.log(frequency), points[:, 0], points[:, 1])))

    def beyond_rating(self, frequency: float) -> bool:
        """Whether a frequency [Hz] lies outside of the points of `rating`."""
        return bool(self.rating) and not self.rating[0][0] <= frequency <= self.rating[-1][0]

    @property
    def voltage_share(self) -> float:
        """Largest share [1] of its place's voltage that one capacitor bears."""
        return string_share(self.in_series, self.tolerance)
