# SPDX-License-Identifier: GPL-3.0-or-later
"""How warm a choke gets, and what warms it: core, direct current or ripple.

Core loss by iGSE over the flux waveform, copper loss from the harmonics of the current, heat given off by convection and
radiation and, where their length is given, along the leads; the temperature at which they balance, copper's resistance rising
with it. One temperature for the whole choke: the middle of a large core runs warmer than its surface. Permeability and core
loss are taken as they stand in the catalogue at every temperature and every DC bias, because how they change was not at hand
in print; the band allows for the bias.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from heatsim.constants import COPPER_CONDUCTIVITY
from heatsim.parts.choke import Choke, Core
from heatsim.parts.ladder import Ladder, copper_ladder
from heatsim.parts.warmup import Warming, heat_capacity
from heatsim.parts.winding import Winding
from heatsim.physics.conductor import copper_resistivity, round_wire_resistance_ratio, skin_depth
from heatsim.physics.convection import Orientation, ring_heat_flow
from heatsim.physics.heat import natural_convection, rod_heat
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.numeric import Numeric
from heatsim.physics.ringcore import RingSize
from heatsim.physics.spectrum import Spectrum, closed_period, periodic_spectrum
from heatsim.physics.winding import bundle_factor

State = Literal["balanced", "destroyed", "core loss unknown", "geometry unknown"]
Cause = Literal["core", "direct current", "ripple current"]

CEILING = 250.0
"""A choke without a balance below this [°C] counts as destroyed, and nothing is computed beyond. The best enamel that is sold
is of class 240 (IEC 60317-46, memory); binders, paint and tape give in long before."""

BIAS_BAND = 1.5
"""Factor by which DC bias may raise the core loss where it leaves half of the inductance, and in proportion below; memory, for
powder. Printed losses are without bias."""

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
    copper_dc_w, copper_ac_w: of the mean current and of the ripple, at the copper temperature that was simulated;
    hot_copper_w: of both at temperature_c, at `CEILING` of a choke that is destroyed; temperature_c: None unless balanced;
    band_c: lowest and highest temperature within the bands of core loss, AC resistance and cooling, at most `CEILING`; None
    where the geometry is not known; dominant: the largest loss; swing_t: flux density, peak to peak;
    warming: loss and cooling against temperature, None where core loss or geometry is unknown.
    """

    state: State
    core_w: float | None
    copper_dc_w: float
    copper_ac_w: float
    hot_copper_w: float
    temperature_c: float | None
    band_c: tuple[float | None, float | None]
    dominant: Cause
    swing_t: float | None
    warming: Warming | None = None

    @property
    def copper_w(self) -> float:
        """All copper loss [W] at the copper temperature that was simulated."""
        return self.copper_dc_w + self.copper_ac_w


@dataclass(frozen=True)
class _Copper:
    """Loss [W] of a choke's current against temperature: at direct resistance, and with skin and proximity effect.

    share: by which the ripple's loss differs from that of its harmonics [1]
    """

    ladder: Ladder
    current: Spectrum
    share: float = 1.0

    def direct(self, celsius: Numeric) -> Array:
        """Of the mean current."""
        return self.ladder.direct(celsius) * self.current.mean**2

    def ripple(self, celsius: Numeric, band: float = 1.0) -> Array:
        """Of every harmonic at its own resistance, of what lies above the last one at that one's; `band` multiplies what
        skin and proximity effect add.
        """
        plain, full = self.ripple_parts(celsius)
        return np.asarray(plain + (full - plain) * band)

    def ripple_parts(self, celsius: Numeric) -> tuple[Array, Array]:
        """Of the ripple at direct resistance, and of every harmonic at its own."""
        squares = np.append(self.current.rms**2, self.current.rest**2)
        warm = np.asarray(celsius, dtype=float)
        own = self.ladder.at(self.current.frequencies, warm[..., np.newaxis])
        plain = self.ladder.direct(warm) * float(np.sum(squares))
        return np.asarray(plain), np.asarray(np.concatenate([own, own[..., -1:]], axis=-1) @ squares * self.share)

    def matched(self, total: float | None) -> _Copper:
        """The same with a total loss [W] at the simulated copper temperature."""
        own, at = float(self.ripple(self.ladder.temperature)), self.ladder.temperature
        if total is None or own <= 0.0:
            return self
        return replace(self, share=max(total - float(self.direct(at)), 0.0) / own)


@dataclass(frozen=True)
class _Losses:
    """Losses [W] of a choke against temperature; `ac_band` multiplies what is above the direct resistance."""

    copper: _Copper
    core: float
    ac_band: float = 1.0


