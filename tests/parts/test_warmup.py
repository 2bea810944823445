# SPDX-License-Identifier: GPL-3.0-or-later
"""Warming up: against the lumped closed form, and against SciPy's integration of equations written down anew."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from heatsim.constants import COPPER_DENSITY
from heatsim.parts.choke import Choke, Core, wound_curve
from heatsim.parts.ring import RingCore
from heatsim.parts.thermal import CEILING, bias_factor, choke_heat
from heatsim.parts.warmup import Warming, binder_life, heat_capacity, substance
from heatsim.physics.convection import ring_heat_flow
from heatsim.physics.heat import lumped_temperature_rise
from heatsim.scenario.catalogue import builtin
from tests.support.book import CLOSED, INDEPENDENT, known
from tests.support.windings import of_wire

GRID = 25.0 + 225.0 * np.linspace(0.0, 1.0, 60) ** 2
ANGLE = np.linspace(0.0, 2.0 * np.pi, 801)
TIME = ANGLE / (2 * np.pi * 1e5)


def lumped(watts: float, conductance: float = 0.12, capacity: float = 60.0) -> Warming:
    return Warming(GRID, np.full_like(GRID, watts), conductance * (GRID - 25.0), capacity)


def choke(turns: int = 20) -> Choke:
    material = builtin().materials["fe-si-al-60"]
    core = Core(
        RingCore.from_entry(builtin().rings["powder-39.9x24.1x14.5"], 1, material.path_rule), of_wire(turns, "1.6 mm"), material
    )
    resistance = core.winding.resistance(core.ring, 60.0)
    return Choke("left", wound_curve(core), resistance, 20e-12, 60.0, core.winding.copper_area, core, "memory")


@pytest.mark.parametrize("watts", [3.0, 15.0, 60.0])
@pytest.mark.parametrize("seconds", [1.0, 60.0, 300.0, 1500.0])
def test_constant_loss_and_conductance_are_the_closed_form(watts: float, seconds: float) -> None:
    expected = 25.0 + float(lumped_temperature_rise(watts, 60.0, 0.12, seconds))
    assert lumped(watts).temperature(seconds) == known(
        min(expected, CEILING), f"lump with {watts} W after {seconds} s", "closed form", CLOSED, unit="°C", abs=1e-6
    )


def test_time_to_a_temperature_is_the_closed_form_turned_round() -> None:
    warming = lumped(15.0)
    assert warming.time_to(100.0) == pytest.approx(-60.0 / 0.12 * np.log(1 - 75.0 * 0.12 / 15.0))
    assert warming.time_to(151.0) is None  # 125 K is where it settles
    assert warming.time_to(CEILING + 1.0) is None
    assert warming.temperature(warming.time_to(100.0) or 0.0) == pytest.approx(100.0)


def test_cooling_is_an_exponential() -> None:
    assert lumped(15.0).rest(120.0, 60.0) == pytest.approx(60.0 / 0.12 * np.log(95.0 / 35.0))
    assert lumped(15.0).rest(120.0, 25.0) is None


def test_a_choke_that_runs_away_against_scipy() -> None:
    """Losses and cooling put together here from the winding's resistance and the heat flow, integrated with tight tolerance."""
    made, mean = choke(), 50.0
    flux = 40.0 / (2 * np.pi * 1e5) * np.sin(ANGLE)
    found = choke_heat(made, TIME, flux, mean + 1e-3 * np.sin(ANGLE))
    assert made.core is not None and found.warming is not None and found.core_w is not None and found.state == "destroyed"
    wound, core_w = made.core.winding.wound(made.core.ring), found.core_w
    copper = made.core.winding.turns * made.core.winding.mean_turn(made.core.ring) * made.core.winding.copper_area
    capacity = made.core.ring.volume * 5800.0 * 460.0 + copper * COPPER_DENSITY * 385.0
    cold = made.resistance / (1 + 3.93e-3 * 40.0)

    def rate(_t: float, y: np.ndarray) -> list[float]:
        loss = core_w + mean**2 * cold * (1 + 3.93e-3 * (y[0] - 20.0))
        return [(loss - ring_heat_flow(wound, float(y[0]), 25.0).total) / capacity]

    def burnt(_t: float, y: np.ndarray) -> float:
        return float(y[0] - CEILING)

    burnt.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(rate, (0.0, 7200.0), [25.0], rtol=1e-8, atol=1e-8, events=burnt, dense_output=True)
    assert found.warming.time_to(CEILING) == known(
        float(run.t_events[0][0]),
        "time to the end of a choke that runs away",
        "integration by SciPy",
        INDEPENDENT,
        unit="s",
        rel=2e-3,
    )
    for seconds in (10.0, 60.0, 240.0):
        assert found.warming.temperature(seconds) == pytest.approx(float(run.sol(seconds)[0]), abs=0.1)


