# SPDX-License-Identifier: GPL-3.0-or-later
"""Conductors and joints: resistance, loss and temperature against hand calculations with other equations."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.parts.conductor import Conductor, Joint
from heatsim.parts.section import Bar, Board, Load, Surroundings, Wire, balance, copper_thickness, loss_per_metre
from heatsim.physics.spectrum import Spectrum
from tests.support.book import CLOSED, INDEPENDENT, known

AIR = Surroundings(0.2, 0.0, 25.0)
RHO_20, ALPHA = 1 / 58e6, 3.93e-3


def direct(current: float) -> Load:
    return Load(current**2, np.zeros(1), np.array([1e5]))


def tank(current: float, frequency: float = 85e3) -> Load:
    return Load(0.0, np.array([current**2]), np.array([frequency]))


def conductor(section: Bar | Wire, air: Surroundings = AIR, count: int = 1, limit: float = 90.0) -> Conductor:
    return Conductor("bar", "bar", "bar", "tank", "coil.current", count, 0.5, section, air, limit)


def natural(diameter: float, surface: float, ambient: float) -> float:
    """Churchill & Chu written out, with air's properties as power laws about 300 K (memory)."""
    film = (surface + ambient) / 2 + 273.15
    conductivity, viscosity, prandtl = 0.0263 * (film / 300) ** 0.85, 15.9e-6 * (film / 300) ** 1.75, 0.707
    rayleigh = 9.81 / film * (surface - ambient) * diameter**3 / viscosity**2 * prandtl
    bracket = (1 + (0.559 / prandtl) ** (9 / 16)) ** (8 / 27)
    return (0.60 + 0.387 * rayleigh ** (1 / 6) / bracket) ** 2 * conductivity / diameter


def test_a_bar_gives_off_what_it_loses() -> None:
    """With the temperature found, loss and heat by other code agree."""
    bar, current = Bar(20e-3, 3e-3), 250.0
    warm = conductor(bar).warm(direct(current))
    assert warm.temperature is not None and 50 < warm.temperature < 150
    loss = current**2 * RHO_20 * (1 + ALPHA * (warm.temperature - 20)) / bar.area
    rise, around = warm.temperature - 25.0, 46e-3
    film = natural(around / math.pi, warm.temperature, 25.0)
    radiated = 0.2 * 5.670374e-8 * ((warm.temperature + 273.15) ** 4 - 298.15**4)
    what = "heat of a bar at the temperature found, against its loss"
    assert around * (film * rise + radiated) == known(loss, what, "Churchill & Chu written anew", INDEPENDENT, unit="W/m", rel=0.02)
    assert warm.loss == pytest.approx(0.5 * loss, rel=1e-3)
    assert warm.resistance == warm.resistance_direct == pytest.approx(warm.loss / current**2, rel=1e-9)


def test_an_insulated_cable_is_warmer_inside_by_the_heat_through_its_insulation() -> None:
    wire, current = Wire(8e-6, 1.5e-3), 40.0
    air = replace(AIR, emissivity=0.9)
    copper = balance(wire, air, direct(current))
    assert copper is not None
    loss = current**2 * RHO_20 * (1 + ALPHA * (copper - 20)) / 8e-6
    inner = math.sqrt(8e-6 / math.pi)
    surface = copper - loss * math.log((inner + 1.5e-3) / inner) / (2 * math.pi * 0.17)
    around = 2 * math.pi * (inner + 1.5e-3)
    film = natural(2 * (inner + 1.5e-3), surface, 25.0)
    radiated = 0.9 * 5.670374e-8 * ((surface + 273.15) ** 4 - 298.15**4)
    what = "heat of an insulated cable at the temperature found, against its loss"
    given_off = around * (film * (surface - 25.0) + radiated)
    assert given_off == known(loss, what, "Churchill & Chu written anew", INDEPENDENT, unit="W/m", rel=0.03)