def choke_heat(
    choke: Choke,
    time: ArrayLike,
    flux: ArrayLike,
    current: ArrayLike,
    cooling: Cooling | None = None,
    ladder: Ladder | None = None,
    copper_w: float | None = None,
) -> ChokeHeat:
    """Losses and temperature from one whole period of flux linkage [Wb] and current [A] at times [s].

    ladder: the copper as it was simulated; made for the period's frequency unless given
    copper_w: copper loss [W] where it is known, from an energy balance: the waveform's is scaled to it

    A small drift over the period is taken off. Neither an unknown loss nor a choke that burns is an error: `state` says so.
    Raises InputError when the samples are not one period.
    """
    air = cooling or Cooling()
    t, linkage = closed_period(time, flux, f"choke.{choke.side} flux")
    _, amps = closed_period(time, current, f"choke.{choke.side} current")
    known, core = choke.core_loss(t, linkage), short_loss(choke, t, linkage)
    spectrum = periodic_spectrum(t, amps)
    copper = _Copper(ladder or copper_ladder(choke, spectrum.frequency), spectrum).matched(copper_w)
    swing = choke.core.flux_density(float(np.ptp(linkage))) if choke.core else None
    losses = _Losses(copper, core + (known or 0.0))
    if choke.core is None:
        return _result("geometry unknown", losses, None, None, (None, None), swing)
    body = _Body(choke.core, air, copper)
    if known is None:
        least = body.balance(_Losses(copper, core, 1.0 / choke.core.winding.ac_band), COOLING_BAND)
        return _result("core loss unknown", losses, None, None, (CEILING if least is None else least, CEILING), swing)
    temperature = body.balance(losses)
    state: State = "balanced" if temperature is not None else "destroyed"
    found = _result(state, losses, losses.core, temperature, _band(choke, losses, body), swing)
    return replace(found, warming=body.warming(losses))


def short_loss(choke: Choke, time: Array, flux: Array) -> float:
    """Loss [W] of a shorted turn over one period of flux linkage [Wb]: of each harmonic's voltage w*flux on R + jwL in series."""
    if choke.short is None:
        return 0.0
    found = periodic_spectrum(time, flux)
    w = 2 * np.pi * found.frequency * np.arange(1, len(found.rms) + 1)
    resistance_, reactance = choke.short.resistance, w * choke.short.inductance
    return float(np.sum(resistance_ * (w * np.asarray(found.rms)) ** 2 / (resistance_**2 + reactance**2)))


@dataclass(frozen=True)
class _Body:
    """What gives off the heat: the wound core, in air, with what flows in its leads. copper: what warms it beside the core."""

    core: Core
    air: Cooling
    copper: _Copper

    @cached_property
    def given(self) -> tuple[Array, Array]:
        """Temperatures [°C] and heat given off there [W]."""
        grid, surface = _flow_table(self.core.winding.wound(self.core.ring), self.air)
        return grid, surface + lead_flow(self.core.winding, grid, self.air.ambient_c, self.copper.current)

    @cached_property
    def _copper_losses(self) -> tuple[Array, Array, Array]:
        """Of the mean current, and the two of the ripple, at the same temperatures [W]."""
        return self.copper.direct(self.given[0]), *self.copper.ripple_parts(self.given[0])

    def _total(self, losses: _Losses) -> Array:
        """All losses together at the same temperatures [W]."""
        direct, plain, full = self._copper_losses
        return np.asarray(losses.core + direct + (plain + (full - plain) * losses.ac_band))

    def balance(self, losses: _Losses, scale: float = 1.0) -> float | None:
        """Temperature [°C] at which loss and `scale` times the heat given off are equal; None below `CEILING`."""
        grid, given = self.given
        surplus = scale * given - self._total(losses)
        if surplus[0] >= 0.0:
            return self.air.ambient_c
        above = np.flatnonzero(surplus >= 0.0)
        return _root(grid, surplus, int(above[0])) if above.size else None

    def warming(self, losses: _Losses) -> Warming:
        """Loss and heat given off against temperature, with the heat the choke takes up."""
        grid, given = self.given
        return Warming(grid, self._total(losses), given, heat_capacity(self.core))


