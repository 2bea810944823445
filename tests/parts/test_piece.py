# SPDX-License-Identifier: GPL-3.0-or-later
"""Pieces: balance, symmetry, scales, the Curie point, how many slices and shells; `test_piece_in_coil` has the outside checks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.parts import piece as module
from heatsim.parts.piece import CELLS, SLICES, Correction, PieceShape, Substance, cut
from heatsim.physics.bar_field import magnetisation_share
from tests.support.pieces import COIL, WORK_COIL, bar, heated, heated_piece, impedance, of_metal
from tests.support.steel_skin import FREQUENCY, RESISTIVITY

PLAIN_STEEL = Substance(RESISTIVITY, None, "AISI 1008")


def test_a_bar_partly_in_takes_less_and_where_it_is_in() -> None:
    steel = of_metal("steel")
    found = [bar((0.015, 0.08, offset), steel, FREQUENCY, 200.0, coil=WORK_COIL) for offset in (0.0, 0.03, 0.06)]
    resistance = [each.corrected.reflection.resistance for each in found]
    assert resistance[0] > resistance[1] > resistance[2] > 0
    heat = found[2].powers(found[2].corrected)
    assert heat[found[2].piece.cuts[1:] < 0.045].sum() > 0.75 * heat.sum()
    assert np.all(heat[found[2].piece.cuts[:-1] > 0.08] < 0.005 * heat.sum())


LAYOUTS = {
    "steel": ([("steel", 0.015)], 0.0),
    "tube": ([("copper", 0.015)], 0.012),
    "crucible": ([("steel", 0.01), ("graphite", 0.015)], 0.0),
}


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("celsius", [20.0, 600.0, 900.0])
def test_what_the_coil_loses_is_what_the_piece_takes(layout: str, celsius: float) -> None:
    """2 P/I^2, of the sheets within what the search leaves, corrected to rounding."""
    metals, bore = LAYOUTS[layout]
    shape = PieceShape(0.015, bore, 0.06, 0.01, WORK_COIL)
    found = heated(shape, [(of_metal(name), end) for name, end in metals], FREQUENCY, 150.0, celsius)
    for field, band in ((found.plain, 2e-3), (found.corrected, 1e-9), (found.even, 1e-9)):
        assert 2 * found.powers(field).sum() / 150.0**2 == pytest.approx(field.reflection.resistance, rel=band)
        assert np.all(field.loss >= 0)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_piece_in_the_middle_is_heated_alike_on_both_sides(layout: str) -> None:
    metals, bore = LAYOUTS[layout]
    shape = PieceShape(0.015, bore, 0.06, 0.0, WORK_COIL)
    found = heated(shape, [(of_metal(name), end) for name, end in metals], FREQUENCY, 150.0)
    for field in (found.plain, found.corrected, found.even):
        assert field.loss == pytest.approx(field.loss[::-1], rel=1e-3)


@settings(max_examples=8, deadline=None)
@given(st.floats(0.4, 2.5), st.integers(1, 20), st.sampled_from([1.0, 30.0]))
def test_all_scales(scale: float, turns: int, mu_r: float) -> None:
    """Lengths times s, resistivity times s^2 at one frequency: impedance times s and the turns' square."""
    unit = bar((0.018, 0.05, 0.01), Substance(1e-6, mu_r, None), 3e4, coil=(0.06, 0.06, 1.0))
    size = (0.018 * scale, 0.05 * scale, 0.01 * scale)
    coil = (0.06 * scale, 0.06 * scale, float(turns))
    found = bar(size, Substance(1e-6 * scale**2, mu_r, None), 3e4, coil=coil)
    for ours, theirs, band in ((found.plain, unit.plain, 1e-6), (found.corrected, unit.corrected, 3e-3)):
        expected = impedance(theirs.reflection, 3e4) * scale * turns**2
        assert impedance(ours.reflection, 3e4) == pytest.approx(expected, rel=band)


