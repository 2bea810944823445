# SPDX-License-Identifier: GPL-3.0-or-later
"""Ring cores and their windings against IEC 60205, catalogues (tests/support/references.py) and plane geometry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.physics import ringcore as rc
from heatsim.physics.ringcore import RingSize
from tests.support import references as ref
from tests.support.book import listed

SIZES = st.builds(
    lambda inner, ratio, height: RingSize(inner * ratio, inner, height),
    st.floats(5e-3, 60e-3),
    st.floats(1.2, 2.5),
    st.floats(3e-3, 30e-3),
)


def millimetres(*size: float) -> RingSize:
    return RingSize(*(1e-3 * value for value in size))


@pytest.mark.parametrize("row", ref.RING_IEC, ids=lambda row: row[0])  # IEC 60205; catalogue columns: memory
def test_iec_constants(row: tuple) -> None:
    ours = rc.ring_constants(millimetres(*row[1:4]))
    for name, value in (("path", 1e3 * ours.path), ("area", 1e6 * ours.area), ("volume", 1e9 * ours.volume)):
        assert value == listed("RING_IEC", name, row)
        assert value == listed("RING_IEC", f"{name}_printed", row)
    assert rc.ring_path_length(millimetres(*row[1:4]), "iec") == pytest.approx(ours.path, rel=1e-12)


@pytest.mark.parametrize("row", ref.RING_POWDER_B, ids=lambda row: row[0])  # powder catalogue 2011-2017: memory
def test_powder_rings_with_logarithmic_path(row: tuple) -> None:
    _, d1, d2, h, path, area, _, mu, *_ = row
    ours = rc.ring_path_length(millimetres(d1, d2, h), "logarithmic")
    assert 1e3 * ours == listed("RING_POWDER_B", "by_rule", row)
    assert 1e3 * ours == listed("RING_POWDER_B", "path", row)
    assert h * (d1 - d2) / 2 == listed("RING_POWDER_B", "area", row)
    assert path * area == listed("RING_POWDER_B", "volume", row)
    assert 1e9 * rc.ring_inductance(1, mu, area * 1e-6, path * 1e-3) == listed("RING_POWDER_B", "al", row)


@pytest.mark.parametrize("row", ref.RING_POWDER_C, ids=lambda row: row[0])  # iron-powder catalogue 2007: memory
def test_iron_powder_rings_with_mean_path(row: tuple) -> None:
    _, d1, d2, h, path, area, _, mu, *_ = row
    ours = rc.ring_path_length(millimetres(d1, d2, h), "mean")
    assert 1e3 * ours == listed("RING_POWDER_C", "by_rule", row)
    assert 1e3 * ours == listed("RING_POWDER_C", "path", row)
    assert h * (d1 - d2) / 2 == listed("RING_POWDER_C", "area", row)
    assert path * area == listed("RING_POWDER_C", "volume", row)
    assert 1e9 * rc.ring_inductance(1, mu, area * 1e-6, path * 1e-3) == listed("RING_POWDER_C", "al", row)


# path [mm] and area [mm2] of the two sizes that RING_POWDER_C lacks: same catalogue, memory
AREAS = {"T50": (31.9, 11.2), "T94": (59.7, 36.2)} | {row[0]: (row[4], row[5]) for row in ref.RING_POWDER_C}


@pytest.mark.parametrize("row", ref.AL_IRON_POWDER)  # printed table, see its source
def test_iron_powder_inductance_factors(row: tuple) -> None:
    path, area = AREAS[row[0]]
    for mu in (75, 35):
        assert 1e9 * rc.ring_inductance(1, mu, area * 1e-6, path * 1e-3) == listed("AL_IRON_POWDER", f"al{mu}", row)


@given(SIZES, st.integers(1, 8))
def test_stack_is_a_higher_ring(size: RingSize, rings: int) -> None:
    """n rings: n times area, volume and inductance, the same path (IEC 60205, height enters linearly)."""
    one, many = rc.ring_constants(size), rc.ring_constants(rc.stacked(size, rings))
    assert many.path == pytest.approx(one.path)
    assert many.area == pytest.approx(rings * one.area)
    assert many.volume == pytest.approx(rings * one.volume)
    single = rc.exact_ring_inductance(10, 60, size)
    assert rc.exact_ring_inductance(10, 60, rc.stacked(size, rings)) == pytest.approx(rings * single)


@given(SIZES)
def test_iec_dimensions_give_the_exact_inductance(size: RingSize) -> None:
    """le/Ae = C1 = 2 pi/(h ln(d1/d2)) by definition, so both ways to the inductance agree."""
    core = rc.ring_constants(size)
    ours = rc.ring_inductance(25, 60, core.area, core.path)
    assert ours == pytest.approx(rc.exact_ring_inductance(25, 60, size), rel=1e-12)
    assert core.volume == pytest.approx(core.area * core.path)


@given(SIZES)
def test_path_conventions_keep_their_order(size: RingSize) -> None:
    """All lie between the circumferences of bore and outside; IEC shortest, mean diameter longest."""
    paths = [rc.ring_path_length(size, convention) for convention in ("iec", "logarithmic", "mean")]
    inner, outer = np.pi * size.inner_diameter, np.pi * size.outer_diameter
    assert inner < paths[0] < paths[1] < paths[2] < outer


def test_thin_ring_has_one_path() -> None:
    thin = RingSize(50.1e-3, 50e-3, 10e-3)
    paths = [rc.ring_path_length(thin, convention) for convention in ("iec", "logarithmic", "mean")]
    assert paths == pytest.approx([np.pi * 50.05e-3] * 3, rel=1e-5)


def test_air_core_inductance_is_a_saturated_cores() -> None:
    size = millimetres(40, 24, 14.5)
    assert rc.air_core_inductance(30, size) == pytest.approx(rc.exact_ring_inductance(30, 1.0, size))
    assert rc.air_core_inductance(30, size, 1.6e-3) > rc.air_core_inductance(30, size)
    assert rc.air_core_inductance(60, size) == pytest.approx(4 * rc.air_core_inductance(30, size))


def test_wires_that_just_touch() -> None:
    """Six circles round a seventh of the same size: a bore of three diameters takes six."""
    assert rc.wires_in_layer(3.0, 1.0) == 6
    assert rc.wires_in_layer(2.0, 1.0) == 2
    assert rc.wires_in_layer(1.5, 1.0) == 1
    assert rc.wires_in_layer(1.0, 1.0) == 0


@given(st.floats(5e-3, 60e-3), st.floats(0.3e-3, 3e-3))
def test_layer_neither_overlaps_nor_leaves_room(bore: float, wire: float) -> None:
    count = rc.wires_in_layer(bore, wire)
    spacing = (bore - wire) * np.sin(np.pi / np.array([max(count, 2), count + 1]))
    if count >= 2:
        assert spacing[0] >= wire * (1 - 1e-9) and spacing[1] < wire


@given(st.floats(10e-3, 60e-3), st.floats(0.5e-3, 2.5e-3), st.integers(1, 60))
def test_bore_holds_every_wire_or_says_so(bore: float, wire: float, wires: int) -> None:
    try:
        fill = rc.fill_bore(bore, wire, wires)
    except InputError as error:
        assert "does not fit" in str(error)
        return
    assert sum(fill.layers) == wires
    assert fill.free_diameter == pytest.approx(max(bore - 2 * wire * len(fill.layers), 0.0))
    assert wires * wire**2 <= bore**2  # copper never exceeds the bore


def test_mean_turn_of_one_layer() -> None:
    """Round a 10 x 20 mm section at half a wire's distance: 2 (10 + 20) + pi d."""
    assert rc.mean_turn_length(millimetres(50, 30, 20), 1e-3, 20) == pytest.approx(60e-3 + np.pi * 1e-3)


