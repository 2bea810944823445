# SPDX-License-Identifier: GPL-3.0-or-later
"""A bar that faces its return against a numerical solution of the plane field (tests/support/bars_field.py)."""

from __future__ import annotations

import pytest

from heatsim.parts.section import Bar
from tests.support.bars_field import surface_currents

THICK_AND_THIN = [  # width, thickness, gap [mm]; by how much it is off at most
    (8, 0.07, 1.6, 0.002),
    (20, 2, 1, 0.01),
    (5, 2, 5, 0.01),
    (20, 10, 1, 0.02),
    (10, 10, 0.5, 0.02),
    (2, 6, 1, 0.12),
]


@pytest.mark.parametrize("width, thickness, gap, off", THICK_AND_THIN)
def test_a_facing_bars_inductance_is_half_of_the_loops(width: float, thickness: float, gap: float, off: float) -> None:
    """Thicker than five gaps too, beyond the range of the formula."""
    loop, _ = surface_currents(1e-3 * width, 1e-3 * thickness, 1e-3 * gap)
    assert Bar(1e-3 * width, 1e-3 * thickness, 1e-3 * gap).inductance(0.1) == pytest.approx(0.1 * loop / 2, rel=off)
