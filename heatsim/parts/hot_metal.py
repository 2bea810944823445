# SPDX-License-Identifier: GPL-3.0-or-later
"""A metal of workpieces from cold to where it melts: its properties over temperature, and the heat it holds.

Temperatures are in °C throughout, heat is counted from 20 °C at the density of 20 °C: a piece keeps its mass, and its expansion
(some 5 % in volume for steel at 1000 °C) is left out. Heat of melting is left out too: the data end at the solidus.

Below their first point tables go on straight with their first slope, down to -20 °C. EN 1993-1-2 begins at 20 °C; below,
steel keeps its specific heat and conductivity of 20 °C.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from heatsim.errors import InputError, known_names
from heatsim.parts.provenance import Provenance
from heatsim.physics.heat import steel_conductivity, steel_enthalpy, steel_resistivity, steel_specific_heat
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.numeric import Result, scalar_or_array

LOWEST_C = -20.0
"""Temperature [°C] down to which properties are continued; below, they keep their value."""

COLD_C = 20.0
"""Temperature [°C] at which a metal's cold figures are stated, and from which its heat is counted."""

STEP_K = 0.1
"""Step [K] of the table of heat: within 1e-4 of the integral, at the peak of steel's specific heat too (tested)."""

_FAR_K = 1e4
"""How far [K] the table of heat goes on above the highest temperature, at the specific heat there."""


class Law(NamedTuple):
    """A published formula of one property.

    value: property [SI] of a temperature [°C]; integral: of it from 20 °C on, where there is one; lowest, highest: range [°C];
    slope: with which it goes on below [SI/K].
    """

    value: Callable[[Array], Result]
    integral: Callable[[Array], Result] | None
    lowest: float
    highest: float
    slope: float


LAWS: Mapping[tuple[str, str], Law] = {
    ("specific_heat", "EN 1993-1-2"): Law(steel_specific_heat, steel_enthalpy, 20.0, 1200.0, 0.0),
    ("conductivity", "EN 1993-1-2"): Law(steel_conductivity, None, 20.0, 1200.0, 0.0),
    ("resistivity", "steel 0.2 % C"): Law(steel_resistivity, None, 20.0, 1200.0, (2.19e-7 - 1.69e-7) / 80.0),
}
"""Formulas by property and name, all in `heatsim.physics.heat`."""


@dataclass(frozen=True)
class Constant:
    """A figure that does not follow temperature: value, by how much it may differ either way, and where it comes from.

    The band is a share [1] of a density, and in kelvin for a temperature.
    """

    value: float
    band: float
    provenance: Provenance
    source: str


@dataclass(frozen=True)
class Trend:
    """A property over temperature: straight between points (temperature [°C], value [SI]), or a law.

    band: share [1] by which a piece bought by the metal's name may differ, either way; provenance, source: of the points.
    """

    band: float
    provenance: Provenance
    source: str
    points: tuple[tuple[float, float], ...] = ()
    law: Law | None = None

    @cached_property
    def table(self) -> tuple[Array, Array]:
        """Temperatures [°C] and values [SI] of the points, continued straight to the lowest temperature."""
        celsius, values = np.array(self.points, dtype=float).T
        slope = (values[1] - values[0]) / (celsius[1] - celsius[0])
        low = np.minimum(celsius[0], LOWEST_C)
        return np.append(low, celsius), np.append(values[0] + slope * (low - celsius[0]), values)

    @property
    def range_c(self) -> tuple[float, float]:
        """First and last temperature [°C] that there are data for."""
        return (self.law.lowest, self.law.highest) if self.law else (self.points[0][0], self.points[-1][0])

    def at(self, celsius: ArrayLike) -> Result:
        """The property [SI] at temperatures [°C]; beyond its range the value at the end of it."""
        if self.law is None:
            return scalar_or_array(np.interp(np.asarray(celsius, dtype=float), *self.table))
        t = np.clip(celsius, LOWEST_C, self.law.highest)
        inside = self.law.value(np.maximum(t, self.law.lowest))
        return scalar_or_array(inside + self.law.slope * np.minimum(t - self.law.lowest, 0.0))

    def integral(self, celsius: Array) -> Array:
        """Integral [SI*K] from 20 °C to rising temperatures [°C] that hold 20 °C and every point: then exact."""
        if self.law and self.law.integral:
            above = np.asarray(self.law.integral(np.clip(celsius, self.law.lowest, self.law.highest)))
            return above + self.law.value(np.array(self.law.lowest)) * np.minimum(celsius - self.law.lowest, 0.0)
        from scipy.integrate import cumulative_trapezoid

        found = cumulative_trapezoid(self.at(celsius), celsius, initial=0.0)
        return np.asarray(found - np.interp(COLD_C, celsius, found))


class HotState(NamedTuple):
    """Properties at one temperature or at an array of them.

    resistivity [ohm*m]; conductivity: thermal [W/(m*K)]; specific_heat [J/(kg*K)]; enthalpy: above 20 °C [J/m3]; emissivity [1].
    """

    resistivity: Result
    conductivity: Result
    specific_heat: Result
    enthalpy: Result
    emissivity: Result


