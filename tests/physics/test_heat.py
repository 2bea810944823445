# SPDX-License-Identifier: GPL-3.0-or-later
"""Steel, air and heat loss (tests/support/references_heating.py): EN 1993-1-2, Churchill & Chu, worked examples.

STEEL_RHO_T also prints conductivity, mean specific heat and density of the grade GOST 20. The formulas here
for those are EN 1993-1-2's for any carbon steel; they differ from that grade by up to 5 %, so only
resistivity is compared.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.constants import STEFAN_BOLTZMANN
from heatsim.errors import InputError
from heatsim.physics import heat
from tests.support import references_heating as ref
from tests.support.book import INDEPENDENT, MEMORY, known, listed


@pytest.mark.parametrize("row", ref.EN_STEEL)  # EN 1993-1-2:2005 3.4.1
def test_steel(row: tuple) -> None:
    assert heat.steel_specific_heat(row[0]) == listed("EN_STEEL", "c", row)
    assert heat.steel_conductivity(row[0]) == listed("EN_STEEL", "conductivity", row)


@pytest.mark.parametrize("row", ref.EN_ENTHALPY)
def test_steel_enthalpy(row: tuple) -> None:
    assert heat.steel_enthalpy(row[0]) == listed("EN_ENTHALPY", "enthalpy", row)


@pytest.mark.parametrize("upper", [500.0, 650.0, 730.0, 760.0, 880.0, 1100.0])
def test_enthalpy_is_the_integral_of_specific_heat(upper: float) -> None:
    """By Simpson's rule, fine enough for the 5000 J/(kg*K) peak at 735 degC, a piece at a time."""
    from scipy.integrate import simpson

    edges = [20.0, *(t for t in (600.0, 735.0, 900.0) if t < upper), upper]
    total = 0.0
    for start, end in pairwise(edges):
        t = np.linspace(start + 1e-9, end - 1e-9, 20_001)
        total += simpson(heat.steel_specific_heat(t), x=t)
    assert heat.steel_enthalpy(upper) == known(
        total,
        f"enthalpy of steel from 20 to {upper} °C",
        "Simpson's rule over the specific heat",
        INDEPENDENT,
        unit="J/kg",
        rel=1e-7,
    )


@given(st.floats(20.0, 1190.0), st.floats(0.01, 10.0))
def test_enthalpy_rises(temperature: float, step: float) -> None:
    gain = heat.steel_enthalpy(temperature + step) - heat.steel_enthalpy(temperature)
    assert 400.0 * step < gain <= 5000.0 * step * (1 + 1e-9)


@pytest.mark.parametrize("row", ref.STEEL_RHO_T)  # 100, 300 degC published (GOST 20); 20, 600, 800 degC: memory
def test_steel_resistivity(row: tuple) -> None:
    assert heat.steel_resistivity(row[0]) == listed("STEEL_RHO_T", "rho", row)


def test_steel_resistivity_flattens_above_the_curie_point() -> None:
    t = np.linspace(20.0, 1200.0, 500)
    assert np.all(np.diff(heat.steel_resistivity(t)) > 0.0)
    assert 1.1e-6 < heat.steel_resistivity(1000.0) < 1.25e-6


STEEL_NUMBERS = {
    "Curie iron degC": heat.CURIE_IRON_C,
    "emissivity EN 1993-1-2": heat.EMISSIVITY_STEEL_FIRE,
    "emissivity oxidised": heat.EMISSIVITY_STEEL_OXIDISED,
    "sigma_SB": STEFAN_BOLTZMANN,
}


@pytest.mark.parametrize("row", ref.STEEL_CONST)  # memory, but for the Stefan-Boltzmann constant
def test_constants(row: tuple) -> None:
    assert STEEL_NUMBERS[row[0]] == listed("STEEL_CONST", "value", row)


@pytest.mark.parametrize("row", ref.CHURCHILL_CHU)
def test_churchill_chu(row: tuple) -> None:
    assert heat.churchill_chu_horizontal(row[0], row[1]) == listed("CHURCHILL_CHU", "nusselt", row)


@pytest.mark.parametrize("row", ref.CONV_EXAMPLE)  # printed worked example, see its source
def test_printed_convection_example(row: tuple) -> None:
    diameter, surface, ambient, viscosity, prandtl, conductivity, expansion, *_ = row
    grashof = heat.grashof_number(diameter, surface, ambient, viscosity, expansion)
    nusselt = heat.mcadams_horizontal(grashof * prandtl)
    coefficient = nusselt * conductivity / diameter
    assert grashof == listed("CONV_EXAMPLE", "gr", row)
    assert nusselt == listed("CONV_EXAMPLE", "nu", row)
    assert coefficient == listed("CONV_EXAMPLE", "h", row)
    assert coefficient * np.pi * diameter * 4 * (surface - ambient) == listed("CONV_EXAMPLE", "loss", row)


