# SPDX-License-Identifier: GPL-3.0-or-later
"""Three forms a ring's flux linkage may take, and the solution of v = R i + d(flux)/dt on each.

linear: constant inductance. soft: powder, differential inductance La + (L0-La)/(1+(i/ih)^c). gapped: ferrite, see
`heatsim.parts.curves.GappedCurve`. All are odd, strictly rising and never flatter than the air-core inductance.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from heatsim.constants import OERSTED
from heatsim.parts.curves import GappedCurve
from heatsim.physics.magnetisation import bias_flux_linkage
from heatsim.physics.numeric import FloatArray

REACH = 60.0
"""A soft form is tabled to this multiple of its half current and goes on along the air core."""


class Form(Protocol):
    """Currents [A], flux linkages [Wb], inductances [H]."""

    @property
    def kind(self) -> str:
        """linear, soft or gapped."""
        ...

    @property
    def zero(self) -> float:
        """Differential inductance at zero current [H]."""
        ...

    def current(self, flux: FloatArray) -> FloatArray:
        """Current [A] at a flux linkage [Wb]."""
        ...

    def slope(self, flux: FloatArray) -> FloatArray:
        """d(current)/d(flux) [1/H] at a flux linkage [Wb]."""
        ...

    def inductance(self, current: FloatArray) -> FloatArray:
        """Differential inductance [H] at a current [A]."""
        ...

    def half_current(self) -> float:
        """Current [A] at which the differential inductance is half of that at zero; infinite for the linear form."""
        ...


@dataclass(frozen=True)
class LinearForm:
    """Constant inductance [H]."""

    zero: float
    kind: str = "linear"

    def current(self, flux: FloatArray) -> FloatArray:
        return flux / self.zero

    def slope(self, flux: FloatArray) -> FloatArray:
        return np.full_like(flux, 1.0 / self.zero)

    def inductance(self, current: FloatArray) -> FloatArray:
        return np.full_like(np.asarray(current, dtype=float), self.zero)

    def half_current(self) -> float:
        return float("inf")


_SOFT_GRID = np.concatenate([[0.0], np.geomspace(4e-3, REACH, 180)])


@dataclass(frozen=True)
class SoftForm:
    """Powder: zero, air: inductances [H]; core_half_current [A], at which the core's own share is halved; exponent."""

    zero: float
    air: float
    core_half_current: float
    exponent: float
    kind: str = "soft"
    _knots: tuple[FloatArray, FloatArray, FloatArray] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        grid = self.core_half_current * _SOFT_GRID
        # `bias_flux_linkage` in units of the half current: 100 b H^c with H = i/ih in oersted, b = 1/100.
        per_ampere = OERSTED / self.core_half_current
        flux = np.asarray(bias_flux_linkage(grid, self.zero, self.air, per_ampere, 0.01, self.exponent))
        object.__setattr__(self, "_knots", (flux, grid, 1.0 / self.inductance(grid)))

    def current(self, flux: FloatArray) -> FloatArray:
        """Cubic pieces through knots of the closed form with its own slopes, then the air core."""
        fluxes, currents, slopes = self._knots
        size = np.abs(flux)
        k = np.clip(np.searchsorted(fluxes, size) - 1, 0, fluxes.size - 2)
        h = fluxes[k + 1] - fluxes[k]
        s = np.minimum((size - fluxes[k]) / h, 1.0)
        inside = (
            (1 + 2 * s) * (1 - s) ** 2 * currents[k]
            + s * (1 - s) ** 2 * h * slopes[k]
            + s**2 * (3 - 2 * s) * currents[k + 1]
            + s**2 * (s - 1) * h * slopes[k + 1]
        )
        return np.asarray(np.sign(flux) * (inside + np.maximum(size - fluxes[-1], 0.0) / self.air))

    def slope(self, flux: FloatArray) -> FloatArray:
        return np.asarray(1.0 / self.inductance(self.current(flux)))

    def inductance(self, current: FloatArray) -> FloatArray:
        ratio = np.abs(current) / self.core_half_current
        return np.asarray(self.air + (self.zero - self.air) / (1.0 + ratio**self.exponent))

    def half_current(self) -> float:
        reach = (self.zero - self.air) / (self.zero / 2 - self.air) - 1.0
        return float(self.core_half_current * reach ** (1.0 / self.exponent))


