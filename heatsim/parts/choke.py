# SPDX-License-Identifier: GPL-3.0-or-later
"""A feed choke: flux curve, copper, core loss and winding capacitance."""

from __future__ import annotations

import math
from dataclasses import dataclass

from heatsim.parts.curves import Curve, GappedCurve, KernelCurve, soft_curve
from heatsim.parts.materials import Material
from heatsim.parts.ring import Ring, Winding, core_inductance, gapped_inductance


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
        A linear stand-in: the exact loss is computed afterwards from the simulated flux. A choke without a
        known material gets 1 Mohm.
        """
        loss = self.sine_core_loss(swing, frequency)
        return min(voltage_rms**2 / loss, 1e6) if loss else 1e6

    def sine_core_loss(self, swing: float, frequency: float) -> float | None:
        """Core loss [W] of a sine of flux `swing` [Wb peak to peak] at `frequency` [Hz]; Steinmetz."""
        if self.core is None or self.core.material.steinmetz is None:
            return None
        k, alpha, beta = self.core.material.steinmetz
        return float(k * frequency**alpha * self.core.flux_density(swing / 2) ** beta * self.core.ring.volume)


KNEE_SHARE = 0.08
"""Half width of a gapped choke's knee as a share of its saturation flux; memory: power ferrite bends over some 15 %."""


def wound_curve(core: Core, gap: float) -> KernelCurve | GappedCurve:
    """Flux curve of a wound ring: soft when its material has a DC-bias curve, gapped otherwise."""
    turns, material, ring = core.winding.turns, core.material, core.ring
    air = core.winding.air_inductance(ring)
    if material.half_field is not None and material.bias_c is not None:
        zero = core_inductance(turns, material.permeability, ring)
        return soft_curve(zero, min(air, 0.5 * zero), material.half_field * ring.path_length / turns, material.bias_c)
    zero = gapped_inductance(turns, material.permeability, ring, gap)
    saturation = turns * ring.total_area * (material.saturation_flux_density_t or math.nan)
    return GappedCurve(zero, min(air, 0.5 * zero), saturation, KNEE_SHARE * saturation)
