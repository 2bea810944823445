# SPDX-License-Identifier: GPL-3.0-or-later
"""The observations of a bench test, each with its standard deviation, and prior knowledge beside them.

Limits of error +-a count as a standard deviation a/sqrt(3) (rectangular distribution, JCGM 100:2008, 4.3.7).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatsim.physics.numeric import FloatArray
from heatsim.scenario.ringtest import BiasTable, RingTest
from heatsim.studies.ring.ramp import Ramp, prepare

LIMIT_TO_DEVIATION = 1 / np.sqrt(3.0)
"""Standard deviation of a value known to lie within +-1 and no more."""

SCATTER = 0.005
"""Relative scatter of readings under bias that are too few to show it; estimate."""


@dataclass(frozen=True)
class Readings:
    """Inductances [H] at direct currents [A]; gain_spread: of the meter, common; scatter: of each, relative."""

    current: FloatArray
    inductance: FloatArray
    gain_spread: float
    scatter: float
    scatter_known: bool

    @property
    def few(self) -> bool:
        """Too few to see their scatter."""
        return self.current.size < 5


@dataclass(frozen=True)
class RingData:
    """What is to be explained: any of ramp, readings under bias, LCR reading [H] with its relative deviation.

    deviation: of each ramp sample [A]; air: closed-form air-core inductance [H]; resistance: known series resistance of
    the ramp's loop and its deviation [ohm], or None; least_resistance: of the loop, the winding's own as far down as its
    reading may lie [ohm]; gains: deviations of
    current and of voltage, relative.
    """

    ramp: Ramp | None
    deviation: FloatArray
    readings: Readings | None
    lcr: tuple[float, float] | None
    air: float
    resistance: tuple[float, float] | None
    least_resistance: float
    gains: tuple[float, float]

    @property
    def count(self) -> int:
        """Number of observations."""
        return self.deviation.size + (self.readings.current.size if self.readings else 0) + (self.lcr is not None)

    @property
    def reach(self) -> float:
        """Largest current of the data [A]."""
        currents = [0.0]
        if self.ramp:
            currents.append(float(np.max(self.ramp.current[-max(3, self.ramp.current.size // 50) :]) - self.ramp.rough.offset))
        if self.readings:
            currents.append(float(np.max(self.readings.current)))
        return max(currents)


def gather(test: RingTest) -> RingData:
    """Observations of a bench test with their first deviations."""
    tables, ramp = test.tables, prepare(test) if test.capture is not None else None
    winding = tables.winding
    lcr = (tables.lcr.inductance, max(tables.lcr.accuracy * LIMIT_TO_DEVIATION, 1e-4)) if tables.lcr else None
    deviation = np.full(ramp.time.size, max(ramp.noise, 0.29 * ramp.lsb) / np.sqrt(ramp.block)) if ramp else np.empty(0)
    return RingData(
        ramp=ramp,
        deviation=deviation,
        readings=_readings(tables.bias) if tables.bias else None,
        lcr=lcr,
        air=test.winding.air_inductance(test.ring()),
        resistance=_known_resistance(test, ramp),
        least_resistance=(winding.resistance or 0.0) * (1.0 - min(2 * winding.resistance_accuracy, 1.0)),
        gains=_gains(test, ramp),
    )


def _readings(table: BiasTable) -> Readings:
    currents, inductances = np.array(sorted(table.readings)).T
    known = table.scatter is not None
    scatter = max(table.scatter or 0.0, 1e-4) if known else SCATTER
    return Readings(currents, inductances, table.accuracy * LIMIT_TO_DEVIATION, scatter, known)


def _known_resistance(test: RingTest, ramp: Ramp | None) -> tuple[float, float] | None:
    """Stated resistance of the loop; the winding's own counts where the voltage was recorded, that is across it."""
    table, across = test.tables.ramp, ramp is not None and ramp.drive is not None
    known = table if table and table.resistance is not None else test.tables.winding if across else None
    if known is None or known.resistance is None:
        return None
    return known.resistance, max(known.resistance_accuracy * known.resistance * LIMIT_TO_DEVIATION, 1e-6)


def _gains(test: RingTest, ramp: Ramp | None) -> tuple[float, float]:
    table = test.tables.ramp
    if table is None or ramp is None:
        return 0.0, 0.0
    current = (table.current_accuracy or 0.0) * LIMIT_TO_DEVIATION
    voltage = (table.voltage_accuracy or 0.0) * LIMIT_TO_DEVIATION
    return current, float(np.hypot(voltage, ramp.drive.gain_error if ramp.drive else 0.0))
