# SPDX-License-Identifier: GPL-3.0-or-later
"""Chokes and switches that warm up while a piece is heated."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.parts.silicon import SiliconHeat
from heatsim.parts.thermal import CEILING
from heatsim.parts.warmup import Warming
from heatsim.studies.check import DESTROYED, DESTROYED_JUNCTION
from heatsim.studies.heat.warmth import PartsHeat, PartsWarmth
from tests.studies.heat.test_responses import COLD, HEATER, HOT, responses
from tests.support.heating import load_between

CELSIUS = np.linspace(25.0, 225.0, 41)


def warming(watts: float, conductance: float = 0.5, capacity: float = 100.0) -> Warming:
    """A part with a constant loss [W] that gives off in proportion to its rise [W/K]."""
    return Warming(CELSIUS, np.full_like(CELSIUS, watts), conductance * (CELSIUS - 25.0), capacity)


def silicon(watts: float, above: float) -> SiliconHeat:
    """A bank whose junction lies some kelvin above its sink."""
    return SiliconHeat(warming=warming(watts), junctions=CELSIUS + above)


def parts(watts: float, above: float = 20.0) -> PartsHeat:
    """One choke and one side."""
    heat = silicon(watts, above)
    assert heat.warming is not None
    return PartsHeat({"choke.left": warming(watts), "switch.left": heat.warming}, {"switch.left": heat})


def warmth(*each: PartsHeat) -> PartsWarmth:
    """At the cold load, or at the cold and at the hot one."""
    found = PartsWarmth(HEATER, responses(*(COLD, HOT)[: len(each)]))
    found.__dict__["by_state"] = list(each)
    return found


TIME = np.array([0.0, 3.0, 10.0, 11.0, 60.0, 400.0])


def test_with_one_state_a_part_warms_as_there() -> None:
    """However the time is cut: (P/G)(1 - exp(-t G/C)), 25 °C at first."""
    found = warmth(parts(30.0)).along(TIME, [COLD] * TIME.size)
    assert set(found) == {"choke.left", "switch.left"}
    expected = HEATER.ambient + 30.0 / 0.5 * -np.expm1(-TIME * 0.5 / 100.0)
    assert HEATER.ambient == 25.0
    assert found["choke.left"] == pytest.approx(expected, abs=1e-6)
    assert found["choke.left"] == pytest.approx([warming(30.0).temperature(float(t)) for t in TIME], abs=1e-6)


def test_between_two_states_a_part_is_between_what_either_would_make_of_it() -> None:
    both = warmth(parts(20.0), parts(60.0))
    low, high = (warmth(parts(watts)).along(TIME, [COLD] * TIME.size)["choke.left"] for watts in (20.0, 60.0))
    found = both.along(TIME, [load_between(COLD, HOT, 0.5)] * TIME.size)["choke.left"]
    assert np.all((found[1:] > low[1:]) & (found[1:] < high[1:]))
    assert found == pytest.approx((low + high) / 2, abs=1.0)
    assert both.along(TIME, [HOT] * TIME.size)["choke.left"] == pytest.approx(high, abs=1e-6)


def test_a_part_lags_behind_the_load() -> None:
    """Hot load for a while, then none that loses anything: it cools on its own time constant."""
    loads = [COLD] + [HOT] * 3 + [COLD] * 2
    found = warmth(parts(1e-9), parts(60.0)).along(TIME, loads)["choke.left"]
    assert found[3] > 27.0 and found[4] == pytest.approx(25.0 + (found[3] - 25.0) * np.exp(-49.0 * 0.005), abs=0.05)


def test_temperatures_are_told_under_the_keys_that_limits_ask_for() -> None:
    found = warmth(parts(30.0, 17.0)).measures({"choke.left": 88.0, "switch.left": 61.0}, COLD)
    assert found == {
        "choke.left.temperature_c": 88.0,
        "choke.left.run_temperature_c": 88.0,
        "switch.left.junction_temperature_c": pytest.approx(78.0),
        "switch.left.run_junction_temperature_c": pytest.approx(78.0),
        "switch.left.sink_temperature_c": 61.0,
        "switch.left.run_sink_temperature_c": 61.0,
    }


def test_what_reaches_the_ceiling_is_destroyed() -> None:
    found = warmth(parts(30.0)).measures({"choke.left": CEILING, "switch.left": 225.0}, COLD)
    assert found["choke.left.temperature_c"] == DESTROYED
    assert found["switch.left.junction_temperature_c"] == DESTROYED_JUNCTION


def test_a_part_that_is_not_known_everywhere_is_left_out() -> None:
    one = parts(30.0)
    assert warmth(one, PartsHeat({"switch.left": one.warming["switch.left"]}, one.junctions)).parts == ("switch.left",)
    assert warmth().parts == ()
    assert PartsWarmth(HEATER, responses(COLD)).by_state == [PartsHeat({}, {})]