def _root(x: Array, y: Array, place: int) -> float:
    """Where a table first comes to zero, in the stretch before an entry, on the cubic spline through its neighbours.

    Not-a-knot at both ends (C. de Boor, A Practical Guide to Splines, 1978, chapter IV), for the second derivatives.
    """
    near = slice(max(place - 4, 0), place + 4)
    steps, slopes = np.diff(x[near]), np.diff(y[near]) / np.diff(x[near])
    size, k = steps.size + 1, np.arange(1, steps.size)
    matrix, right = np.zeros((size, size)), np.zeros(size)
    matrix[k, k - 1], matrix[k, k], matrix[k, k + 1] = steps[:-1], 2 * (steps[:-1] + steps[1:]), steps[1:]
    right[1:-1] = 6 * np.diff(slopes)
    matrix[0, :3] = steps[1], -steps[0] - steps[1], steps[0]
    matrix[-1, -3:] = steps[-1], -steps[-1] - steps[-2], steps[-2]
    bends = np.linalg.solve(matrix, right)
    at = place - 1 - near.start
    step, bend = float(steps[at]), float(bends[at])
    slope = float(slopes[at]) - step * (2 * bend + float(bends[at + 1])) / 6
    third, low, begin = (float(bends[at + 1]) - bend) / (6 * step), float(y[place - 1]), float(x[place - 1])
    first, last = 0.0, step
    for _ in range(60):  # bisection of a polynomial that is below zero at the first end and not at the last
        middle = 0.5 * (first + last)
        below = low + middle * (slope + middle * (bend / 2 + middle * third)) < 0.0
        first, last = (middle, last) if below else (first, middle)
    return begin + 0.5 * (first + last)


def lead_flow(winding: Winding, celsius: Array, ambient_c: float, current: Spectrum) -> Array:
    """Heat [W] that both leads carry off a choke at temperatures [°C]; below zero where the leads' own loss heats it.

    Each lead is a rod of the copper's section and the bundle's perimeter that loses heat to still air alone; nothing is
    reckoned with at its far end (`heatsim.physics.heat.rod_heat`). Its own loss: of the mean current, and of the ripple at the
    resistance of a lone wire at the fundamental, copper as warm as the choke. Zero without a length.
    """
    if winding.lead == 0.0:
        return np.zeros_like(celsius)
    bundle = winding.overall * bundle_factor(winding.strands)
    resistivity = np.asarray(copper_resistivity(celsius))
    depth = np.asarray(skin_depth(resistivity, current.frequency))
    alone = np.asarray(round_wire_resistance_ratio(winding.diameter / 2, depth))
    own = resistivity / winding.copper_area * (current.mean**2 + alone * current.ripple_rms**2)
    film = np.asarray(natural_convection(bundle, np.maximum(celsius, ambient_c + 1.0), ambient_c))
    each = rod_heat(np.pi * bundle, winding.copper_area, winding.lead, COPPER_CONDUCTIVITY, film, celsius - ambient_c, own)
    return np.asarray(2.0 * each)


@lru_cache(maxsize=64)
def _flow_table(wound: RingSize, air: Cooling) -> tuple[Array, Array]:
    """Temperatures [°C], closer near ambient where the flow bends most, and heat given off there [W]."""
    grid = air.ambient_c + (CEILING - air.ambient_c) * np.linspace(0.0, 1.0, 60) ** 2
    emissivity, lies = air.emissivity, air.orientation
    flows = [ring_heat_flow(wound, float(each), air.ambient_c, air.air_speed, emissivity, lies).total for each in grid]
    return grid, np.array(flows)


def _band(choke: Choke, losses: _Losses, body: _Body) -> tuple[float, float]:
    """Temperatures [°C] with everything uncertain at its kindest and at its worst, at most `CEILING`."""
    band, ac = body.core.material.loss_band, body.core.winding.ac_band
    kind = _Losses(losses.copper, losses.core / band, 1.0 / ac)
    worst = _Losses(losses.copper, losses.core * band * bias_factor(choke, losses.copper.current.mean), ac)
    low, high = body.balance(kind, COOLING_BAND), body.balance(worst, 1.0 / COOLING_BAND)
    return CEILING if low is None else low, CEILING if high is None else high


def bias_factor(choke: Choke, mean: float) -> float:
    """Factor [1] by which a mean current [A] may raise the core loss above what is printed; see `BIAS_BAND`."""
    lost = 1.0 - float(choke.curve.inductance(abs(mean))) / choke.curve.inductance_zero
    return 1.0 + (BIAS_BAND - 1.0) * min(max(lost, 0.0) / 0.5, 1.0)


def _result(
    state: State,
    losses: _Losses,
    core_w: float | None,
    temperature: float | None,
    band: tuple[float | None, float | None],
    swing: float | None,
) -> ChokeHeat:
    copper = losses.copper
    at = copper.ladder.temperature
    hot = CEILING if state == "destroyed" else at if temperature is None else temperature
    direct, hot_direct = copper.direct(np.array([at, hot])).tolist()
    ripple, hot_ripple = copper.ripple(np.array([at, hot])).tolist()
    warm: dict[Cause, float] = {"core": core_w or 0.0, "direct current": hot_direct, "ripple current": hot_ripple}
    dominant = max(warm, key=lambda cause: warm[cause])
    return ChokeHeat(
        state, core_w, direct, ripple, warm["direct current"] + warm["ripple current"], temperature, band, dominant, swing
    )
