# SPDX-License-Identifier: GPL-3.0-or-later
"""Windings on rings: wire tables, fit, lengths, resistance, capacitance; tests/support/references.py, sections 1 and 3."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.parts.ring import RingCore
from heatsim.parts.winding import AC_BAND, CAPACITANCE_BAND, Winding
from heatsim.physics.conductor import round_wire_resistance_ratio, skin_depth
from heatsim.physics.layers import turn_resistance_ratio
from heatsim.physics.ringcore import RingSize
from tests.support import references as ref
from tests.support import ring_filaments
from tests.support.book import CLOSED, INDEPENDENT, known, listed
from tests.support.layers import quick_of
from tests.support.windings import of_wire

RING = RingCore(RingSize(40e-3, 24e-3, 15e-3), 1, 100e-3, 110e-6)
WIRE = Winding(20, 1, 1.6e-3, 1.7e-3)


@pytest.mark.parametrize("row", ref.AWG, ids=lambda row: f"AWG{row[0]}")
def test_resistance_per_length_of_a_gauge(row: tuple) -> None:
    """Ohm per km at 20 °C: resistance of the winding over the length of its turns."""
    gauge = row[0]
    ring = RingCore(RingSize(90e-3, 60e-3, 15e-3), 1, 0.2, 200e-6)
    winding = of_wire(5, f"AWG {gauge}")
    per_km = winding.resistance(ring, 20.0) / (5 * winding.mean_turn(ring)) * 1e3
    assert per_km == listed("AWG", "ohm", row)


@pytest.mark.parametrize("row", ref.ENAMEL, ids=lambda row: f"{row[0]}mm")  # IEC 60317-0-1, recalled
def test_enamel_grades(row: tuple) -> None:
    for grade in (1, 2):
        winding = of_wire(10, f"{row[0]} mm", grade=grade)
        assert winding.overall * 1e3 == listed("ENAMEL", f"grade{grade}", row)


def test_strands_side_by_side_are_wires_of_their_own() -> None:
    """A layer holds floor(pi/asin(1.7/22.3)) = 41 touching wires."""
    three = replace(WIRE, strands=3)
    assert (three.wires, three.laid) == (60, 1.7e-3)
    assert three.copper_area == pytest.approx(3 * WIRE.copper_area)
    assert three.fill(RING).layers == (41, 19)
    assert WIRE.fill(RING).layers == (20,)


def test_a_twisted_bundle_is_laid_as_one_thick_wire() -> None:
    seven = Winding(20, 7, 0.5e-3, 0.55e-3, "twisted")
    assert (seven.wires, seven.laid) == (20, pytest.approx(1.65e-3))
    assert seven.copper_area == pytest.approx(7 * math.pi / 4 * 0.25e-6)
    assert seven.strand_lay == pytest.approx(math.hypot(1, math.pi * 4 / 90))
    flat = replace(seven, lay="side by side")
    same_turn = seven.mean_turn(RING) / flat.mean_turn(RING)
    assert seven.resistance(RING, 20.0) == pytest.approx(flat.resistance(RING, 20.0) * same_turn * seven.strand_lay)


def test_lengths_and_copper_by_hand() -> None:
    """Section 40-24+2*15 = 46 mm, one layer of 1.7 mm wire: 46 + pi*1.7 = 51.341 mm a turn; 20 turns and two tails of
    100 mm: 1226.8 mm; 8890 kg/m3 * 2.0106 mm2 * 1.2268 m = 21.93 g."""
    assert WIRE.mean_turn(RING) == known(51.341e-3, "mean turn of 1.6 mm wire on a ring", "by hand", CLOSED, unit="m", abs=1e-6)
    assert WIRE.cut_length(RING) == known(1.2268, "length to cut for 20 turns", "by hand", CLOSED, unit="m", abs=1e-4)
    assert WIRE.copper_mass(RING) == known(21.93e-3, "copper of 20 turns", "by hand", CLOSED, unit="kg", rel=1e-3)
    assert WIRE.fill(RING).free_diameter == pytest.approx((24 - 3.4) * 1e-3)


def test_a_loose_winding_is_longer_and_keeps_more_inductance_in_air() -> None:
    """A turn that stands off by s on average is 2 pi s longer; the air-core section grows all round."""
    loose = replace(WIRE, looseness=0.5e-3)
    assert loose.mean_turn(RING) - WIRE.mean_turn(RING) == pytest.approx(2 * math.pi * 0.5e-3)
    log = math.log((40 + 1.7 + 1) / (24 - 1.7 - 1))
    assert loose.air_inductance(RING) == pytest.approx(MU_0 * 400 * (15 + 1.7 + 1) * 1e-3 * log / (2 * math.pi))
    assert loose.air_inductance(RING) > WIRE.air_inductance(RING)


def test_coating_takes_room_in_the_bore() -> None:
    coated = replace(RING, coating=0.5e-3)
    assert coated.former == pytest.approx((41e-3, 23e-3, 16e-3))
    assert WIRE.fill(coated).free_diameter == pytest.approx(WIRE.fill(RING).free_diameter - 1e-3)
    assert coated.area == RING.area


def test_what_does_not_fit_is_told() -> None:
    assert WIRE.fits(RING) and not replace(WIRE, turns=400).fits(RING)
    with pytest.raises(InputError, match="does not fit"):
        replace(WIRE, turns=400).fill(RING)


def test_ac_factor_is_that_of_the_turn_at_the_coppers_skin_depth() -> None:
    """41 wires in one layer, the skin depth of copper at 80 °C; the table between is fine enough."""
    full = replace(WIRE, turns=41)
    frequency, celsius = np.array([2e3, 2e4, 1.234e5, 1e6, 1e7]), 80.0
    depth = np.asarray(skin_depth(1.7241379e-8 * (1 + 3.93e-3 * 60), frequency))
    expected = turn_resistance_ratio(1.6e-3, 1.7e-3, 41, RingSize(40e-3, 24e-3, 15e-3), depth)
    assert full.ac_factor(RING, frequency, celsius) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("strands", [1, 3])
@pytest.mark.parametrize(
    ("hole", "outside"), quick_of([((18,), (18,)), ((18, 9), (27,)), ((18, 12, 6), (36,))], ((18,), (18,)), ((18, 9), (27,)))
)
def test_the_small_rings_hole_against_filaments(hole: tuple[int, ...], outside: tuple[int, ...], strands: int) -> None:
    """One, two and three layers in a 12.7 mm hole, 1.6 mm wire or strands side by side at 85 kHz and 60 °C. Filaments give
    the hole and the outside; the faces, whose wires lie between the two, are taken half way. Taking the hole for the whole turn
    came out three times too high.
    """
    ring = RingCore(RingSize(27e-3, 12.7e-3, 11e-3), 1, 63e-3, 65e-6)
    wire = Winding(sum(hole) // strands, strands, 1.6e-3, 1.7e-3)
    depth = float(skin_depth(1.7241379e-8 * (1 + 3.93e-3 * 40), 85e3))
    within = [(n, 12.7e-3 / 2 - (k + 0.5) * 1.7e-3) for k, n in enumerate(hole)]
    around = [(n, 27e-3 / 2 + (k + 0.5) * 1.7e-3) for k, n in enumerate(outside)]
    bore, mantle = ring_filaments.resistance_ratios(1.6e-3, within, around, math.gcd(*hole, *outside), depth, cells=16)
    found = float(wire.ac_factor(ring, np.array([85e3]), 60.0)[0])
    what = f"AC over DC resistance on a small ring, {hole} in the hole, {strands} strand(s)"
    assert found == known((bore + mantle) / 2, what, "filaments of the ring", INDEPENDENT, rel=0.25)


def test_ac_factor_tends_to_one_and_never_falls_below_the_lone_wire() -> None:
    sparse = replace(WIRE, turns=4)
    assert sparse.ac_factor(RING, np.array([1.0]), 20.0) == pytest.approx([1.0], abs=1e-6)
    depth = float(skin_depth(1 / 58e6, 1e5))
    alone = round_wire_resistance_ratio(0.8e-3, depth)
    assert float(sparse.ac_factor(RING, np.array([1e5]), 20.0)[0]) == pytest.approx(float(alone), rel=0.05)
    assert float(sparse.ac_factor(RING, np.array([1e5]), 20.0)[0]) > float(alone)


def test_a_second_layer_costs_far_more_than_its_length() -> None:
    one, two = (replace(WIRE, turns=turns).ac_factor(RING, np.array([1e5]), 60.0)[0] for turns in (41, 60))
    assert two > 1.4 * one


def test_thin_twisted_strands_beat_one_thick_wire_at_the_ripple() -> None:
    """What bundles are for: the same copper in 37 strands, at 100 kHz, where a strand is 1.4 skin depths thick. (15 turns of the
    one wire lie 4 mm apart on this ring's outside: they lose no more than twice as much.)"""
    solid = Winding(15, 1, 1.8e-3, 1.9e-3)
    bundle = Winding(15, 37, 1.8e-3 / math.sqrt(37), 0.34e-3, "twisted")
    assert bundle.copper_area == pytest.approx(solid.copper_area)
    frequency = np.array([1e5])
    lossy = [w.ac_factor(RING, frequency, 60.0)[0] * w.resistance(RING, 60.0) for w in (solid, bundle)]
    assert lossy[1] < 0.55 * lossy[0]
    assert AC_BAND["twisted"] > AC_BAND["side by side"] > AC_BAND["single"] > 1
    assert (solid.ac_band, bundle.ac_band) == (AC_BAND["single"], AC_BAND["twisted"])


def test_self_capacitance_is_an_estimate_with_its_band() -> None:
    """Measured single-layer rings of some 20 turns show 5 to 40 pF (common practice, no source)."""
    value, low, high = WIRE.self_capacitance(RING)
    assert 3e-12 < value < 40e-12
    assert (low, high) == pytest.approx((value / CAPACITANCE_BAND, value * CAPACITANCE_BAND))
    longer = RingCore(RING.size, 4, RING.path_length, RING.area)
    assert WIRE.self_capacitance(longer).value > 2 * value
