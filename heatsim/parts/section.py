# SPDX-License-Identifier: GPL-3.0-or-later
"""Sections of straight conductors and what is round them: resistance to a current of any wave, heat given off, their balance.

A long conductor: heat leaves along the whole length and none at the ends. One temperature over the section.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

import numpy as np

from heatsim.errors import InputError
from heatsim.parts.thermal import CEILING
from heatsim.physics.bars import THICKEST, bar_inductance, facing_bars_inductance, rectangle_resistance_ratio, wire_inductance
from heatsim.physics.conductor import copper_resistivity, round_wire_resistance_ratio, skin_depth, slab_resistance_ratio
from heatsim.physics.convection import conductor_coefficient
from heatsim.physics.heat import rod_heat
from heatsim.physics.numeric import FloatArray
from heatsim.physics.spectrum import Spectrum
from heatsim.quantity import QuantityError, parse_quantity

OUNCE = 1.378 * 25.4e-6
"""Thickness of a trace of one ounce a square foot [m]; IPC-2221."""

BOARD_ALONG, BOARD_ACROSS = 0.8, 0.3
"""Thermal conductivity of bare glass-epoxy board along its plane and through it [W/(m*K)]; handbooks (memory). Copper on the
other side of it spreads the heat far better."""

INSULATION = 0.17
"""Thermal conductivity of PVC [W/(m*K)]; handbooks (memory). Silicone and PTFE have 0.2 to 0.3."""

SOLDER = 0.13
"""Conductivity of solder over that of copper [1]; 60/40 and tin-silver-copper, handbooks (memory)."""

_OUNCES = re.compile(r"\s*([0-9]*\.?[0-9]+)\s*oz\s*")


def copper_thickness(text: str) -> float:
    """Thickness [m] of a board's copper: "2 oz", "70 um". Raises InputError for anything else, or beyond 5 to 1000 um."""
    allowed = 'ounces a square foot or a thickness, "2 oz" or "70 um", 5 um to 1 mm'
    found = _OUNCES.fullmatch(text)
    try:
        thickness = OUNCE * float(found[1]) if found else parse_quantity(text, "m")
    except QuantityError as error:
        raise InputError.single("copper", error.what, repr(text), allowed) from None
    if not 5e-6 <= thickness <= 1e-3:
        raise InputError.single("copper", "is out of range", repr(text), allowed)
    return thickness


@dataclass(frozen=True)
class Load:
    """A current as its mean square and those of its harmonics [A2] at their frequencies [Hz]."""

    direct: float
    squares: FloatArray
    frequencies: FloatArray

    @classmethod
    def of(cls, spectrum: Spectrum, rms: float) -> Load:
        """The wave of one period, scaled to the rms [A] of many; what lies above the last harmonic counts at its frequency."""
        squares = spectrum.rms**2
        squares[-1] += spectrum.rest**2
        whole = spectrum.mean**2 + float(squares.sum())
        scale = rms**2 / whole if whole > 0 else 0.0
        return cls(scale * spectrum.mean**2, scale * squares, spectrum.frequencies)

    def shared(self, count: int) -> Load:
        """What each of so many equal conductors carries of it."""
        return Load(self.direct / count**2, self.squares / count**2, self.frequencies)

    @property
    def square(self) -> float:
        """Mean square of the whole [A2]."""
        return self.direct + float(self.squares.sum())


@dataclass(frozen=True)
class Bar:
    """A rectangular section [m]; gap: to a return that faces it [m], None where the return is far away."""

    width: float
    thickness: float
    gap: float | None = None

    @property
    def area(self) -> float:
        """[m2]"""
        return self.width * self.thickness

    @property
    def perimeter(self) -> float:
        """[m]"""
        return 2 * (self.width + self.thickness)

    def ratio(self, delta: FloatArray) -> FloatArray:
        """AC over DC resistance [1] at skin depths [m]."""
        if self.gap is not None:
            return np.asarray(slab_resistance_ratio(np.divide(self.thickness, delta)))
        return np.asarray(rectangle_resistance_ratio(self.width, self.thickness, delta))

    def inductance(self, length: float) -> float:
        """By itself, or facing its return [H]."""
        if self.gap is not None:
            # of a thicker one within 2 %, on edge a tenth too high (tests)
            thickness = min(self.thickness, self.width, THICKEST * self.gap)
            return facing_bars_inductance(length, self.width, thickness, self.gap) / 2
        return float(bar_inductance(length, self.width, self.thickness))

    def scaled(self, factor: float) -> Bar:
        """The same with another width."""
        return replace(self, width=self.width * factor)


