# SPDX-License-Identifier: GPL-3.0-or-later
"""A feed choke: flux curve, copper, core loss and winding capacitance."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from heatsim.parts.curves import Curve, LinearCurve, gapped_curve, soft_curve, table_curve
from heatsim.parts.materials import Material
from heatsim.parts.ring import RingCore
from heatsim.parts.winding import Winding
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.ringcore import ring_inductance


@dataclass(frozen=True)
class Core:
    """Ring, winding, material and air gap in the ring [m] of a choke given by geometry."""

    ring: RingCore
    winding: Winding
    material: Material
    gap: float = 0.0

    def flux_density(self, flux: float) -> float:
        """Flux density [T] at a flux linkage [Wb]."""
        return flux / (self.winding.turns * self.ring.total_area)


@dataclass(frozen=True)
class ShortedTurn:
    """A turn shorted to itself, as the whole winding sees it: resistance [ohm] and leakage inductance [H] in series, beside the
    core's magnetising current; both are the turn's own times the square of the turns.
    """

    resistance: float
    inductance: float

    @property
    def time_constant(self) -> float:
        """Of its current [s]."""
        return self.inductance / self.resistance


@dataclass(frozen=True)
class Choke:
    """curve: flux linkage against current; resistance: copper at `temperature` [ohm]; capacitance: of the
    winding [F]; copper_area [m2] or None; core: None for a choke known by measurement only;
    saturation_basis: where its saturation is known from: published, measured, memory, or unknown; short: a shorted turn.
    """

    side: str
    curve: Curve
    resistance: float
    capacitance: float
    temperature: float
    copper_area: float | None
    core: Core | None
    saturation_basis: str
    short: ShortedTurn | None = None

    def core_loss_resistance(self, voltage_rms: float, swing: float, frequency: float) -> float:
        """Parallel resistance [ohm] that takes the core loss of a sine with the same flux swing.

        voltage_rms: alternating voltage across the choke [V]; swing: flux linkage peak to peak [Wb]; frequency [Hz].
        A linear stand-in (Steinmetz, no DC bias): the report's loss is computed afterwards from the simulated flux.
        A choke without a known material gets 1 Mohm.
        """
        loss = self.core.material.loss if self.core else None
        if self.core is None or loss is None:
            return 1e6
        density = loss.density(self.core.flux_density(swing / 2), frequency)
        return min(voltage_rms**2 / (density * self.core.ring.volume), 1e6)

    def core_loss(self, time: Array, flux: Array) -> float | None:
        """Core loss [W] over one period of flux linkage [Wb] by iGSE; None without a known loss.

        The last sample must repeat the first. DC bias is left out of the loss, as in the printed powder data.
        """
        loss = self.core.material.loss if self.core else None
        if self.core is None or loss is None:
            return None
        density = flux / (self.core.winding.turns * self.core.ring.total_area)
        return loss.waveform(time, density) * self.core.ring.volume

    def copper_loss(self, mean: float, rms: float, frequency: float) -> float:
        """Copper loss [W] of a current with `mean` and `rms` [A], all ripple taken at one `frequency` [Hz].

        At the copper temperature of the part; `heatsim.parts.thermal.choke_heat` takes the harmonics one by one and finds
        the temperature.
        """
        ripple = max(rms**2 - mean**2, 0.0)
        if self.core is None:
            return self.resistance * (mean**2 + ripple)
        factor = self.core.winding.ac_factor(self.core.ring, np.array([frequency]), self.temperature)
        return float(self.resistance * (mean**2 + factor[0] * ripple))

    def temperature_rise(self, power: float) -> float | None:
        """Rise [K] of the wound surface above still air: (power in mW / surface in cm2)^0.833.

        A rule of thumb of powder-core catalogues; common practice, no source. It makes no difference between still and
        closed-in air, small and large, and lies some 20 to 45 % below what convection and radiation give: a second
        opinion on `heatsim.parts.thermal.choke_heat`, not a result.
        """
        if self.core is None:
            return None
        return float((power * 1e3 / (self.core.winding.surface(self.core.ring) * 1e4)) ** 0.833)


BENCH_CAPACITANCE = 30e-12
"""Winding capacitance [F] of a choke whose winding is not known; common practice, no source, and without effect here."""


def winding_capacitance(given: float | None, core: Core | None) -> float:
    """Capacitance of a winding [F]: as given, else estimated from the winding."""
    if given is not None:
        return given
    return core.winding.self_capacitance(core.ring).value if core else BENCH_CAPACITANCE


def wound_choke(side: str, core: Core, temperature: float, capacitance: float | None, curve: Curve | None = None) -> Choke:
    """A choke given by geometry.

    temperature: of its copper [°C]; capacitance [F]: estimated where it is None; curve: that of its material unless given
    """
    winding, curve = core.winding, curve or wound_curve(core)
    basis = "unknown" if isinstance(curve, LinearCurve) else core.material.saturation_basis
    resistance, between = winding.resistance(core.ring, temperature), winding_capacitance(capacitance, core)
    return Choke(side, curve, resistance, between, temperature, winding.copper_area, core, basis)


@lru_cache(maxsize=64)
def wound_curve(core: Core) -> Curve:
    """Flux curve of a wound ring: soft or measured where its material has a DC-bias curve, gapped otherwise.

    The gap lengthens the path by (permeability - 1) times itself; fringing is left out, so the true inductance of a
    gapped ring is some per cent higher. A material whose saturation is not known gives a straight line, known to 0 A.
    """
    turns, material, ring = core.winding.turns, core.material, core.ring
    air, bias = core.winding.air_inductance(ring), material.bias
    stretched = ring.path_length if bias else (ring.path_length - core.gap) + material.permeability * core.gap
    zero = float(ring_inductance(turns, material.permeability, ring.total_area, stretched))
    air = min(air, 0.5 * zero)
    if bias is not None and bias.points:
        fields, shares = np.array(bias.points).T
        return table_curve(fields * ring.path_length / turns, air + (zero - air) * shares, air)
    if bias is not None:
        return soft_curve(zero, air, bias.half_field * ring.path_length / turns, bias.exponent)
    if material.saturation_flux_density_t is None:
        return LinearCurve(zero, air)
    saturation = turns * ring.total_area * material.saturation_flux_density_t
    return gapped_curve(zero, air, saturation)
