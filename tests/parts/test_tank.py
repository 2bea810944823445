# SPDX-License-Identifier: GPL-3.0-or-later
"""The branch that stands for a workpiece, against the impedance of coupled windings."""

import math
from dataclasses import replace

import numpy as np
import pytest

from heatsim.parts.tank import LEAST_RATIO, WorkCoil, Workpiece, coupled_branch

COIL = WorkCoil(2.0e-6, 0.02, 0.0, 0.0)
FREQUENCY = 90e3


def seen(piece: Workpiece, frequency: float) -> complex:
    """Impedance of the coil: r0 + j w L1 + (w M)^2/(R2 + j w L2)."""
    branch, w = coupled_branch(COIL, piece, FREQUENCY), 2 * math.pi * frequency
    mutual = branch.coupling * math.sqrt(branch.primary * branch.secondary)
    return COIL.resistance + 1j * w * branch.primary + (w * mutual) ** 2 / (branch.resistance + 1j * w * branch.secondary)


@pytest.mark.parametrize("factor", [0.3, 0.8, 1.0, 1.5, 4.0])
@pytest.mark.parametrize("piece", [Workpiece(1.6e-6, 0.11, "measured"), Workpiece(2.1e-6, 0.11, "measured")])
def test_a_branch_meets_the_meter_whatever_its_own_ratio(factor: float, piece: Workpiece) -> None:
    changed = replace(piece, branch_factor=factor)
    assert seen(changed, FREQUENCY) == pytest.approx(piece.resistance + 2j * math.pi * FREQUENCY * piece.inductance, rel=1e-12)


def test_the_ratio_decides_what_harmonics_see() -> None:
    """R(n) = r0 + dR n^2 (1 + x^2)/(1 + n^2 x^2): the smaller the ratio x, the more resistance at the third."""
    piece = Workpiece(1.6e-6, 0.11, "measured")
    x = 2 * math.pi * FREQUENCY * 0.4e-6 / 0.09
    for factor in (0.6, 1.0, 2.0):
        y = factor * x
        wanted = COIL.resistance + 0.09 * 9 * (1 + y**2) / (1 + 9 * y**2)
        assert seen(replace(piece, branch_factor=factor), 3 * FREQUENCY).real == pytest.approx(wanted, rel=1e-12)
    least = coupled_branch(COIL, replace(piece, branch_factor=1e-3), FREQUENCY)
    assert 2 * np.pi * FREQUENCY * least.secondary / least.resistance == pytest.approx(LEAST_RATIO)
