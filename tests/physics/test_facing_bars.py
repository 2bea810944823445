# SPDX-License-Identifier: GPL-3.0-or-later
"""Two facing bars against a numerical solution of the plane field (tests/support/bars_field.py) and closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.physics.bars import facing_bars_impedance, facing_bars_inductance
from tests.support.bars_field import MU_0, surface_currents
from tests.support.book import INDEPENDENT, known

RHO = 1.724e-8
SHAPES = [  # width, thickness, spacing [mm]
    (20, 2, 30),
    (20, 2, 5),
    (10, 3, 30),
    (30, 2, 2),
    (5, 2, 40),
    (20, 10, 10),
    (20, 10, 30),
    (10, 10, 10),
    (20, 3, 1),
    (50, 10, 2),
    (25, 2, 70),
]


@pytest.mark.parametrize("width, thickness, spacing", SHAPES)
def test_inductance_agrees_with_the_field(width: float, thickness: float, spacing: float) -> None:
    found = facing_bars_inductance(0.04, 1e-3 * width, 1e-3 * thickness, 1e-3 * spacing)
    wanted = surface_currents(1e-3 * width, 1e-3 * thickness, 1e-3 * spacing)[0]
    what = f"facing bars {width} by {thickness} mm, {spacing} mm apart: inductance per length"
    assert found / 0.04 == known(wanted, what, "surface currents of the field", INDEPENDENT, unit="H/m", rel=0.012)


@pytest.mark.parametrize("width, thickness, spacing", SHAPES)
def test_resistance_of_thick_bars_agrees_with_the_field(width: float, thickness: float, spacing: float) -> None:
    frequency = 4e6
    depth = np.sqrt(RHO / (np.pi * frequency * MU_0))
    assert depth < 1e-3 * thickness / 4
    impedance = facing_bars_impedance(0.03, 1e-3 * width, 1e-3 * thickness, 1e-3 * spacing, RHO, frequency)
    share = surface_currents(1e-3 * width, 1e-3 * thickness, 1e-3 * spacing, 160)[1]
    wanted = 2 * 0.03 * RHO / depth / (1e-3 * width) * share
    what = f"facing bars {width} by {thickness} mm, {spacing} mm apart: resistance at 4 MHz"
    assert impedance.real == known(wanted, what, "surface currents of the field", INDEPENDENT, unit="ohm", rel=0.04)


def test_the_field_itself_is_that_of_thin_round_wires_far_apart() -> None:
    """A square of side a carries its current as a round wire of radius 0.5902 a (Gamma(1/4)^2/(4 pi^(3/2)); conformal radius)."""
    side, spacing = 1e-3, 0.5
    wires = MU_0 / np.pi * np.log((spacing + side) / (0.5901702995 * side))
    assert surface_currents(side, side, spacing)[0] == pytest.approx(wires, rel=1e-3)


def test_wide_bars_close_together_are_a_plate_line() -> None:
    """mu0 s/w, from which the fringe takes a little."""
    ratio = facing_bars_inductance(1.0, 0.5, 1e-4, 1e-3) / (MU_0 * 1e-3 / 0.5)
    assert 0.97 < ratio < 1.0


def test_at_low_frequency_the_resistance_is_the_direct_one_and_never_less() -> None:
    bars = (0.04, 20e-3, 1e-3, 30e-3, RHO)
    direct = 2 * RHO * 0.04 / (20e-3 * 1e-3)
    assert facing_bars_impedance(*bars, 50.0).real == pytest.approx(direct, rel=1e-9)
    found = [facing_bars_impedance(*bars, f).real for f in np.geomspace(50, 1e7, 40)]
    assert np.all(np.diff(found) >= 0) and found[0] == pytest.approx(direct)


@pytest.mark.parametrize("frequency", [50.0, 1e3, 3e4, 1e5, 1e7])
def test_inner_inductance_is_added_and_bounded(frequency: float) -> None:
    bars = (0.04, 20e-3, 1e-3, 30e-3)
    inner = facing_bars_impedance(*bars, RHO, frequency).imag / (2 * np.pi * frequency) - facing_bars_inductance(*bars)
    assert 0 < inner <= 2 / 3 * MU_0 * 0.04 * 1 / 20 * (1 + 1e-6)


@pytest.mark.parametrize("thickness, spacing", [(11e-3, 30e-3), (6e-3, 1e-3)])
def test_bars_too_thick_for_the_formula_are_refused(thickness: float, spacing: float) -> None:
    with pytest.raises(InputError, match="too thick"):
        facing_bars_inductance(0.04, 10e-3, thickness, spacing)
