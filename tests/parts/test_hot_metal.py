# SPDX-License-Identifier: GPL-3.0-or-later
"""Metals over temperature: the built-in ones against published figures and laws of physics, heat and its inverse, and the ends."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.parts.hot_metal import LOWEST_C, Constant, HotMetal, Trend
from heatsim.parts.materials import Metal
from heatsim.scenario.catalogue import builtin
from tests.support import references_heating as ref
from tests.support.book import CLOSED, INDEPENDENT, MEMORY, known, listed
from tests.support.references import COPPER_RHO_T

METALS = builtin().metals
HOT = {name: metal.hot for name, metal in METALS.items() if metal.hot}

LORENZ = 2.44e-8
"""Lorenz number of a free electron gas [W*ohm/K2]: pi^2/3 (k/e)^2."""

GAS_CONSTANT = 8.314462618
"""[J/(mol*K)], CODATA 2018."""


def all_points(hot: HotMetal) -> np.ndarray:
    return np.linspace(LOWEST_C, hot.highest_c, 4001)


def en_specific_heat(t: float) -> float:
    """EN 1993-1-2:2005, 3.4.1.2, written from the source."""
    if t < 600:
        return 425 + 0.773 * t - 1.69e-3 * t**2 + 2.22e-6 * t**3
    if t < 735:
        return 666 + 13002 / (738 - t)
    return 545 + 17820 / (t - 731) if t < 900 else 650.0


@pytest.mark.parametrize("row", ref.EN_STEEL)
def test_steel_after_en_1993(row: tuple) -> None:
    assert HOT["steel"].specific_heat(row[0]) == listed("EN_STEEL", "c", row)
    assert HOT["steel"].conductivity(row[0]) == listed("EN_STEEL", "conductivity", row)


@pytest.mark.parametrize("row", ref.EN_ENTHALPY)
def test_heat_of_steel_after_en_1993(row: tuple) -> None:
    assert HOT["steel"].enthalpy(row[0]) / 7850 == listed("EN_ENTHALPY", "enthalpy", row)


@pytest.mark.parametrize("celsius", [20.35, 600.05, 733.33, 734.95, 735.04, 735.53, 741.17, 899.96, 1200])
def test_the_peak_of_steel_is_resolved(celsius: float) -> None:
    """Heat from 20 °C, between the steps of the table too, against adaptive quadrature of the formulas."""
    from scipy.integrate import quad

    edges = [20, *(cut for cut in (600, 735, 900) if cut < celsius), celsius]
    heat = sum(quad(en_specific_heat, a, b - 1e-9, epsrel=1e-10)[0] for a, b in zip(edges, edges[1:], strict=False))
    band = 1e-4 if celsius < 30 else 1e-5
    assert HOT["steel"].enthalpy(celsius) / 7850 == known(
        heat, f"catalogue's steel, heat to {celsius} °C", "adaptive quadrature", INDEPENDENT, unit="J/kg", rel=band
    )


def test_steel_takes_up_its_peak_of_heat() -> None:
    """From 730 to 740 °C, closed form of EN 1993-1-2: 666*5 + 13002 ln(8/3) + 545*5 + 17820 ln(9/4), 33.26 kJ/kg."""
    steel = HOT["steel"]
    heat = 666 * 5 + 13002 * np.log(8 / 3) + 545 * 5 + 17820 * np.log(9 / 4)
    assert (steel.enthalpy(740.0) - steel.enthalpy(730.0)) / 7850 == pytest.approx(heat, rel=1e-6)


@pytest.mark.parametrize("row", ref.STEEL_RHO_T)  # 100, 300 degC published (GOST 20); 20, 600, 800 degC: memory
def test_resistivity_of_steel(row: tuple) -> None:
    assert HOT["steel"].resistivity(row[0]) == listed("STEEL_RHO_T", "rho", row)


@pytest.mark.parametrize("row", COPPER_RHO_T)  # from IEC 60028's constants
def test_resistivity_of_copper(row: tuple) -> None:
    """To the catalogue's digits."""
    assert HOT["copper"].resistivity(row[0]) == listed("COPPER_RHO_T", "rho", row, rel=1e-5)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    # Electrons carry nearly all heat of good conductors; in iron and its alloys the lattice adds a half where cold.
    [("copper", 0.9, 1.1), ("brass", 0.9, 1.1), ("aluminium", 0.85, 1.0), ("steel", 0.9, 1.3), ("steel C45", 0.95, 1.35)]
    + [("stainless 304", 1.0, 1.6)],
)
def test_wiedemann_and_franz(name: str, low: float, high: float) -> None:
    hot = HOT[name]
    t = np.linspace(20, hot.highest_c, 300)
    ratio = hot.conductivity(t) * hot.resistivity(t) / ((t + 273.15) * LORENZ)
    assert low < ratio.min() and ratio.max() < high


