# SPDX-License-Identifier: GPL-3.0-or-later
"""Slices of a workpiece against coupled rings in a coil of loops, finite volumes, and closed forms of long pieces."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics.eddy import cylinder_power, mean_permeability, tube_power
from heatsim.physics.slices import SliceField, cut_piece, slice_field
from tests.support.book import CLOSED, INDEPENDENT, known
from tests.support.independent.bar_volumes import Volumes
from tests.support.independent.filaments import Bar, bar_in_turns

COIL = (0.06, 0.06, 8.0)
RESISTIVITY = 1e-6
SHAPES = [  # radius, length, offset [m]
    (0.015, 0.06, 0.0),
    (0.024, 0.06, 0.0),
    (0.009, 0.03, 0.0),
    (0.02, 0.02, 0.0),
    (0.015, 0.12, 0.0),
    (0.018, 0.06, 0.03),
    (0.015, 0.03, 0.02),
]


def frequency_for(radius: float, ratio: float, mu_r: float = 1.0) -> float:
    """Frequency at which the radius is `ratio` skin depths."""
    return RESISTIVITY / (np.pi * MU_0 * mu_r * (radius / ratio) ** 2)


def sliced(
    bar: Bar, frequency: float, mu_r: complex = 1.0, bore: float = 0.0, count: int = 24, coil: tuple[float, float, float] = COIL
) -> SliceField:
    edges = cut_piece(coil, bar.length, bar.offset, count)
    warm = (edges[1:] + edges[:-1]) / 2 > bar.offset
    resistivity = bar.resistivity * np.where(warm, bar.rise, 1.0)
    return slice_field(coil, (bar.radius, bore), tuple(edges), resistivity, np.full(count, mu_r, dtype=complex), frequency)


def departures(found: SliceField, truth: complex, frequency: float) -> tuple[float, float]:
    """Of the resistance, as a share of it; of the reactance, as a share of the added impedance."""
    ours = complex(found.reflection.resistance, 2 * np.pi * frequency * found.reflection.inductance_change)
    return abs(ours.real / truth.real - 1), abs(ours.imag - truth.imag) / abs(truth)


def agree(found: SliceField, truth: complex, frequency: float, what: str, source: str, within: float) -> None:
    """Both departures of an added impedance are within a share."""
    for part, off in zip(("resistance", "reactance"), departures(found, truth, frequency), strict=True):
        assert off == known(0.0, f"{what}: departure of the added {part}", source, INDEPENDENT, abs=within)


@pytest.mark.parametrize("ratio", [1.5, 4.0])
@pytest.mark.parametrize("shape", SHAPES)
def test_impedance_against_coupled_rings(shape: tuple[float, float, float], ratio: float) -> None:
    bar, frequency = Bar(*shape, RESISTIVITY), frequency_for(shape[0], ratio)
    truth = bar_in_turns(COIL, bar, frequency)[0]
    found = sliced(bar, frequency)
    agree(found, truth, frequency, f"bar {shape} m, {ratio} skin depths", "coupled rings", 0.006)
    assert found.reflection.inductance_change == pytest.approx(truth.imag / (2 * np.pi * frequency), rel=0.01)


@pytest.mark.parametrize("ratio, mu_r", [(15.0, 1.0), (50.0, 1.0), (1.5, 20.0), (4.0, 5.0), (50.0, 20.0)])
@pytest.mark.parametrize("shape", SHAPES)
def test_impedance_against_finite_volumes(shape: tuple[float, float, float], ratio: float, mu_r: float) -> None:
    bar, frequency = Bar(*shape, RESISTIVITY), frequency_for(shape[0], ratio, mu_r)
    truth = Volumes(COIL, bar, mu_r, frequency).solve()[0]
    found = sliced(bar, frequency, mu_r)
    agree(found, truth, frequency, f"bar {shape} m, {ratio} skin depths, mu_r {mu_r}", "finite volumes", 0.012)
    assert found.reflection.inductance_change == pytest.approx(truth.imag / (2 * np.pi * frequency), rel=0.022)


def test_the_references_agree_and_stand() -> None:
    """Rings on a coarser and a finer grid, and volumes; volumes on a coarser one."""
    bar, frequency = Bar(0.02, 0.03, 0.01, RESISTIVITY), frequency_for(0.02, 4.0)
    fine = bar_in_turns(COIL, bar, frequency, (18, 60))[0]
    assert abs(bar_in_turns(COIL, bar, frequency, (10, 32))[0] / fine - 1) < 0.005
    assert abs(Volumes(COIL, bar, 1.0, frequency).solve()[0] / fine - 1) < 0.006
    steel = Volumes(COIL, bar, 20.0, frequency).solve()[0]
    assert abs(Volumes(COIL, bar, 20.0, frequency, first=0.2, coarse=0.04, growth=1.25).solve()[0] / steel - 1) < 0.02


@pytest.mark.parametrize("rise", [1.0, 4.0])
@pytest.mark.parametrize("shape", [(0.015, 0.06, 0.0), (0.018, 0.06, 0.03), (0.02, 0.02, 0.0)])
def test_heat_along_the_bar_against_coupled_rings(shape: tuple[float, float, float], rise: float) -> None:
    """Also with one half hot: power of one ampere's amplitude is half the resistance."""
    bar, frequency = Bar(*shape, RESISTIVITY, rise), frequency_for(shape[0], 4.0)
    edges = cut_piece(COIL, bar.length, bar.offset, 8)
    truth = bar_in_turns(COIL, bar, frequency, (12, 56), edges)[1]
    found = sliced(bar, frequency, count=8).resistance / 2
    assert found.sum() == pytest.approx(truth.sum(), rel=0.01)
    what = f"heat along a bar {shape} m, one half {rise} times as resistive"
    assert found == known(truth, what, "coupled rings", INDEPENDENT, unit="W", rel=0.025)


