# SPDX-License-Identifier: GPL-3.0-or-later
"""Three forms a ring's flux linkage may take, and the solution of v = R i + d(flux)/dt on each.

linear: constant inductance. soft: powder, differential inductance La + (L0-La)/(1+(i/ih)^c). gapped: ferrite with a knee.
All are curves of `heatsim.parts.curves`; the soft one stands here because a fit needs it smooth in its parameters, where
a netlist needs knots.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from heatsim.constants import OERSTED
from heatsim.parts.curves import Curve, GappedCurve, LinearCurve
from heatsim.physics.magnetisation import bias_flux_linkage
from heatsim.physics.numeric import FloatArray

REACH = 60.0
"""The inverse of a soft form follows it up to this multiple of its half current, and goes on along the air core."""

PARAMETERS: dict[str, tuple[str, ...]] = {
    "linear": ("ln_zero",),
    "soft": ("ln_zero", "ln_half", "ln_steepness", "ln_air"),
    "gapped": ("ln_zero", "ln_saturation", "ln_knee", "ln_air"),
}
"""Logarithms that describe each form: of L0 [H], ih [A], exponent - 1, La [H], saturation flux [Wb], relative knee."""

_GRID = np.concatenate([[0.0], np.geomspace(4e-3, REACH, 180)])


@dataclass(frozen=True)
class SmoothSoftCurve:
    """Powder in closed form: inductances [H]; core_half_current [A], at which the core's own share is halved; exponent."""

    inductance_zero: float
    inductance_air: float
    core_half_current: float
    exponent: float
    known_to: float = float("inf")

    def flux(self, current: ArrayLike) -> FloatArray:
        """Flux linkage [Wb] at a current [A]: 100 b H^c with H = i/ih in oersted and b = 1/100."""
        zero, air, per_ampere = self.inductance_zero, self.inductance_air, OERSTED / self.core_half_current
        return np.asarray(bias_flux_linkage(np.asarray(current, dtype=float), zero, air, per_ampere, 0.01, self.exponent))

    def inductance(self, current: ArrayLike) -> FloatArray:
        """Differential inductance [H] at a current [A]."""
        ratio = np.abs(current) / self.core_half_current
        return np.asarray(self.inductance_air + (self.inductance_zero - self.inductance_air) / (1.0 + ratio**self.exponent))

    def current(self, flux: ArrayLike) -> FloatArray:
        """Current [A] at a flux linkage [Wb]: cubic pieces through points of the closed form with its own slopes."""
        size = np.abs(flux)
        inside = np.asarray(self._inverse(np.minimum(size, self._inverse.x[-1])))
        return np.asarray(np.sign(flux) * (inside + np.maximum(size - self._inverse.x[-1], 0.0) / self.inductance_air))

    @cached_property
    def _inverse(self) -> Any:
        from scipy.interpolate import CubicHermiteSpline

        currents = self.core_half_current * _GRID
        return CubicHermiteSpline(self.flux(currents), currents, 1.0 / self.inductance(currents))


def form_of(kind: str, values: Mapping[str, float]) -> Curve:
    """The curve that the logarithms of a form describe (see `PARAMETERS`); La is held below half of L0."""
    value = {name: float(np.exp(values[name])) for name in PARAMETERS[kind]}
    zero = value["ln_zero"]
    air = min(value.get("ln_air", 0.0), 0.45 * zero)
    if kind == "linear":
        return LinearCurve(zero, air)
    if kind == "soft":
        return SmoothSoftCurve(zero, air, value["ln_half"], 1.0 + value["ln_steepness"])
    return GappedCurve(zero, air, value["ln_saturation"], value["ln_knee"] * value["ln_saturation"])


def slope(curve: Curve, flux: FloatArray) -> FloatArray:
    """d(current)/d(flux) [1/H] at a flux linkage [Wb]."""
    here = curve.inductance_at(flux) if isinstance(curve, GappedCurve) else curve.inductance(curve.current(flux))
    return 1.0 / here


def solve_flux(
    curve: Curve,
    impulses: FloatArray,
    steps: FloatArray,
    resistance: float,
    start: float = 0.0,
    guess: FloatArray | None = None,
    iterations: int = 40,
) -> FloatArray:
    """Flux linkage [Wb] along a time grid of v = R i(flux) + d(flux)/dt; one value more than there are intervals.

    Trapezoidal rule on R i alone (the voltage is integrated exactly), all instants at once by Newton's method. Each
    iteration is one bidiagonal system, and it converges for every rising i(flux).

    impulses: integral of v over each interval [V s]
    steps: lengths of the intervals [s]
    resistance: R [ohm]
    start: flux linkage at the first instant [Wb]
    guess: flux linkages to begin from [Wb]; those of slightly different values make one iteration exact to first order
    iterations: at most
    """
    flux = start + np.concatenate([[0.0], np.cumsum(impulses)])
    if resistance == 0.0:
        return flux
    from scipy.linalg.lapack import dtbtrs

    half = 0.5 * steps * resistance
    flux = flux if guess is None or guess.size != flux.size else guess
    for _ in range(iterations):
        slopes = slope(curve, flux)
        rest = curve.current(flux) - slopes * flux
        right = impulses - half * (rest[1:] + rest[:-1])
        lower = -1.0 + half * slopes[:-1]
        right[0] -= lower[0] * start
        bands = np.vstack([1.0 + half * slopes[1:], np.append(lower[1:], 0.0)])
        found = np.concatenate([[start], dtbtrs(bands, right, uplo="L")[0].ravel()])
        change = float(np.max(np.abs(found - flux)))
        flux = found
        if change <= 1e-10 * float(np.max(np.abs(flux))):
            break
    return flux
