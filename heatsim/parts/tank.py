# SPDX-License-Identifier: GPL-3.0-or-later
"""The tank: capacitor bank, work coil with its leads, and the workpiece in it."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class CapacitorBank:
    """`count` equal capacitors in parallel.

    unit: capacitance of one [F]; resistance: series resistance of the bank [ohm]; inductance: of the bank and its
    bars [H]; voltage_rating: peak [V] and current_rating: rms [A] of one capacitor, None where unknown.
    """

    unit: float
    count: int
    resistance: float
    inductance: float
    voltage_rating: float | None
    current_rating: float | None

    @property
    def capacitance(self) -> float:
        """Of the bank [F]."""
        return self.unit * self.count


@dataclass(frozen=True)
class WorkCoil:
    """inductance [H] and resistance [ohm] of the empty coil at working frequency; leads likewise."""

    inductance: float
    resistance: float
    lead_inductance: float
    lead_resistance: float


@dataclass(frozen=True)
class Workpiece:
    """What the coil's terminals see with the workpiece in: inductance [H] and resistance [ohm]; basis of the values."""

    inductance: float
    resistance: float
    basis: str


@dataclass(frozen=True)
class CoupledBranch:
    """A shorted secondary that stands for a workpiece.

    primary: coil inductance to use [H]; secondary [H] and resistance [ohm] of the branch; coupling factor k.
    """

    primary: float
    secondary: float
    resistance: float
    coupling: float


SECONDARY = 1e-6
"""Inductance of the workpiece branch [H]; any value serves, only k and R/L are felt at the coil."""


def coupled_branch(coil: WorkCoil, workpiece: Workpiece, frequency: float) -> CoupledBranch:
    """The branch that makes a coil of (L0, r0) look like (L, r) at `frequency` [Hz].

    A shorted secondary reflects Z = (w k)^2 L1 L2/(R2 + j w L2). With x = w L2/R2 that is a resistance
    w k^2 L1 x/(1+x^2) and an inductance -k^2 L1 x^2/(1+x^2). Two wishes, dR and dL, fix k and x:
    x = -w dL/dR, k^2 = -dL (1+x^2)/(L1 x^2). A magnetic workpiece adds flux as well: when dL is above -dR/w (x < 1)
    the branch is set to x = 1, the ratio of resistance to reactance of a thick conductor, and the flux it adds is put
    into the coil, L1 = L0 + dL + dR/w. Raises ValueError when k would reach 0.98: no workpiece couples so well.
    """
    w = 2 * math.pi * frequency
    added = workpiece.resistance - coil.resistance
    if added <= 0:
        raise ValueError("the coil must have more resistance with the workpiece in than without it")
    change = workpiece.inductance - coil.inductance
    x = max(-w * change / added, 1.0)
    primary = coil.inductance if x > 1 else coil.inductance + change + added / w
    square = added * (1 + x**2) / (w * primary * x)
    if not 0 < square < 0.98**2:
        raise ValueError(f"needs a coupling factor of {math.sqrt(abs(square)):.2f}; at most 0.98 is believable")
    return CoupledBranch(primary, SECONDARY, w * SECONDARY / x, math.sqrt(square))