def test_steel_scales_with_the_current() -> None:
    """Lengths times s, resistivity times s^2, current times s over the turns: the same field, and impedance times s."""
    unit = bar((0.015, 0.06, 0.01), PLAIN_STEEL, FREQUENCY, 200.0, coil=WORK_COIL)
    grown = Substance(4 * RESISTIVITY, None, "AISI 1008")
    found = bar((0.03, 0.12, 0.02), grown, FREQUENCY, 800.0, coil=(0.12, 0.16, 4.0))
    assert found.plain.surface == pytest.approx(unit.plain.surface, rel=2e-3)
    expected = impedance(unit.corrected.reflection, FREQUENCY) * 2 / 4
    assert impedance(found.corrected.reflection, FREQUENCY) == pytest.approx(expected, rel=4e-3)


def test_steel_saturates_and_loses_its_magnetism() -> None:
    """Resistance falls with the current, and past the Curie point is that of a permeability of 1."""
    steel = of_metal("steel")
    resistance = [bar((0.015, 0.06, 0.0), steel, FREQUENCY, each).corrected.reflection.resistance for each in (20.0, 100.0, 500.0)]
    assert resistance[0] > 1.5 * resistance[1] > 2.0 * resistance[2]
    hot = bar((0.015, 0.06, 0.0), steel, FREQUENCY, 200.0, celsius=900.0)
    assert np.all(hot.plain.permeability == 1.0)
    plain = Substance(float(steel.resistivity_at(np.array(900.0))), 1.0, None)
    same = impedance(bar((0.015, 0.06, 0.0), plain, FREQUENCY).corrected.reflection, FREQUENCY)
    assert np.max(np.abs(hot.off(same))) < 2e-3


