# SPDX-License-Identifier: GPL-3.0-or-later
"""A choke judged without simulating: the ideal stage's flux on the choke's own curve. Fast enough for thousands.

The tank's sine fixes the alternating flux of a choke whatever the choke is (`heatsim.physics.stage`), the load fixes its
mean current. What remains is one number, the mean flux at which the mean current is right. Against full simulations the
peak current comes within some 5 % (tested); drops in the supply and commutation are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from heatsim.parts.choke import Choke
from heatsim.parts.heater import Heater
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.stage import choke_flux_waveform

WARMER = 1.6
"""The rule of thumb for a choke's temperature rise lies below the full heat balance by a factor of 1.1 to 1.9 (measured on
the catalogue's rings); estimates take the middle, simulated windings the balance itself."""

SAMPLES = 600
"""Samples of one period; the extremes of the flux are then within 3e-5 (tested)."""


@dataclass(frozen=True)
class Duty:
    """What a choke has to carry: supply voltage [V], tank frequency [Hz], mean current [A]; `centre` for the one-choke
    circuit; ambient [°C].
    """

    voltage: float
    frequency: float
    mean_current: float
    centre: bool
    ambient: float


@dataclass(frozen=True)
class ChokeEstimate:
    """A choke on a duty: peak and rms current, ripple peak to peak [A]; flux swing [Wb]; remaining: share of the zero-current
    inductance left at the peak; core loss [W], None without a known material; copper loss [W]; temperature [°C], None
    without a known surface; current density [A/m2], None without a known copper area.
    """

    peak_current: float
    rms_current: float
    ripple_current: float
    flux_swing: float
    remaining: float
    core_loss: float | None
    copper_loss: float
    temperature: float | None
    current_density: float | None


def duty_of(heater: Heater) -> Duty:
    """The ideal stage's duty at a heater's supply and load."""
    mean = heater.supply_current / len(heater.chokes)
    return Duty(heater.supply.voltage, heater.frequency, mean, heater.tapped, heater.ambient)


@lru_cache(maxsize=64)
def _flux_shape(centre: bool) -> tuple[Array, Array]:
    """Time over one period [1] and flux at 1 V and 1 Hz [Wb], mean zero."""
    time = np.linspace(0.0, 1.0, SAMPLES + 1)
    return time, np.asarray(choke_flux_waveform(1.0, 1.0, time, "one" if centre else "two"))


def choke_period(choke: Choke, duty: Duty) -> tuple[Array, Array, Array]:
    """One period of a choke on a duty: times [s], flux [Wb] and current [A], the last sample as the first."""
    time, shape = _flux_shape(duty.centre)
    flux, current = _with_mean(choke, shape * duty.voltage / duty.frequency, duty.mean_current)
    return time / duty.frequency, flux, current


def estimate(choke: Choke, duty: Duty) -> ChokeEstimate:
    """A choke on a duty; see the module's head for what is assumed."""
    time, flux, current = choke_period(choke, duty)
    rms = float(np.sqrt(np.mean(current[:-1] ** 2)))
    peak = float(np.abs(current).max())
    copper = choke.copper_loss(duty.mean_current, rms, duty.frequency * (2 if duty.centre else 1))
    core = choke.core_loss(time, np.append(flux[:-1], flux[0]))
    rise = choke.temperature_rise(copper + (core or 0.0))
    return ChokeEstimate(
        peak_current=peak,
        rms_current=rms,
        ripple_current=float(np.ptp(current)),
        flux_swing=float(np.ptp(flux)),
        remaining=float(choke.curve.inductance(peak)) / choke.curve.inductance_zero,
        core_loss=core,
        copper_loss=copper,
        temperature=None if rise is None else duty.ambient + WARMER * rise,
        current_density=rms / choke.copper_area if choke.copper_area else None,
    )


def _with_mean(choke: Choke, swing: Array, mean: float) -> tuple[Array, Array]:
    """Flux [Wb] and current [A] whose mean current is `mean`."""
    from scipy.optimize import brentq

    def excess(offset: float) -> float:
        return float(np.mean(choke.curve.current(swing[:-1] + offset))) - mean

    middle, reach = float(choke.curve.flux(mean)), float(np.ptp(swing))
    flux = swing + brentq(excess, middle - reach, middle + reach, xtol=1e-9 * reach)
    return flux, np.asarray(choke.curve.current(flux))
