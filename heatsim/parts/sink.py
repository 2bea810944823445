# SPDX-License-Identifier: GPL-3.0-or-later
"""The way of the heat from a MOSFET's junction to the air: chip and case, pad or paste, sink."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal, NamedTuple

import numpy as np

from heatsim.physics.mosfet import foster_temperature_rise
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.sink import TURBULENT, layer_resistance, moving_air_conductance, plate_heat

CEILING = 300.0
"""A junction without a balance below this [°C] counts as destroyed, and nothing is computed beyond: silicon conducts of itself
there (memory), and the plastic round it gives in sooner."""

PLATE_BAND, RATED_BAND = 1.25, 1.2
"""Factors, both ways, within which the heat is known that a plate (as the correlations) and a sink of a rated resistance give off:
ratings are for one temperature rise and a free sink (common practice, no source)."""

ALUMINIUM_CONDUCTIVITY, ALUMINIUM_DENSITY, ALUMINIUM_SPECIFIC_HEAT = 200.0, 2700.0, 897.0
"""Thermal conductivity [W/(m*K)] (alloys of sinks 160 to 220), density [kg/m3], specific heat [J/(kg*K)]; handbooks (memory)."""


class Pad(NamedTuple):
    """What lies under a case: thickness [m], conductivity [W/(m*K)], and the factor, both ways, within which its resistance is."""

    thickness: float
    conductivity: float
    band: float


PADS = {
    "paste": Pad(50e-6, 1.0, 2.0),
    "mica and paste": Pad(150e-6, 0.8, 1.5),
    "silicone pad": Pad(200e-6, 0.8, 1.5),
    "polyimide pad": Pad(100e-6, 0.5, 1.5),
    "alumina and paste": Pad(730e-6, 9.0, 1.5),
}
"""Usual layers, contacts counted in as thickness; common practice, no source. The clip's pressure decides within the band."""

OWN_BAND = 1.3
"""Factor, both ways, of a layer of given thickness and conductivity, whose contacts are not known; common practice, no source."""


@dataclass(frozen=True)
class RatedSink:
    """still: resistance in still air [K/W]; moving: the same at a speed of the air `given_speed` [m/s], None without; speed: as it
    runs [m/s]; capacity [J/K], None where its mass is not known."""

    still: float
    moving: float | None
    given_speed: float | None
    speed: float
    capacity: float | None

    def flow(self, celsius: Array, ambient: float) -> Array:
        """Heat given off [W] at temperatures [°C]."""
        return (celsius - ambient) * self._conductance()

    def _conductance(self, exponent: float = 0.5) -> float:
        if self.speed == 0.0 or self.moving is None or self.given_speed is None:
            return 1 / self.still
        return moving_air_conductance(1 / self.still, 1 / self.moving, self.given_speed, self.speed, exponent)

    @property
    def band(self) -> float:
        """Factor, both ways, within which the heat given off is known; wider where the speed is another than the given one."""
        ratio = self._conductance(TURBULENT) / self._conductance()
        return RATED_BAND * max(ratio, 1 / ratio)


@dataclass(frozen=True)
class PlateSink:
    """An upright plate of aluminium heated across its middle, faces free: sizes [m], emissivity [1], speed of the air [m/s]."""

    width: float
    height: float
    thickness: float
    emissivity: float
    speed: float

    def flow(self, celsius: Array, ambient: float) -> Array:
        """Heat given off [W] at temperatures [°C]."""
        return np.asarray((celsius - ambient) * np.interp(celsius, *_plate_conductance(self, ambient)))

    @property
    def capacity(self) -> float:
        """Heat capacity [J/K]."""
        return self.width * self.height * self.thickness * ALUMINIUM_DENSITY * ALUMINIUM_SPECIFIC_HEAT

    @property
    def band(self) -> float:
        """Factor, both ways, within which the heat given off is known."""
        return PLATE_BAND


@lru_cache(maxsize=64)
def _plate_conductance(plate: PlateSink, ambient: float) -> tuple[Array, Array]:
    """Temperatures [°C], closer near ambient where convection bends most, and heat given off there per kelvin [W/K]."""
    size = (plate.width, plate.height, plate.thickness, ALUMINIUM_CONDUCTIVITY)
    rise = (CEILING - ambient) * np.linspace(0.02, 1.0, 60) ** 2
    heat = [plate_heat(*size, ambient + float(each), ambient, plate.speed, plate.emissivity) for each in rise]
    return ambient + rise, np.array(heat) / rise


RESISTANCE_SPREAD = 0.10
"""Of the on-resistances of a bank's devices, up and down, where the scenario does not say [1]; common practice, no source."""


@dataclass(frozen=True)
class ThermalPath:
    """From junction to air.

    chain: Foster rows of junction to case, resistance [K/W] and time constant [s]; what acts at once has the time constant 0;
    interface: case to sink, of one device [K/W], known within the factor interface_band; shared: what one sink carries, "all"
    devices, those of a "side", or one "device"; warm_exponent: of the on-resistance over the junction's absolute temperature [1],
    and warm_exponent_band, its lowest and highest value; resistance_c: junction temperature at which the on-resistance is given
    [°C]; resistance_spread: of the devices of a bank, up and down [1]; threshold_mismatch: by how much one threshold lies below the
    others [V]; junction_limit, sink_limit [°C] and avalanche_energy [J]: ratings; ambient: of the air [°C].
    """

    chain: tuple[tuple[float, float], ...]
    interface: float
    interface_band: float
    sink: RatedSink | PlateSink
    shared: Literal["all", "side", "device"]
    warm_exponent: float
    warm_exponent_band: tuple[float, float]
    resistance_c: float
    resistance_spread: float
    threshold_mismatch: float
    junction_limit: float
    sink_limit: float | None
    avalanche_energy: float | None
    ambient: float

    @cached_property
    def junction_to_case(self) -> float:
        """[K/W]."""
        return sum(resistance for resistance, _ in self.chain)

    def reached(self, time: float | None) -> float:
        """Junction to case [K/W] a time [s] after the loss sets in, None for ever; the case's own heat capacity left out."""
        slow = [row for row in self.chain if row[1] > 0.0]
        if time is None or not slow:
            return self.junction_to_case
        resistances, constants = zip(*slow, strict=True)
        return self.junction_to_case - float(sum(resistances)) + float(foster_temperature_rise(1.0, resistances, constants, time))


def pad_resistance(pad: Pad, area: float) -> float:
    """Case to sink [K/W] through a layer of an area [m2]."""
    return float(layer_resistance(pad.thickness, pad.conductivity, area))