@pytest.mark.parametrize(
    ("name", "molar_mass"),
    [("copper", 63.546e-3), ("aluminium", 26.982e-3), ("brass", 0.63 * 63.546e-3 + 0.37 * 65.38e-3), ("steel", 55.845e-3)]
    + [("steel C45", 55.845e-3)],
)
def test_dulong_and_petit(name: str, molar_mass: float) -> None:
    """Near 3R/M at 150 °C, at the Debye temperature (Cu 70, Al 155, Fe 195 °C); up to a third more near melting, beside peaks."""
    hot, law = HOT[name], 3 * GAS_CONSTANT / molar_mass
    assert hot.specific_heat(150) == known(
        law, f"specific heat of {name} at 150 °C", "Dulong & Petit, 3R/M", CLOSED, unit="J/(kg K)", rel=0.15
    )
    assert law < hot.specific_heat(hot.highest_c) < 1.5 * law


def test_graphite() -> None:
    """Its resistivity is least between 400 and 700 °C; its specific heat rises towards 3R/M = 2077 J/(kg*K)."""
    graphite = HOT["graphite"]
    t = all_points(graphite)
    assert 400 <= t[np.argmin(graphite.resistivity(t))] <= 700
    assert np.all(np.diff(graphite.specific_heat(t)) > 0)
    assert graphite.specific_heat(2000) == pytest.approx(3 * GAS_CONSTANT / 12.011e-3, rel=0.05)


def test_steels_agree_within_their_bands() -> None:
    """The formulas of EN 1993-1-2 and the recalled series of C45 come from different measurements of much the same steel."""
    plain, c45 = HOT["steel"], HOT["steel C45"]
    for celsius in (100, 300, 500, 700, 900, 1200):
        band = max(plain.bands["specific_heat"], c45.bands["specific_heat"])
        assert c45.enthalpy(celsius) == pytest.approx(plain.enthalpy(celsius), rel=band)
        assert c45.resistivity(celsius) == pytest.approx(plain.resistivity(celsius), rel=0.06)


def test_cast_iron_has_its_printed_means() -> None:
    """Mean specific heat 460 J/(kg*K) from 20 to 200 °C, 535 from 20 to 600 °C; informative table of EN 1561 (memory)."""
    iron = HOT["cast iron"]
    means = [iron.enthalpy(celsius) / iron.density / (celsius - 20) for celsius in (200, 600)]
    assert means == known([460, 535], "mean specific heat of cast iron", "EN 1561", MEMORY, unit="J/(kg K)", rel=0.02)


@pytest.mark.parametrize("name", METALS)
def test_every_metal_is_whole(name: str) -> None:
    """Each has all properties, each with its origin, and one number at 20 °C."""
    metal = METALS[name]
    hot = HOT[name]
    assert hot.resistivity(20.0) == pytest.approx(metal.resistivity, rel=1e-9)
    assert hot.bands["resistivity"] >= metal.resistivity_band
    assert (hot.curie_c is not None) == (metal.curve is not None)
    assert all(provenance and len(source) > 15 for _, provenance, source in metal.origins)
    told = [what for what, *_ in metal.origins]
    assert len(told) == len(set(told)) == 6 + len(hot.surfaces) + bool(hot.curie)
    assert set(hot.bands) == {"resistivity", "conductivity", "specific_heat", "density", "emissivity"}
    for condition, trend in hot.surfaces:
        emissivity = hot.with_condition(condition).emissivity(all_points(hot))
        assert emissivity.min() * (1 - trend.band) > 0 and emissivity.max() * (1 + trend.band) <= 1


@pytest.mark.parametrize("name", METALS)
def test_heat_rises_and_is_undone(name: str) -> None:
    hot = HOT[name]
    t = np.linspace(-100, hot.highest_c + 400, 20011)
    heat = hot.enthalpy(t)
    assert np.all(np.diff(heat) > 0) and hot.enthalpy(20.0) == 0.0
    assert np.max(np.abs(hot.temperature(heat) - t)) < 1e-6
    inside = all_points(hot)
    assert np.allclose(
        np.diff(hot.enthalpy(inside)) / np.diff(inside),
        hot.density * (hot.specific_heat(inside[1:]) + hot.specific_heat(inside[:-1])) / 2,
        rtol=0.02,
    )


