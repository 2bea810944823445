# SPDX-License-Identifier: GPL-3.0-or-later
"""How warm a choke gets, and what warms it: core, direct current or ripple.

Core loss by iGSE over the flux waveform, copper loss from the harmonics of the current, heat given off by convection and
radiation; the temperature at which they balance, copper's resistance rising with it. One temperature for the whole choke:
the middle of a large core runs warmer than its surface. Permeability and core loss are taken as they stand in the
catalogue at every temperature, because how they change was not at hand in print.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from heatsim.parts.choke import Choke, Core
from heatsim.parts.winding import AC_BAND
from heatsim.physics.conductor import copper_resistivity
from heatsim.physics.convection import Orientation, ring_heat_flow
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.numeric import Numeric, Result, scalar_or_array
from heatsim.physics.ringcore import RingSize
from heatsim.physics.spectrum import Spectrum, closed_period, periodic_spectrum

State = Literal["balanced", "runaway", "core loss unknown", "geometry unknown"]
Cause = Literal["core", "direct current", "ripple current"]

HOTTEST = 400.0
"""No balance below this [°C] counts as thermal runaway: enamel, binder and paint are gone long before."""

COOLING_BAND = 1.25
"""Factor, both ways, within which the heat given off is known; see `heatsim.physics.convection`."""


@dataclass(frozen=True)
class Cooling:
    """Air and surroundings: ambient temperature [°C], speed of the air across the choke [m/s], emissivity of the wound
    surface [1] (enamel, tape, varnish: 0.8 to 0.9, memory), how it lies."""

    ambient_c: float = 25.0
    air_speed: float = 0.0
    emissivity: float = 0.85
    orientation: Orientation = "flat"


@dataclass(frozen=True)
class ChokeHeat:
    """Losses and temperature of a choke at one operating point.

    core_w: with that of a shorted turn; None where the material's loss is unknown;
    copper_dc_w, copper_ac_w: of the mean current and of the ripple, at
    temperature_c (at the part's own copper temperature where none is found); temperature_c: None unless balanced; band_c:
    lowest and highest temperature within the bands of core loss, AC resistance and cooling, None for no bound;
    dominant: the largest loss; swing_t: flux density, peak to peak.
    """

    state: State
    core_w: float | None
    copper_dc_w: float
    copper_ac_w: float
    temperature_c: float | None
    band_c: tuple[float | None, float | None]
    dominant: Cause
    swing_t: float | None

    @property
    def copper_w(self) -> float:
        """All copper loss [W]."""
        return self.copper_dc_w + self.copper_ac_w


@dataclass(frozen=True)
class _Ripple:
    """Loss [W] of a choke's ripple current against temperature: at direct resistance, and with skin and proximity effect."""

    choke: Choke
    current: Spectrum

    @property
    def squares(self) -> Array:
        """Squared rms currents [A2] of the harmonics and of what lies above the last one."""
        return np.append(self.current.rms**2, self.current.rest**2)

    def losses(self, celsius: Numeric) -> tuple[Array, Array]:
        """Both losses [W], in the shape of `celsius`; what lies above the last harmonic at that one's resistance."""
        warm, core = np.asarray(celsius, dtype=float), self.choke.core
        plain = np.asarray(resistance(self.choke, warm) * float(np.sum(self.squares)))
        if core is None:
            return plain, plain
        own = core.winding.ac_factor(core.ring, self.current.frequencies, warm[..., np.newaxis])
        factors = np.concatenate([own, own[..., -1:]], axis=-1)
        return plain, np.asarray(resistance(self.choke, warm) * (factors @ self.squares))

    @cached_property
    def table(self) -> tuple[Array, Array, Array]:
        """Temperatures [°C] and both losses there; between them within 1e-4."""
        grid = np.linspace(-40.0, HOTTEST, 23)
        return grid, *self.losses(grid)


def resistance(choke: Choke, celsius: Numeric) -> Result:
    """Direct resistance [ohm] of a choke's winding at a temperature."""
    return choke.resistance * copper_resistivity(celsius) / copper_resistivity(choke.temperature)


@dataclass(frozen=True)
class _Losses:
    """Losses [W] of a choke against temperature; `ac_band` multiplies what is above the direct resistance."""

    ripples: _Ripple
    core: float
    ac_band: float = 1.0

    @property
    def choke(self) -> Choke:
        """Whose losses."""
        return self.ripples.choke

    @property
    def current(self) -> Spectrum:
        """What flows in it."""
        return self.ripples.current

    def direct(self, celsius: float) -> float:
        """Of the mean current."""
        return float(resistance(self.choke, celsius) * self.current.mean**2)

    def ripple(self, celsius: Numeric) -> Result:
        """Of every harmonic at its own resistance; what lies above the last one at that one's."""
        plain, full = self.ripples.losses(celsius)
        return scalar_or_array(plain + (full - plain) * self.ac_band)

    def total(self, celsius: float) -> float:
        """All together, the ripple's loss read from a table, within 1e-4 of it."""
        grid, plain, full = self.ripples.table
        return self.core + self.direct(celsius) + float(np.interp(celsius, grid, plain + (full - plain) * self.ac_band))


def choke_heat(choke: Choke, time: ArrayLike, flux: ArrayLike, current: ArrayLike, cooling: Cooling | None = None) -> ChokeHeat:
    """Losses and temperature from one whole period of flux linkage [Wb] and current [A] at times [s].

    A small drift over the period is taken off. Neither an unknown loss nor a runaway is an error: `state` says so.
    Raises InputError when the samples are not one period.
    """
    air = cooling or Cooling()
    t, linkage = closed_period(time, flux, f"choke.{choke.side} flux")
    _, amps = closed_period(time, current, f"choke.{choke.side} current")
    core = (choke.core_loss(t, linkage) or 0.0) + short_loss(choke, t, linkage)
    losses = _Losses(_Ripple(choke, periodic_spectrum(t, amps)), core)
    if choke.core is None:
        return _result("geometry unknown", losses, None, None, (None, None), linkage)
    wound = choke.core.winding.wound(choke.core.ring)
    if choke.core.material.loss is None:
        least = _balance(losses, wound, air, COOLING_BAND)
        return _result("core loss unknown", losses, None, None, (least, None), linkage)
    temperature = _balance(losses, wound, air)
    state: State = "balanced" if temperature is not None else "runaway"
    return _result(state, losses, losses.core, temperature, _band(losses, choke.core, wound, air), linkage)


def short_loss(choke: Choke, time: Array, flux: Array) -> float:
    """Loss [W] of a shorted turn over one period of flux linkage [Wb]: of each harmonic's voltage w*flux on R + jwL in series."""
    if choke.short is None:
        return 0.0
    found = periodic_spectrum(time, flux)
    w = 2 * np.pi * found.frequency * np.arange(1, len(found.rms) + 1)
    resistance_, reactance = choke.short.resistance, w * choke.short.inductance
    return float(np.sum(resistance_ * (w * np.asarray(found.rms)) ** 2 / (resistance_**2 + reactance**2)))


def _balance(losses: _Losses, wound: RingSize, air: Cooling, scale: float = 1.0) -> float | None:
    """Temperature [°C] at which loss and `scale` times the heat given off are equal; None below `HOTTEST`.

    Found on a table of the heat given off, then put right by one step of Newton's with the heat itself.
    """
    from scipy.optimize import brentq

    grid, given = _flow_table(wound, air)

    def surplus(celsius: float) -> float:
        return scale * float(np.interp(celsius, grid, given)) - losses.total(celsius)

    if surplus(air.ambient_c) >= 0.0:
        return air.ambient_c
    if surplus(HOTTEST) <= 0.0:
        return None
    near = float(brentq(surplus, air.ambient_c, HOTTEST, xtol=1e-3))
    step = min(1.0, 0.1 * (near - air.ambient_c))
    slope = (surplus(near + step) - surplus(near - step)) / (2.0 * step) if step > 0.0 else 0.0
    exact = scale * _flow(wound, near, air) - losses.total(near)
    return near - exact / slope if slope > 0.0 else near


def _flow(wound: RingSize, celsius: float, air: Cooling) -> float:
    """Heat given off [W]."""
    return ring_heat_flow(wound, celsius, air.ambient_c, air.air_speed, air.emissivity, air.orientation).total


@lru_cache(maxsize=64)
def _flow_table(wound: RingSize, air: Cooling) -> tuple[Array, Array]:
    """Temperatures [°C], closer near ambient where the flow bends most, and heat given off there [W]."""
    grid = air.ambient_c + (HOTTEST - air.ambient_c) * np.linspace(0.0, 1.0, 60) ** 2
    return grid, np.array([_flow(wound, float(celsius), air) for celsius in grid])


def _band(losses: _Losses, core: Core, wound: RingSize, air: Cooling) -> tuple[float | None, float | None]:
    """Temperatures [°C] with everything uncertain at its kindest and at its worst."""
    band, ac = core.material.loss_band, AC_BAND[core.winding.lay]
    kind = _Losses(losses.ripples, losses.core / band, 1.0 / ac)
    worst = _Losses(losses.ripples, losses.core * band, ac)
    return _balance(kind, wound, air, COOLING_BAND), _balance(worst, wound, air, 1.0 / COOLING_BAND)


def _result(
    state: State,
    losses: _Losses,
    core_w: float | None,
    temperature: float | None,
    band: tuple[float | None, float | None],
    linkage: Array,
) -> ChokeHeat:
    choke = losses.choke
    at = choke.temperature if temperature is None else temperature
    direct, ripple = losses.direct(at), losses.ripple(at)
    parts: dict[Cause, float] = {"core": core_w or 0.0, "direct current": direct, "ripple current": ripple}
    dominant = max(parts, key=lambda cause: parts[cause])
    swing = choke.core.flux_density(float(np.ptp(linkage))) if choke.core else None
    return ChokeHeat(state, core_w, direct, ripple, temperature, band, dominant, swing)