def test_mean_turn_of_two_layers() -> None:
    size, wire = millimetres(50, 30, 20), 1e-3
    first, second = rc.fill_bore(30e-3, wire, 110).layers
    expected = 60e-3 + np.pi * wire * (first * 1 + second * 3) / 110
    assert rc.mean_turn_length(size, wire, 110) == pytest.approx(expected)


def test_wound_ring_grows_by_its_wire() -> None:
    assert rc.wound_size(millimetres(50, 30, 20), 1e-3, 20) == pytest.approx((52e-3, 28e-3, 22e-3))
    thick = rc.wound_size(millimetres(50, 30, 20), 1e-3, 110)  # two layers in the bore, one outside
    assert thick == pytest.approx((52e-3, 26e-3, 24e-3))


def test_surface_of_a_ring() -> None:
    """Pappus: perimeter of the section times the centroid's way round."""
    assert rc.ring_surface(millimetres(50, 30, 20)) == pytest.approx(np.pi * 40e-3 * 60e-3)


@pytest.mark.parametrize(
    "call",
    [
        lambda: rc.ring_constants(millimetres(30, 50, 20)),
        lambda: rc.ring_constants(millimetres(50, 30, 0)),
        lambda: rc.ring_path_length(millimetres(50, 30, 20), "guess"),  # type: ignore[arg-type]
        lambda: rc.stacked(millimetres(50, 30, 20), 0),
        lambda: rc.fill_bore(10e-3, 2e-3, 500),
        lambda: rc.fill_bore(10e-3, 2e-3, 0),
        lambda: rc.air_core_inductance(10, millimetres(50, 30, 20), 31e-3),
    ],
)
def test_impossible_input_is_named(call: object) -> None:
    with pytest.raises(InputError):
        call()  # type: ignore[operator]