@pytest.mark.parametrize("name", METALS)
def test_a_little_above_the_highest(name: str) -> None:
    """A solver that oversteps finds finite values, those of the end, and heat that goes on rising at the last specific heat."""
    hot = HOT[name]
    over = np.array([hot.highest_c - 1.0, hot.highest_c, hot.highest_c + 50.0])
    for method in (hot.resistivity, hot.conductivity, hot.specific_heat, hot.emissivity):
        assert method(over)[2] == method(hot.highest_c) == method(over)[1] > 0
    rise = hot.enthalpy(over[2]) - hot.enthalpy(over[1])
    assert rise == pytest.approx(50 * hot.density * hot.specific_heat(hot.highest_c))
    assert list(hot.beyond(over)) == [False, False, True] and hot.beyond(hot.highest_c + 1) is True
    with pytest.raises(InputError, match=rf"bar: temperature out of range.*above lies {hot.end_words}"):
        hot.state(over, "bar")


def test_below_20_degrees() -> None:
    """EN 1993-1-2 keeps its values, copper follows IEC 60028; below -20 °C all stay, and the checked way refuses."""
    steel, copper = HOT["steel"], HOT["copper"]
    assert steel.specific_heat(-20) == steel.specific_heat(20) and steel.conductivity(-20) == steel.conductivity(20)
    assert steel.enthalpy(-20) == pytest.approx(-40 * 7850 * 439.80176, rel=1e-6)
    assert steel.resistivity(-20) == pytest.approx(1.44e-7, rel=1e-9)
    assert copper.resistivity(20) == pytest.approx(1 / 58e6, rel=1e-5)
    assert copper.resistivity(-20) == pytest.approx((1 - 40 * 3.93e-3) / 58e6, rel=1e-5)
    assert copper.resistivity(-60) == copper.resistivity(-20)
    with pytest.raises(InputError, match="given -60 °C; allowed: -20 to 1065 °C; above lies its melting range"):
        copper.state(-60.0)


def test_a_state_is_what_the_methods_say() -> None:
    iron, t = HOT["cast iron"], np.array([[20.0, 300.0], [755.0, 1140.0]])
    state = iron.state(t)
    assert state.resistivity.shape == (2, 2)
    for name in state._fields:
        assert np.array_equal(getattr(state, name), getattr(iron, name)(t))
    assert isinstance(iron.state(500.0).enthalpy, float)


def test_conditions_of_the_surface() -> None:
    steel = HOT["steel"]
    bright = steel.with_condition("bright")
    assert (steel.emissivity(600.0), bright.emissivity(600.0)) == (0.8, pytest.approx(0.25))
    assert bright.bands["emissivity"] == 0.5 and bright.enthalpy(900.0) == steel.enthalpy(900.0)
    with pytest.raises(InputError, match=r"surface: is not a condition.*given 'brigth'; allowed: did you mean bright"):
        steel.with_condition("brigth", "surface")


def test_a_table_of_heat_is_integrated_as_it_stands() -> None:
    """Straight between 20, 70.03 and 200 °C: the trapezia, by hand; a point need not lie on the grid."""
    flat = Trend(0.1, "measured", "bench", ((20.0, 2.0), (200.0, 2.0)))
    heat = Trend(0.1, "measured", "bench", ((20.0, 400.0), (70.03, 600.0), (200.0, 500.0)))
    density, highest = Constant(1000.0, 0.0, "measured", "bench"), Constant(200.0, 0.0, "measured", "bench")
    hot = HotMetal(flat, flat, heat, density, (("rough", flat),), "rough", highest, "data")
    first, second = 50.03 * 500.0, 129.97 * 550.0
    assert hot.enthalpy([70.03, 200.0]) == pytest.approx([1e3 * first, 1e3 * (first + second)], rel=1e-12)
    assert replace(hot, mass=replace(density, value=2000.0)).enthalpy(200.0) == pytest.approx(2e3 * (first + second))


def test_they_go_to_other_processes_small() -> None:
    steel = METALS["steel"]
    assert HOT["steel"].enthalpy(100.0) > 0
    sent = pickle.dumps(steel)
    back = pickle.loads(sent)
    assert isinstance(back, Metal) and back == steel and hash(back) == hash(steel) and len(sent) < 10_000
    assert back.hot is not None and back.hot.temperature(back.hot.enthalpy(777.0)) == pytest.approx(777.0)