# Air at one atmosphere, 300, 500 and 1000 K: kinematic viscosity, conductivity, Prandtl number; Incropera,
# Table A.4 (memory)
@pytest.mark.parametrize(
    "kelvin, viscosity, conductivity, prandtl",
    [(300, 15.89e-6, 26.3e-3, 0.707), (500, 38.79e-6, 40.7e-3, 0.684), (1000, 121.9e-6, 66.7e-3, 0.726)],
)
def test_air(kelvin: float, viscosity: float, conductivity: float, prandtl: float) -> None:
    ours = heat.air_properties(kelvin - 273.15)
    named = (
        ("kinematic viscosity", "m2/s", viscosity),
        ("conductivity", "W/(m K)", conductivity),
        ("Prandtl number", "1", prandtl),
    )
    for value, (name, unit, wanted) in zip(ours, named, strict=True):
        assert value == known(wanted, f"air at {kelvin} K: {name}", "Incropera, Table A.4", MEMORY, unit=unit, rel=0.04)


def test_natural_convection_of_a_warm_tube() -> None:
    """8 mm tube 55 K above air of 25 degC: 10.3 W/(m2*K) by an independent library of correlations."""
    assert heat.natural_convection(0.008, 80.0, 25.0) == known(
        10.3, "heat transfer from a warm 8 mm tube in air", "a library of correlations", INDEPENDENT, unit="W/(m2 K)", rel=0.02
    )


@given(st.floats(30.0, 900.0), st.floats(1.0, 90.0), st.floats(1e-3, 0.3))
def test_convection_rises_with_temperature_and_falls_with_size(surface: float, step: float, diameter: float) -> None:
    here = heat.natural_convection(diameter, surface, 25.0) * (surface - 25.0)
    assert heat.natural_convection(diameter, surface + step, 25.0) * (surface + step - 25.0) > here > 0.0
    assert heat.natural_convection(2 * diameter, surface, 25.0) < heat.natural_convection(diameter, surface, 25.0)


@pytest.mark.parametrize("row", ref.RADIATION)
def test_radiation(row: tuple) -> None:
    kelvin, ambient, emissivity, flux, rtol = row
    assert heat.radiated_flux(kelvin, ambient, emissivity) == listed("RADIATION", "flux", row)
    assert heat.radiated_flux(ambient, kelvin, emissivity) == pytest.approx(-flux, rel=rtol)


@pytest.mark.parametrize("row", ref.CYL_RAMP)  # Carslaw & Jaeger 7.8
def test_surface_to_centre(row: tuple) -> None:
    assert heat.surface_to_centre(*row[:3]) == listed("CYL_RAMP", "difference", row)


@pytest.mark.parametrize("row", ref.LUMPED_HEAT)
def test_lumped_rise(row: tuple) -> None:
    assert heat.lumped_temperature_rise(*row[:4]) == listed("LUMPED_HEAT", "rise", row)


@given(st.floats(1.0, 1e3), st.floats(1.0, 1e3), st.floats(0.0, 10.0), st.floats(0.0, 1e3))
def test_lumped_rise_between_its_limits(power: float, capacity: float, conductance: float, time: float) -> None:
    rise = heat.lumped_temperature_rise(power, capacity, conductance, time)
    assert 0.0 <= rise <= power * time / capacity * (1 + 1e-12)
    assert rise * conductance <= power * (1 + 1e-12)


def test_lumped_rise_without_loss_is_a_ramp() -> None:
    assert heat.lumped_temperature_rise(100.0, 50.0, 0.0, 60.0) == pytest.approx(120.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: heat.steel_enthalpy(-10.0),
        lambda: heat.steel_specific_heat(1500.0),
        lambda: heat.steel_resistivity(float("nan")),
        lambda: heat.air_properties(2000.0),
        lambda: heat.natural_convection(0.0, 80.0, 25.0),
        lambda: heat.lumped_temperature_rise(1.0, 0.0, 1.0, 1.0),
    ],
)
def test_impossible_input_is_named(call: object) -> None:
    with pytest.raises(InputError):
        call()  # type: ignore[operator]
