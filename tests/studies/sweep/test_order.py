# SPDX-License-Identifier: GPL-3.0-or-later
"""Paths: neighbours one step apart, every point once, work for everybody to the end."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatsim.scenario.scenario import Scenario
from heatsim.studies.sweep import SweepPlan
from heatsim.studies.sweep.order import REACH, chains, corners, paths

HEATER = Scenario.from_file(Path(__file__).parents[3] / "scenarios" / "bench-heater.toml")


def spots(plan: SweepPlan, path: list[int]) -> np.ndarray:
    """Coordinates of the places of a path."""
    return np.array(np.unravel_index(path, plan.shape)).T


def test_a_grid_is_walked_to_and_fro_along_the_smoother_axis() -> None:
    plan = SweepPlan.read(HEATER, ["supply.voltage = 20 V to 60 V in 3", "gate.resistor = 4 ohm to 4.3 ohm in 4"], cases=["loaded"])
    assert paths(plan, range(12)) == [[0, 1, 2, 3, 7, 6, 5, 4, 8, 9, 10, 11]]
    swapped = SweepPlan.read(
        HEATER, ["gate.resistor = 4 ohm to 4.3 ohm in 4", "supply.voltage = 20 V to 60 V in 3"], cases=["loaded"]
    )
    assert paths(swapped, range(12)) == [[0, 3, 6, 9, 10, 7, 4, 1, 2, 5, 8, 11]]


def test_lists_out_of_order_are_walked_by_size() -> None:
    plan = SweepPlan.read(HEATER, ["supply.voltage = 60 V, 20 V, 40 V"], cases=["loaded"])
    assert paths(plan, range(3)) == [[1, 2, 0]]


def test_paths_end_where_a_case_or_a_word_changes() -> None:
    plan = SweepPlan.read(HEATER, ["choke.core.material = fe-si-al-60, mpp-60", "supply.voltage = 20 V to 40 V in 5"])
    found = paths(plan, range(20))
    assert sorted(map(len, found)) == [5, 5, 5, 5]
    for path in found:
        assert len({plan.point(place).case for place in path}) == len({plan.point(p).fields[0] for p in path}) == 1


@pytest.mark.parametrize(
    ("count", "slots", "lengths"),
    [
        (400, 2, [20] * 20),
        (30, 2, [15, 15]),
        (41, 2, [10, 10, 10, 11]),
        (3, 2, [1, 2]),
        (2, 8, [1, 1]),
        (100, 8, [12] * 4 + [13] * 4),
    ],
)
def test_lengths_keep_all_busy_to_the_end(count: int, slots: int, lengths: list[int]) -> None:
    plan = SweepPlan.read(HEATER, [f"supply.voltage = 20 V to 60 V in {count}"], cases=["loaded"])
    found = sorted(len(path) for path in paths(plan, range(count), 20, slots))
    assert found == lengths


def test_paths_of_a_chain_go_on_where_the_one_before_ended() -> None:
    plan = SweepPlan.read(HEATER, ["supply.voltage = 20 V to 60 V in 20", "load = 40 % to 110 % in 20"], cases=["loaded"])
    found = chains(plan, range(400), 100, 2)
    assert [[len(path) for path in chain] for chain in found] == [[100, 100], [100, 100]]
    for chain in found:
        walked = [place for path in chain for place in path]
        assert (np.abs(np.diff(spots(plan, walked), axis=0)).sum(axis=1) == 1).all()
    assert max(sum(map(len, chain)) for chain in chains(plan, range(400), 10, 1)) == 400
    many = SweepPlan.read(HEATER, ["supply.voltage = 20 V to 60 V in 5000"], cases=["loaded"])
    assert sorted(sum(map(len, chain)) for chain in chains(many, range(5000), 100, 2)) == [833] * 4 + [834] * 2


def test_corners_are_where_every_number_is_at_an_end() -> None:
    axes = ["supply.voltage = 60 V, 20 V, 40 V", "choke.core.material = fe-si-al-60, mpp-60", "load = 40 % to 110 % in 4"]
    plan = SweepPlan.read(HEATER, axes, cases=["loaded"])
    found = [dict(plan.point(place).fields) for place in sorted(corners(plan, range(len(plan))))]
    assert len(found) == 2 * 2 * 2
    assert {each["supply.voltage"] for each in found} == {"60 V", "20 V"}
    assert {each["case.loaded.workpiece.share"] for each in found} == {"40 %", "110 %"}
    assert corners(plan, [1]) == set()


def test_samples_and_words_have_no_corners() -> None:
    sampled = SweepPlan.read(
        HEATER, ["supply.voltage = 20 V, 60 V"], tolerance=["gate.resistor = 5 %"], cases=["loaded"], samples=8
    )
    assert corners(sampled, range(len(sampled))) == set()
    words = SweepPlan.read(HEATER, ["choke.core.material = fe-si-al-60, mpp-60"], cases=["loaded"])
    assert corners(words, range(len(words))) == set()


def test_nothing_to_do_is_no_path() -> None:
    assert paths(SweepPlan.read(HEATER, ["supply.voltage = 20 V, 30 V"]), []) == []


@pytest.mark.slow
@settings(max_examples=30)
@given(
    st.tuples(st.integers(2, 7), st.integers(2, 7), st.integers(2, 4)),
    st.integers(1, 25),
    st.integers(1, 4),
    st.randoms(use_true_random=False),
    st.booleans(),
)
def test_each_pending_point_once_and_neighbours_near(sizes, longest, slots, random, whole) -> None:
    plan = SweepPlan.read(
        HEATER,
        [
            f"supply.voltage = 20 V to 60 V in {sizes[0]}",
            f"gate.resistor = 3 ohm to 9 ohm in {sizes[1]}",
            f"choke.turns = {', '.join(str(10 + k) for k in range(sizes[2]))}",
        ],
    )
    places = [place for place in range(len(plan)) if whole or random.random() < 0.6]
    found = paths(plan, places, longest, slots)
    assert sorted(place for path in found for place in path) == places
    assert all(1 <= len(path) <= longest for path in found)
    for path in found:
        steps = np.abs(np.diff(spots(plan, path), axis=0)).sum(axis=1)
        assert (steps == 1).all() if whole else (steps <= REACH).all()


def test_samples_are_chained_from_one_to_the_nearest() -> None:
    plan = SweepPlan.read(HEATER, tolerance=["supply.voltage = 5 %", "gate.resistor = 5 %"], cases=["idle"], samples=128)
    assert plan.samples is not None
    found = paths(plan, range(128), 16, 2)
    assert sorted(place for path in found for place in path) == list(range(128)) and len(found) == 8
    chained = [np.linalg.norm(np.diff(plan.samples.offsets[path], axis=0), axis=1).mean() for path in found]
    loose = np.linalg.norm(np.diff(plan.samples.offsets, axis=0), axis=1).mean()
    assert np.mean(chained) < loose / 4
