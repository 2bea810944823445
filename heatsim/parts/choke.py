# SPDX-License-Identifier: GPL-3.0-or-later
"""A feed choke: flux curve, copper, core loss and winding capacitance."""

from __future__ import annotations

import math
from dataclasses import dataclass

from heatsim.parts.curves import Curve, GappedCurve, soft_curve
from heatsim.parts.materials import Material
from heatsim.parts.ring import Ring, Winding
from heatsim.physics.conductor import copper_resistivity, dowell_factor, dowell_round_wire_xi, skin_depth
from heatsim.physics.coreloss import igse_loss, steinmetz
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.ringcore import ring_inductance


@dataclass(frozen=True)
class Core:
    """Ring, winding and material of a choke given by geometry."""

    ring: Ring
    winding: Winding
    material: Material

    def flux_density(self, flux: float) -> float:
        """Flux density [T] at a flux linkage [Wb]."""
        return flux / (self.winding.turns * self.ring.total_area)


@dataclass(frozen=True)
class Choke:
    """curve: flux linkage against current; resistance: copper at `temperature` [ohm]; capacitance: of the
    winding [F]; copper_area [m2] or None; core: None for a choke known by measurement only;
    saturation_basis: where its saturation is known from: published, measured, memory, or unknown.
    """

    side: str
    curve: Curve
    resistance: float
    capacitance: float
    temperature: float
    copper_area: float | None
    core: Core | None
    saturation_basis: str

    def core_loss_resistance(self, voltage_rms: float, swing: float, frequency: float) -> float:
        """Parallel resistance [ohm] that takes the core loss of a sine with the same flux swing.

        voltage_rms: alternating voltage across the choke [V]; swing: flux linkage peak to peak [Wb]; frequency [Hz].
        A linear stand-in (Steinmetz, no DC bias): the report's loss is computed afterwards from the simulated flux.
        A choke without a known material gets 1 Mohm.
        """
        if self.core is None or self.core.material.steinmetz is None:
            return 1e6
        density = float(steinmetz(self.core.flux_density(swing / 2), frequency, *self.core.material.steinmetz))
        return min(voltage_rms**2 / (density * self.core.ring.volume), 1e6)

    def core_loss(self, time: Array, flux: Array) -> float | None:
        """Core loss [W] over one period of flux linkage [Wb] by iGSE; None without a known material.

        The last sample must repeat the first. DC bias is left out of the loss, as in the printed powder data.
        """
        if self.core is None or self.core.material.steinmetz is None:
            return None
        density = flux / (self.core.winding.turns * self.core.ring.total_area)
        return igse_loss(time, density, *self.core.material.steinmetz) * self.core.ring.volume

    def copper_loss(self, mean: float, rms: float, frequency: float) -> float:
        """Copper loss [W] of a current with `mean` and `rms` [A] whose ripple has `frequency` [Hz].

        The mean current meets the DC resistance, the ripple that resistance times Dowell's factor for the layers in the
        bore: an estimate (one-dimensional field, all ripple at its lowest harmonic, strands counted as separate wires).
        """
        ripple = max(rms**2 - mean**2, 0.0)
        if self.core is None:
            return self.resistance * (mean**2 + ripple)
        wire = self.core.winding
        depth = float(skin_depth(float(copper_resistivity(self.temperature)), frequency))
        layers = len(wire.fill(self.core.ring).layers)
        factor = float(dowell_factor(float(dowell_round_wire_xi(wire.diameter, wire.overall, depth)), layers))
        return self.resistance * (mean**2 + factor * ripple)

    def temperature_rise(self, power: float) -> float | None:
        """Rise [K] of the wound surface above still air: (power in mW / surface in cm2)^0.833.

        Common practice for wound rings of 5 to 50 cm3, no source; an estimate within a third.
        """
        if self.core is None:
            return None
        return float((power * 1e3 / (self.core.winding.surface(self.core.ring) * 1e4)) ** 0.833)


KNEE_SHARE = 0.08
"""Half width of a gapped choke's knee as a share of its saturation flux; memory: power ferrite bends over some 15 %."""


def wound_curve(core: Core, gap: float) -> Curve:
    """Flux curve of a wound ring: soft when its material has a DC-bias curve, gapped otherwise.

    gap [m] lengthens the path by (permeability - 1) times itself; fringing is left out, so the true inductance of a
    gapped ring is some per cent higher.
    """
    turns, material, ring = core.winding.turns, core.material, core.ring
    air = core.winding.air_inductance(ring)
    if material.half_field is not None and material.bias_c is not None:
        zero = float(ring_inductance(turns, material.permeability, ring.total_area, ring.path_length))
        return soft_curve(zero, min(air, 0.5 * zero), material.half_field * ring.path_length / turns, material.bias_c)
    stretched = (ring.path_length - gap) + material.permeability * gap
    zero = float(ring_inductance(turns, material.permeability, ring.total_area, stretched))
    saturation = turns * ring.total_area * (material.saturation_flux_density_t or math.nan)
    return GappedCurve(zero, min(air, 0.5 * zero), saturation, KNEE_SHARE * saturation)