@dataclass(frozen=True)
class GappedForm:
    """Gapped ferrite: zero, air: inductances [H]; saturation_flux [Wb]; knee: half width as a share of it."""

    zero: float
    air: float
    saturation_flux: float
    knee: float
    kind: str = "gapped"

    @property
    def curve(self) -> GappedCurve:
        """The same as a part."""
        return GappedCurve(self.zero, self.air, self.saturation_flux, self.knee * self.saturation_flux)

    def current(self, flux: FloatArray) -> FloatArray:
        return self.curve.current(flux)

    def slope(self, flux: FloatArray) -> FloatArray:
        """From the formula of `GappedCurve`."""
        k, w = self.saturation_flux, self.knee * self.saturation_flux
        share = 1 - 0.5 * (np.tanh((flux + k) / w) - np.tanh((flux - k) / w))
        straight = self.curve.inductance_straight
        return np.asarray(1 / straight + (1 / self.air - 1 / straight) * share)

    def inductance(self, current: FloatArray) -> FloatArray:
        size = np.abs(np.asarray(current, dtype=float))
        step = self.knee * self.saturation_flux
        near = np.linspace(max(self.saturation_flux - 6 * step, 0.0), self.saturation_flux + 6 * step, 600)
        last = max(float(np.max(size, initial=0.0)), 1e-12) * self.zero + near[-1]
        grid = np.concatenate([np.linspace(0.0, near[0], 60)[:-1], near, np.linspace(near[-1], last, 60)[1:]])
        return np.asarray(np.interp(size, self.current(grid), 1.0 / self.slope(grid)))

    def half_current(self) -> float:
        straight = self.curve.inductance_straight
        share = (2 / self.zero - 1 / straight) / (1 / self.air - 1 / straight)
        return float(self.current(np.array([self._flux_at(share)]))[0])

    def _flux_at(self, share: float) -> float:
        """Flux [Wb] at which the saturated share S of `GappedCurve` has a value; rising in the flux, by bisection."""
        k, w = self.saturation_flux, self.knee * self.saturation_flux
        low, high = 0.0, k * (1 + 20 * self.knee)
        for _ in range(60):
            middle = 0.5 * (low + high)
            below = 1 - 0.5 * (np.tanh((middle + k) / w) - np.tanh((middle - k) / w)) < share
            low, high = (middle, high) if below else (low, middle)
        return 0.5 * (low + high)


SHAPES: dict[str, tuple[str, ...]] = {
    "linear": ("ln_zero",),
    "soft": ("ln_zero", "ln_half", "ln_steepness", "ln_air"),
    "gapped": ("ln_zero", "ln_saturation", "ln_knee", "ln_air"),
}
"""Logarithms that describe each form: of L0 [H], ih [A], exponent - 1, La [H], saturation flux [Wb], relative knee."""


def form_of(kind: str, values: Mapping[str, float]) -> Form:
    """The form a set of its logarithms (see `SHAPES`) describes; La is held below half of L0."""
    value = {name: float(np.exp(values[name])) for name in SHAPES[kind]}
    zero = value["ln_zero"]
    if kind == "linear":
        return LinearForm(zero)
    air = min(value["ln_air"], 0.45 * zero)
    if kind == "soft":
        return SoftForm(zero, air, value["ln_half"], 1.0 + value["ln_steepness"])
    return GappedForm(zero, air, value["ln_saturation"], value["ln_knee"])


def solve_flux(
    form: Form,
    impulses: FloatArray,
    steps: FloatArray,
    resistance: float,
    start: float = 0.0,
    guess: FloatArray | None = None,
    iterations: int = 40,
) -> FloatArray:
    """Flux linkage [Wb] along a time grid, from `start`, of v = R i(flux) + d(flux)/dt.

    impulses: integral of v over each interval [V s]; steps: lengths [s]; resistance R [ohm]; one longer than these
    comes back. Trapezoidal rule on R i alone (the voltage is integrated exactly), all instants at once by Newton from
    `guess`: each iteration is one bidiagonal system, and the iteration converges for every rising i(flux). One iteration
    from the solution of slightly different values is exact to first order in the difference.
    """
    flux = start + np.concatenate([[0.0], np.cumsum(impulses)])
    if resistance == 0.0:
        return flux
    from scipy.linalg.lapack import dtbtrs

    half = 0.5 * steps * resistance
    flux = flux if guess is None or guess.size != flux.size else guess
    for _ in range(iterations):
        slope = form.slope(flux)
        rest = form.current(flux) - slope * flux
        right = impulses - half * (rest[1:] + rest[:-1])
        lower = -1.0 + half * slope[:-1]
        right[0] -= lower[0] * start
        bands = np.vstack([1.0 + half * slope[1:], np.append(lower[1:], 0.0)])
        found = np.concatenate([[start], dtbtrs(bands, right, uplo="L")[0].ravel()])
        change = float(np.max(np.abs(found - flux)))
        flux = found
        if change <= 1e-10 * float(np.max(np.abs(flux))):
            break
    return flux
