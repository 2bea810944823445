# SPDX-License-Identifier: GPL-3.0-or-later
"""Pieces in their coil against coupled rings, finite volumes, a skin that follows the field, closed forms and limits.

Bands are what was measured, rounded up; tests/physics/test_slices.py holds the field that corrects a piece to the same references.
"""

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
from heatsim.physics.eddy import cylinder_power, mean_permeability, tube_power
from heatsim.physics.saturable import surface_permeabilities, surface_permeability
from heatsim.physics.slices import SliceField, slice_field
from tests.support.bar_in_coil import Solenoid
from tests.support.independent.bar_volumes import Volumes
from tests.support.independent.filaments import Bar, bar_in_turns
from tests.support.pieces import Heated, heated, heated_piece, impedance, of_metal
from tests.support.steel_skin import FREQUENCY, RESISTIVITY, skin, steel_impedance

COIL = (0.06, 0.06, 8.0)
WORK_COIL = (0.06, 0.08, 8.0)
SHAPES = [  # radius, length, offset [m]
    (0.015, 0.06, 0.0),
    (0.024, 0.06, 0.0),
    (0.009, 0.03, 0.0),
    (0.02, 0.02, 0.0),
    (0.015, 0.12, 0.0),
    (0.018, 0.06, 0.03),
    (0.015, 0.03, 0.02),
]
PLAIN_STEEL = Substance(RESISTIVITY, None, "AISI 1008")


def frequency_for(radius: float, ratio: float, mu_r: float = 1.0, resistivity: float = 1e-6) -> float:
    """Frequency at which the radius is `ratio` skin depths."""
    return resistivity / (np.pi * MU_0 * mu_r * (radius / ratio) ** 2)