@dataclass(frozen=True)
class Wire:
    """A cable whose copper has the section [m2] of a solid round wire, with insulation of a thickness [m]."""

    area: float
    insulation: float = 0.0

    @property
    def radius(self) -> float:
        """Of the copper [m]."""
        return math.sqrt(self.area / math.pi)

    @property
    def perimeter(self) -> float:
        """Of the insulation [m]."""
        return 2 * math.pi * (self.radius + self.insulation)

    def ratio(self, delta: FloatArray) -> FloatArray:
        """AC over DC resistance [1] at skin depths [m]; strands that touch act as one."""
        return np.asarray(round_wire_resistance_ratio(self.radius, delta))

    def inductance(self, length: float) -> float:
        """By itself [H]."""
        return float(wire_inductance(length, self.radius))

    def scaled(self, factor: float) -> Wire:
        """The same with another section."""
        return replace(self, area=self.area * factor)


@dataclass(frozen=True)
class Board:
    """What a trace lies on: thickness, and how far it goes on each side without copper [m]."""

    thickness: float
    reach: float


@dataclass(frozen=True)
class Surroundings:
    """emissivity [1]; air_speed [m/s]; ambient [°C]; board: of a trace."""

    emissivity: float
    air_speed: float
    ambient: float
    board: Board | None = None

    def conductance(self, section: Bar | Wire, surface_c: float) -> float:
        """Heat given off per metre and kelvin [W/(m*K)] at a temperature of the surface [°C]; of a trace, of its board below it.

        A board is a fin on either side, both faces free, as wide as it is when it comes to how the air flows.
        """
        board = self.board
        around = section.perimeter if board is None else 2 * (section.perimeter / 2 + 2 * board.reach)
        film = conductor_coefficient(around, surface_c, self.ambient, self.air_speed, self.emissivity)
        if board is None:
            return film * around
        fins = 2 * float(rod_heat(2.0, board.thickness, board.reach, BOARD_ALONG, film, 1.0))
        return fins + film * section.perimeter

    def resistance(self, section: Bar | Wire) -> float:
        """Between copper and surface [K*m/W]: insulation, or the narrow way from a trace into its board, ln(4 t/(pi w))/(pi k)."""
        if self.board is not None:
            conductivity, wide = math.sqrt(BOARD_ALONG * BOARD_ACROSS), math.pi * section.perimeter / 2
            return max(math.log(4 * self.board.thickness / wide), 0.0) / (math.pi * conductivity)
        if isinstance(section, Wire) and section.insulation:
            return math.log1p(section.insulation / section.radius) / (2 * math.pi * INSULATION)
        return 0.0


def loss_per_metre(section: Bar | Wire, load: Load, celsius: float) -> float:
    """Of one conductor [W/m] at a copper temperature [°C]."""
    return _loss(section, load, celsius, 1.0)


def _loss(section: Bar | Wire, load: Load, celsius: float, extra: float) -> float:
    """The same with the part beyond direct resistance multiplied by `extra`."""
    resistivity = float(copper_resistivity(celsius))
    ratio = 1.0 + extra * (section.ratio(np.asarray(skin_depth(resistivity, load.frequencies))) - 1.0)
    return resistivity / section.area * (load.direct + float(load.squares @ ratio))


def balance(section: Bar | Wire, air: Surroundings, load: Load, cooling: float = 1.0, extra: float = 1.0) -> float | None:
    """Copper temperature [°C] at which a long conductor gives off what it loses; None above `CEILING`.

    cooling, extra: factors on the heat given off and on the resistance beyond that of direct current
    """
    from scipy.optimize import brentq

    series = air.resistance(section)

    def given_off(surface: float) -> float:
        return cooling * (surface - air.ambient) * air.conductance(section, surface)

    def spare(surface: float) -> float:
        heat = given_off(surface)
        return heat - _loss(section, load, min(surface + series * heat, 2 * CEILING), extra)

    least = air.ambient + 1e-6
    if spare(CEILING) <= 0:
        return None
    surface = float(brentq(spare, least, CEILING, xtol=1e-6)) if spare(least) < 0 else least
    copper = surface + series * given_off(surface)
    return copper if copper < CEILING else None
