# SPDX-License-Identifier: GPL-3.0-or-later
"""Flux linkage of a winding against its current: the four shapes a choke may have.

Every curve is odd, smooth or piecewise linear, strictly rising, and never flatter than the air-core inductance: a
saturated choke is still a coil. Each can be read both ways, flux(current) and current(flux), and gives the
differential inductance d(flux)/d(current). Without hysteresis the energy round any cycle is nil by construction,
because current is a function of flux. The same formulas stand in netlists/choke_*.lib; a test holds them together.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from heatsim.waves import Array

KERNELS = 4
"""Terms of each kind in a kernel curve; with four and four, powder curves are met within 0.6 % of L0 (tested)."""

Terms = tuple[tuple[float, float], ...]


class Curve(Protocol):
    """What every flux curve offers; currents [A], flux linkages [Wb], inductances [H]."""

    inductance_zero: float
    inductance_air: float
    known_to: float

    def flux(self, current: ArrayLike) -> Array: ...
    def current(self, flux: ArrayLike) -> Array: ...
    def inductance(self, current: ArrayLike) -> Array: ...


def _invert(curve: Curve, flux: ArrayLike) -> Array:
    """Current [A] at `flux` [Wb] by bisection between the two straight lines that bound every curve."""
    wanted = np.asarray(flux, dtype=float)
    size = np.abs(wanted)
    low, high = size / curve.inductance_zero * (1 - 1e-9), size / curve.inductance_air * (1 + 1e-9)
    for _ in range(200):
        middle = 0.5 * (low + high)
        below = curve.flux(middle) < size
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray(np.sign(wanted) * 0.5 * (low + high))


@dataclass(frozen=True)
class LinearCurve:
    """A choke whose saturation is not known: constant inductance [H], known to `known_to` [A] only."""

    inductance_zero: float
    inductance_air: float
    known_to: float = 0.0

    def flux(self, current: ArrayLike) -> Array:
        return self.inductance_zero * np.asarray(current, dtype=float)

    def current(self, flux: ArrayLike) -> Array:
        return np.asarray(flux, dtype=float) / self.inductance_zero

    def inductance(self, current: ArrayLike) -> Array:
        return np.full_like(np.asarray(current, dtype=float), self.inductance_zero)


@dataclass(frozen=True)
class KernelCurve:
    """Soft saturation, written as a sum of bounded kernels.

        flux(i) = La*i + sum a*s*atan(i/s) + sum b*r*u/(1+u^4)^(1/4) with u = i/r
        L(i)    = La   + sum a/(1+(i/s)^2) + sum b/(1+u^4)^(5/4)

    rounded: pairs (a [H], s [A]); flat: pairs (b [H], r [A]); all positive, so L falls steadily from
    `inductance_zero` = La + sum a + sum b to `inductance_air` = La.
    """

    inductance_zero: float
    inductance_air: float
    rounded: Terms
    flat: Terms
    known_to: float = float("inf")

    def flux(self, current: ArrayLike) -> Array:
        i = np.asarray(current, dtype=float)
        total = self.inductance_air * i
        for a, s in self.rounded:
            total = total + a * s * np.arctan(i / s)
        for b, r in self.flat:
            total = total + b * i / np.sqrt(np.hypot(1.0, (i / r) ** 2))
        return np.asarray(total)

    def current(self, flux: ArrayLike) -> Array:
        return _invert(self, flux)

    def inductance(self, current: ArrayLike) -> Array:
        i = np.asarray(current, dtype=float)
        total = np.full_like(i, self.inductance_air)
        for a, s in self.rounded:
            total = total + a / (1 + (i / s) ** 2)
        for b, r in self.flat:
            total = total + b * np.hypot(1.0, (i / r) ** 2) ** -2.5
        return np.asarray(total)


@lru_cache(maxsize=64)
def kernel_weights(exponent: float) -> tuple[Terms, Terms]:
    """Weights and scales that make kernels meet 1/(1+x^exponent), the form of powder-core catalogues.

    exponent: 1.2 to 3. Non-negative least squares over a fixed grid of scales, thinned to KERNELS of each kind by
    leaving out whichever term harms least. Scales are relative to the x = 1 point, weights add up to 1.
    """
    from scipy.optimize import nnls

    x = np.concatenate([[0.0], np.geomspace(2e-2, 1e2, 400)])
    wanted = 1 / (1 + x**exponent)
    scales = np.concatenate([np.geomspace(0.05, 100, 61), np.geomspace(0.3, 6, 27)])
    flat = np.arange(scales.size) >= 61
    columns = np.where(flat, (1 + (x[:, None] / scales) ** 4) ** -1.25, 1 / (1 + (x[:, None] / scales) ** 2))
    kept = np.arange(scales.size)
    while True:
        weights, _ = nnls(columns[:, kept], wanted)
        kept, weights = kept[weights > 1e-9], weights[weights > 1e-9]
        crowded = [kind for kind in (False, True) if np.count_nonzero(flat[kept] == kind) > KERNELS]
        if not crowded:
            break
        spare = np.flatnonzero(flat[kept] == crowded[0])
        kept = min((np.delete(kept, k) for k in spare), key=lambda trial: nnls(columns[:, trial], wanted)[1])
    weights = weights / weights.sum()
    terms = [(float(w), float(scales[k])) for w, k in zip(weights, kept, strict=True)]
    return (tuple(t for t, k in zip(terms, kept, strict=True) if not flat[k]),
            tuple(t for t, k in zip(terms, kept, strict=True) if flat[k]))


def soft_curve(inductance_zero: float, inductance_air: float, half_current: float, exponent: float) -> KernelCurve:
    """Powder core: L(i) = La + (L0-La)/(1+(i/half_current)^exponent), within 0.6 % of L0.

    half_current: current [A] at which the core's share of L0 is halved. The form is that of the powder-core
    catalogues, percent permeability = 1/(0.01 + b*H^c), with the air core as its floor.
    """
    rounded, flat = kernel_weights(exponent)
    core = inductance_zero - inductance_air
    return KernelCurve(inductance_zero, inductance_air,
                       tuple((w * core, s * half_current) for w, s in rounded),
                       tuple((w * core, s * half_current) for w, s in flat))


def _log_cosh(x: Array) -> Array:
    return np.abs(x) + np.log1p(np.exp(-2 * np.abs(x))) - np.log(2.0)


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
        y = np.asarray(flux, dtype=float)
        drop = 1 / self.inductance_air - 1 / self.inductance_straight
        k, w = self.saturation_flux, self.knee
        return y / self.inductance_air - drop * (w / 2) * (_log_cosh((y + k) / w) - _log_cosh((y - k) / w))

    def flux(self, current: ArrayLike) -> Array:
        wanted = np.asarray(current, dtype=float)
        size = np.abs(wanted)
        low, high = size * self.inductance_air * (1 - 1e-9), size * self.inductance_zero * (1 + 1e-9)
        for _ in range(200):
            middle = 0.5 * (low + high)
            below = self.current(middle) < size
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        return np.asarray(np.sign(wanted) * 0.5 * (low + high))

    def inductance(self, current: ArrayLike) -> Array:
        y = self.flux(current)
        k, w = self.saturation_flux, self.knee
        share = 1 - 0.5 * (np.tanh((y + k) / w) - np.tanh((y - k) / w))
        straight = self.inductance_straight
        return 1 / (1 / straight + (1 / self.inductance_air - 1 / straight) * share)


@dataclass(frozen=True)
class TableCurve:
    """A measured curve: straight pieces between dense knots of current [A] and flux [Wb], odd, then the air core.

    knots: pairs (current, flux) for positive current, first (0, 0). Beyond the last knot the slope is
    `inductance_air`. known_to: current [A] where the measurement ended; beyond it the curve is extrapolated.
    """

    inductance_zero: float
    inductance_air: float
    knots: tuple[tuple[float, float], ...]
    known_to: float

    def _axes(self) -> tuple[Array, Array]:
        table = np.array(self.knots)
        reach = 1e3 * table[-1, 0]
        end = (table[-1, 0] + reach, table[-1, 1] + reach * self.inductance_air)
        return np.append(table[:, 0], end[0]), np.append(table[:, 1], end[1])

    def flux(self, current: ArrayLike) -> Array:
        i = np.asarray(current, dtype=float)
        currents, fluxes = self._axes()
        return np.asarray(np.sign(i) * np.interp(np.abs(i), currents, fluxes))

    def current(self, flux: ArrayLike) -> Array:
        y = np.asarray(flux, dtype=float)
        currents, fluxes = self._axes()
        return np.asarray(np.sign(y) * np.interp(np.abs(y), fluxes, currents))

    def inductance(self, current: ArrayLike) -> Array:
        i = np.abs(np.asarray(current, dtype=float))
        currents, fluxes = self._axes()
        slopes = np.diff(fluxes) / np.diff(currents)
        middles = np.append(0.5 * (currents[1:-1] + currents[:-2]), currents[-2])
        return np.asarray(np.interp(i, middles, slopes))


TABLE_KNOTS = 160
"""Knots of a table curve in the netlist: with them two neighbouring pieces differ by well under 1 % of L0."""


def table_curve(currents: ArrayLike, inductances: ArrayLike, inductance_air: float) -> TableCurve:
    """Measured differential inductances [H] at direct currents [A] -> a curve through them.

    currents: rising, first 0; inductances: positive, none above the first. Between points a monotone cubic
    (Fritsch & Carlson, SIAM J. Numer. Anal. 17, 1980, p. 238; scipy's PCHIP), beyond the last the final slope down to
    the air core. Raises ValueError when the points cannot be those of a choke.
    """
    from scipy.interpolate import PchipInterpolator

    i, value = np.asarray(currents, dtype=float), np.asarray(inductances, dtype=float)
    if i.size < 3 or i[0] != 0 or np.any(np.diff(i) <= 0):
        raise ValueError("needs at least three rising currents, the first 0 A")
    if np.any(np.diff(value) > 0) or value[-1] < inductance_air:
        raise ValueError("inductance must not rise with current nor fall below the air-core inductance")
    slope = (value[-1] - value[-2]) / (i[-1] - i[-2])
    fall = (inductance_air - value[-1]) / slope if slope < 0 else 0.0
    points, curve = (i, value) if fall == 0 else (np.append(i, i[-1] + fall), np.append(value, inductance_air))
    grid = np.linspace(0, points[-1], 4000)
    fine = np.asarray(PchipInterpolator(points, curve)(grid))
    flux = np.concatenate([[0.0], np.cumsum(0.5 * (fine[1:] + fine[:-1]) * np.diff(grid))])
    effort = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(fine)) / value[0] + np.diff(grid) / grid[-1])])
    knots = np.interp(np.linspace(0, effort[-1], TABLE_KNOTS), effort, grid)
    pairs = tuple((float(a), float(b)) for a, b in zip(knots, np.interp(knots, grid, flux), strict=True))
    return TableCurve(float(value[0]), inductance_air if fall else float(value[-1]), pairs, float(i[-1]))