def test_a_trace_warms_the_board_beside_it_like_a_fin() -> None:
    """Two fins with both faces free, tanh(m L), and the narrow way into the board."""
    trace, board, current = Bar(2e-3, 70e-6), Board(1.6e-3, 20e-3), 8.0
    air = Surroundings(0.9, 0.0, 25.0, board)
    copper = balance(trace, air, direct(current))
    assert copper is not None
    loss = current**2 * RHO_20 * (1 + ALPHA * (copper - 20)) / trace.area
    way = math.log(4 * 1.6e-3 / (math.pi * (trace.width + trace.thickness))) / (math.pi * math.sqrt(0.8 * 0.3))
    surface = copper - max(way, 0.0) * loss
    film = natural(2 * (trace.width + 40e-3) / math.pi, surface, 25.0)
    film += 0.9 * 5.670374e-8 * ((surface + 273.15) ** 4 - 298.15**4) / (surface - 25.0)
    length = math.sqrt(0.8 * 1.6e-3 / (2 * film))
    fins = 2 * math.sqrt(2 * film * 0.8 * 1.6e-3) * math.tanh(20e-3 / length)
    given_off = (fins + 2 * film * (trace.width + trace.thickness)) * (surface - 25.0)
    assert given_off == known(
        loss, "heat of a trace with its board, against its loss", "two fins", INDEPENDENT, unit="W/m", rel=0.02
    )


def test_harmonics_lose_more_than_their_share() -> None:
    bar = Bar(20e-3, 3e-3)
    both = Load(0.0, np.array([90.0**2, 0.0, 30.0**2]), np.array([85e3, 170e3, 255e3]))
    parts = loss_per_metre(bar, tank(90.0), 60.0) + loss_per_metre(bar, tank(30.0, 255e3), 60.0)
    assert loss_per_metre(bar, both, 60.0) == pytest.approx(parts, rel=1e-9)
    assert parts > loss_per_metre(bar, tank(math.hypot(90.0, 30.0)), 60.0)


def test_a_strip_facing_its_return_carries_it_in_one_skin() -> None:
    warm = conductor(Bar(30e-3, 3e-3, 2e-3)).warm(tank(100.0))
    rho = RHO_20 * (1 + ALPHA * (warm.temperature - 20))
    depth = math.sqrt(rho / (math.pi * 85e3 * 4e-7 * math.pi))
    wanted = 0.5 * rho / (30e-3 * depth)
    assert warm.resistance_tank == known(wanted, "strip facing its return", "one skin depth", CLOSED, unit="ohm", rel=1e-3)


def test_equal_ones_share_the_current() -> None:
    one, two = conductor(Bar(20e-3, 3e-3)).warm(direct(150.0)), conductor(Bar(20e-3, 3e-3), count=2).warm(direct(300.0))
    assert two.temperature == pytest.approx(one.temperature)
    assert two.loss == pytest.approx(2 * one.loss)
    assert two.resistance == pytest.approx(one.resistance / 2)
    assert conductor(Bar(20e-3, 3e-3), count=2).inductance is None


@pytest.mark.parametrize("section", [Bar(20e-3, 3e-3), Wire(8e-6, 1e-3)])
@pytest.mark.parametrize("load", [direct(120.0), tank(80.0)])
def test_the_section_needed_comes_to_the_temperature_allowed(section: Bar | Wire, load: Load) -> None:
    part = conductor(section, limit=80.0)
    needed = part.warm(load).area_needed
    assert needed is not None
    assert balance(section.scaled(needed / part.area), AIR, load) == pytest.approx(80.0, abs=0.05)


def test_what_finds_no_balance_has_no_temperature() -> None:
    warm = conductor(Bar(2e-3, 0.5e-3)).warm(direct(200.0))
    assert warm.temperature is None and warm.band == (None, None)


def test_the_band_lies_round_the_temperature() -> None:
    warm = conductor(Bar(20e-3, 3e-3)).warm(tank(150.0))
    low, high = warm.band
    assert None not in (low, warm.temperature, high) and low < warm.temperature < high


def test_nothing_flows_and_nothing_warms() -> None:
    warm = conductor(Bar(20e-3, 3e-3)).warm(direct(0.0))
    assert warm.loss == 0.0 and warm.temperature == pytest.approx(25.0, abs=1e-3) and warm.resistance is None


