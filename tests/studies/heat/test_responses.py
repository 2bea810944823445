# SPDX-License-Identifier: GPL-3.0-or-later
"""The heater's answer between simulated states."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from heatsim.parts.tank import Workpiece
from heatsim.studies.check import Measured
from heatsim.studies.heat.responses import CURRENT, FREQUENCY, Responses, SimulatedPoint, distance, loaded, place, shares_of
from tests.support.heating import LongCoil, load_between, result_with

HEATER = LongCoil().heater()
COIL = HEATER.coil
COLD = Workpiece(1.05 * COIL.inductance, 4.0 * COIL.resistance, "estimate")
WARM = Workpiece(1.12 * COIL.inductance, 8.0 * COIL.resistance, "estimate")
HOT = Workpiece(0.87 * COIL.inductance, 2.0 * COIL.resistance, "estimate")


def made_up(load: Workpiece) -> dict[str, Measured]:
    """Measures that follow the ideal stage, some of them all but a share that changes slowly."""
    ideal, slow = loaded(HEATER, load), 1.0 + 0.02 * math.log(load.resistance / COIL.resistance)
    return {
        "coil.rms_current_a": 0.7 * ideal.coil_current * slow,
        "loss.coil_w": 1e-3 * ideal.coil_current**2,
        "tank.frequency_hz": 0.98 * ideal.frequency,
        "supply.mean_current_a": 1.1 * ideal.supply_current,
        "loss.switch_w": 0.01 * ideal.supply_current**2,
        "workpiece.power_w": 0.5 * ideal.coil_current**2 * (load.resistance - COIL.resistance),
        "gate.min_voltage_v": -0.002 * ideal.coil_current,
    }


def state(load: Workpiece, **more: Measured) -> SimulatedPoint:
    """A state with these measures."""
    return SimulatedPoint(0.0, load, result_with(made_up(load) | more), {CURRENT: 1.02, FREQUENCY: 0.98})


def responses(*loads: Workpiece) -> Responses:
    """States at some loads."""
    found = Responses(HEATER)
    for load in loads:
        found.add(state(load))
    return found


def number(measures: dict[str, Measured], key: str) -> float:
    """A measure that is a number."""
    value = measures[key]
    assert isinstance(value, float)
    return value


@pytest.mark.parametrize("loads", [(COLD,), (COLD, WARM), (COLD, WARM, HOT)])
def test_weights_add_up_to_one_near_and_far(loads: tuple[Workpiece, ...]) -> None:
    known = responses(*loads)
    for load in (COLD, load_between(COLD, HOT, 0.3), load_between(COLD, HOT, 5.0)):
        weights = known.weights(load)
        assert weights.shape == (len(loads),) and weights.sum() == pytest.approx(1.0, abs=1e-9)


def test_a_state_is_given_back_as_it_was_simulated() -> None:
    known = responses(COLD, WARM, HOT)
    for number_of, load in enumerate((COLD, WARM, HOT)):
        assert known.weights(load) == pytest.approx(np.eye(3)[number_of], abs=1e-9)
        found = known.measures(load)
        for key, value in made_up(load).items():
            assert found[key] == pytest.approx(value, rel=1e-9)
        assert known.answer(load).current == pytest.approx(1.02 * loaded(HEATER, load).coil_current, rel=1e-9)


@pytest.mark.parametrize("key", ["loss.coil_w", "tank.frequency_hz", "supply.mean_current_a", "loss.switch_w", "workpiece.power_w"])
def test_what_follows_the_ideal_stage_is_exact_between_states(key: str) -> None:
    """Linear in between instead, they would be off by a thousandth and more."""
    known, between = responses(COLD, HOT), load_between(COLD, HOT, 0.5)
    true = number(made_up(between), key)
    assert known.measures(between)[key] == pytest.approx(true, rel=1e-9)
    straight = float(known.weights(between) @ [number(made_up(load), key) for load in (COLD, HOT)])
    assert abs(straight / true - 1) > 1e-3


def test_a_slow_departure_from_the_ideal_stage_is_interpolated() -> None:
    known, between = responses(COLD, WARM, HOT), load_between(COLD, HOT, 0.4)
    key = "coil.rms_current_a"
    true = number(made_up(between), key)
    straight = float(known.weights(between) @ [number(made_up(load), key) for load in (COLD, WARM, HOT)])
    error = number(known.measures(between), key) / true - 1
    assert abs(error) < 2e-3 and abs(error) < 0.2 * abs(straight / true - 1)


def test_negative_measures_keep_their_sign() -> None:
    known, between = responses(COLD, HOT), load_between(COLD, HOT, 0.5)
    assert known.measures(between)["gate.min_voltage_v"] == pytest.approx(made_up(between)["gate.min_voltage_v"], rel=1e-9)


def test_counts_and_words_are_those_of_the_nearest_state() -> None:
    known = Responses(HEATER)
    known.add(state(COLD, bounces=2.0, mode="hard", peaks=[1.0, 2.0], odd=None, zero=-1.5))
    known.add(state(HOT, bounces=5.0, mode="soft", peaks=[3.0, 6.0], odd=4.5, zero=0.5))
    for part, bounces, mode, odd in ((0.2, 2.0, "hard", None), (0.8, 5.0, "soft", 4.5)):
        found = known.measures(load_between(COLD, HOT, part))
        assert (found["bounces"], found["mode"], found["odd"]) == (bounces, mode, odd)
        assert found["peaks"] == pytest.approx([1.0 + 2.0 * part, 2.0 + 4.0 * part])
        assert found["zero"] == pytest.approx(-1.5 + 2.0 * part)


def test_of_two_states_at_one_load_the_later_counts() -> None:
    known = responses(COLD, HOT)
    before = known.measures(COLD)
    known.add(replace(state(COLD), shares={CURRENT: 1.1, FREQUENCY: 0.9}, result=result_with({"tank.frequency_hz": 5.0e4 + 0.5})))
    assert len(known.points) == 2 and known.nearest(COLD).shares[CURRENT] == 1.1
    assert known.shares(COLD)[CURRENT] == pytest.approx(1.1)
    assert before["tank.frequency_hz"] != known.measures(COLD)["tank.frequency_hz"] == pytest.approx(5.0e4 + 0.5)


def test_far_from_all_states_shares_stay_between_those_known() -> None:
    known = Responses(HEATER)
    known.add(replace(state(COLD), shares={CURRENT: 1.0, FREQUENCY: 1.0}))
    known.add(replace(state(HOT), shares={CURRENT: 1.1, FREQUENCY: 1.0}))
    assert known.shares(load_between(COLD, HOT, 3.0))[CURRENT] == pytest.approx(1.1, abs=1e-9)
    assert Responses(HEATER).shares(COLD) == {CURRENT: 1.0, FREQUENCY: 1.0}


def test_distance_is_the_share_by_which_a_load_is_another() -> None:
    assert distance(COLD, replace(COLD, resistance=1.1 * COLD.resistance)) == pytest.approx(math.log(1.1))
    assert place(COLD) == pytest.approx([math.log(COLD.resistance), math.log(COLD.inductance)])


def test_the_share_of_current_is_that_of_the_power() -> None:
    """P = I^2 (R - R0)/2."""
    found = shares_of(HEATER, WARM, {"workpiece.power_w": 1234.5, "tank.frequency_hz": 5e4})
    assert found is not None
    current = found[CURRENT] * loaded(HEATER, WARM).coil_current
    assert current**2 / 2 * (WARM.resistance - COIL.resistance) == pytest.approx(1234.5)
    assert found[FREQUENCY] * loaded(HEATER, WARM).frequency == pytest.approx(5e4)


@pytest.mark.parametrize("measures", [{}, {"tank.frequency_hz": 5e4}, {"workpiece.power_w": 0.0, "tank.frequency_hz": 5e4}])
def test_without_power_or_frequency_there_are_no_shares(measures: dict[str, Measured]) -> None:
    assert shares_of(HEATER, WARM, measures) is None


def test_errors_are_those_of_predictions() -> None:
    known = responses(COLD)
    assert known.error == {}
    known.add(replace(state(HOT), predicted={CURRENT: 1.03, FREQUENCY: 0.98}))
    assert known.error[CURRENT] == pytest.approx(1.03 / 1.02 - 1) and known.error[FREQUENCY] == 0.0
