# SPDX-License-Identifier: GPL-3.0-or-later
"""Water through a tube: printed properties, friction and heat transfer written out, the dry copper's energy balance."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.physics.water import (
    dry_time,
    saturation_temperature,
    tube_coefficient,
    tube_mass,
    tube_pressure_drop,
    water_properties,
)
from tests.support.book import CLOSED, INDEPENDENT, MEMORY, known

PRINTED = [  # °C, kg/m3, Pa*s, W/(m*K); steam tables at 0.1 MPa (memory)
    (20.0, 998.21, 1.0016e-3, 0.598),
    (25.0, 997.05, 0.8900e-3, 0.607),
    (60.0, 983.20, 0.4660e-3, 0.651),
    (80.0, 971.79, 0.3543e-3, 0.667),
]

SATURATION = [  # MPa, K; check values of IAPWS-IF97, table 36 (memory)
    (0.1, 372.755919),
    (1.0, 453.035632),
    (10.0, 584.149488),
]


@pytest.mark.parametrize(("celsius", "density", "viscosity", "conductivity"), PRINTED)
def test_properties_are_those_of_the_steam_tables(celsius: float, density: float, viscosity: float, conductivity: float) -> None:
    water = water_properties(celsius)
    what, tables = f"water at {celsius} °C", "steam tables at 0.1 MPa"
    assert water.density == known(density, f"{what}: density", tables, MEMORY, unit="kg/m3", rel=1e-4)
    assert water.viscosity == known(viscosity, f"{what}: viscosity", tables, MEMORY, unit="Pa s", rel=3e-3)
    assert water.conductivity == known(conductivity, f"{what}: conductivity", tables, MEMORY, unit="W/(m K)", rel=3e-3)
    assert water.prandtl == pytest.approx(water.viscosity * water.specific_heat / water.conductivity)


@pytest.mark.parametrize(("pressure", "kelvin"), SATURATION)
def test_it_boils_where_the_tables_say(pressure: float, kelvin: float) -> None:
    assert saturation_temperature(pressure * 1e6) + 273.15 == known(
        kelvin, f"water boils at {pressure} MPa", "IAPWS-IF97, table 36", MEMORY, unit="K", abs=1e-5
    )


def test_at_standard_pressure_it_boils_at_a_hundred_degrees() -> None:
    assert saturation_temperature(101325.0) == known(
        99.974, "water boils at 101325 Pa", "IAPWS-IF97, table 36", MEMORY, unit="°C", abs=1e-3
    )


def test_beyond_liquid_water_no_pressure_is_taken() -> None:
    for pressure in (100.0, 3e7):
        with pytest.raises(InputError):
            saturation_temperature(pressure)


def reynolds(flow: float, bore: float, celsius: float) -> float:
    water = water_properties(celsius)
    return flow / (math.pi / 4 * bore**2) * bore * water.density / water.viscosity


def test_slow_water_in_a_straight_tube_follows_hagen_and_poiseuille() -> None:
    flow, bore, length = 0.2e-3 / 60, 4e-3, 2.0
    assert reynolds(flow, bore, 20.0) < 2000
    expected = 128 * water_properties(20.0).viscosity * length * flow / (math.pi * bore**4)
    assert tube_pressure_drop(flow, bore, length, 20.0) == known(
        expected, "pressure drop of slow water", "Hagen & Poiseuille", CLOSED, unit="Pa", rel=1e-9
    )


@pytest.mark.parametrize("litres", [1.5, 3.0, 6.0, 12.0])
def test_fast_water_in_a_smooth_straight_tube_follows_blasius(litres: float) -> None:
    """0.3164/Re^0.25, 4000 to 1e5, within 5 % of measurements; a drawn tube of 8 mm is nearly smooth."""
    flow, bore, length = litres * 1e-3 / 60, 8e-3, 3.0
    number, speed = reynolds(flow, bore, 30.0), flow / (math.pi / 4 * bore**2)
    assert 4e3 < number < 1e5
    expected = 0.3164 / number**0.25 * length / bore * water_properties(30.0).density * speed**2 / 2
    assert tube_pressure_drop(flow, bore, length, 30.0) == known(
        expected, f"pressure drop of {litres} l/min through 8 mm", "Blasius", MEMORY, unit="Pa", rel=0.05
    )


def test_a_wound_tube_stays_laminar_for_longer_and_costs_more() -> None:
    """Schmidt: 1 + 0.14 (d/D)^0.97 Re^(1 - 0.644 (d/D)^0.312) on the laminar factor."""
    flow, bore, bend = 0.4e-3 / 60, 4e-3, 50e-3
    number, curve = reynolds(flow, bore, 30.0), bore / bend
    factor = 1 + 0.14 * curve**0.97 * number ** (1 - 0.644 * curve**0.312)
    straight = 128 * water_properties(30.0).viscosity * flow / (math.pi * bore**4)
    assert 2300 < number < 2300 * (1 + 8.6 * curve**0.45)
    assert tube_pressure_drop(flow, bore, 1.0, 30.0, bend) == known(
        straight * factor, "pressure drop of a wound tube, laminar", "Schmidt", MEMORY, unit="Pa", rel=1e-6
    )


def test_laminar_heat_transfer_of_a_straight_tube() -> None:
    assert tube_coefficient(0.2e-3 / 60, 4e-3, 20.0) == known(
        3.66 * water_properties(20.0).conductivity / 4e-3,
        "laminar heat transfer in a tube",
        "Nu = 3.66",
        MEMORY,
        unit="W/(m2 K)",
        rel=1e-3,
    )


def test_turbulent_heat_transfer_follows_gnielinski() -> None:
    flow, bore = 4e-3 / 60, 6e-3
    water, number = water_properties(40.0), reynolds(flow, bore, 40.0)
    friction = (0.79 * math.log(number) - 1.64) ** -2  # Petukhov, smooth
    top = friction / 8 * (number - 1000) * water.prandtl
    nusselt = top / (1 + 12.7 * math.sqrt(friction / 8) * (water.prandtl ** (2 / 3) - 1))
    assert tube_coefficient(flow, bore, 40.0) == known(
        nusselt * water.conductivity / bore,
        "turbulent heat transfer in a tube",
        "Gnielinski, Petukhov",
        MEMORY,
        unit="W/(m2 K)",
        rel=0.03,
    )


def test_a_wound_tube_carries_off_more_heat_at_any_flow() -> None:
    for litres in (0.3, 0.6, 1.0, 1.4, 2.0, 4.0):
        assert tube_coefficient(litres / 6e4, 4e-3, 30.0, 50e-3) > tube_coefficient(litres / 6e4, 4e-3, 30.0)


def test_the_dry_tubes_time_is_that_of_its_energy_balance() -> None:
    """m c dT/dt = P (1 + a (T - 20))/(1 + a (T0 - 20)), integrated in small steps."""
    power, mass, start, end = 250.0, 0.2, 35.0, 150.0
    temperatures = np.linspace(start, end, 20001)
    heating = power * (1 + 3.93e-3 * (temperatures - 20)) / (1 + 3.93e-3 * (start - 20))
    expected = np.trapezoid(mass * 385.0 / heating, temperatures)
    assert dry_time(power, mass, start, end) == known(
        expected, "time to 150 °C of a tube that ran dry", "energy balance in small steps", INDEPENDENT, unit="s", rel=1e-6
    )


def test_a_dry_tube_without_power_lasts_for_ever_and_a_hot_one_no_time() -> None:
    assert dry_time(0.0, 0.2, 35.0, 150.0) == math.inf
    assert dry_time(100.0, 0.2, 160.0, 150.0) == 0.0


def test_the_mass_of_a_tube() -> None:
    assert tube_mass(6e-3, 4e-3, 1.6) == pytest.approx(math.pi * 5e-3 * 1e-3 * 1.6 * 8890, rel=1e-12)


def test_what_is_not_a_tube_is_refused() -> None:
    with pytest.raises(InputError):
        tube_pressure_drop(1e-5, 0.0, 1.0, 20.0)
    with pytest.raises(InputError):
        tube_coefficient(0.0, 4e-3, 20.0)
    assert tube_pressure_drop(0.0, 4e-3, 1.0, 20.0) == 0.0
