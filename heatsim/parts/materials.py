# SPDX-License-Identifier: GPL-3.0-or-later
"""Core materials, and the metals of workpieces: what is known of them, how well, and from where.

Every figure carries a source and a provenance: `published`, `common practice`, `memory` or `measured`. What is not
known is absent, never guessed: how the permeability of powder changes with flux swing and temperature, and its loss with DC
bias (makers plot it, the fits were not at hand).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from heatsim.parts.hot_metal import HotMetal
from heatsim.parts.provenance import Provenance as Provenance
from heatsim.physics.coreloss import igse_loss, powder_loss_a, powder_loss_b, steinmetz
from heatsim.physics.numeric import FloatArray as Array
from heatsim.physics.ringcore import PathConvention
from heatsim.physics.spectrum import periodic_spectrum

LossForm = Literal["a", "b", "steinmetz"]
LOSS_COEFFICIENTS: Mapping[LossForm, int] = {"a": 3, "b": 4, "steinmetz": 3}
"""Coefficients of each printed form of core loss; see `CoreLoss`."""


def half_field_through(field: float, share: float, exponent: float) -> float:
    """Half field [A/m] of the curve of an exponent [1] through one point: field [A/m] and share [1] left there."""
    return float(field * (share / (1.0 - share)) ** (1.0 / exponent))


@dataclass(frozen=True)
class Bias:
    """Differential permeability under DC bias, as a share of the initial one: 1/(1 + (H/half_field)^exponent).

    half_field: field [A/m] at which half is left; tolerance: plus or minus, as a share of the initial permeability.
    anchor: field [A/m] of the one point an estimate rests on, None where the whole curve is known; exponent_band: how far
    the exponent of such an estimate may lie off; points: a measured curve (field [A/m], share [1]), which wins over the form.
    """

    half_field: float
    exponent: float
    tolerance: float
    provenance: Provenance
    source: str
    anchor: float | None = None
    exponent_band: float = 0.0
    points: tuple[tuple[float, float], ...] = ()

    @property
    def pivot(self) -> float:
        """Field [A/m] at which its tolerance is taken: its anchor, the listed point nearest to half, or where half is left."""
        if self.points:
            return min(self.points, key=lambda pair: abs(pair[1] - 0.5))[0]
        return self.anchor or self.half_field

    def share(self, field: ArrayLike) -> Array:
        """Share [1] of the initial permeability left at a field [A/m]; beyond measured points, the form through the last."""
        h = np.abs(np.asarray(field, dtype=float))
        if not self.points:
            return np.asarray(1.0 / (1.0 + (h / self.half_field) ** self.exponent))
        from scipy.interpolate import PchipInterpolator

        fields, shares = np.array(self.points).T
        inside = PchipInterpolator(fields, shares)(np.minimum(h, fields[-1]))
        tail = 1.0 / (1.0 + (h / half_field_through(fields[-1], shares[-1], self.exponent)) ** self.exponent)
        return np.asarray(np.where(h <= fields[-1], inside, tail), dtype=float)

    def shifted(self, points: float) -> Bias:
        """The curve raised or lowered by `points` (a share) at its pivot.

        The odds share/(1 - share) are multiplied by one factor everywhere, so the curve stays monotone within 0 to 1.
        """
        now = float(self.share(self.pivot))
        wanted = min(max(now + points, 0.01), 0.999)
        factor = wanted / (1.0 - wanted) * (1.0 - now) / now
        moved = tuple((h, s * factor / (s * factor + 1.0 - s)) for h, s in self.points)
        return replace(self, half_field=self.half_field * factor ** (1.0 / self.exponent), points=moved)

    def stretched(self, factor: float) -> Bias:
        """The same curve with every field times a factor [1]: a core that saturates later."""
        points = tuple((field * factor, share) for field, share in self.points)
        anchor = None if self.anchor is None else self.anchor * factor
        return replace(self, half_field=self.half_field * factor, anchor=anchor, points=points)

    def band(self, field: ArrayLike) -> tuple[Array, Array]:
        """Lowest and highest share [1] at a field [A/m] within tolerance and exponent band."""
        ends = [self.shifted(sign * self.tolerance) for sign in (-1, 1)]
        steps = {-self.exponent_band, 0.0, self.exponent_band}
        shares = np.array([end._with_exponent(end.exponent + step).share(field) for end in ends for step in steps])
        return np.min(shares, axis=0), np.max(shares, axis=0)

    def _with_exponent(self, exponent: float) -> Bias:
        """Another exponent through the same anchor."""
        if self.anchor is None:
            return replace(self, exponent=exponent)
        half = float(self.anchor * (self.half_field / self.anchor) ** (self.exponent / exponent))
        return replace(self, half_field=half, exponent=exponent)


@dataclass(frozen=True)
class CoreLoss:
    """Core loss in a printed form, for a sine of a peak flux density B (half of the swing) and a frequency f.

    form "a": a B^b f^c [mW/cm3], B in T, f in kHz; form "b": f/(a/B^3 + b/B^2.3 + c/B^1.65) + d f^2 B^2 [mW/cm3], B in
    gauss, f in Hz; "steinmetz": k f^alpha B^beta [W/m3], SI. band: factor within which the loss is known, both ways.
    Printed without DC bias; bias raises the loss of most materials, by how much is not printed.
    """

    form: LossForm
    coefficients: tuple[float, ...]
    band: float
    provenance: Provenance
    source: str

    def density(self, flux_density: float, frequency: float) -> float:
        """Loss [W/m3] for a sine of a peak flux density [T] and a frequency [Hz]."""
        c = self.coefficients
        if self.form == "a":
            return float(powder_loss_a(flux_density, frequency, c[0], c[1], c[2]))
        if self.form == "b":
            return float(powder_loss_b(flux_density, frequency, (c[0], c[1], c[2], c[3])))
        return float(steinmetz(flux_density, frequency, c[0], c[1], c[2]))

    def local_steinmetz(self, flux_density: float, frequency: float) -> tuple[float, float, float]:
        """k, alpha, beta [SI] that touch the printed loss at a peak flux density [T] and a frequency [Hz].

        For form "b", with share e of the eddy term in the loss P: alpha = d ln P/d ln f = 1 + e, beta = d ln P/d ln B,
        k = P/(f^alpha B^beta), so a sine at that very point gives the printed loss exactly. Elsewhere it is a tangent.
        """
        if self.form == "steinmetz":
            return self.coefficients[0], self.coefficients[1], self.coefficients[2]
        if self.form == "a":
            a, b, c = self.coefficients
            return 1000.0 * a * 1000.0**-c, c, b
        a, b, c, d = self.coefficients
        gauss = flux_density * 1e4
        parts = np.array([a / gauss**3, b / gauss**2.3, c / gauss**1.65])
        hysteresis, eddy = frequency / float(np.sum(parts)), d * frequency**2 * gauss**2
        slope = float(np.sum(np.array([3.0, 2.3, 1.65]) * parts) / np.sum(parts))
        alpha = 1.0 + eddy / (hysteresis + eddy)
        beta = (slope * hysteresis + 2.0 * eddy) / (hysteresis + eddy)
        return self.density(flux_density, frequency) / (frequency**alpha * flux_density**beta), alpha, beta

    def waveform(self, time: Array, flux_density: Array) -> float:
        """Mean loss [W/m3] over one closed period of flux density [T] at times [s], by iGSE.

        Exponents are those at half the swing and the frequency of the largest harmonic (form "b"; the others have only
        one set). DC bias and relaxation are outside the model.
        """
        swing = float(np.ptp(flux_density))
        if swing == 0.0:
            return 0.0
        exact = self.form != "b"  # one set of exponents for all points
        frequency = 1.0 if exact else periodic_spectrum(time, flux_density, 8).dominant_frequency
        return igse_loss(time, flux_density, *self.local_steinmetz(swing / 2.0, frequency))


@dataclass(frozen=True)
class Material:
    """A core material as its catalogue describes it.

    permeability: initial, relative, within permeability_tolerance; path_rule: the magnetic path its catalogue takes the
    field over, see `heatsim.physics.ringcore`; saturation_flux_density_t [T] of the core; bias: permeability under DC bias; loss:
    core loss, both None where unknown; ageing_limit_c: core temperature [°C] above which the binder ages, with
    ageing_note; provenance, source: of permeability and saturation flux density.
    """

    name: str
    alloy: str
    permeability: float
    path_rule: PathConvention
    provenance: Provenance
    source: str
    permeability_tolerance: float = 0.1
    saturation_flux_density_t: float | None = None
    bias: Bias | None = None
    loss: CoreLoss | None = None
    ageing_limit_c: float | None = None
    ageing_note: str = ""

    @property
    def saturation_basis(self) -> Provenance:
        """Where its saturation is known from: the bias curve's provenance, without one the material's."""
        return self.bias.provenance if self.bias else self.provenance

    @property
    def origins(self) -> tuple[tuple[str, Provenance, str], ...]:
        """What is known, its provenance and its source, part by part."""
        first = ("permeability and saturation", self.provenance, self.source)
        parts = (("DC bias", self.bias), ("core loss", self.loss))
        return first, *((what, part.provenance, part.source) for what, part in parts if part)

    @property
    def loss_band(self) -> float:
        """Factor within which the core loss is known; infinite where it is not."""
        return self.loss.band if self.loss else math.inf


@dataclass(frozen=True)
class Metal:
    """A material of workpieces, cold, and over temperature where that is known.

    resistivity [ohm*m] and by how much it may differ [1]; permeability: relative, or None where it follows the field after the
    curve of a steel in `heatsim.physics.magnetisation.STEELS`; provenance and source of all of it; permeability_band: share [1]
    by which permeability or curve may differ beyond what a steel's curve does; hot: over temperature, None where only cold
    figures are known.
    """

    name: str
    resistivity: float
    resistivity_band: float
    permeability: float | None
    curve: str | None
    provenance: Provenance
    source: str
    permeability_band: float = 0.0
    hot: HotMetal | None = None

    @property
    def origins(self) -> tuple[tuple[str, Provenance, str], ...]:
        """What is known, its provenance and its source, part by part."""
        return ("cold figures", self.provenance, self.source), *(self.hot.origins if self.hot else ())