@dataclass(frozen=True)
class HotMetal:
    """A metal over temperature.

    electrical: resistivity [ohm*m]; thermal: conductivity [W/(m*K)]; heat: specific heat [J/(kg*K)]; mass: density at 20 °C
    [kg/m3]; surfaces: conditions of the surface with their emissivity [1]; condition: the one that counts; highest: temperature
    [°C] up to which the data hold; ends: why there, at its solidus or because data end; curie: Curie point [°C], None where
    nothing magnetises.
    """

    electrical: Trend
    thermal: Trend
    heat: Trend
    mass: Constant
    surfaces: tuple[tuple[str, Trend], ...]
    condition: str
    highest: Constant
    ends: Literal["solidus", "data"]
    curie: Constant | None = None

    @property
    def density(self) -> float:
        """Density [kg/m3] at 20 °C."""
        return self.mass.value

    @property
    def curie_c(self) -> float | None:
        """Curie point [°C], None where nothing magnetises."""
        return self.curie.value if self.curie else None

    @property
    def highest_c(self) -> float:
        """Temperature [°C] up to which the data hold."""
        return self.highest.value

    @property
    def end_words(self) -> str:
        """What begins above the highest temperature, in words."""
        return "its melting range" if self.ends == "solidus" else "a range without data"

    @property
    def bands(self) -> dict[str, float]:
        """Share [1] by which each property of a piece bought by the metal's name may differ, either way."""
        named = {"resistivity": self.electrical, "conductivity": self.thermal, "specific_heat": self.heat}
        return {name: trend.band for name, trend in named.items()} | {"density": self.mass.band, "emissivity": self._surface.band}

    @property
    def origins(self) -> tuple[tuple[str, Provenance, str], ...]:
        """What is known, its provenance and its source, property by property."""
        known: dict[str, Trend | Constant | None] = {
            "resistivity over temperature": self.electrical,
            "thermal conductivity": self.thermal,
            "specific heat": self.heat,
            "density": self.mass,
            **{f"emissivity, {name}": trend for name, trend in self.surfaces},
            "Curie point": self.curie,
            "highest temperature": self.highest,
        }
        return tuple((what, each.provenance, each.source) for what, each in known.items() if each)

    def with_condition(self, condition: str, place: str = "") -> HotMetal:
        """The metal with another condition of its surface; InputError at `place` with those there are."""
        if condition not in dict(self.surfaces):
            allowed = known_names(condition, dict(self.surfaces))
            raise InputError.single(place, "is not a condition of this metal's surface", repr(condition), allowed)
        return replace(self, condition=condition)

    def resistivity(self, celsius: ArrayLike) -> Result:
        """Electrical resistivity [ohm*m] at temperatures [°C]; above the highest, that of the highest."""
        return self.electrical.at(np.minimum(celsius, self.highest_c))

    def conductivity(self, celsius: ArrayLike) -> Result:
        """Thermal conductivity [W/(m*K)] at temperatures [°C]; above the highest, that of the highest."""
        return self.thermal.at(np.minimum(celsius, self.highest_c))

    def specific_heat(self, celsius: ArrayLike) -> Result:
        """Specific heat [J/(kg*K)] at temperatures [°C]; above the highest, that of the highest."""
        return self.heat.at(np.minimum(celsius, self.highest_c))

    def emissivity(self, celsius: ArrayLike) -> Result:
        """Emissivity [1] of the surface at temperatures [°C]; above the highest, that of the highest."""
        return self._surface.at(np.minimum(celsius, self.highest_c))

    def enthalpy(self, celsius: ArrayLike) -> Result:
        """Heat [J/m3] from 20 °C to temperatures [°C], at the density of 20 °C; below zero for what is colder.

        It rises without end, above the highest temperature and below -20 °C with the specific heat there, so that a solver
        that oversteps them comes back.
        """
        return scalar_or_array(np.interp(np.asarray(celsius, dtype=float), *self._heat_table))

    def temperature(self, enthalpy: ArrayLike) -> Result:
        """Temperature [°C] at heats above 20 °C [J/m3]: the inverse of `enthalpy` on the same table, exact but for rounding."""
        celsius, heat = self._heat_table
        return scalar_or_array(np.interp(np.asarray(enthalpy, dtype=float), heat, celsius))

    def beyond(self, celsius: ArrayLike) -> Result:
        """Whether temperatures [°C] are above the highest, where no data hold; see `end_words`."""
        found = np.asarray(celsius) > self.highest_c
        return bool(found) if found.ndim == 0 else found

    def state(self, celsius: ArrayLike, place: str = "") -> HotState:
        """All properties at temperatures [°C]; InputError at `place` unless all are from -20 °C to the highest."""
        t = np.asarray(celsius, dtype=float)
        if not np.all((t >= LOWEST_C) & (t <= self.highest_c)):
            allowed = f"{LOWEST_C:g} to {self.highest_c:g} °C; above lies {self.end_words}"
            given = f"{t[()]:g} °C" if t.ndim == 0 else f"{np.min(t):g} to {np.max(t):g} °C"
            raise InputError.single(place, "temperature out of range", given, allowed)
        methods = (self.resistivity, self.conductivity, self.specific_heat, self.enthalpy, self.emissivity)
        return HotState(*(method(t) for method in methods))

    def __getstate__(self) -> dict[str, object]:
        """Fields alone, without the tables made of them: what goes to another process is small."""
        return {each.name: getattr(self, each.name) for each in fields(self)}

    @cached_property
    def _surface(self) -> Trend:
        return dict(self.surfaces)[self.condition]

    @cached_property
    def _heat_table(self) -> tuple[Array, Array]:
        """Rising temperatures [°C] and heats above 20 °C [J/m3]; between them the specific heat is taken as constant."""
        even = np.arange(LOWEST_C, self.highest_c, STEP_K)
        points = [celsius for celsius, _ in self.heat.points if LOWEST_C < celsius < self.highest_c]
        inside = np.unique(np.round(np.concatenate([even, points, [COLD_C, self.highest_c]]), 9))
        celsius = np.concatenate([[-273.15], inside, [self.highest_c + _FAR_K]])
        heat = self.heat.integral(inside)
        below = heat[0] - self.heat.at(LOWEST_C) * (inside[0] - celsius[0])
        above = heat[-1] + self.specific_heat(self.highest_c) * _FAR_K
        return celsius, self.density * np.concatenate([[below], heat, [above]])