@pytest.mark.parametrize("mu_r", [1.0, 20.0])
def test_heat_along_the_bar_against_finite_volumes(mu_r: float) -> None:
    bar, frequency = Bar(0.018, 0.06, 0.03, RESISTIVITY), frequency_for(0.018, 10.0, mu_r)
    truth = Volumes(COIL, bar, mu_r, frequency).solve(cut_piece(COIL, bar.length, bar.offset, 10))[1]
    found = sliced(bar, frequency, mu_r, count=10).resistance / 2
    assert found == known(truth, f"heat along a bar, mu_r {mu_r}", "finite volumes", INDEPENDENT, unit="W", rel=0.012)


@pytest.mark.parametrize("bore, ratio, mu_r", [(0.013, 4.0, 1.0), (0.008, 4.0, 5.0), (0.0145, 6.0, 1.0)])
def test_tube_against_finite_volumes(bore: float, ratio: float, mu_r: float) -> None:
    bar, frequency = Bar(0.015, 0.05, 0.01, RESISTIVITY), frequency_for(0.015, ratio, mu_r)
    truth = Volumes(COIL, bar, mu_r, frequency, bore).solve()[0]
    what = f"tube of {1e3 * bore:g} mm bore, {ratio} skin depths, mu_r {mu_r}"
    agree(sliced(bar, frequency, mu_r, bore), truth, frequency, what, "finite volumes", 0.02)


def test_lag_of_the_flux_is_heat_too() -> None:
    """Complex permeability: against finite volumes, and the slices' heat is the whole resistance."""
    bar, frequency, mu_r = Bar(0.015, 0.05, 0.01, RESISTIVITY), frequency_for(0.015, 3.0, 10.0), 8.0 - 6.0j
    truth = Volumes(COIL, bar, mu_r, frequency).solve()[0]
    found = sliced(bar, frequency, mu_r)
    agree(found, truth, frequency, f"bar of complex permeability {mu_r}", "finite volumes", 0.015)
    assert found.resistance.sum() == pytest.approx(found.reflection.resistance, rel=1e-9)
    assert np.all(found.resistance > 0)


