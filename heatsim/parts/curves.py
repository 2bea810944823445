# SPDX-License-Identifier: GPL-3.0-or-later
"""Flux linkage of a winding against its current: soft, gapped, measured or linear.

Every curve is odd, smooth or piecewise linear, strictly rising, and never flatter than the air-core inductance: a
saturated choke is still a coil. Each can be read both ways, flux(current) and current(flux), and gives the
differential inductance d(flux)/d(current). Without hysteresis the energy round any cycle is nil by construction,
because current is a function of flux. The same formulas stand in netlists/choke_*.lib; a test holds them together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from heatsim.errors import InputError
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.numeric import running_integral


class Curve(Protocol):
    """What every flux curve offers; currents [A], flux linkages [Wb], inductances [H]."""

    @property
    def inductance_zero(self) -> float:
        """Differential inductance at zero current [H]."""

    @property
    def inductance_air(self) -> float:
        """Inductance with the core gone [H]."""

    @property
    def known_to(self) -> float:
        """Current up to which the curve rests on data [A]."""

    def flux(self, current: ArrayLike) -> Array:
        """Flux linkage [Wb] at a current [A]."""

    def current(self, flux: ArrayLike) -> Array:
        """Current [A] at a flux linkage [Wb]; the inverse of `flux`."""

    def inductance(self, current: ArrayLike) -> Array:
        """Differential inductance [H] at a current [A]."""


def half_current(curve: Curve) -> float | None:
    """Current [A] at which half of the zero-current differential inductance is left; None where it never is."""
    return current_with_left(curve, 0.5)


def current_with_left(curve: Curve, share: float) -> float | None:
    """Current [A] at which a share [1] of the zero-current differential inductance is left; None where it never is."""
    from scipy.optimize import brentq

    def above(log_current: float) -> float:
        return float(curve.inductance(math.exp(log_current))) / curve.inductance_zero - share

    low, high = math.log(1e-9), math.log(1e9)
    return None if above(high) > 0 else math.exp(brentq(above, low, high, xtol=1e-12))


@dataclass(frozen=True)
class LinearCurve:
    """A choke whose saturation is not known: constant inductance [H], known to `known_to` [A] only."""

    inductance_zero: float
    inductance_air: float
    known_to: float = 0.0

    def flux(self, current: ArrayLike) -> Array:
        return np.asarray(self.inductance_zero * np.asarray(current, dtype=float))

    def current(self, flux: ArrayLike) -> Array:
        return np.asarray(np.asarray(flux, dtype=float) / self.inductance_zero)

    def inductance(self, current: ArrayLike) -> Array:
        return np.full_like(np.asarray(current, dtype=float), self.inductance_zero)


@dataclass(frozen=True)
class GappedCurve:
    """Ferrite with a gap: constant inductance up to the knee, then quickly the air core.

        1/L(flux) = 1/L1 + (1/La - 1/L1)*S,   S = 1 - [tanh((flux+K)/w) - tanh((flux-K)/w)]/2
        i(flux)   = flux/La - (1/La - 1/L1)*(w/2)*[lncosh((flux+K)/w) - lncosh((flux-K)/w)]

    saturation_flux K [Wb]: middle of the knee, turns * Bsat * area; knee w [Wb]: its half width;
    `inductance_straight` L1 is chosen so that L at zero current is exactly `inductance_zero`.
    """

    inductance_zero: float
    inductance_air: float
    saturation_flux: float
    knee: float
    known_to: float = float("inf")

    @property
    def inductance_straight(self) -> float:
        """L1 [H]; differs from L0 by less than 1e-7 when the knee is narrower than K/8."""
        inside = np.tanh(self.saturation_flux / self.knee)
        return float(inside / (1 / self.inductance_zero - (1 - inside) / self.inductance_air))

    def current(self, flux: ArrayLike) -> Array:
        """Half the difference of the two lncosh is artanh(tanh y tanh k), which loses no digits of a small flux."""
        y, k = np.asarray(flux, dtype=float) / self.knee, self.saturation_flux / self.knee
        near = np.arctanh(np.tanh(np.clip(y, -1, 1)) * np.tanh(k))
        far = np.clip(y, -k, k) + (np.log1p(np.exp(-2 * np.abs(y + k))) - np.log1p(np.exp(-2 * np.abs(y - k)))) / 2
        drop = 1 / self.inductance_air - 1 / self.inductance_straight
        return np.asarray(self.knee * (y / self.inductance_air - drop * np.where(np.abs(y) < 1, near, far)))

    def flux(self, current: ArrayLike) -> Array:
        """By Newton's method from beyond the answer, where i(flux) is convex: no step overshoots."""
        from scipy.optimize import newton

        wanted = np.asarray(current, dtype=float)
        size = np.abs(wanted)
        straight = np.maximum(size, 1e-30) * self.inductance_zero  # beyond the answer, which is a share of this
        found = newton(
            lambda share: self.current(share * straight) - size,
            np.ones_like(straight),
            lambda share: straight / self.inductance_at(share * straight),
            tol=1e-9,
            maxiter=100,
        )
        return np.asarray(np.sign(wanted) * np.clip(found * straight, size * self.inductance_air, size * self.inductance_zero))

    def inductance(self, current: ArrayLike) -> Array:
        return self.inductance_at(self.flux(current))

    def inductance_at(self, flux: ArrayLike) -> Array:
        """Differential inductance [H] at a flux linkage [Wb]."""
        y = np.asarray(flux, dtype=float)
        k, w = self.saturation_flux, self.knee
        share = 1 - 0.5 * (np.tanh((y + k) / w) - np.tanh((y - k) / w))
        straight = self.inductance_straight
        return np.asarray(1 / (1 / straight + (1 / self.inductance_air - 1 / straight) * share))


