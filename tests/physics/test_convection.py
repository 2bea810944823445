# SPDX-License-Identifier: GPL-3.0-or-later
"""Heat given off by a wound ring: the libraries' correlations against printed values, and the ring put together from them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.physics import convection as cv
from heatsim.physics import heat
from heatsim.physics.ringcore import RingSize, ring_surface
from tests.support import references_heating as ref
from tests.support.book import MEMORY, known, listed

RING = RingSize(45e-3, 18e-3, 22e-3)


@pytest.mark.parametrize(
    ("celsius", "conductivity", "viscosity", "prandtl"),
    # Incropera & DeWitt, table A.4, air at 300, 350 and 400 K (memory); 2 % for a standard atmosphere and constant cp.
    [(26.85, 26.3e-3, 15.89e-6, 0.707), (76.85, 30.0e-3, 20.92e-6, 0.700), (126.85, 33.8e-3, 26.41e-6, 0.690)],
)
def test_air_against_the_handbook(celsius: float, conductivity: float, viscosity: float, prandtl: float) -> None:
    air = cv.film_air(celsius)
    named = (
        ("conductivity", "W/(m K)", conductivity),
        ("kinematic viscosity", "m2/s", viscosity),
        ("Prandtl number", "1", prandtl),
    )
    for found, (name, unit, wanted) in zip(air, named, strict=True):
        assert found == known(wanted, f"air at {celsius} °C: {name}", "Incropera, Table A.4", MEMORY, unit=unit, rel=0.025)


@pytest.mark.parametrize("celsius", [0.0, 25.0, 80.0, 150.0])
def test_air_of_the_library_agrees_with_our_own(celsius: float) -> None:
    ours = heat.air_properties(celsius)
    found = cv.film_air(celsius)
    assert (found.conductivity, found.viscosity) == pytest.approx((ours.conductivity, ours.viscosity), rel=0.02)


@pytest.mark.parametrize("row", ref.CHURCHILL_CHU)  # Churchill & Chu 1975, evaluated in the reference file
def test_library_gives_the_published_cylinder(row: tuple) -> None:
    from ht import Nu_horizontal_cylinder_Churchill_Chu

    rayleigh, prandtl, *_ = row
    assert Nu_horizontal_cylinder_Churchill_Chu(prandtl, rayleigh / prandtl) == listed("CHURCHILL_CHU", "nusselt", row)


def test_mantle_agrees_with_our_own_correlation() -> None:
    """Same equation, other air: within 2 %."""
    assert cv.mantle_coefficient(0.05, 85.0, 25.0) == pytest.approx(heat.natural_convection(0.05, 85.0, 25.0), rel=0.02)


@pytest.mark.parametrize("row", ref.RADIATION)  # Stefan-Boltzmann, reference file section 10
def test_radiation_alone(row: tuple) -> None:
    hot, cold, emissivity, *_ = row
    flow = cv.ring_heat_flow(RING, hot - 273.15, cold - 273.15, emissivity=emissivity)
    hull = math.pi * 45e-3 * 22e-3 + math.pi / 2 * 45e-3**2
    assert flow.radiation / hull == listed("RADIATION", "flux", row)


def test_disc_facing_up_against_a_hand_calculation() -> None:
    """Disc of 80 mm at 75 °C in air of 25 °C, facing up. By hand, with tabled air at 323 K (Incropera A.4, memory): nu
    18.2e-6, k 28.0e-3, Pr 0.704; L = 20 mm; Gr = 9.81*50*8e-6/(323*3.31e-10) = 3.67e4, Ra = 2.58e4;
    Nu = 0.54*(2.58e4)^0.25 = 6.84 (McAdams; Incropera, eq. 9.30); h = 6.84*0.028/0.02 = 9.58."""
    assert cv.plate_coefficient(80e-3, 75.0, 25.0, upwards=True) == known(
        9.58, "disc of 80 mm facing up, 50 K", "McAdams; Incropera, eq. 9.30", MEMORY, unit="W/(m2 K)", rel=0.02
    )


def test_a_face_down_keeps_its_heat_better_and_a_cold_one_swaps_sides() -> None:
    up, down = (cv.plate_coefficient(0.05, 80.0, 20.0, upwards) for upwards in (True, False))
    assert down < up
    assert cv.plate_coefficient(0.05, 20.0, 80.0, upwards=False) == pytest.approx(up, rel=1e-12)


def test_crossflow_against_the_printed_example() -> None:
    """Incropera & DeWitt, example 7.4 (memory): a cylinder of 12.7 mm across air of 10 m/s, surface 128.4 °C, air 26.2 °C;
    with air at the film temperature of 350 K Re = 6071, Nu = 40.6, h = 96 W/(m2*K)."""
    mantle, _ = cv.forced_coefficients(12.7e-3, 10.0, 77.3)
    assert mantle == known(96.0, "cylinder across 10 m/s of air", "Incropera, example 7.4", MEMORY, unit="W/(m2 K)", rel=0.02)


def test_face_along_the_wind_by_hand() -> None:
    """Laminar flat plate, Nu = 0.664 Re^0.5 Pr^(1/3) (Pohlhausen): 50 mm, 2 m/s, 50 °C: nu 18.2e-6, k 28.0e-3, Pr 0.704,
    Re = 5495, Nu = 0.664*74.1*0.890 = 43.8, h = 24.5."""
    assert cv.forced_coefficients(50e-3, 2.0, 50.0)[1] == known(
        24.5, "flat plate of 50 mm along 2 m/s", "Pohlhausen, by hand", MEMORY, unit="W/(m2 K)", rel=0.02
    )


def test_still_air_forces_nothing() -> None:
    assert cv.forced_coefficients(0.05, 0.0, 50.0) == (0.0, 0.0)
    assert cv.ring_heat_flow(RING, 80.0, 25.0, speed=0.0) == cv.ring_heat_flow(RING, 80.0, 25.0)


def test_mixed_is_the_larger_when_the_other_is_nil() -> None:
    assert cv.mixed(7.0, 0.0) == pytest.approx(7.0)
    assert cv.mixed(7.0, 7.0) == pytest.approx(7.0 * 2 ** (1 / 3))


def test_no_difference_no_heat_and_heat_grows_with_difference_speed_and_size() -> None:
    assert cv.ring_heat_flow(RING, 25.0, 25.0).total == pytest.approx(0.0, abs=1e-12)
    flows = [cv.ring_heat_flow(RING, celsius, 25.0).total for celsius in (26.0, 40.0, 80.0, 160.0)]
    assert flows == sorted(flows) and flows[0] > 0
    speeds = [cv.ring_heat_flow(RING, 80.0, 25.0, speed).total for speed in (0.0, 0.5, 2.0, 8.0)]
    assert speeds == sorted(speeds)
    larger = RingSize(90e-3, 36e-3, 44e-3)
    assert 3.2 < cv.ring_heat_flow(larger, 80.0, 25.0).total / cv.ring_heat_flow(RING, 80.0, 25.0).total < 4.0


@pytest.mark.parametrize("orientation", ["flat", "standing"])
@pytest.mark.parametrize("rise", [20.0, 40.0, 80.0])
def test_coefficient_is_that_of_bodies_this_size(orientation: str, rise: float) -> None:
    """Natural convection and radiation together: 8 to 18 W/(m2*K) for hand-sized bodies (handbooks, memory)."""
    flow = cv.ring_heat_flow(RING, 25.0 + rise, 25.0, orientation=orientation)  # type: ignore[arg-type]
    assert 8.0 < flow.total / ring_surface(RING) / rise < 18.0


def test_a_colder_choke_takes_heat_up() -> None:
    assert cv.ring_heat_flow(RING, 10.0, 25.0).total < 0


def test_wrong_words_are_refused() -> None:
    with pytest.raises(InputError, match="orientation"):
        cv.ring_heat_flow(RING, 80.0, 25.0, orientation="upside down")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="speed"):
        cv.ring_heat_flow(RING, 80.0, 25.0, speed=-1.0)


def test_a_round_conductor_is_a_horizontal_cylinder() -> None:
    """6 mm, 60 K above 25 °C: Churchill & Chu and sigma eps (T^4 - Ta^4) with air of tables at 55 °C (memory)."""
    conductivity, viscosity, prandtl, kelvin = 0.0283, 18.6e-6, 0.707, 328.15
    rayleigh = 9.81 / kelvin * 60 * 6e-3**3 / viscosity**2 * prandtl
    nusselt = (0.60 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.559 / prandtl) ** (9 / 16)) ** (8 / 27)) ** 2
    expected = nusselt * conductivity / 6e-3 + 0.9 * 5.670374e-8 * (358.15**4 - 298.15**4) / 60
    assert cv.conductor_coefficient(np.pi * 6e-3, 85.0, 25.0, 0.0, 0.9) == known(
        expected, "bar of 6 mm, 60 K above air", "Churchill & Chu 1975, tabled air", MEMORY, unit="W/(m2 K)", rel=0.02
    )


def test_wind_cools_a_conductor_and_a_thin_one_cools_better() -> None:
    still, windy = (cv.conductor_coefficient(0.05, 80.0, 25.0, speed, 0.2) for speed in (0.0, 3.0))
    assert windy > 3 * still
    assert cv.conductor_coefficient(5e-3, 80.0, 25.0, 0.0, 0.2) > 1.5 * still
