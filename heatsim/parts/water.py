# SPDX-License-Identifier: GPL-3.0-or-later
"""The water through the work coil: how warm it gets, what its wall comes to, and how long the copper lasts without it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from heatsim.constants import COPPER_CONDUCTIVITY
from heatsim.physics.water import (
    dry_time,
    saturation_temperature,
    tube_coefficient,
    tube_mass,
    tube_pressure_drop,
    water_properties,
)

MOST = 5e-3
"""Flow [m3/s] that is not exceeded when the pump's pressure is given; 300 l/min, far beyond any coil of tube."""


@dataclass(frozen=True)
class Circulation:
    """heat: into the water [W]; flow [m3/s]; inlet, outlet: temperature of the water [°C]; wall: at the hottest place of the bore
    [°C]; drop: pressure lost in coil, hose and fittings [Pa]; boiling: temperature at the outlet's pressure [°C]; flow_wanted: that
    warms the water by as much as is wanted [m3/s]; dry: time without water [s], None where the tube is not known.
    """

    heat: float
    flow: float
    inlet: float
    outlet: float
    wall: float
    drop: float
    boiling: float
    flow_wanted: float
    dry: float | None


@dataclass(frozen=True)
class WaterCircuit:
    """flow [m3/s] or pump: its pressure [Pa]; inlet: temperature [°C], or radiator: mean water above ambient [K/W]; outer:
    diameter of the tube [m], None where it is not known; bore, length of it, bend: diameter to which it is wound [m]; hose_bore,
    hose_length [m]; fittings: loss coefficient [1]; outlet_pressure: absolute [Pa]; wanted_rise [K]; outlet_limit,
    dry_temperature [°C]; stops_within: without water [s], None where nothing does; workpiece_share: of its heat that the coil
    catches [1]; hottest_flux: over the mean heat flux [1]; ambient [°C].
    """

    flow: float | None
    pump: float | None
    inlet: float | None
    radiator: float | None
    outer: float | None
    bore: float
    length: float
    bend: float | None
    hose_bore: float
    hose_length: float
    fittings: float
    outlet_pressure: float
    wanted_rise: float
    outlet_limit: float
    dry_temperature: float
    workpiece_share: float
    hottest_flux: float
    ambient: float
    stops_within: float | None = None

    def drop(self, flow: float, celsius: float) -> float:
        """Pressure lost [Pa] at a flow [m3/s] of water at a temperature [°C]: tube, hose, fittings."""
        speed = 4 * flow / (math.pi * self.bore**2)
        ends = self.fittings * water_properties(celsius).density * speed**2 / 2
        hose = tube_pressure_drop(flow, self.hose_bore, self.hose_length, celsius)
        return tube_pressure_drop(flow, self.bore, self.length, celsius, self.bend) + hose + ends

    def flow_at(self, celsius: float) -> float:
        """The flow [m3/s]: as given, or where the pump's pressure is used up; MOST where it would be more."""
        from scipy.optimize import brentq

        if self.flow is not None or self.pump is None:
            return self.flow or 0.0
        pump = self.pump
        if self.drop(MOST, celsius) < pump:
            return MOST
        return math.exp(brentq(lambda x: self.drop(math.exp(x), celsius) - pump, math.log(1e-10), math.log(MOST), xtol=1e-9))

    def circulation(self, heat: float) -> Circulation:
        """The steady state with so much heat [W] put into the water.

        Water's properties at its mean temperature, which flow and radiator follow: iterated. Wall: outlet temperature, film of the
        hottest heat flux and conduction through the tube's wall. Water that would leave boiling is reckoned as if it stayed liquid.
        """
        middle, flow, rise = self.ambient, 0.0, 0.0
        for _ in range(60):
            water, flow = water_properties(middle), self.flow_at(middle)
            rise = heat / (water.density * water.specific_heat * flow)
            start = self.inlet + rise / 2 if self.inlet is not None else self.ambient + (self.radiator or 0.0) * heat
            if abs(start - middle) < 1e-9:
                break
            middle = start
        outlet, flux = middle + rise / 2, self.hottest_flux * heat / (math.pi * self.bore * self.length)
        thick = (self.outer - self.bore) / 2 if self.outer else 0.0
        wall = outlet + flux * (1 / tube_coefficient(flow, self.bore, middle, self.bend) + thick / COPPER_CONDUCTIVITY)
        water = water_properties(middle)
        return Circulation(
            heat,
            flow,
            middle - rise / 2,
            outlet,
            wall,
            self.drop(flow, middle),
            saturation_temperature(self.outlet_pressure),
            heat / (water.density * water.specific_heat * self.wanted_rise),
            self._dry(heat, middle),
        )

    def _dry(self, heat: float, start: float) -> float | None:
        if self.outer is None or heat <= 0:
            return None
        return float(dry_time(heat, tube_mass(self.outer, self.bore, self.length), start, self.dry_temperature))
