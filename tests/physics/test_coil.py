# SPDX-License-Identifier: GPL-3.0-or-later
"""A work coil at its working frequency against filaments that fill its metal, and against limits in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.physics import coil
from heatsim.physics.coil import crowded_coil, parallel_leads_crowding, parallel_leads_inductance
from heatsim.physics.conductor import skin_depth
from heatsim.physics.inductance import loop_self_inductance, solenoid_inductance
from tests.support import coil_filaments
from tests.support.book import CLOSED, INDEPENDENT, known

pytestmark = pytest.mark.numerics

COPPER = 1.75e-8

COILS = [
    (60e-3, 12e-3, 3, 8e-3, 1e-3, 85e3),
    (50e-3, 10e-3, 3, 8e-3, 1e-3, 85e3),
    (80e-3, 9e-3, 3, 6e-3, 0.8e-3, 60e3),
    (40e-3, 8e-3, 3, 6e-3, 1e-3, 150e3),
    (60e-3, 20e-3, 2, 8e-3, 1e-3, 85e3),
]
"""Coil diameter, pitch, turns, tube diameter, wall, frequency: six millimetre and eight millimetre tube, wide and close."""


@pytest.mark.parametrize("shape", COILS)
def test_inductance_and_resistance_against_filaments(shape: tuple[float, float, int, float, float, float]) -> None:
    """Filaments come down in resistance by 1 to 2 % when their number doubles, strips by 1 %: 5 % covers both."""
    diameter, pitch, turns, tube, wall, frequency = shape
    told = crowded_coil(diameter, pitch * turns, turns, tube, wall, COPPER, frequency)
    inductance, resistance = coil_filaments.impedance(diameter, pitch, turns, tube, wall, COPPER, frequency)
    what = f"coil of {turns} turns of {1e3 * tube:g} mm tube, {1e3 * diameter:g} mm"
    assert told.inductance == known(inductance, f"{what}: inductance", "filaments", INDEPENDENT, unit="H", rel=0.01)
    assert told.resistance == known(resistance, f"{what}: resistance", "filaments", INDEPENDENT, unit="ohm", rel=0.05)
    spread_evenly = solenoid_inductance(diameter, pitch * turns, turns, tube)
    assert 1.05 < spread_evenly / inductance < 1.25, "what crowding takes away"


def test_many_turns_with_half_the_strips_are_nearly_as_good(monkeypatch: pytest.MonkeyPatch) -> None:
    shape = (60e-3, 12e-3 * 25, 25, 8e-3, 1e-3, COPPER, 85e3)
    coarse = crowded_coil(*shape)
    monkeypatch.setattr(coil, "MANY_TURNS", 25)
    fine = crowded_coil(*shape)
    assert coarse.inductance == pytest.approx(fine.inductance, rel=6e-3)
    assert coarse.resistance == pytest.approx(fine.resistance, rel=0.03)


def test_mirror_images_carry_the_same_current() -> None:
    shares = crowded_coil(50e-3, 30e-3, 3, 8e-3, 1e-3, COPPER, 85e3).shares
    assert shares.shape == (3, coil.SEGMENTS)
    assert shares == pytest.approx(np.roll(shares[::-1, ::-1], 1, axis=1), rel=1e-9)


def test_a_thin_wide_ring_is_a_loop_with_its_current_on_the_surface() -> None:
    told = crowded_coil(0.5, 0.01, 1, 4e-3, 1e-3, COPPER, 1e6)
    depth = float(skin_depth(COPPER, 1e6))
    loop, skin = float(loop_self_inductance(0.25, 2e-3, 0.0)), COPPER * math.pi * 0.5 / (depth * math.pi * 4e-3)
    assert told.inductance == known(loop, "thin wide ring: inductance", "limit: Grover's loop", CLOSED, unit="H", rel=0.01)
    assert told.resistance == known(skin, "thin wide ring: resistance", "limit: one skin depth", CLOSED, unit="ohm", rel=0.03)


def test_current_crowds_to_the_inside() -> None:
    shares = crowded_coil(50e-3, 40e-3, 4, 8e-3, 1e-3, COPPER, 85e3).shares
    assert np.all(shares[:, coil.SEGMENTS // 2] > 3 * shares[:, 0])


def test_more_strips_change_little(monkeypatch: pytest.MonkeyPatch) -> None:
    shape = (60e-3, 36e-3, 3, 8e-3, 1e-3, COPPER, 85e3)
    coarse = crowded_coil(*shape)
    monkeypatch.setattr(coil, "SEGMENTS", 2 * coil.SEGMENTS)
    fine = crowded_coil(*shape)
    assert coarse.inductance == pytest.approx(fine.inductance, rel=4e-3)
    assert coarse.resistance == pytest.approx(fine.resistance, rel=0.012)


def test_a_broken_number_of_turns_lies_between() -> None:
    low, mid, high = (crowded_coil(60e-3, 12e-3 * turns, turns, 8e-3, 1e-3, COPPER, 85e3) for turns in (4, 4.5, 5))
    assert low.inductance < mid.inductance < high.inductance and low.resistance < mid.resistance < high.resistance


def test_a_thick_wall_is_solid_wire() -> None:
    tube, solid = (crowded_coil(60e-3, 36e-3, 3, 8e-3, wall, COPPER, 85e3) for wall in (2e-3, 4e-3))
    assert tube.resistance == pytest.approx(solid.resistance, rel=1e-3)


@pytest.mark.parametrize(
    ("change", "words"),
    [({"tube_diameter": 13e-3}, "pitch"), ({"wall": 5e-3}, "half the tube"), ({"frequency": 1e3}, "frequency too low")],
)
def test_what_it_cannot_describe_is_refused(change: dict[str, float], words: str) -> None:
    shape = {"diameter": 60e-3, "length": 72e-3, "turns": 6, "tube_diameter": 8e-3, "wall": 1e-3, "resistivity": COPPER}
    with pytest.raises(InputError, match=words):
        crowded_coil(**({**shape, "frequency": 85e3} | change))


def test_leads() -> None:
    """Far apart it is the textbook's mu0/pi l ln(2 s/d) of thin wires."""
    wires = 4e-7 * 0.2 * math.log(200)
    assert parallel_leads_inductance(0.2, 0.1, 1e-3) == known(wires, "leads far apart", "thin wires", CLOSED, unit="H", rel=1e-4)
    assert parallel_leads_inductance(0.2, 0.011, 0.01) < 0.3 * parallel_leads_inductance(0.2, 0.05, 0.01)
    with pytest.raises(InputError, match="overlap"):
        parallel_leads_inductance(0.2, 0.01, 0.01)
    assert parallel_leads_crowding(1.0, 1e-3) == pytest.approx(1.0, abs=1e-5)
    assert parallel_leads_crowding(0.0125, 0.01) == pytest.approx(5 / 3)