@pytest.mark.parametrize("turns, radius, within", [(5.0, 0.015, 0.02), (5.0, 0.024, 0.02), (3.0, 0.018, 0.035)])
def test_turns_far_apart(turns: float, radius: float, within: float) -> None:
    """Pitch a fifth and a third of the diameter: what a sheet in place of loops costs, as the docstring states it."""
    bar, coil, frequency = Bar(radius, 0.05, 0.0, RESISTIVITY), (0.06, 0.06, turns), frequency_for(radius, 4.0)
    truth = bar_in_turns(coil, bar, frequency)[0]
    what = f"bar of {1e3 * radius:g} mm in {turns} turns far apart"
    agree(sliced(bar, frequency, coil=coil), truth, frequency, what, "coupled rings", within)


@pytest.mark.parametrize("mu_r, ratio", [(1.0, 3.0), (1.0, 30.0), (20.0, 1.5), (50.0, 60.0)])
def test_middle_of_a_long_bar_is_the_closed_form(mu_r: float, ratio: float) -> None:
    """Field N/l, heat and flux of Davies & Simpson 1979's cylinder; ends fade as diameter over length."""
    coil, frequency, edges = (0.06, 8.0, 800.0), frequency_for(0.02, ratio, mu_r), (-4.0, -0.1, 0.1, 4.0)
    found = slice_field(coil, (0.02, 0.0), edges, np.full(3, RESISTIVITY), np.full(3, mu_r, dtype=complex), frequency)
    assert found.field[1] == pytest.approx(100.0, rel=3e-3)
    what, limit = f"middle of a long bar, mu_r {mu_r}, {ratio} skin depths", "Davies & Simpson's cylinder"
    power = cylinder_power(0.02, 0.2, RESISTIVITY, mu_r, frequency, 100.0)
    assert found.resistance[1] == known(power, f"{what}: heat", limit, CLOSED, unit="W", rel=6e-3)
    whole = MU_0 * np.pi * 0.02**2 * 8.0 * 100.0**2 * (mean_permeability(0.02, RESISTIVITY, mu_r, frequency) - 1).real
    assert found.reflection.inductance_change == known(whole, f"{what}: inductance", limit, CLOSED, unit="H", rel=0.03)


@pytest.mark.parametrize("bore, depth", [(0.019, 0.01), (0.018, 0.002), (0.015, 0.001)])
def test_middle_of_a_long_tube_is_the_closed_form(bore: float, depth: float) -> None:
    coil, frequency = (0.06, 4.0, 400.0), RESISTIVITY / (np.pi * MU_0 * depth**2)
    metal = np.full(3, RESISTIVITY), np.ones(3, dtype=complex)
    found = slice_field(coil, (0.02, bore), (-2.0, -0.1, 0.1, 2.0), *metal, frequency)
    power = tube_power((0.02, bore), 0.2, RESISTIVITY, 1.0, frequency, 100.0)
    what = f"middle of a long tube of {1e3 * bore:g} mm bore: heat"
    assert found.resistance[1] == known(power, what, "modified Bessel functions", CLOSED, unit="W", rel=6e-3)


@pytest.mark.parametrize("shape", SHAPES)
def test_field_at_the_mantle_gives_the_heat_of_thin_skins(shape: tuple[float, float, float]) -> None:
    """H^2 rho/delta a surface, of amplitudes per ampere, away from the end faces: a skin that is thin against all else."""
    bar, frequency = Bar(*shape, RESISTIVITY), frequency_for(shape[0], 50.0)
    found, edges = sliced(bar, frequency, count=12), cut_piece(COIL, bar.length, bar.offset, 12)
    expected = found.field**2 * RESISTIVITY / (shape[0] / 50.0) * 2 * np.pi * shape[0] * np.diff(edges)
    inner = np.minimum(edges[:-1] - edges[0], edges[-1] - edges[1:]) > shape[0] / 10
    assert inner.sum() >= 6
    assert found.resistance[inner] == pytest.approx(expected[inner], rel=0.02)


def test_towards_a_perfect_conductor() -> None:
    """Half the skin depth at one frequency by a quarter of the resistivity: half the resistance; inductance comes to a limit."""
    frequency, shape = frequency_for(0.018, 200.0), (0.018, 0.06, 0.01)
    thick, thin = (sliced(Bar(*shape, RESISTIVITY / share), frequency).reflection for share in (1.0, 4.0))
    assert thin.resistance == pytest.approx(thick.resistance / 2, rel=0.02)
    assert thin.inductance_change < thick.inductance_change < 0
    assert thin.inductance_change == pytest.approx(thick.inductance_change, rel=0.005)