@dataclass(frozen=True)
class TableCurve:
    """Straight pieces between dense knots of current [A] and flux [Wb], odd, then the air core.

    knots: pairs (current, flux) for positive current, first (0, 0). Beyond the last knot the slope is
    `inductance_air`. known_to: current [A] where the knowledge ends; beyond it the curve is extrapolated.
    kind: "soft" for a catalogue's powder curve, "table" for a measured one.
    """

    inductance_zero: float
    inductance_air: float
    knots: tuple[tuple[float, float], ...]
    known_to: float
    kind: str = "table"

    @cached_property
    def _axes(self) -> tuple[Array, Array]:
        table = np.array(self.knots)
        reach = 1e3 * table[-1, 0]
        end = (table[-1, 0] + reach, table[-1, 1] + reach * self.inductance_air)
        return np.append(table[:, 0], end[0]), np.append(table[:, 1], end[1])

    def flux(self, current: ArrayLike) -> Array:
        i = np.asarray(current, dtype=float)
        currents, fluxes = self._axes
        return np.asarray(np.sign(i) * np.interp(np.abs(i), currents, fluxes))

    def current(self, flux: ArrayLike) -> Array:
        y = np.asarray(flux, dtype=float)
        currents, fluxes = self._axes
        return np.asarray(np.sign(y) * np.interp(np.abs(y), fluxes, currents))

    def inductance(self, current: ArrayLike) -> Array:
        i = np.abs(np.asarray(current, dtype=float))
        currents, fluxes = self._axes
        slopes = np.diff(fluxes) / np.diff(currents)
        middles = np.concatenate([[0.0], 0.5 * (currents[1:-1] + currents[:-2]), [currents[-2]]])
        return np.asarray(np.interp(i, middles, np.concatenate([[self.inductance_zero], slopes])))


KNOTS = 240
"""Knots of a table: neighbouring pieces then differ by less than 1 % of L0, and ngspice is as fast as without."""


def _knotted(grid: Array, inductance: Array, air: float, known_to: float, kind: str) -> TableCurve:
    """Curve through L(i) on a fine `grid` of current; knots lie closest where L changes most."""
    flux = running_integral(inductance, grid)
    fall = np.abs(np.diff(inductance)) / inductance[0]
    effort = np.concatenate([[0.0], np.cumsum(fall + 0.2 * np.diff(grid) / grid[-1])])
    knots = np.interp(np.linspace(0, effort[-1], KNOTS), effort, grid)
    pairs = tuple((float(a), float(b)) for a, b in zip(knots, np.interp(knots, grid, flux), strict=True))
    return TableCurve(float(inductance[0]), air, pairs, known_to, kind)


