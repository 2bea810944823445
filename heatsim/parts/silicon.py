# SPDX-License-Identifier: GPL-3.0-or-later
"""How warm MOSFETs get: losses and on-resistance against temperature, brought to a balance with the sink.

    T = Ts + P(T) (Rjc + Rcs),   P(T) = Pc r(T) + Po,   r(T) = R(T)/R(as simulated),   sum of P = heat given off(Ts)

Pc is the conduction loss as simulated and grows with the on-resistance at one current; what is lost by changing over, in body
diodes and in gates is kept as simulated. In each bank one device is taken for the worst, with on-resistance and threshold at the
lower end of their spread, so that it carries more than its share; the banks' totals stay those of the run. A balance that does not
exist is thermal runaway: the loss grows faster with temperature than the way to the air carries off.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heatsim.constants import ZERO_CELSIUS
from heatsim.parts.sink import CEILING, ThermalPath
from heatsim.parts.warmup import Warming
from heatsim.physics.mosfet import parallel_share, saturated_share, warm_resistance_ratio
from heatsim.physics.numeric import FloatArray as Array

Flags = npt.NDArray[np.bool_]

GRID = 60
"""Temperatures of the sink in the tables."""

ZOOMS = 3
"""Times the stretch between two of them is looked at more closely: to 1e-3 K."""

STEPS, NEAR = 3000, 1e-6
"""Most rounds until loss and on-resistance of a device agree, and to how much [K]: what takes longer is within half a per cent of
running away, and counts as that."""

BEYOND = CEILING + 1.0
"""Where a junction that has no balance is left [°C]."""


@dataclass(frozen=True)
class BankPower:
    """What a bank loses as simulated [W]: conduction; overlap, of changing over; avalanche, all in one device; rest, shared evenly.

    count: devices; overdrive: gate voltage over threshold at which the channels carry their current when they change over [V]
    """

    count: int
    conduction: float
    overlap: float
    avalanche: float
    rest: float
    overdrive: float


@dataclass(frozen=True)
class DeviceHeat:
    """The worst device of a bank and the bank it is in, at temperatures of the sink, shape (n,); NaN without a balance.

    junction, case [°C]; loss: of the device [W]; bank: of all devices [W]; ratio: its on-resistance over that simulated [1]
    """

    junction: Array
    case: Array
    loss: Array
    bank: Array
    ratio: Array


@dataclass(frozen=True)
class SiliconHeat:
    """A bank in balance with its sink.

    junction, case, sink: of the worst device [°C]; loss: of it [W]; ratio: its on-resistance over that simulated [1]; all None in
    thermal runaway. warming: the sink from cold, None without its heat capacity; junctions: that belong to the sink's temperatures
    there [°C].
    """

    junction: float | None = None
    case: float | None = None
    sink: float | None = None
    loss: float | None = None
    ratio: float | None = None
    warming: Warming | None = None
    junctions: Array | None = None

    def time_to(self, junction: float) -> float | None:
        """Time [s] from cold until the worst junction comes to a temperature [°C] or runs away; None if never, or if not known."""
        if self.warming is None or self.junctions is None:
            return None
        reached = self.junctions[-1] >= junction
        return self.warming.time_to(
            float(np.interp(junction, self.junctions, self.warming.celsius)) if reached else self.warming.ceiling
        )


@dataclass(frozen=True)
class Way:
    """A thermal path with its uncertain figures chosen.

    exponent: of the on-resistance [1]; junction_to_case, interface [K/W]; cooling: factor on the heat that the sink gives off [1]
    """

    path: ThermalPath
    exponent: float
    junction_to_case: float
    interface: float
    cooling: float = 1.0

    @classmethod
    def best(cls, path: ThermalPath, time: float | None = None) -> Way:
        """As it is best known; time: see `ThermalPath.reached`."""
        return cls(path, path.warm_exponent, path.reached(time), path.interface)

    @classmethod
    def ends(cls, path: ThermalPath) -> tuple[Way, ...]:
        """With everything uncertain at its kindest and at its worst; of the on-resistance's law both ends with both, for which of
        them is kind depends on the temperature for which the resistance is given.
        """
        return tuple(
            cls(path, exponent, path.reached(None), path.interface * path.interface_band**lean, path.sink.band**-lean)
            for lean in (-1, 1)
            for exponent in path.warm_exponent_band
        )

    def ratio(self, celsius: Array) -> Array:
        """On-resistance at junction temperatures [°C] over that as simulated."""
        given = self.path.resistance_c + ZERO_CELSIUS
        return np.asarray(warm_resistance_ratio(celsius + ZERO_CELSIUS, given, self.exponent))

    def devices(self, power: BankPower, sinks: Array) -> DeviceHeat:
        """The worst device over sinks of some temperatures [°C]."""
        low, high = 1 - self.path.resistance_spread, 1 + self.path.resistance_spread
        others, resistance = power.count - 1, self.junction_to_case + self.interface
        as_simulated = 1 / low + others / high
        shift = float(saturated_share(power.overdrive, self.path.threshold_mismatch, power.count)) * power.overlap
        own = shift + power.avalanche + power.rest / power.count
        beside = (power.overlap - shift) / others + power.rest / power.count if others else 0.0
        worst = other = sinks
        for _ in range(STEPS):
            warm, warm_others = low * self.ratio(worst), high * self.ratio(other)
            share = np.asarray(parallel_share(warm, warm_others, power.count))
            conduction = power.conduction * as_simulated / (1 / warm + others / warm_others)
            loss = conduction * share + own
            loss_others = conduction * (1 - share) / max(others, 1) + beside
            before, before_others = worst, other
            worst, other = (np.minimum(sinks + each * resistance, BEYOND) for each in (loss, loss_others))
            moved = np.maximum(np.abs(worst - before), np.abs(other - before_others))
            if np.all(moved < NEAR):
                break
        lost = (moved >= NEAR) | (worst > CEILING)
        found = worst, sinks + loss * self.interface, loss, loss + others * loss_others, warm / low
        return DeviceHeat(*(np.where(lost, np.nan, each) for each in found))

    def heat(self, powers: Mapping[str, BankPower], side: str) -> SiliconHeat:
        """The balance of a side's bank; powers: of every side."""
        sinks = self.path.ambient + (CEILING - self.path.ambient) * np.linspace(0.0, 1.0, GRID) ** 2
        worst, given, taken = self._over(powers, side, sinks)
        known = int(np.argmax(np.append(~np.isfinite(taken), True)))
        if known < 2:
            return SiliconHeat()
        sinks, capacity, junctions = sinks[:known], self.path.sink.capacity, worst.junction[:known]
        warming = None if capacity is None else Warming(sinks, taken[:known], given[:known], capacity)
        balance = self._balance(powers, side, sinks, given[:known] >= taken[:known])
        if balance is None:
            return SiliconHeat(warming=warming, junctions=junctions)
        at = self.devices(powers[side], np.array([balance]))
        values = (float(each[0]) for each in (at.junction, at.case, at.loss, at.ratio))
        junction, case, loss, ratio = values
        return SiliconHeat(junction, case, balance, loss, ratio, warming, junctions)

    def _over(self, powers: Mapping[str, BankPower], side: str, sinks: Array) -> tuple[DeviceHeat, Array, Array]:
        """The worst device of a side, and what its sink gives off and has to give off [W]."""
        worst, given = self.devices(powers[side], sinks), self.cooling * self.path.sink.flow(sinks, self.path.ambient)
        if self.path.shared == "device":
            return worst, given, worst.loss
        beside = [self.devices(each, sinks).bank for name, each in powers.items() if self.path.shared == "all" and name != side]
        return worst, given, np.sum([worst.bank, *beside], axis=0)

    def _balance(self, powers: Mapping[str, BankPower], side: str, sinks: Array, enough: Flags) -> float | None:
        """Lowest temperature of the sink at which it gives off what comes in [°C]; enough: whether it does at each of `sinks`."""
        for _ in range(ZOOMS):
            if not enough.any():
                return None
            place = int(np.argmax(enough))
            if place == 0:
                break
            sinks = np.linspace(sinks[place - 1], sinks[place], GRID)
            _, given, taken = self._over(powers, side, sinks)
            enough = given >= taken
        return float(sinks[int(np.argmax(enough))])


def overdrive_at(current: float, transconductance: float, at: float) -> float:
    """Gate voltage over threshold [V] of the square law at a drain current [A].

    transconductance: [S] at a current `at` [A]; u = 2 I/gm there, and grows with the root of the current
    """
    return 2 * at / transconductance * math.sqrt(max(current, 1e-3 * at) / at)