def test_the_curie_point_is_spread() -> None:
    """Over 10 K at one temperature; the share is the mean of the spontaneous magnetisation over them, and over the slice's span."""
    steel = of_metal("steel")
    for low, high in ((755.0, 765.0), (765.0, 775.0), (300.0, 700.0), (771.0, 900.0)):
        mean = quad(lambda t: magnetisation_share(t, 770.0), low, high, points=[min(770.0, high)], limit=200)[0] / (high - low)
        assert steel.share(np.array(low), np.array(high)) == pytest.approx(mean, abs=3e-4)
    found = [bar((0.015, 0.06, 0.0), steel, FREQUENCY, 200.0, celsius=each) for each in (760.0, 764.0, 768.0, 772.0, 776.0)]
    outermost = np.array([abs(each.plain.permeability[SLICES // 2, -1]) for each in found])
    assert np.all(np.diff(outermost) < 0) and outermost[-1] == 1.0 < outermost[-2]
    sloping = bar((0.015, 0.06, 0.0), steel, FREQUENCY, 200.0, celsius=np.linspace(700.0, 850.0, SLICES))
    magnetic = np.abs(sloping.plain.permeability[:, -1])
    assert magnetic[0] > 10 and magnetic[-1] == 1.0 and np.count_nonzero(np.diff(magnetic)) >= SLICES // 3


def warmed(piece_radius: float, kind: str, found_cuts: np.ndarray, middles: np.ndarray, shape: PieceShape) -> np.ndarray:
    """Temperatures of every cell [°C] as a heat has them: hotter at the surface and in the middle."""
    place = ((found_cuts[1:] + found_cuts[:-1]) / 2 - shape.offset) / (shape.length / 2)
    depth = np.square(middles / piece_radius)
    profiles = {
        "cold": 20.0 + 0 * np.outer(place, depth),
        "warming": 400 + 300 * np.outer(1 - place**2, depth),
        "passing": 500 + 400 * np.outer(1 - 0.6 * place**2, depth),
        "hot": 1000.0 + 0 * np.outer(place, depth),
    }
    return np.asarray(profiles[kind])


@pytest.mark.parametrize(
    ("kind", "power", "reactive"), [("cold", 0.005, 0.005), ("warming", 0.02, 0.02), ("passing", 0.05, 0.03), ("hot", 0.005, 0.005)]
)
@pytest.mark.parametrize(
    "size",
    [
        (0.02, 0.02, 0.0),
        *(pytest.param(each, marks=pytest.mark.slow) for each in [(0.015, 0.12, 0.0), (0.008, 0.06, 0.0), (0.02, 0.03, 0.0)]),
        pytest.param((0.015, 0.08, 0.05), marks=pytest.mark.slow),
    ],
)
def test_twice_as_many_slices_and_shells(size: tuple[float, float, float], kind: str, power: float, reactive: float) -> None:
    """Within what `SLICES, CELLS` state."""
    shape, layers = PieceShape(size[0], 0.0, size[1], size[2], WORK_COIL), [(of_metal("steel"), size[0])]
    seen = []
    for times in (1, 2):
        piece = cut(shape, layers, FREQUENCY, times * SLICES, times * CELLS)
        celsius = warmed(size[0], kind, piece.cuts, piece.middles, shape)
        seen.append(heated_piece(piece, FREQUENCY, 200.0, celsius))
    resistance, reactance = seen[0].off(impedance(seen[1].corrected.reflection, FREQUENCY))
    assert abs(resistance) < power and abs(reactance) < reactive


def test_a_field_near_by_is_a_start() -> None:
    steel = of_metal("steel")
    found = bar((0.015, 0.06, 0.0), steel, FREQUENCY, 200.0)
    celsius = np.full(found.piece.volumes.shape, 20.0)
    again = found.piece.electric(celsius, FREQUENCY, 200.0, bar((0.015, 0.06, 0.0), steel, FREQUENCY, 150.0).plain, 1e-6)
    assert again.reflection == pytest.approx(found.plain.reflection, rel=1e-3)


def test_a_correction_is_a_factor_on_heat_and_something_added() -> None:
    found = bar((0.015, 0.06, 0.0), of_metal("copper"), FREQUENCY, 200.0)
    piece, plain = found.piece, found.plain
    same = piece.corrected(plain, 200.0, Correction.none(SLICES))
    assert same.loss == pytest.approx(plain.loss) and same.reflection == pytest.approx(plain.reflection, rel=2e-3)
    more = piece.corrected(plain, 200.0, Correction(np.full(SLICES, 3.0), 1e-8))
    assert more.reflection.resistance == pytest.approx(3 * same.reflection.resistance)
    assert more.reflection.inductance_change == pytest.approx(plain.reflection.inductance_change + 1e-8)


def test_a_piece_of_one_temperature_keeps_its_correction() -> None:
    """Equal pieces find it; a frequency 1 % off finds the same one, 10 % off another."""
    shape, layers = PieceShape(0.015, 0.0, 0.06, 0.01, COIL), [(of_metal("stainless 304"), 0.015)]
    pieces = [cut(shape, layers, 8e4) for _ in range(2)]
    frequency = float(np.exp(0.05 * round(np.log(8e4) / 0.05)))

    def correction(number: int, times: float) -> Correction:
        piece = pieces[number]
        field = piece.electric(np.full(piece.volumes.shape, 20.0), times * frequency, 1.0)
        return piece.even_correction(20.0, field, times * frequency)

    assert correction(0, 1.0) is correction(1, 1.01)
    assert correction(0, 1.0) is not correction(0, 1.1)


def test_equal_pieces_are_equal() -> None:
    shape, layers = PieceShape(0.015, 0.0, 0.06, 0.01, COIL), [(of_metal("steel"), 0.015)]
    one, other = (cut(shape, layers, 8e4) for _ in range(2))
    assert one == other and hash(one) == hash(other) and {one: 1}[other] == 1
    copper = [(of_metal("copper"), 0.015)]
    for different in (
        cut(replace(shape, offset=0.0), layers, 8e4),
        cut(shape, copper, 8e4),
        cut(shape, layers, 2e4),
        cut(shape, layers, 8e4, SLICES + 1),
        replace(one, edges=one.edges * 0.999),
    ):
        assert one != different
    assert one != shape and one.__eq__("piece") is NotImplemented


def test_cells_fill_the_piece() -> None:
    """Volumes add up; shells end where layers do, and are fine at the surface."""
    layers = [(of_metal("steel"), 0.011), (of_metal("graphite"), 0.02)]
    piece = cut(PieceShape(0.02, 0.0, 0.06, 0.01, WORK_COIL), layers, 8e4)
    assert piece.volumes.shape == (SLICES, CELLS)
    assert piece.volumes.sum() == pytest.approx(np.pi * 0.02**2 * 0.06)
    assert 0.011 in piece.edges and (piece.cuts[0], piece.cuts[-1]) == pytest.approx((-0.02, 0.04))
    inner = piece.volumes[:, piece.middles < 0.011].sum()
    assert inner == pytest.approx(np.pi * 0.011**2 * 0.06)
    tube = cut(PieceShape(0.02, 0.015, 0.06, 0.0, WORK_COIL), [(of_metal("copper"), 0.02)], 8e4)
    assert tube.edges[0] == pytest.approx(0.015) and np.all(np.diff(tube.edges) > 0)
    assert np.diff(tube.edges)[-1] < 0.3 * np.sqrt(1.724e-8 / (np.pi * 8e4 * MU_0)) * 1.001


def test_heat_of_layers_is_that_of_their_metals() -> None:
    """Of all cells, flat or not; enthalpy and temperature are inverse, and the least of the highest temperatures counts."""
    steel, graphite = of_metal("steel"), of_metal("graphite")
    assert steel.hot is not None and graphite.hot is not None
    piece = cut(PieceShape(0.02, 0.0, 0.06, 0.0, WORK_COIL), [(steel, 0.011), (graphite, 0.02)], 8e4)
    inside = piece.middles < 0.011
    celsius = np.random.default_rng(1).uniform(20, 1100, piece.volumes.shape)
    for of in ("enthalpy", "conductivity"):
        expected = np.where(inside, getattr(steel.hot, of)(celsius), getattr(graphite.hot, of)(celsius))
        assert getattr(piece.heat, of)(celsius) == pytest.approx(expected)
        flat = getattr(piece.heat, of)(celsius.T.ravel())
        assert flat == pytest.approx(expected.T.ravel())
    assert piece.heat.temperature(piece.heat.enthalpy(celsius)) == pytest.approx(celsius)
    slope = (piece.heat.enthalpy(celsius + 5.0) - piece.heat.enthalpy(celsius - 5.0)) / 10.0
    assert piece.heat.capacity(celsius) == pytest.approx(slope) and np.all(slope > 1e6)
    assert piece.highest_c == min(steel.hot.highest_c, graphite.hot.highest_c)
    assert (piece.curie_c, piece.curve) == (770.0, "AISI 1008")


def test_resistivity_over_temperature_is_scaled_to_the_cold_value() -> None:
    steel = of_metal("steel")
    assert steel.hot is not None
    twice = replace(steel, resistivity=2 * steel.resistivity)
    at = np.array([20.0, 400.0, 900.0])
    assert twice.resistivity_at(at) == pytest.approx(2 * steel.resistivity_at(at))
    assert steel.resistivity_at(at)[0] == pytest.approx(steel.resistivity)
    assert steel.resistivity_at(at)[2] / steel.resistivity == pytest.approx(
        float(steel.hot.resistivity(900.0)) / float(steel.hot.resistivity(20.0))
    )
    assert np.all(Substance(1e-6, 1.0, None).resistivity_at(at) == 1e-6)


def test_what_is_known_cold_only_has_no_heat() -> None:
    piece = cut(PieceShape(0.015, 0.0, 0.06, 0.0, COIL), [(of_metal("steel"), 0.01), (PLAIN_STEEL, 0.015)], 8e4)
    with pytest.raises(InputError, match=r"course over temperature is not known.*\[.hot\]"):
        _ = piece.heat
    alone = cut(PieceShape(0.015, 0.0, 0.06, 0.0, COIL), [(PLAIN_STEEL, 0.015)], 8e4)
    assert (alone.highest_c, alone.curie_c) == (np.inf, None)


def test_bad_input(monkeypatch: pytest.MonkeyPatch) -> None:
    shape = PieceShape(0.015, 0.0, 0.06, 0.0, COIL)
    piece = cut(shape, [(PLAIN_STEEL, 0.015)], 8e4)
    cold = np.full(piece.volumes.shape, 20.0)
    with pytest.raises(InputError, match="no curve for such a field"):
        piece.electric(cold, 8e4, 1e6)
    with pytest.raises(InputError, match="as thick as the coil"):
        bar((0.03, 0.06, 0.0), PLAIN_STEEL, 8e4)
    with pytest.raises(InputError, match="frequency"):
        piece.electric(cold, 0.0, 100.0)
    monkeypatch.setattr(module, "ROUNDS", 2)
    with pytest.raises(InputError, match="workpiece.*the field at its surface comes to no end.*A/m"):
        piece.electric(cold, 8e4, 200.0)
