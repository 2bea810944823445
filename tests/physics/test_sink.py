# SPDX-License-Identifier: GPL-3.0-or-later
"""Layers, sinks in moving air, plates."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.physics.sink import layer_resistance, moving_air_conductance, plate_heat
from tests.support.book import INDEPENDENT, known


def test_a_layer_by_hand() -> None:
    """0.2 mm of 0.8 W/(m*K) over 1.6 cm2: 0.2e-3/(0.8*1.6e-4) = 1.5625 K/W."""
    assert layer_resistance(0.2e-3, 0.8, 1.6e-4) == pytest.approx(1.5625)
    with pytest.raises(InputError):
        layer_resistance(0.2e-3, 0.0, 1.6e-4)


def test_moving_air_helps_with_a_power_of_its_speed_and_never_hinders() -> None:
    assert moving_air_conductance(0.25, 1.0, 3.0, 3.0) == 1.0
    assert moving_air_conductance(0.25, 1.0, 3.0, 1.5) == pytest.approx(math.sqrt(0.5))
    assert moving_air_conductance(0.25, 1.0, 3.0, 6.0, 0.8) == pytest.approx(2**0.8)
    assert moving_air_conductance(0.25, 1.0, 3.0, 0.0) == 0.25


def vertical(height: float, surface: float, ambient: float) -> float:
    """Churchill & Chu 1975 for a vertical plate, written anew, air after Sutherland (White): W/(m2*K)."""
    film = (surface + ambient) / 2 + 273.15
    mu = 1.716e-5 * (film / 273) ** 1.5 * 384 / (film + 111)
    k = 0.0241 * (film / 273) ** 1.5 * 467 / (film + 194)
    nu = mu / (101325 / (287.05 * film))
    prandtl = mu * 1006 / k
    rayleigh = 9.80665 / film * (surface - ambient) * height**3 / nu**2 * prandtl
    nusselt = (0.825 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)) ** 2
    return nusselt * k / height


def test_a_thick_plate_is_convection_and_radiation_of_both_faces() -> None:
    """So thick that it is equally warm: written from the correlation and Stefan-Boltzmann's law."""
    width, height, thickness, hot, cold, grey = 0.12, 0.1, 0.02, 85.0, 25.0, 0.85
    film = vertical(height, hot, cold) + 5.670374419e-8 * grey * ((hot + 273.15) ** 4 - (cold + 273.15) ** 4) / (hot - cold)
    expected = film * 2 * (width + thickness) * height * (hot - cold)
    assert plate_heat(width, height, thickness, 200.0, hot, cold, 0.0, grey) == known(
        expected, "heat from a thick upright plate", "Churchill & Chu 1975 written anew", INDEPENDENT, unit="W", rel=0.02
    )


def test_a_thin_plate_is_a_fin_against_its_differential_equation() -> None:
    """k A T'' = h P (T - Ta) from the middle to an insulated edge, by finite differences."""
    width, height, thickness, hot, cold = 0.2, 0.3, 0.5e-3, 95.0, 20.0
    thick = plate_heat(width, height, 1.0, 1e9, hot, cold, 2.0)
    film = thick / (2 * (width + 1.0) * height * (hot - cold))
    nodes, half = 2000, height / 2
    step, side = half / nodes, film * 2 * (width + thickness) / (200.0 * width * thickness)
    main = np.full(nodes, 2.0 + side * step**2)
    main[-1] = 1.0 + side * step**2 / 2
    upper, lower = np.full(nodes - 1, -1.0), np.full(nodes - 1, -1.0)
    rise = np.linalg.solve(np.diag(main) + np.diag(upper, 1) + np.diag(lower, -1), np.append(hot - cold, np.zeros(nodes - 1)))
    flow = 2 * 200.0 * width * thickness * ((hot - cold) - rise[0]) / step
    flow += 2 * film * 2 * (width + thickness) * step / 2 * (hot - cold)
    assert plate_heat(width, height, thickness, 200.0, hot, cold, 2.0) == known(
        flow, "heat from a thin plate as a fin", "finite differences", INDEPENDENT, unit="W", rel=2e-3
    )


def test_a_plate_no_warmer_than_the_air_gives_nothing_off() -> None:
    assert plate_heat(0.1, 0.1, 2e-3, 200.0, 25.0, 25.0) == 0.0