def test_comfort_and_runaway_from_one_description() -> None:
    """A choke that comes to rest at one voltage is destroyed a fifth above it, where flux, ripple and mean are a fifth larger.

    Told apart: direct current as the square of the voltage, core loss by its own exponent, what the DC bias may add by the
    inductance it takes. Had the copper kept its cold resistance, or the heat stayed what it was, it would have come to rest.
    """
    made = choke()
    assert made.core is not None and made.core.material.loss is not None
    flux, amps = 40.0 / (2 * np.pi * 1e5) * np.sin(ANGLE), 38.0 + np.sin(ANGLE)
    below, above = (choke_heat(made, TIME, share * flux, share * amps) for share in (1.0, 1.2))
    assert below.temperature_c is not None and below.temperature_c < 210.0 and above.temperature_c is None
    assert (below.state, above.state) == ("balanced", "destroyed") and above.dominant == "direct current"
    assert above.copper_dc_w == pytest.approx(1.44 * below.copper_dc_w) and below.copper_dc_w > 10.0
    assert below.core_w is not None and above.core_w is not None
    assert above.core_w == pytest.approx(1.2**1.988 * below.core_w, rel=1e-3)
    assert 1.0 < bias_factor(made, 20.0) < bias_factor(made, 38.0) <= bias_factor(made, 45.6) == 1.5
    assert below.warming is not None and above.warming is not None
    cold = replace(above.warming, loss=np.full_like(above.warming.loss, above.warming.loss[0]))
    assert cold.time_to(CEILING) is None
    assert below.warming.time_to(CEILING) is None
    assert below.warming.temperature(1e6) == pytest.approx(below.temperature_c, abs=0.3)
    assert 30.0 < (above.warming.time_to(CEILING) or 0.0) < 3600.0


@pytest.mark.parametrize("run", [20.0, 60.0, 110.0])
def test_the_pattern_peaks_at_the_limit_for_ever(run: float) -> None:
    """Cycle after cycle by SciPy: it comes up to the limit and never above; a tenth less rest breaks it."""
    warming, limit = lumped(40.0), 100.0
    pattern = warming.pattern(run, limit)
    assert pattern is not None

    def highest(rest: float) -> float:
        celsius, peak = 25.0, 0.0
        for _ in range(60):
            for seconds, watts in ((run, 40.0), (rest, 0.0)):
                step = solve_ivp(lambda t, y, w=watts: (w - 0.12 * (y - 25.0)) / 60.0, (0, seconds), [celsius], rtol=1e-9)
                celsius = float(step.y[0, -1])
                peak = max(peak, celsius)
        return peak

    assert highest(pattern.rest) == pytest.approx(limit, abs=0.2)
    assert highest(0.9 * pattern.rest) > limit + 0.2


def test_no_pattern_for_a_run_that_is_too_long_or_needs_no_rest() -> None:
    assert lumped(40.0).pattern(1000.0, 100.0) is None and lumped(5.0).pattern(60.0, 100.0) is None


def test_heat_capacity_by_hand() -> None:
    """10.55 cm3 of Fe-Si-Al at 5.8 g/cm3 and 460 J/(kg K): 28 J/K; some 22 g of copper: 8 J/K."""
    made = choke()
    assert made.core is not None
    assert heat_capacity(made.core) == pytest.approx(28.1 + 8.2, rel=0.05)


def test_what_is_not_listed_warms_up_soonest() -> None:
    least = substance("unobtainium powder")
    known = [substance(material.alloy) for material in builtin().materials.values()]
    assert all(each.density * each.specific_heat > least.density * least.specific_heat for each in known)
    assert substance("iron powder, carbonyl, dilute") != substance("iron powder, carbonyl")


def test_binder_life_halves_every_ten_kelvin() -> None:
    assert binder_life(75.0, 75.0) == pytest.approx(1e5 * 3600)
    assert binder_life(105.0, 75.0) == pytest.approx(1e5 * 3600 / 8)


def test_a_light_choke_warms_up_faster() -> None:
    slow, fast = lumped(20.0), replace(lumped(20.0), capacity=20.0)
    assert fast.temperature(60.0) > slow.temperature(60.0) + 10.0
