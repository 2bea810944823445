# SPDX-License-Identifier: GPL-3.0-or-later
"""Which generic materials of the catalogue a measured ring may be made of; none of them is an answer too.

A material fits when the permeability lies within its tolerance and the measured curve within the band of its catalogue
curve, over the currents measured and each widened by the measurement's own uncertainty. A ferrite is judged by its saturation
flux density, its gap being free.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from heatsim.parts.choke import Core, wound_curve
from heatsim.parts.curves import Curve
from heatsim.parts.materials import Material
from heatsim.parts.ring import RingCore
from heatsim.physics.numeric import FloatArray
from heatsim.physics.ringcore import ring_inductance
from heatsim.scenario.ringtest import RingTest

FERRITE_SATURATION = (0.85, 1.35)
"""Measured saturation flux density over the catalogue's hot value: cold ferrite holds some 30 % more; memory."""

CURVE_TOLERANCE = 0.05
"""Of the remaining share of a ferrite's inductance, absolute, when its knee was not reached; memory."""

LONGEST_GAP = 0.06
"""Of the path; a ring ground or sawn open further than that is not found in drawers. Common practice, no source."""


@dataclass(frozen=True)
class MeasuredRing:
    """What the materials are compared with.

    zero: inductance at zero current [H] and its relative standard error; currents [A] with the share that is left of the
    core's own inductance and its standard error, empty when saturation was not measured; saturation: flux density [T] of
    the knee and its relative standard error, None for a soft or straight curve.
    """

    zero: float
    zero_error: float
    currents: FloatArray
    shares: FloatArray
    share_errors: FloatArray
    saturation: tuple[float, float] | None


@dataclass(frozen=True)
class MaterialMatch:
    """How a catalogue material compares.

    misfit: worst deviation over what is allowed, 1 at the edge; permeability: measured, by the material's own path length;
    judged_on: what could be compared; curve: of this ring in this material, None if unknown; gap: that a ferrite would
    need [m]; share_deviation: worst, None if not judged.
    """

    material: Material
    misfit: float
    permeability: float
    judged_on: str
    curve: Curve | None = None
    gap: float | None = None
    share_deviation: float | None = None

    @property
    def fits(self) -> bool:
        """Whether nothing measured speaks against it."""
        return self.misfit <= 1.0

    def worse(self, misfit: float, judged_on: str, share_deviation: float | None = None) -> MaterialMatch:
        """The same judged on one thing more, whose misfit counts where it is the larger."""
        worst = max(self.misfit, float(misfit))
        return replace(self, misfit=worst, judged_on=judged_on, share_deviation=share_deviation)

    def as_dict(self) -> dict[str, Any]:
        """Plain data, SI."""
        return {
            "name": self.material.name,
            "alloy": self.material.alloy,
            "provenance": self.material.provenance,
            "fits": self.fits,
            "misfit_ratio": self.misfit,
            "catalogue_permeability": self.material.permeability,
            "measured_permeability": self.permeability,
            "path_rule": self.material.path_rule,
            "share_deviation_ratio": self.share_deviation,
            "gap_m": self.gap,
            "judged_on": self.judged_on,
        }


def rank(test: RingTest, measured: MeasuredRing, materials: Mapping[str, Material]) -> tuple[MaterialMatch, ...]:
    """All materials, the best fitting first."""
    return tuple(sorted((_match(test, measured, material) for material in materials.values()), key=lambda match: match.misfit))


def _match(test: RingTest, measured: MeasuredRing, material: Material) -> MaterialMatch:
    ring = test.ring(material.path_rule)
    here = measured.zero / float(ring_inductance(test.winding.turns, 1.0, ring.total_area, ring.path_length))
    allowed = float(np.hypot(material.permeability_tolerance, 1.96 * measured.zero_error))
    off = float(np.log(here / material.permeability)) / allowed
    if material.bias is None and material.permeability > 500:
        return _ferrite(test, measured, material, ring, here, off)
    return _powder(test, measured, material, ring, here, off)


def _powder(test: RingTest, measured: MeasuredRing, material: Material, ring: RingCore, here: float, off: float) -> MaterialMatch:
    """A powder; here: permeability by its own path length; off: its logarithm over the catalogue's, over what is allowed."""
    bias = material.bias
    if bias is None:
        return MaterialMatch(material, abs(off), here, "permeability; its curve is not in the catalogue")
    found = MaterialMatch(material, abs(off), here, "permeability", wound_curve(Core(ring, test.winding, material)))
    if measured.currents.size == 0:
        return found
    fields = measured.currents * test.winding.turns / ring.path_length
    (low, high), middle = bias.band(fields), bias.share(fields)
    away = measured.shares - middle
    ratio = np.abs(away) / np.hypot(np.where(away > 0, high - middle, middle - low), 1.96 * measured.share_errors + 1e-6)
    worst = int(np.argmax(ratio))
    return found.worse(ratio[worst], "permeability and curve", float(away[worst]))


def _ferrite(test: RingTest, measured: MeasuredRing, material: Material, ring: RingCore, here: float, off: float) -> MaterialMatch:
    """A ferrite with the gap that leads to the measured inductance; here and off as for a powder."""
    gap = max(0.0, (material.permeability / here - 1.0) * ring.path_length / (material.permeability - 1.0))
    misfit = max(0.0, off, gap / (LONGEST_GAP * ring.path_length))
    curve = wound_curve(Core(ring, test.winding, material, gap))
    found = MaterialMatch(material, misfit, here, "permeability alone: any gap will do", curve, gap)
    if measured.currents.size == 0 or material.saturation_flux_density_t is None:
        return found
    if measured.saturation is None:
        away = measured.shares - curve.inductance(measured.currents) / curve.inductance_zero
        ratio = np.abs(away) / np.hypot(CURVE_TOLERANCE, 1.96 * measured.share_errors)
        worst = int(np.argmax(ratio))
        return found.worse(ratio[worst], "curve, with the gap its inductance asks for", float(away[worst]))
    density, error = measured.saturation
    low, high = (np.log(limit) for limit in FERRITE_SATURATION)
    ratio = np.log(density / (material.saturation_flux_density_t))
    half_band = np.hypot(0.5 * (high - low), 1.96 * error)
    return found.worse(abs(ratio - 0.5 * (high + low)) / half_band, "saturation flux density, with a gap of its own")
