# SPDX-License-Identifier: GPL-3.0-or-later
"""Conductors and bolted joints: what they lose to a current, how warm they get, and which section would do.

As in `heatsim.parts.section`, no heat leaves at the ends: a short piece between cooler parts stays cooler, one between hotter parts
gets hotter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from heatsim.constants import COPPER_CONDUCTIVITY
from heatsim.parts.section import Bar, Load, Surroundings, Wire, balance, loss_per_metre
from heatsim.parts.thermal import CEILING
from heatsim.physics.ampacity import TRACK_EXTERNAL, TRACK_INTERNAL, track_rise
from heatsim.physics.conductor import copper_resistivity, skin_depth
from heatsim.physics.heat import rod_heat

AIR_BAND, BOARD_BAND = 1.25, 1.6
"""Factors, both ways, within which the heat given off is known: free in air, as for chokes, and by way of a board."""

AC_BAND = {"far": 1.1, "face": 1.2, "soldered": 1.4}
"""Factors, both ways, within which the part of the resistance beyond that of direct current is known: a lone bar or wire, one
facing its return, a trace with wire and solder on it (estimates)."""

JOINT, JOINT_BAND = 20e-6, 4.0
"""Contact resistance of a bolted joint [ohm] where none is measured, and the factor, both ways, within which it lies: clean,
tight and flat against tarnished, small or loose. An estimate: common practice, no source."""

LEAST_SECTION = 1e-3
"""Share of a section below which no smaller one is looked for [1]."""

CHART_CURRENT, CHART_WIDTH, CHART_RISE = 35.0, 10e-3, 100.0
"""Range of the charts of IPC-2221: current [A], width [m], rise [K]."""


@dataclass(frozen=True)
class Warm:
    """A conductor with a current: resistance [ohm] to it, to direct current and at the lowest harmonic, at its temperature or,
    where it has none, at `CEILING`; loss [W]; temperature and its band [°C], None above `CEILING`; area_needed [m2] of the copper
    of all of them for the temperature that is allowed, None where none would do; chart_rise: after IPC-2221 [K], None beyond its
    range.
    """

    resistance: float | None
    resistance_direct: float | None
    resistance_tank: float | None
    loss: float
    temperature: float | None
    band: tuple[float | None, float | None]
    area_needed: float | None = None
    chart_rise: float | None = None


@dataclass(frozen=True)
class Conductor:
    """key: its name in the keys of measures; carries: which current; signal: its name among the waveforms; count: equal ones that
    share it; length [m]; limit: of its temperature [°C]; ac_band: see `AC_BAND`.
    """

    name: str
    key: str
    kind: str
    carries: str
    signal: str
    count: int
    length: float
    section: Bar | Wire
    air: Surroundings
    limit: float
    ac_band: float = AC_BAND["far"]
    inner: bool = False

    @property
    def area(self) -> float:
        """Of the copper of all of them [m2]; of solder, the copper it stands for."""
        return self.count * self.section.area

    @property
    def cooling_band(self) -> float:
        """Factor, both ways, within which the heat given off is known."""
        return BOARD_BAND if self.air.board else AIR_BAND

    @property
    def inductance(self) -> float | None:
        """By itself [H]; None for several, whose distance counts."""
        return self.section.inductance(self.length) if self.count == 1 else None

    def warm(self, load: Load) -> Warm:
        """With a current that all of them carry together."""
        each = load.shared(self.count)
        temperature = balance(self.section, self.air, each)
        band, cool = self.ac_band, self.cooling_band
        low, high = balance(self.section, self.air, each, cool, 1 / band), balance(self.section, self.air, each, 1 / cool, band)
        celsius = CEILING if temperature is None else temperature
        per_metre = loss_per_metre(self.section, each, celsius)
        share = self.length / self.count
        direct = share * float(copper_resistivity(celsius)) / self.section.area
        tank = direct * float(self.section.ratio(np.asarray(skin_depth(copper_resistivity(celsius), load.frequencies[0]))))
        return Warm(
            share * per_metre / each.square if each.square else None,
            direct,
            tank,
            self.length * per_metre * self.count,
            temperature,
            (low, high),
            self._needed(each),
            self._chart(math.sqrt(each.square)),
        )

    def _needed(self, each: Load) -> float | None:
        """Section of all of them [m2] at which the limit is just kept: a strip's width changes, a cable's diameter."""
        from scipy.optimize import brentq

        def spare(log_factor: float) -> float:
            section = self.section.scaled(math.exp(log_factor))
            loss = loss_per_metre(section, each, self.limit)
            surface = self.limit - loss * self.air.resistance(section)
            rise = surface - self.air.ambient
            return rise * self.air.conductance(section, surface) - loss if rise > 1e-3 else -loss

        least, most = math.log(LEAST_SECTION), math.log(100.0)
        if spare(most) < 0:
            return None
        return self.area * (math.exp(brentq(spare, least, most, xtol=1e-6)) if spare(least) < 0 else LEAST_SECTION)

    def _chart(self, current: float) -> float | None:
        if self.air.board is None or not isinstance(self.section, Bar):
            return None
        k = TRACK_INTERNAL if self.inner else TRACK_EXTERNAL
        rise = float(track_rise(self.section.width, self.section.thickness, current, k))
        return rise if current <= CHART_CURRENT and self.section.width <= CHART_WIDTH and rise <= CHART_RISE else None


@dataclass(frozen=True)
class Joint:
    """A bolted joint: contact resistance [ohm] and the factor within which it lies, 1 where it is measured; bars: the section that
    it joins, None where it is not known; the rest as a `Conductor`'s.
    """

    name: str
    key: str
    carries: str
    signal: str
    count: int
    resistance: float
    band: float
    bars: Bar | None
    air: Surroundings
    limit: float
    kind: str = "joint"
    inductance: float | None = None

    def warm(self, load: Load) -> Warm:
        """With a current; the contact has the same resistance at all frequencies. Its heat leaves along both bars as along rods."""
        each = load.shared(self.count)
        low, middle, high = (
            self._temperature(each, factor, cool) for factor, cool in ((1 / self.band, AIR_BAND), (1, 1), (self.band, 1 / AIR_BAND))
        )
        whole = self.resistance / self.count
        return Warm(whole, whole, whole, self.resistance * each.square * self.count, middle, (low, high))

    def _temperature(self, each: Load, factor: float, cooling: float) -> float | None:
        """Where contact and bars are in balance [°C]."""
        from scipy.optimize import brentq

        bars = self.bars
        along = balance(bars, self.air, each, cooling) if bars else None
        if bars is None or along is None:
            return None
        loss, own = factor * self.resistance * each.square, loss_per_metre(bars, each, along)

        def spare(celsius: float) -> float:
            film = cooling * self.air.conductance(bars, celsius) / bars.perimeter
            rise = celsius - self.air.ambient
            return 2 * float(rod_heat(bars.perimeter, bars.area, 100.0, COPPER_CONDUCTIVITY, film, rise, own)) - loss

        return float(brentq(spare, self.air.ambient + 1e-3, CEILING)) if spare(CEILING) > 0 else None