def bar(shape: tuple[float, float, float], substance: Substance, frequency: float, current: float = 1.0, **more: object) -> Heated:
    """A bar of one substance in COIL unless another `coil` is given."""
    coil = more.pop("coil", COIL)
    size = PieceShape(shape[0], 0.0, shape[1], shape[2], coil)  # type: ignore[arg-type]
    return heated(size, [(substance, shape[0])], frequency, current, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("ratio", [1.5, 4.0])
@pytest.mark.parametrize("shape", SHAPES)
def test_impedance_against_coupled_rings(shape: tuple[float, float, float], ratio: float) -> None:
    """A coil of loops; 5 % are asked for. Without correction sheets alone are up to 13 % off."""
    frequency = frequency_for(shape[0], ratio)
    truth = bar_in_turns(COIL, Bar(*shape, 1e-6), frequency)[0]
    found = bar(shape, Substance(1e-6, 1.0, None), frequency)
    for seen in (found.corrected.reflection, found.even.reflection):
        assert np.max(np.abs(found.off(truth, seen))) < 0.007
    assert 0.002 < np.max(np.abs(found.off(truth, found.plain.reflection))) < 0.14


@pytest.mark.parametrize(("turns", "radius", "within"), [(5.0, 0.015, 0.011), (5.0, 0.024, 0.011), (3.0, 0.018, 0.036)])
def test_turns_far_apart(turns: float, radius: float, within: float) -> None:
    """A fifth and a third of the diameter from turn to turn: what a sheet in place of loops costs."""
    frequency, coil = frequency_for(radius, 4.0), (0.06, 0.06, turns)
    truth = bar_in_turns(coil, Bar(radius, 0.05, 0.0, 1e-6), frequency)[0]
    assert np.max(np.abs(bar((radius, 0.05, 0.0), Substance(1e-6, 1.0, None), frequency, coil=coil).off(truth))) < within


@pytest.mark.parametrize(
    ("metal", "shape", "frequency"),
    [
        ("copper", (0.003, 0.05, 0.0), 12e3),
        ("copper", (0.01, 0.03, 0.02), 1e3),
        ("stainless 304", (0.008, 0.06, 0.0), 80e3),
        ("stainless 304", (0.015, 0.06, 0.03), 30e3),
    ],
)
def test_metals_against_coupled_rings(metal: str, shape: tuple[float, float, float], frequency: float) -> None:
    """Copper, and steel of low permeability (1.02, which the rings do not know)."""
    substance = of_metal(metal)
    truth = bar_in_turns(COIL, Bar(*shape, substance.resistivity), frequency, (18, 60))[0]
    assert np.max(np.abs(bar(shape, substance, frequency, 200.0).off(truth))) < 0.02


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(("ratio", "mu_r"), [(15.0, 1.0), (65.0, 1.0), (4.0, 5.0), (1.5, 20.0)])
def test_impedance_against_finite_volumes(shape: tuple[float, float, float], ratio: float, mu_r: float) -> None:
    frequency = frequency_for(shape[0], ratio, mu_r)
    truth = Volumes(COIL, Bar(*shape, 1e-6), mu_r, frequency).solve()[0]
    found = bar(shape, Substance(1e-6, mu_r, None), frequency)
    for seen in (found.corrected.reflection, found.even.reflection):
        assert np.max(np.abs(found.off(truth, seen))) < 0.012


@pytest.mark.parametrize("rise", [1.0, 4.0])
def test_heat_along_the_bar_against_coupled_rings(rise: float) -> None:
    """Also where half of it has four times the resistivity: nickel-like course over temperature is not needed, two runs are cut."""
    shape, frequency = (0.018, 0.06, 0.03), frequency_for(0.018, 4.0)
    found = bar(shape, Substance(1e-6, 1.0, None), frequency)
    uneven = replace(found.piece, layers=((_Uneven(1e-6, 1.0, None, rise=rise), 0.018),))
    found = heated_piece(uneven, frequency, 1.0, np.where(np.arange(SLICES) < SLICES // 2, 0.0, 1.0))
    truth = bar_in_turns(COIL, Bar(*shape, 1e-6, rise), frequency, (12, 56), found.piece.cuts)[1]
    assert found.powers(found.corrected) == pytest.approx(truth, rel=0.05)
    assert found.powers(found.corrected).sum() == pytest.approx(truth.sum(), rel=0.01)


class _Uneven(Substance):
    """Resistivity that is so many times as high at 1 °C as at 0 °C."""

    def __init__(self, *given: object, rise: float) -> None:
        super().__init__(*given)  # type: ignore[arg-type]
        object.__setattr__(self, "rise", rise)

    def resistivity_at(self, celsius: np.ndarray) -> np.ndarray:
        return np.asarray(self.resistivity * (1 + (self.rise - 1) * celsius))  # type: ignore[attr-defined]


@pytest.mark.parametrize("mu_r", [1.0, 50.0])
def test_a_long_bar_in_a_long_coil_is_the_cylinder(mu_r: float) -> None:
    """100 turns a metre; ends fade as diameter over length. Davies & Simpson 1979."""
    found = bar((0.01, 8.0, 0.0), Substance(2e-7, mu_r, None), 5e4, coil=(0.04, 8.0, 800.0))
    assert found.corrected.reflection.resistance == pytest.approx(cylinder_power(0.01, 8.0, 2e-7, mu_r, 5e4, 100.0), rel=6e-3)
    flux = MU_0 * np.pi * 1e-4 * 8.0 * 1e4 * (mean_permeability(0.01, 2e-7, mu_r, 5e4) - 1).real
    assert found.corrected.reflection.inductance_change == pytest.approx(flux, rel=0.01)


@pytest.mark.parametrize(("bore", "frequency"), [(0.0195, 3e3), (0.018, 2e4), (0.01, 1e5)])
def test_a_long_tube_in_a_long_coil_is_the_closed_form(bore: float, frequency: float) -> None:
    found = heated(PieceShape(0.02, bore, 8.0, 0.0, (0.06, 8.0, 800.0)), [(Substance(1e-6, 1.0, None), 0.02)], frequency)
    exact = tube_power((0.02, bore), 8.0, 1e-6, 1.0, frequency, 100.0)
    assert found.corrected.reflection.resistance == pytest.approx(exact, rel=0.012)


def test_a_long_steel_bar_takes_what_the_cylinder_takes() -> None:
    """100 turns a metre, 200 A: 20 kA/m at the surface but for the ends, and the permeability that goes with it."""
    found = bar((8e-3, 8.0, 0.0), PLAIN_STEEL, FREQUENCY, 200.0, coil=(0.04, 8.0, 800.0))
    assert found.plain.surface[SLICES // 2] == pytest.approx(20e3, rel=1e-3)
    mean = mean_permeability(8e-3, RESISTIVITY, surface_permeability(20e3, "AISI 1008"), FREQUENCY)
    power = -np.pi * FREQUENCY * MU_0 * mean.imag * 20e3**2 * np.pi * 8e-3**2 * 8.0
    assert found.corrected.reflection.resistance * 200.0**2 / 2 == pytest.approx(power, rel=0.012)


SHORT, LONG = (0.02, 0.02), (0.015, 0.12)


@pytest.mark.parametrize("coil", [WORK_COIL, (0.06, 0.03, 5.0)])
@pytest.mark.parametrize(("piece", "band"), [(LONG, 0.035), ((0.015, 0.03), 0.075), (SHORT, 0.115), ((0.01, 0.03), 0.065)])
def test_cold_steel_against_a_skin_that_follows_the_field(
    coil: tuple[float, float, float], piece: tuple[float, float], band: float
) -> None:
    """Finite volumes with the skin of integrations in time, at every place of mantle and end faces that of the field there; 200 A.

    At most low: 2 to 3 % is the permeability for the fundamental (`surface_permeability`), the rest end faces, which get the
    permeability of their slice. Within 10 %, but for a bar half as long as thick; next to permeability 1 it is five times.
    """
    truth = complex(*Solenoid(coil, piece, FREQUENCY).reflection(steel_impedance(), 200.0))
    truth = complex(truth.real, 2 * np.pi * FREQUENCY * truth.imag)
    found = bar((*piece, 0.0), PLAIN_STEEL, FREQUENCY, 200.0, coil=coil)
    for seen in (found.corrected.reflection, found.even.reflection):
        resistance, reactance = found.off(truth, seen)
        assert -band < resistance < 0.0
        assert abs(reactance) < 0.075
    plain = bar((*piece, 0.0), Substance(RESISTIVITY, 1.0, None), FREQUENCY, coil=coil)
    assert plain.corrected.reflection.resistance < truth.real / 5


@pytest.mark.parametrize("coil", [WORK_COIL, (0.06, 0.03, 5.0)])
@pytest.mark.parametrize(("piece", "band"), [(LONG, 0.01), ((0.015, 0.03), 0.02), (SHORT, 0.047), ((0.01, 0.03), 0.01)])
def test_cold_steel_against_its_own_skin_at_every_place(
    coil: tuple[float, float, float], piece: tuple[float, float], band: float
) -> None:
    """The same with the impedance of `surface_permeability`: what cutting into slices costs by itself."""

    def impedance_at(field: np.ndarray) -> np.ndarray:
        mu = surface_permeabilities(np.maximum(field, 1.0), "AISI 1008")
        return np.asarray(np.sqrt(2j * np.pi * FREQUENCY * MU_0 * mu * RESISTIVITY))

    truth, _ = Solenoid(coil, piece, FREQUENCY, 0.2e-3).reflection(impedance_at, 200.0)
    found = bar((*piece, 0.0), PLAIN_STEEL, FREQUENCY, 200.0, coil=coil)
    assert found.corrected.reflection.resistance == pytest.approx(truth, rel=band)


@pytest.mark.parametrize("piece", [LONG, (0.015, 0.03), SHORT, (0.01, 0.03)])
def test_a_thin_linear_skin_against_finite_volumes(piece: tuple[float, float]) -> None:
    """Permeability 100: two hundred skin depths and more in radius."""
    surface = (1 + 1j) * RESISTIVITY / skin(100.0)
    truth = complex(*Solenoid(WORK_COIL, piece, FREQUENCY).reflection(lambda field: surface + 0.0 * field, 1.0))
    found = bar((*piece, 0.0), Substance(RESISTIVITY, 100.0, None), FREQUENCY, coil=WORK_COIL)
    assert np.max(np.abs(found.off(complex(truth.real, 2 * np.pi * FREQUENCY * truth.imag)))) < 0.01


def sliced_steel(found: Heated, share: np.ndarray, resistivity: np.ndarray) -> SliceField:
    """A field in two dimensions, each slice's permeability that of the field at its own mantle there, until both stand.

    A curve whose magnetisation is a share s of AISI 1008's has 1 + s (mu - 1) at the surface, for mu well above 1.
    """
    piece, field = found.piece, np.full(share.size, 1e4)
    for _ in range(60):
        mu = 1 + share * (surface_permeabilities(field, "AISI 1008") - 1)
        radii = (piece.shape.outer, piece.shape.bore)
        seen = slice_field(piece.shape.coil, radii, tuple(piece.cuts), resistivity, mu, found.frequency)
        moved = seen.field * found.current / field
        if np.max(np.abs(moved[share > 0] - 1)) < 2e-3:
            return seen
        field = field * np.sqrt(moved)
    raise AssertionError("comes to no end")


@pytest.mark.slow
@pytest.mark.parametrize("shape", [(0.015, 0.12, 0.0), (0.015, 0.03, 0.0), (0.01, 0.06, 0.0), (0.02, 0.02, 0.0)])
def test_half_past_the_curie_point_against_slices_of_unequal_permeability(shape: tuple[float, float, float]) -> None:
    """Half at 900 °C, half at 640 °C: the slice beside the hot half runs to 770 °C, its Curie point.

    Resistance within 2.5 %, reactance 6 % of the impedance; heat of the slices within 5 %, 15 % beside the border.
    """
    steel = of_metal("steel")
    celsius = np.where(np.arange(SLICES) < SLICES // 2, 640.0, 900.0)
    found = bar(shape, steel, FREQUENCY, 200.0, coil=WORK_COIL, celsius=celsius)
    share = np.where(celsius > 700.0, 0.0, magnetisation_share(640.0, 770.0))
    share[SLICES // 2 - 1] = np.mean(magnetisation_share(np.linspace(640.0, 770.0, 1001), 770.0))
    truth = sliced_steel(found, share, steel.resistivity_at(celsius))
    resistance, reactance = found.off(impedance(truth.reflection, FREQUENCY))
    assert abs(resistance) < 0.025 and abs(reactance) < 0.06
    ratio = found.powers(found.corrected) / (truth.resistance * 200.0**2 / 2)
    border = np.abs(np.arange(SLICES) - SLICES / 2 + 0.5) < 2
    assert ratio[~border] == pytest.approx(1.0, abs=0.05) and ratio[border] == pytest.approx(1.0, abs=0.15)


@pytest.mark.parametrize(("bore", "ratio", "mu_r"), [(0.013, 4.0, 1.0), (0.008, 4.0, 5.0), (0.0145, 6.0, 1.0), (0.0145, 1.0, 1.0)])
def test_tubes_against_finite_volumes(bore: float, ratio: float, mu_r: float) -> None:
    """From a wall of several skin depths to one of a thirtieth of one."""
    frequency = frequency_for(0.015, ratio, mu_r)
    truth = Volumes(COIL, Bar(0.015, 0.05, 0.01, 1e-6), mu_r, frequency, bore).solve()[0]
    found = heated(PieceShape(0.015, bore, 0.05, 0.01, COIL), [(Substance(1e-6, mu_r, None), 0.015)], frequency)
    for seen in (found.corrected.reflection, found.even.reflection):
        assert np.max(np.abs(found.off(truth, seen))) < 0.006


@pytest.mark.parametrize(("bore", "ratio"), [(0.013, 4.0), (0.008, 4.0), (0.0145, 6.0)])
def test_a_crucible_filled_with_next_to_nothing_is_a_tube(bore: float, ratio: float) -> None:
    """A charge of 1 kohm*m. The sheets tell the same; the correction takes a body of one substance, which costs 1 % and 8 %."""
    frequency, wall = frequency_for(0.015, ratio), Substance(1e-6, 1.0, None)
    tube = heated(PieceShape(0.015, bore, 0.05, 0.01, COIL), [(wall, 0.015)], frequency)
    filled = heated(PieceShape(0.015, 0.0, 0.05, 0.01, COIL), [(Substance(1e3, 1.0, None), bore), (wall, 0.015)], frequency)
    truth = impedance(tube.plain.reflection, frequency)
    assert np.max(np.abs(filled.off(truth, filled.plain.reflection))) < 2e-3
    resistance, reactance = filled.off(impedance(tube.corrected.reflection, frequency))
    assert abs(resistance) < 0.012 and abs(reactance) < 0.08
    assert np.sum((filled.plain.loss * filled.piece.volumes)[:, filled.piece.middles < bore]) < 1e-6 * filled.powers(filled.plain).sum()


def test_a_crucible_too_thin_to_matter_is_the_bar() -> None:
    """10 um of graphite on steel: within 0.5 % as sheets, 3 % corrected."""
    steel, graphite = of_metal("steel"), of_metal("graphite")
    shape = PieceShape(0.015, 0.0, 0.06, 0.0, WORK_COIL)
    plain = heated(shape, [(steel, 0.015)], FREQUENCY, 200.0)
    coated = heated(shape, [(steel, 0.01499), (graphite, 0.015)], FREQUENCY, 200.0)
    assert coated.plain.reflection.resistance == pytest.approx(plain.plain.reflection.resistance, rel=0.005)
    assert np.max(np.abs(coated.off(impedance(plain.corrected.reflection, FREQUENCY)))) < 0.03


def test_a_crucible_shields_its_steel() -> None:
    """10 mm of graphite, some two skin depths at 80 kHz: next to all heat is in the wall, more of it the higher the frequency."""
    layers = [(of_metal("steel"), 0.01), (of_metal("graphite"), 0.02)]
    inside = []
    for frequency in (5e3, 80e3):
        found = heated(PieceShape(0.02, 0.0, 0.06, 0.0, WORK_COIL), layers, frequency, 200.0)
        heat = found.corrected.loss * found.piece.volumes
        inside.append(heat[:, found.piece.middles < 0.01].sum() / heat.sum())
    assert 0.0 < inside[1] < inside[0] / 2 < 0.5


def test_a_bar_partly_in_takes_less_and_where_it_is_in() -> None:
    steel = of_metal("steel")
    found = [bar((0.015, 0.08, offset), steel, FREQUENCY, 200.0, coil=WORK_COIL) for offset in (0.0, 0.03, 0.06)]
    resistance = [each.corrected.reflection.resistance for each in found]
    assert resistance[0] > resistance[1] > resistance[2] > 0
    heat = found[2].powers(found[2].corrected)
    assert heat[found[2].piece.cuts[1:] < 0.045].sum() > 0.9 * heat.sum()


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
    "size", [(0.015, 0.12, 0.0), (0.008, 0.06, 0.0), (0.02, 0.03, 0.0), (0.02, 0.02, 0.0), (0.015, 0.08, 0.05)]
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
        field = piece.electric(np.full(piece.volumes.shape, 20.0), frequency, 1.0)
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
    assert one != shape and not one == "piece"


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
    with pytest.raises(InputError, match="bore"):
        cut(replace(shape, bore=0.015), [(PLAIN_STEEL, 0.015)], 8e4)
    with pytest.raises(InputError, match="frequency"):
        piece.electric(cold, 0.0, 100.0)
    monkeypatch.setattr(module, "ROUNDS", 2)
    with pytest.raises(InputError, match="workpiece.*the field at its surface comes to no end.*A/m"):
        piece.electric(cold, 8e4, 200.0)
