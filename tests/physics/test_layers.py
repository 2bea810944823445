# SPDX-License-Identifier: GPL-3.0-or-later
"""Layered wire against filaments: in endless rows, and where it really lies in the hole of a ring and outside."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatsim.physics.conductor import dowell_factor, dowell_round_wire_xi, round_wire_resistance_ratio
from heatsim.physics.layers import layer_resistance_ratio, place_resistance_ratio, turn_resistance_ratio
from heatsim.physics.ringcore import RingSize
from tests.support import layer_filaments, ring_filaments
from tests.support.book import INDEPENDENT, PUBLISHED, known

WIRE, LAID = 1.6e-3, 1.7e-3
SMALL, LARGE = (12.7e-3, 27e-3), (24e-3, 40e-3)
"""Inner and outer diameter of a ring on which three layers are too many, and of one on which a layer serves."""

WINDINGS = [
    (SMALL, (18,), (18,)),
    (SMALL, (18, 9), (27,)),
    (SMALL, (18, 12, 6), (36,)),
    (LARGE, (40,), (40,)),
    (LARGE, (40, 30), (70,)),
    (LARGE, (40, 30, 20), (60, 30)),
]
"""Ring, wires of each layer in the hole, wires of each layer outside."""


def circles(counts: tuple[int, ...], diameter: float, way: int) -> list[tuple[int, float]]:
    """Wires and radius of each layer, from the core outwards."""
    return [(count, diameter / 2 + way * (layer + 0.5) * LAID) for layer, count in enumerate(counts)]


@pytest.mark.parametrize("depth", [0.8e-3, 0.4e-3])
@pytest.mark.parametrize(("ring", "hole", "outside"), WINDINGS)
def test_the_hole_and_the_outside_against_filaments(
    ring: tuple[float, float], hole: tuple[int, ...], outside: tuple[int, ...], depth: float
) -> None:
    within, around = circles(hole, ring[0], -1), circles(outside, ring[1], 1)
    fold = math.gcd(*hole, *outside)
    expected = ring_filaments.resistance_ratios(WIRE, within, around, fold, depth, cells=12)
    found = [float(place_resistance_ratio(WIRE, [(n, 2 * math.pi * r) for n, r in place], depth)) for place in (within, around)]
    what = f"winding on a ring, {hole} in the hole, skin depth {1e3 * depth:g} mm: AC over DC resistance"
    assert found == known(expected, what, "filaments of the ring", INDEPENDENT, rel=0.15)


@pytest.mark.slow
@pytest.mark.parametrize(("ring", "hole", "outside"), WINDINGS)
def test_thin_skin_against_fine_filaments(ring: tuple[float, float], hole: tuple[int, ...], outside: tuple[int, ...]) -> None:
    within, around = circles(hole, ring[0], -1), circles(outside, ring[1], 1)
    fold = math.gcd(*hole, *outside)
    expected = ring_filaments.resistance_ratios(WIRE, within, around, fold, 0.22e-3, cells=16)
    found = [float(place_resistance_ratio(WIRE, [(n, 2 * math.pi * r) for n, r in place], 0.22e-3)) for place in (within, around)]
    what = f"winding on a ring, {hole} in the hole, skin depth 0.22 mm: AC over DC resistance"
    assert found == known(expected, what, "fine filaments of the ring", INDEPENDENT, rel=0.15)


@pytest.mark.parametrize("depth", [0.8e-3, 0.4e-3, 0.22e-3])
@pytest.mark.parametrize("stretch", [1.05, 1.3, 1.6, 2.0])
@pytest.mark.parametrize("layers", [1, 2])
def test_rows_without_end_against_filaments(depth: float, stretch: float, layers: int) -> None:
    """Widest apart half way between the two models, at 1.6 diameters, where both are high."""
    pitch = stretch * WIRE
    expected = layer_filaments.resistance_ratio(WIRE, pitch, layers, depth, 1.02 * WIRE, cells=16)
    found = np.mean([float(layer_resistance_ratio(WIRE, pitch, depth, before)) for before in range(layers)])
    what = f"{layers} endless layer(s), pitch {stretch} diameters, skin depth {1e3 * depth:g} mm: AC over DC resistance"
    assert found == known(expected, what, "filaments of a layer", INDEPENDENT, rel=0.18)


def test_close_layers_add_up_to_dowells_formula() -> None:
    depth = np.array([1e-3, 0.3e-3])
    stack = np.mean([layer_resistance_ratio(WIRE, LAID, depth, before) for before in range(4)], axis=0)
    assert stack == known(
        dowell_factor(dowell_round_wire_xi(WIRE, LAID, depth), 4), "four close layers", "Dowell 1966", PUBLISHED, rel=1e-9
    )


def test_a_lone_wide_turn_is_a_lone_wire() -> None:
    assert layer_resistance_ratio(WIRE, 1.0, 0.3e-3, 0.0) == pytest.approx(round_wire_resistance_ratio(WIRE / 2, 0.3e-3), rel=1e-4)


def test_a_turn_is_far_below_its_layers_in_the_hole_and_above_those_outside() -> None:
    """27 turns of 1.6 mm in two layers: taken as if the whole turn lay in the hole, three times too much."""
    size, depth = RingSize(SMALL[1], SMALL[0], 11e-3), 0.22e-3
    turn = float(turn_resistance_ratio(WIRE, LAID, 27, size, depth))
    hole, outside = (
        float(place_resistance_ratio(WIRE, [(n, 2 * math.pi * r) for n, r in place], depth))
        for place in (circles((20, 7), SMALL[0], -1), circles((27,), SMALL[1], 1))
    )
    assert outside < turn < hole
    assert float(dowell_factor(dowell_round_wire_xi(WIRE, LAID, depth), 2)) > 2.5 * turn


def test_direct_current_has_a_ratio_of_one() -> None:
    assert turn_resistance_ratio(WIRE, LAID, 27, RingSize(SMALL[1], SMALL[0], 11e-3), 1.0) == pytest.approx(1.0, abs=1e-6)


def test_thin_strands_that_change_places_lose_less() -> None:
    """A bundle of nine against one wire of its copper, where a strand is thinner than the skin."""
    size, depth = RingSize(40e-3, 24e-3, 29e-3), 0.25e-3
    solid = float(turn_resistance_ratio(1.5e-3, 1.6e-3, 20, size, depth))
    bundle = float(turn_resistance_ratio(0.5e-3, 1.9e-3, 20, size, depth, sublayers=3.0))
    assert 1.0 < bundle < solid