BARS = Bar(30e-3, 3e-3)


def joint(resistance: float = 30e-6, band: float = 1.0, bars: Bar | None = BARS) -> Joint:
    return Joint("joint", "joint", "tank", "coil.current", 1, resistance, band, bars, AIR, 90.0)


def test_a_joint_sends_its_heat_along_both_bars_as_along_endless_fins() -> None:
    """P/2 = sqrt(h U k A) times the excess over the bar far away, 390 W/(m*K)."""
    bars, current = Bar(30e-3, 3e-3), 150.0
    warm = joint(200e-6).warm(direct(current))
    far = balance(bars, AIR, direct(current))
    assert warm.temperature is not None and far is not None
    film = natural(66e-3 / math.pi, warm.temperature, 25.0)
    film += 0.2 * 5.670374e-8 * ((warm.temperature + 273.15) ** 4 - 298.15**4) / (warm.temperature - 25.0)
    own = current**2 * RHO_20 * (1 + ALPHA * (far - 20)) / bars.area / (film * 66e-3)
    excess = 200e-6 * current**2 / 2 / math.sqrt(film * 66e-3 * 390 * bars.area)
    assert warm.temperature == known(25.0 + own + excess, "joint between two bars", "endless fins", INDEPENDENT, unit="°C", abs=0.5)
    assert warm.loss == pytest.approx(200e-6 * current**2)


def test_a_joint_without_its_bars_has_a_loss_and_no_temperature() -> None:
    warm = joint(bars=None).warm(tank(100.0))
    assert warm.loss == pytest.approx(0.3) and warm.temperature is None


def test_an_assumed_joint_has_a_wide_band() -> None:
    low, high = joint(200e-6, 4.0).warm(direct(150.0)).band
    assert low is not None and high is not None and high - low > 20


def test_a_current_is_its_mean_its_harmonics_and_what_lies_above() -> None:
    load = Load.of(Spectrum(85e3, 3.0, np.array([4.0, 1.0]), 2.0), 10.0)
    scale = 100.0 / (9 + 16 + 1 + 4)
    assert load.direct == pytest.approx(9 * scale) and load.squares == pytest.approx(np.array([16.0, 5.0]) * scale)
    assert load.square == pytest.approx(100.0)


@pytest.mark.parametrize(("text", "thickness"), [("1 oz", 35.0e-6), ("2oz", 70.0e-6), ("0.5 oz", 17.5e-6), ("105 um", 105e-6)])
def test_copper_is_given_in_ounces_or_as_a_thickness(text: str, thickness: float) -> None:
    """1.378 mil an ounce."""
    assert copper_thickness(text) == pytest.approx(thickness, rel=1e-3)


@pytest.mark.parametrize("text", ["", "2", "2 lb", "-1 oz", "100 oz", "3 mm", "nan oz"])
def test_other_texts_for_copper_are_refused(text: str) -> None:
    with pytest.raises(InputError):
        copper_thickness(text)


def test_traces_are_set_beside_the_charts_within_their_range() -> None:
    """IPC-2221, row of 100 mil, 2.756 mil and 20 K: 10.54137 A; beyond 35 A or 10 mm nothing is said."""
    air = Surroundings(0.9, 0.0, 25.0, Board(1.6e-3, 20e-3))
    trace = conductor(Bar(100 * 25.4e-6, 2.756 * 25.4e-6), air)
    assert trace.warm(direct(10.54137)).chart_rise == known(
        20.0, "rise of a trace by the charts at 10.54137 A", "IPC-2221", CLOSED, unit="K", rel=1e-4
    )
    inner = replace(trace, inner=True)
    assert inner.warm(direct(10.54137 / 2)).chart_rise == pytest.approx(20.0, rel=1e-4)
    assert trace.warm(direct(36.0)).chart_rise is None
    assert conductor(Bar(12e-3, 70e-6), air).warm(direct(10.0)).chart_rise is None
    assert conductor(Bar(2e-3, 70e-6)).warm(direct(10.0)).chart_rise is None