@pytest.mark.parametrize("mu_r", [1.0, 30.0])
def test_heat_adds_up_to_the_added_resistance(mu_r: float) -> None:
    found = sliced(Bar(0.02, 0.05, 0.02, RESISTIVITY, 3.0), 3e4, mu_r)
    assert found.resistance.sum() == pytest.approx(found.reflection.resistance, rel=1e-9)


def test_slices_do_not_change_what_the_coil_sees() -> None:
    bar = Bar(0.02, 0.05, 0.02, RESISTIVITY)
    few, many = (sliced(bar, 3e4, 5.0, count=count) for count in (1, 40))
    assert few.reflection == pytest.approx(many.reflection, rel=2e-3)


def test_mirrored_piece_gives_mirrored_slices() -> None:
    ahead, behind = (sliced(Bar(0.02, 0.05, side * 0.02, RESISTIVITY), 3e4) for side in (1, -1))
    assert ahead.resistance == pytest.approx(behind.resistance[::-1], rel=1e-6)
    assert ahead.field == pytest.approx(behind.field[::-1], rel=1e-6)


@settings(max_examples=6, deadline=None)
@given(st.floats(0.3, 3.0), st.integers(1, 30), st.floats(1.0, 40.0))
def test_all_scales(scale: float, turns: int, ratio: float) -> None:
    """Lengths times s, resistivity times s^2 at one frequency: impedance times s; and times the turns' square."""
    frequency = frequency_for(0.018, ratio)
    unit = sliced(Bar(0.018, 0.05, 0.01, RESISTIVITY), frequency, coil=(0.06, 0.06, 1.0), count=6).reflection
    coil = (0.06 * scale, 0.06 * scale, float(turns))
    bar = Bar(0.018 * scale, 0.05 * scale, 0.01 * scale, RESISTIVITY * scale**2)
    found = sliced(bar, frequency, coil=coil, count=6).reflection
    assert found == pytest.approx((unit.resistance * scale * turns**2, unit.inductance_change * scale * turns**2), rel=3e-3)


@given(st.floats(0.01, 0.3), st.floats(-0.1, 0.1), st.integers(1, 40))
def test_slices_cover_the_piece_and_are_fine_at_its_ends(length: float, offset: float, count: int) -> None:
    edges = cut_piece(COIL, length, offset, count)
    assert edges.size == count + 1 and np.all(np.diff(edges) > 0)
    assert (edges[0], edges[-1]) == (offset - length / 2, offset + length / 2)
    mirrored = cut_piece(COIL, length, -offset, count)
    assert edges == pytest.approx(-mirrored[::-1], abs=1e-6)
    if count > 9:
        assert max(np.diff(edges)[[0, -1]]) < length / count


@pytest.mark.parametrize(
    "changed, message",
    [
        ({"radii": (0.03, 0.0)}, "as thick as the coil"),
        ({"radii": (0.02, 0.02)}, "bore radius"),
        ({"radii": (0.02, -0.01)}, "bore"),
        ({"edges": (0.0, 0.02, 0.01)}, "widths"),
        ({"resistivity": np.array([1e-6])}, "one a slice"),
        ({"mu_r": np.array([2.0 + 1.0j, 1.0])}, "hysteresis"),
        ({"frequency": 0.0}, "frequency"),
    ],
)
def test_impossible_input_is_named(changed: dict[str, object], message: str) -> None:
    given_input: dict[str, object] = {
        "coil": COIL, "radii": (0.02, 0.0), "edges": (-0.02, 0.0, 0.02), "resistivity": np.full(2, 1e-6),
        "mu_r": np.ones(2, dtype=complex), "frequency": 1e5,
    }  # fmt: skip
    with pytest.raises(InputError, match=message):
        slice_field(**(given_input | changed))  # type: ignore[arg-type]
