# SPDX-License-Identifier: GPL-3.0-or-later
"""Bars and strips: skin effect between its limits and against filaments, inductance against Neumann's double integral."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.physics.bars import bar_inductance, rectangle_crowded_ratio, rectangle_resistance_ratio, wire_inductance
from heatsim.physics.conductor import slab_resistance_ratio
from tests.support.bar_filaments import bar_ratio
from tests.support.book import CLOSED, INDEPENDENT, known


@pytest.mark.parametrize("shape", [(10.0, 10.0), (20.0, 2.0), (30.0, 0.07)])
def test_without_frequency_it_is_the_direct_resistance(shape: tuple[float, float]) -> None:
    assert rectangle_resistance_ratio(*shape, np.inf) == pytest.approx(1.0, abs=1e-12)
    assert rectangle_resistance_ratio(*shape, 100.0 * shape[0]) == pytest.approx(1.0, abs=1e-6)


def test_a_thick_strip_has_its_current_in_a_skin_on_each_face() -> None:
    """rho/(2 w delta), 1/(2 delta) of thickness a side, were it even; a lone strip crowds to its edges and has more, by the ratio
    of the exact crowded limit to that."""
    width, thickness, delta = 100.0, 1.0, 0.02
    even = thickness / (2 * delta)
    assert slab_resistance_ratio(thickness / (2 * delta)) == pytest.approx(even, rel=1e-9)
    ratio = rectangle_resistance_ratio(width, thickness, delta)
    crowded = rectangle_crowded_ratio(width, thickness) * thickness / delta
    assert ratio == known(crowded, "AC over DC resistance of a strip in thin skin", "limit: exact crowding", CLOSED, rel=1e-3)
    assert even < ratio < 2.5 * even


def test_a_strip_facing_its_return_has_all_its_current_on_that_face() -> None:
    assert slab_resistance_ratio(3.0 / 0.2) == pytest.approx(3.0 / 0.2, rel=1e-9)


def test_the_square_crowds_by_four_over_pi() -> None:
    """Against an even skin round its circumference, 1/4; from K and E of the lemniscate, Legendre's relation."""
    assert rectangle_crowded_ratio(1.0, 1.0) == known(
        0.25 * 4 / math.pi, "crowding in a square bar", "lemniscate, Legendre's relation", CLOSED, rel=1e-9
    )


def test_a_very_thin_strip_goes_with_the_logarithm_of_its_shape() -> None:
    """(2/pi^2)(pi/2 + ln(4/sqrt(m))), m = 4 t/(pi w): the limits of K and E."""
    shape = 1e-6
    expected = 2 / math.pi**2 * (math.pi / 2 + math.log(4 / math.sqrt(4 * shape / math.pi)))
    assert rectangle_crowded_ratio(1.0, shape) == known(
        expected, "crowding in a very thin strip", "limits of K and E", CLOSED, rel=1e-5
    )


@pytest.mark.parametrize("shape", [(10, 10), (10, 5), (10, 2), (20, 1), (30, 0.3), (10, 0.07), (30, 0.07)])
@pytest.mark.parametrize("depths", [0.3, 0.5, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0])
def test_it_agrees_with_filaments(shape: tuple[float, float], depths: float) -> None:
    found = float(rectangle_resistance_ratio(*shape, shape[1] / depths)) / bar_ratio(*shape, shape[1] / depths)
    what = f"resistance of a bar {shape[0]} by {shape[1]}, {depths} skin depths, over filaments (0.96 to 1.08)"
    assert found == known(1.02, what, "filaments", INDEPENDENT, abs=0.06)


def test_sides_may_be_swapped() -> None:
    assert rectangle_resistance_ratio(3.0, 20.0, 0.5) == rectangle_resistance_ratio(20.0, 3.0, 0.5)


NEUMANN = "Neumann's integral at the geometric mean distance"


def _neumann(length: float, distance: float) -> float:
    """Mutual inductance of two parallel filaments, from the double integral of 1/r in closed form."""
    ratio = length / distance
    return 4e-7 * math.pi * length / (2 * math.pi) * (math.asinh(ratio) - math.hypot(1, 1 / ratio) + 1 / ratio)


def test_the_wires_inductance_is_the_mutual_one_at_its_geometric_mean_distance() -> None:
    """Even current: GMD of a disc r exp(-1/4); at the surface: r. The formula is the series for slim wires."""
    length, radius = 0.5, 1e-3
    even, skin = _neumann(length, radius * math.exp(-0.25)), _neumann(length, radius)
    assert wire_inductance(length, radius) == known(even, "straight wire, even current", NEUMANN, CLOSED, unit="H", rel=2e-3)
    assert wire_inductance(length, radius, 0.0) == known(skin, "straight wire, skin current", NEUMANN, CLOSED, unit="H", rel=2e-3)


def test_the_bars_inductance_is_the_mutual_one_at_its_geometric_mean_distance() -> None:
    """GMD of a rectangle is 0.2235 (w + t), within 0.3 %."""
    length, width, thickness = 0.4, 30e-3, 3e-3
    wanted = _neumann(length, 0.2235 * (width + thickness))
    assert bar_inductance(length, width, thickness) == known(wanted, "straight flat bar", NEUMANN, CLOSED, unit="H", rel=2e-2)


def test_what_has_no_size_is_refused() -> None:
    for call in (
        lambda: rectangle_crowded_ratio(0.0, 1.0),
        lambda: bar_inductance(0.1, -1.0, 1.0),
        lambda: wire_inductance(1, 0.0),
    ):
        with pytest.raises(InputError):
            call()
