# SPDX-License-Identifier: GPL-3.0-or-later
"""What to change, computed: the supply voltage, the stack of rings or the count of parts at which a limit would hold.

A choke at another supply voltage or on another stack is judged by scaling the simulated case, not by a new run: its
mean current goes with the supply voltage (the tank is linear), its flux swing with supply voltage over frequency and
not with the choke at all. That is an estimate, within some 5 % of a new simulation (a test checks it).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from heatsim.parts.choke import Choke, wound_curve
from heatsim.parts.curves import Curve, GappedCurve


@dataclass(frozen=True)
class Excursion:
    """Where a choke works: mean current [A] and the highest flux linkage over that of the mean current [Wb]."""

    mean_current: float
    flux_above: float

    def peak_current(self, curve: Curve, scale: float = 1.0) -> float:
        """Peak current [A] on `curve` at `scale` times the supply voltage."""
        mean = self.mean_current * scale
        return float(curve.current(float(curve.flux(mean)) + self.flux_above * scale))

    def remaining(self, curve: Curve, scale: float = 1.0) -> float:
        """Share of the zero-current inductance left at that peak."""
        return float(curve.inductance(self.peak_current(curve, scale))) / curve.inductance_zero


def excursion(curve: Curve, mean_current: float, peak_current: float) -> Excursion:
    """The excursion of a simulated choke."""
    return Excursion(mean_current, float(curve.flux(peak_current)) - float(curve.flux(mean_current)))


def supply_scale(curve: Curve, at: Excursion, wanted_share: float) -> float | None:
    """Factor on the supply voltage, at most 1, at which the choke keeps `wanted_share`; None when even 10 % is too much."""
    if at.remaining(curve, 0.1) < wanted_share:
        return None
    low, high = 0.1, 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if at.remaining(curve, middle) >= wanted_share else (low, middle)
    return low


def stack_needed(choke: Choke, at: Excursion, wanted_share: float) -> int | None:
    """Rings of the same kind under the same turns at which the choke keeps `wanted_share`; None up to four."""
    if choke.core is None:
        return None
    for stack in range(choke.core.ring.stack + 1, 5):
        ring = replace(choke.core.ring, stack=stack)
        if at.remaining(wound_curve(replace(choke.core, ring=ring)), 1.0) >= wanted_share:
            return stack
    return None


def choke_remedy(choke: Choke, at: Excursion, wanted_share: float, voltage: float) -> str:
    """The cheapest way to keep a choke out of saturation, in one sentence."""
    ways = []
    stack = stack_needed(choke, at, wanted_share)
    if stack is not None:
        ways.append(f"put {stack} of these rings under the same turns (estimated)")
    scale = supply_scale(choke.curve, at, wanted_share)
    if scale is not None:
        ways.append(f"keep the supply at or below {math.floor(scale * voltage * 2) / 2:g} V (estimated)")
    if not ways:
        ways.append(
            "take larger rings of lower permeability, or more gap"
            if isinstance(choke.curve, GappedCurve)
            else "take larger rings; four of these under the same turns are still not enough"
        )
    return _sentence(" or ".join(ways))


def scaled_supply(voltage: float, value: float, allowed: float, wanted: float, parts: str) -> str:
    """Remedy for a value that goes with the supply voltage: the voltage that leaves the wanted headroom."""
    fit = voltage * allowed * (1 - wanted) / value
    return f"Keep the supply at or below {math.floor(fit * 2) / 2:g} V, or take {parts}."


def count_needed(count: int, value: float, allowed: float, wanted: float) -> int:
    """How many parallel parts bring a shared current `value` (per part, with `count` of them) inside its limit."""
    return math.ceil(count * value / (allowed * (1 - wanted)) - 1e-9)


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + "."
