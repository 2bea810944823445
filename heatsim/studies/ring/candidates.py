# SPDX-License-Identifier: GPL-3.0-or-later
"""Which generic materials of the catalogue a measured ring may be made of; none of them is an answer too.

A material fits when the permeability lies within its tolerance and the measured curve within the band of its catalogue
curve, over the currents measured and each widened by the measurement's own uncertainty. A ferrite
is judged by its saturation flux density, its gap being free.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, cast

import numpy as np

from heatsim.parts.choke import Core, wound_curve
from heatsim.parts.curves import Curve
from heatsim.parts.materials import Material
from heatsim.parts.ring import Ring
from heatsim.physics.numeric import FloatArray
from heatsim.physics.ringcore import PathConvention, ring_inductance
from heatsim.scenario.ringtest import RingTest

FERRITE_SATURATION = (0.85, 1.35)
"""Measured saturation flux density over the catalogue's hot value: cold ferrite holds some 30 % more; memory."""

CURVE_TOLERANCE = 0.05
"""Of the remaining share of a ferrite's inductance, absolute, when its knee was not reached; memory."""

LONGEST_GAP = 0.06
"""Of the path; a ring ground or sawn open further than that is not found in drawers. Common practice, no source."""


@dataclass(frozen=True)
class Measured:
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

    misfit: worst deviation over what is allowed, 1 at the edge; fits: misfit of 1 or less; permeability: measured, by the
    material's own path length; share_deviation: worst, None if not judged; gap: that a ferrite would need [m]; curve:
    of this ring in this material, None if unknown; judged_on: what could be compared.
    """

    material: Material
    misfit: float
    permeability: float
    share_deviation: float | None
    gap: float | None
    curve: Curve | None
    judged_on: str

    @property
    def fits(self) -> bool:
        """Whether nothing measured speaks against it."""
        return self.misfit <= 1.0

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


def rank(test: RingTest, measured: Measured, materials: dict[str, Material]) -> tuple[MaterialMatch, ...]:
    """All materials, the best fitting first."""
    return tuple(sorted((_match(test, measured, material) for material in materials.values()), key=lambda match: match.misfit))


def _match(test: RingTest, measured: Measured, material: Material) -> MaterialMatch:
    ring = test.ring(cast(PathConvention, material.path_rule))
    unit = float(ring_inductance(test.winding.turns, 1.0, ring.total_area, ring.path_length))
    here = measured.zero / unit
    ferrite = material.half_field is None and material.permeability > 500
    judge: Callable[..., MaterialMatch] = _ferrite if ferrite else _powder
    return judge(test, measured, material, ring, here)


def _powder(test: RingTest, measured: Measured, material: Material, ring: Ring, here: float) -> MaterialMatch:
    allowed = float(np.hypot(material.permeability_tolerance, 1.96 * measured.zero_error))
    first = float(abs(np.log(here / material.permeability)) / allowed)
    bias = material.bias
    if bias is None:
        return MaterialMatch(material, first, here, None, None, None, "permeability; its curve is not in the catalogue")
    curve = wound_curve(Core(ring, test.winding, material))
    if measured.currents.size == 0:
        return MaterialMatch(material, first, here, None, None, curve, "permeability")
    fields = measured.currents * test.winding.turns / ring.path_length
    (low, high), middle = bias.band(fields), bias.share(fields)
    away = measured.shares - middle
    ratio = np.abs(away) / np.hypot(np.where(away > 0, high - middle, middle - low), 1.96 * measured.share_errors + 1e-6)
    worst = int(np.argmax(ratio))
    return MaterialMatch(material, max(first, float(ratio[worst])), here, float(away[worst]), None, curve, "permeability and curve")


def _ferrite(test: RingTest, measured: Measured, material: Material, ring: Ring, here: float) -> MaterialMatch:
    """A ferrite with the gap that leads to the measured inductance."""
    stretched = material.permeability / here
    gap = max(0.0, (stretched - 1.0) * ring.path_length / (material.permeability - 1.0))
    ungapped = float(np.hypot(material.permeability_tolerance, 1.96 * measured.zero_error))
    first = max(0.0, -float(np.log(stretched))) / ungapped
    gap_share = gap / (LONGEST_GAP * ring.path_length)
    curve = wound_curve(Core(ring, test.winding, material, gap))
    if measured.currents.size == 0:
        return MaterialMatch(material, max(first, gap_share), here, None, gap, curve, "permeability alone: any gap will do")
    if measured.saturation is None:
        away = measured.shares - curve.inductance(measured.currents) / curve.inductance_zero
        tolerance = np.hypot(CURVE_TOLERANCE, 1.96 * measured.share_errors)
        worst = int(np.argmax(np.abs(away) / tolerance))
        return MaterialMatch(
            material,
            max(first, gap_share, float(np.abs(away[worst]) / tolerance[worst])),
            here,
            float(away[worst]),
            gap,
            curve,
            "curve, with the gap its inductance asks for",
        )
    density, error = measured.saturation
    low, high = (np.log(limit) for limit in FERRITE_SATURATION)
    ratio = np.log(density / (material.saturation_flux_density_t or np.nan))
    half_band = np.hypot(0.5 * (high - low), 1.96 * error)
    misfit = max(first, gap_share, abs(ratio - 0.5 * (high + low)) / half_band)
    return MaterialMatch(material, float(misfit), here, None, gap, curve, "saturation flux density, with a gap of its own")
