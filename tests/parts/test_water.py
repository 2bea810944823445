# SPDX-License-Identifier: GPL-3.0-or-later
"""The coil's water: energy balance, pump, radiator, wall and dry time, each by its own short sum."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from heatsim.parts.water import MOST, WaterCircuit
from heatsim.physics.water import tube_coefficient, tube_pressure_drop, water_properties

CIRCUIT = WaterCircuit(
    flow=1.5e-3 / 60,
    pump=None,
    inlet=20.0,
    radiator=None,
    outer=6e-3,
    bore=4e-3,
    length=1.6,
    bend=50e-3,
    hose_bore=8e-3,
    hose_length=3.0,
    fittings=3.0,
    outlet_pressure=101325.0,
    wanted_rise=10.0,
    outlet_limit=60.0,
    dry_temperature=150.0,
    workpiece_share=0.1,
    hottest_flux=2.0,
    ambient=25.0,
)


def test_the_water_takes_up_the_heat() -> None:
    """P = rho Q c dT; 1 kW warms 1.5 l/min by 9.6 K."""
    found = CIRCUIT.circulation(1000.0)
    assert found.inlet == pytest.approx(20.0) and found.outlet - found.inlet == pytest.approx(
        1000 / (0.998 * 0.025 * 4190), rel=2e-3
    )
    mean = water_properties((found.inlet + found.outlet) / 2)
    assert found.heat == pytest.approx(mean.density * CIRCUIT.flow * mean.specific_heat * (found.outlet - found.inlet), rel=1e-9)


def test_the_flow_for_the_rise_wanted_gives_it() -> None:
    found = replace(CIRCUIT, flow=CIRCUIT.circulation(1000.0).flow_wanted).circulation(1000.0)
    assert found.outlet - found.inlet == pytest.approx(10.0, rel=2e-3)


def test_the_radiator_settles_the_mean_of_the_water() -> None:
    found = replace(CIRCUIT, inlet=None, radiator=0.03).circulation(800.0)
    assert (found.inlet + found.outlet) / 2 == pytest.approx(25.0 + 0.03 * 800.0, abs=1e-6)


def test_a_pump_of_a_pressure_gives_the_flow_that_uses_it_up() -> None:
    found = replace(CIRCUIT, flow=None, pump=0.5e5).circulation(500.0)
    middle = (found.inlet + found.outlet) / 2
    speed = found.flow / (math.pi / 4 * 4e-3**2)
    parts = (
        tube_pressure_drop(found.flow, 4e-3, 1.6, middle, 50e-3),
        tube_pressure_drop(found.flow, 8e-3, 3.0, middle),
        3.0 * water_properties(middle).density * speed**2 / 2,
    )
    assert sum(parts) == pytest.approx(0.5e5, rel=1e-4) and found.drop == pytest.approx(0.5e5, rel=1e-4)


def test_a_pump_without_resistance_is_bounded() -> None:
    wide = replace(CIRCUIT, flow=None, pump=5e6, bore=0.05, hose_bore=0.05, outer=0.06)
    assert wide.circulation(500.0).flow == MOST


def test_the_hottest_wall_lies_above_the_outlet_by_film_and_copper() -> None:
    found = CIRCUIT.circulation(1000.0)
    flux = 2.0 * 1000.0 / (math.pi * 4e-3 * 1.6)
    film = tube_coefficient(CIRCUIT.flow, 4e-3, (found.inlet + found.outlet) / 2, 50e-3)
    assert found.wall - found.outlet == pytest.approx(flux / film + flux * 1e-3 / 390.0, rel=1e-6)
    assert replace(CIRCUIT, outer=None).circulation(1000.0).wall < found.wall


def test_pressure_at_the_outlet_raises_boiling() -> None:
    assert CIRCUIT.circulation(1.0).boiling == pytest.approx(99.97, abs=0.01)
    assert replace(CIRCUIT, outlet_pressure=2e5).circulation(1.0).boiling == pytest.approx(120.21, abs=0.01)


def test_a_dry_tube_is_told_where_it_is_known() -> None:
    found = CIRCUIT.circulation(300.0)
    start, slope = (found.inlet + found.outlet) / 2, 3.93e-3
    mass = 8890 * math.pi / 4 * (6e-3**2 - 4e-3**2) * 1.6
    relative = slope / (1 + slope * (start - 20))
    assert found.dry == pytest.approx(mass * 385 / (relative * 300) * math.log(1 + relative * (150 - start)), rel=1e-9)
    assert replace(CIRCUIT, outer=None).circulation(300.0).dry is None
    assert CIRCUIT.circulation(0.0).dry is None
