# SPDX-License-Identifier: GPL-3.0-or-later
"""The way out of saturation, computed: the supply voltage or the stack of rings at which a choke keeps its inductance.

A choke at another supply voltage or on another stack is judged by scaling the simulated case, not by a new run. Its mean
current goes with the supply voltage, the tank being linear. Its flux swing goes with supply voltage over frequency and does
not depend on the choke at all. That is an estimate, within some 5 % of a new simulation (a test checks it).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from heatsim.parts.choke import Choke, wound_curve
from heatsim.parts.curves import Curve, GappedCurve
from heatsim.studies.check.limits.base import half_volts

SCALING_MARGIN = 1.04
"""A remedy aims this much above the wanted share, for what scaling leaves out: the tank slows as the choke recovers."""

LEAST_SCALE, MOST_RINGS = 0.1, 4
"""Remedies go no further down with the supply voltage [1], and no further up with the stack."""


@dataclass(frozen=True)
class Excursion:
    """Where a choke works: mean current [A] and the highest flux linkage over that of the mean current [Wb]."""

    mean_current: float
    flux_above: float

    def remaining(self, curve: Curve, scale: float = 1.0) -> float:
        """Share of the zero-current inductance left at the peak, on `curve` and at `scale` times the supply voltage."""
        mean = self.mean_current * scale
        peak = float(curve.current(float(curve.flux(mean)) + self.flux_above * scale))
        return float(curve.inductance(peak)) / curve.inductance_zero


def saturation_remedy(choke: Choke, mean_current: float, peak_current: float, share: float, voltage: float) -> str:
    """How to keep `share` of a choke's inductance, in one sentence.

    mean_current, peak_current: as simulated [A]
    share: of the zero-current inductance that is wanted at the peak [1]
    voltage: of the supply [V]
    """
    wanted = min(share * SCALING_MARGIN, 0.95)
    above = float(choke.curve.flux(peak_current)) - float(choke.curve.flux(mean_current))
    at = Excursion(mean_current, above)
    stack, scale = stack_needed(choke, at, wanted), supply_scale(choke.curve, at, wanted)
    ways = [f"put {stack} of these rings under the same turns (estimated)"] if stack else []
    if scale is not None:
        ways.append(f"keep the supply at or below {half_volts(scale * voltage):g} V (estimated)")
    if not ways:
        gapped = isinstance(choke.curve, GappedCurve)
        other = " of lower permeability, or more gap" if gapped else "; four of these under the same turns are still not enough"
        ways = [f"take larger rings{other}"]
    text = " or ".join(ways)
    return text[0].upper() + text[1:] + "."


def supply_scale(curve: Curve, at: Excursion, wanted: float) -> float | None:
    """Factor on the supply voltage, at most 1, at which the share `wanted` is left; None when even a tenth is too much."""
    from scipy.optimize import brentq

    if at.remaining(curve, LEAST_SCALE) < wanted:
        return None
    if at.remaining(curve) >= wanted:
        return 1.0
    return float(brentq(lambda scale: at.remaining(curve, scale) - wanted, LEAST_SCALE, 1.0))


def stack_needed(choke: Choke, at: Excursion, wanted: float) -> int | None:
    """Rings of the same kind under the same turns at which the share `wanted` is left; None when four are too few."""
    if choke.core is None:
        return None
    for stack in range(choke.core.ring.stack + 1, MOST_RINGS + 1):
        ring = replace(choke.core.ring, stack=stack)
        if at.remaining(wound_curve(replace(choke.core, ring=ring))) >= wanted:
            return stack
    return None
