# SPDX-License-Identifier: GPL-3.0-or-later
"""A choke as it warms up from cold and cools down again: temperature against time, runs and rests.

    C dT/dt = loss(T) - given off(T)

with one temperature for core and copper. Between the entries of the table both sides are straight lines, so that each stretch
is an exponential and the whole is exact for the table.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from heatsim.constants import COPPER_DENSITY, COPPER_SPECIFIC_HEAT
from heatsim.parts.choke import Core
from heatsim.physics.numeric import FloatArray as Array


class Substance(NamedTuple):
    """Density of a finished core [kg/m3] and its specific heat [J/(kg*K)]."""

    density: float
    specific_heat: float


SUBSTANCES = {
    "iron powder, carbonyl, dilute": Substance(5000.0, 450.0),
    "iron powder": Substance(6600.0, 450.0),
    "fe-si-al": Substance(5800.0, 460.0),
    "ni-fe": Substance(7400.0, 460.0),
    "mpp": Substance(8000.0, 460.0),
    "fe-si": Substance(6500.0, 460.0),
    "mnzn": Substance(4800.0, 700.0),
    "nanocrystalline": Substance(5500.0, 460.0),
    "amorphous": Substance(5800.0, 500.0),
}
"""Start of an alloy's name -> what its cores are made of; from memory, within some 15 %. Binder and pores are in the density;
the specific heats are those of the metal (iron 450, nickel 444 J/(kg*K)) and of MnZn ferrite at room temperature."""

LIGHTEST = Substance(4500.0, 450.0)
"""Taken for an alloy that is not listed: it warms up sooner than any of them."""

LIFE_AT_LIMIT = 1e5 * 3600.0
"""Time [s] for which the binder of a powder core lasts at the temperature from which it ages; see `binder_life`."""


def binder_life(celsius: float, limit: float) -> float:
    """Time [s] at a core temperature [°C] until the binder of a powder core has aged, its loss rising for good.

    limit: temperature from which it ages [°C]

    100 000 h at the limit, half of it for every 10 K more: the rule of thumb for organic insulation (Montsinger, 1930), its
    anchor common practice, no source. Good to a factor of five at best.
    """
    return float(LIFE_AT_LIMIT * 2.0 ** ((limit - celsius) / 10.0))


def substance(alloy: str) -> Substance:
    """What a core of an alloy is made of; the longest start of its name that is listed."""
    found = [name for name in SUBSTANCES if alloy.lower().startswith(name)]
    return SUBSTANCES[max(found, key=len)] if found else LIGHTEST


def heat_capacity(core: Core) -> float:
    """Heat capacity [J/K] of a wound ring: its core and its copper; enamel, paint and leads left out."""
    made = substance(core.material.alloy)
    copper = core.winding.copper_area * core.winding.turns * core.winding.mean_turn(core.ring) * core.winding.strand_lay
    return core.ring.volume * made.density * made.specific_heat + copper_heat_capacity(copper)


def copper_heat_capacity(volume: float) -> float:
    """Heat capacity [J/K] of a volume of copper [m3]."""
    return volume * COPPER_DENSITY * COPPER_SPECIFIC_HEAT


@dataclass(frozen=True)
class Pattern:
    """Runs of `run` [s] with rests of `rest` [s] between them, for ever."""

    run: float
    rest: float


@dataclass(frozen=True)
class Warming:
    """Loss and heat given off [W] at temperatures [°C] that rise from ambient to the highest that is looked at.

    capacity: heat that warms the choke by one kelvin [J/K]
    """

    celsius: Array
    loss: Array
    given: Array
    capacity: float

    @property
    def ambient(self) -> float:
        """[°C]."""
        return float(self.celsius[0])

    @property
    def ceiling(self) -> float:
        """Highest temperature looked at [°C]."""
        return float(self.celsius[-1])

    def temperature(self, run: float, start: float | None = None) -> float:
        """Temperature [°C] a time [s] after the current sets in; from cold, or from a temperature [°C].

        It falls where more is given off than lost. At most the ceiling: what reaches it is destroyed.
        """
        first = self.ambient if start is None else start
        return _march(self.celsius, (self.loss - self.given) / self.capacity, first, (run,))[0]

    def temperatures(self, runs: Sequence[float]) -> list[float]:
        """The same from cold after each of several times [s]."""
        return _march(self.celsius, (self.loss - self.given) / self.capacity, self.ambient, runs)

    def time_to(self, celsius: float) -> float | None:
        """Time [s] from cold to a temperature [°C], the longest run below it; None when it is never reached, or lies above the
        ceiling.
        """
        return _passage(self.celsius, (self.loss - self.given) / self.capacity, self.ambient, celsius)

    def rest(self, hot: float, cool: float) -> float | None:
        """Time [s] without current from one temperature [°C] down to another; None for one that is never reached."""
        return _passage(-self.celsius[::-1], self.given[::-1] / self.capacity, -hot, -cool)

    def pattern(self, run: float, celsius: float) -> Pattern | None:
        """Runs of a length [s] and the shortest rests with which the temperature [°C] is never passed, however often.

        None when a single run passes it, or when no rest is needed.
        """
        whole = self.time_to(celsius)
        if whole is None or run >= whole:
            return None
        rest = self.rest(celsius, self.temperature(whole - run))
        return None if rest is None else Pattern(run, rest)


def _stretches(x: Array, rate: Array) -> Array:
    """Time [s] over each stretch of x on which the rate changes in a straight line; infinite where it comes to rest."""
    first, last = rate[:-1], rate[1:]
    moving = (first > 0.0) & (last > 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(moving, last / np.where(first > 0.0, first, 1.0), 1.0)
        mean = np.where(np.abs(ratio - 1.0) < 1e-6, 0.5 * (first + last), (last - first) / np.log(ratio))
        return np.asarray(np.where(moving, np.diff(x) / mean, np.inf))


def _cut(x: Array, rate: Array, start: float) -> tuple[Array, Array]:
    """Table from a start on."""
    keep = x > start
    return np.append(start, x[keep]), np.append(np.interp(start, x, rate), rate[keep])


def _passage(x: Array, rate: Array, start: float, end: float) -> float | None:
    """Time [s] from start to end at a rate that depends on x; None where it comes to rest before or the table ends."""
    if end <= start:
        return 0.0
    if end > x[-1] + 1e-9:
        return None
    x, rate = _cut(x, rate, start)
    keep = x < end
    ends, speeds = np.append(x[keep], end), np.append(rate[keep], np.interp(end, x, rate))
    total = float(np.sum(_stretches(ends, speeds)))
    return total if math.isfinite(total) else None


def _march(x: Array, rate: Array, start: float, times: Sequence[float]) -> list[float]:
    """Where x is after each of some times [s]; at most at the table's end, from where nothing comes back."""
    if start >= x[-1]:
        return [float(x[-1])] * len(times)
    if np.interp(start, x, rate) < 0.0:
        return [-each for each in _march(-x[::-1], -rate[::-1], -start, times)]
    x, rate = _cut(x, rate, start)
    if rate[0] <= 0.0:
        return [start] * len(times)
    passed = np.append(0.0, np.cumsum(_stretches(x, rate)))
    return [_place(x, rate, passed, time) for time in times]


def _place(x: Array, rate: Array, passed: Array, time: float) -> float:
    """Where x is after a time [s], with the times at which it passes the entries of the table."""
    place = int(np.searchsorted(passed, time, side="right")) - 1
    if place >= len(x) - 1:
        return float(x[-1])
    left, slope = time - float(passed[place]), float((rate[place + 1] - rate[place]) / (x[place + 1] - x[place]))
    way = left if abs(slope * left) < 1e-9 else math.expm1(slope * left) / slope
    return float(x[place] + rate[place] * way)