SOFT_REACH = 60.0
"""A soft curve is tabled up to this multiple of its half current; there the core has less than 1 % left."""


def soft_curve(inductance_zero: float, inductance_air: float, half_current: float, exponent: float) -> TableCurve:
    """Powder core: L(i) = La + (L0-La)/(1+(i/half_current)^exponent).

    half_current: current [A] at which the core's share of L0 is halved. The form is that of the powder-core
    catalogues, percent permeability = 1/(0.01 + b*H^c), with the air core as its floor.
    """
    grid = half_current * np.concatenate([np.linspace(0, 0.02, 20)[:-1], np.geomspace(0.02, SOFT_REACH, 6000)])
    core = (inductance_zero - inductance_air) / (1 + (grid / half_current) ** exponent)
    return _knotted(grid, inductance_air + core, inductance_air, float("inf"), "soft")


def steeper_curve(curve: Curve, factor: float) -> Curve:
    """A curve that falls `factor` times as steeply about its half current h on a logarithmic scale of current:
    L(i) -> L(h (i/h)^factor), which multiplies a soft curve's exponent; of a gapped one the knee is as much narrower.

    A curve that is never halved, or hysteretic, stays. A measured table becomes a table known as far.
    """
    if isinstance(curve, GappedCurve):
        return replace(curve, knee=curve.knee / factor)
    if not isinstance(curve, TableCurve) or factor == 1 or (half := half_current(curve)) is None:
        return curve
    grid = half * np.concatenate([np.linspace(0, 0.02, 20)[:-1], np.geomspace(0.02, SOFT_REACH, 6000)])
    return _knotted(grid, curve.inductance(half * (grid / half) ** factor), curve.inductance_air, curve.known_to, curve.kind)


KNEE_SHARE = 0.08
"""Half width of a gapped choke's knee as a share of its saturation flux; memory: power ferrite bends over some 15 %."""

SOFT_EXPONENT = 1.8
"""Exponent of a powder of which nothing but the half current is known; memory, 1.6 to 2."""


def gapped_curve(inductance_zero: float, inductance_air: float, saturation_flux: float) -> GappedCurve:
    """Ferrite with a gap: inductances [H] and flux linkage in the middle of the knee [Wb]."""
    return GappedCurve(inductance_zero, inductance_air, saturation_flux, KNEE_SHARE * saturation_flux)


def table_curve(currents: ArrayLike, inductances: ArrayLike, inductance_air: float) -> TableCurve:
    """Measured differential inductances [H] at direct currents [A] -> a curve through them.

    currents: rising, first 0; inductances: positive, none above the one before. Between points a monotone cubic
    (Fritsch & Carlson, SIAM J. Numer. Anal. 17, 1980, p. 238; scipy's PCHIP), beyond the last the final slope down to
    the air core. Raises InputError when the points cannot be those of a choke.
    """
    from scipy.interpolate import PchipInterpolator

    i, value = np.asarray(currents, dtype=float), np.asarray(inductances, dtype=float)
    if i.size < 3 or i[0] != 0 or np.any(np.diff(i) <= 0):
        raise InputError.single("table", "has no currents that rise from 0", allowed="three or more rising currents, the first 0 A")
    if np.any(np.diff(value) > 0) or value[-1] < inductance_air:
        fault = "inductance must not rise with current nor fall below the air-core inductance"
        allowed = f"inductances that fall with current, none below the air core's {1e6 * inductance_air:.4g} uH"
        raise InputError.single("table", fault, allowed=allowed)
    slope = (value[-1] - value[-2]) / (i[-1] - i[-2])
    fall = (inductance_air - value[-1]) / slope if slope < 0 else 0.0
    points, curve = (i, value) if fall == 0 else (np.append(i, i[-1] + fall), np.append(value, inductance_air))
    grid, air = np.linspace(0, points[-1], 6000), inductance_air if fall else float(value[-1])
    return _knotted(grid, np.asarray(PchipInterpolator(points, curve)(grid)), air, float(i[-1]), "table")
