# SPDX-License-Identifier: GPL-3.0-or-later
"""Ring sizes and stacks against catalogues (tests/support/references.py, section 4) and geometry."""

from __future__ import annotations

import pytest

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.parts.ring import RingCore
from heatsim.parts.winding import Winding
from heatsim.physics.ringcore import RingSize, ring_constants, ring_inductance, ring_path_length, ring_surface
from heatsim.scenario.catalogue import builtin
from tests.support import references as ref
from tests.support.book import listed

RINGS = builtin().rings
POWDER = {"26.9": "powder-26.9x14.7x11.2", "39.9": "powder-39.9x24.1x14.5", "77.8": "powder-77.8x49.2x12.7"}
IRON = {
    "T50": "iron-12.7x7.7x4.8",
    "T68": "iron-17.5x9.4x4.8",
    "T94": "iron-23.9x14.2x7.9",
    "T106": "iron-26.9x14.5x11.1",
    "T157": "iron-39.9x24.1x14.5",
    "T200": "iron-50.8x31.8x14",
}
FERRITE = {"R12.5": "ferrite-12.5x7.5x5", "R20": "ferrite-20x10x7", "R25.3": "ferrite-25.3x14.8x10", "R50": "ferrite-50x30x20"}
PATH_TOLERANCE = {"logarithmic": 7e-3, "mean": 1.2e-2, "iec": 1e-3}
AREA_TOLERANCE = {"logarithmic": 0.08, "mean": 0.09, "iec": 1e-3}


def millimetres(entry: object) -> tuple[float, ...]:
    """Size, path [mm] and area [mm2] of an entry."""
    size = tuple(1e3 * value for value in entry.size)  # type: ignore[attr-defined]
    return (*size, 1e3 * entry.path_length, 1e6 * entry.area)  # type: ignore[attr-defined]


@pytest.mark.parametrize("row", ref.RING_IEC, ids=lambda row: row[0])  # ferrite data book, recalled
def test_ferrite_rings(row: tuple) -> None:
    name, d1, d2, h, *_, rtol = row
    *size, path, area = millimetres(RINGS[FERRITE[name]])
    assert size == pytest.approx([d1, d2, h], rel=rtol)
    assert path == listed("RING_IEC", "path_printed", row)
    assert area == listed("RING_IEC", "area_printed", row)


@pytest.mark.parametrize("row", ref.RING_POWDER_B, ids=lambda row: row[0])  # powder catalogue, recalled
def test_powder_rings(row: tuple) -> None:
    name, d1, d2, h, path, area, _volume, mu, factor, _by_rule = row
    entry = RINGS[POWDER[name]]
    assert millimetres(entry) == pytest.approx((d1, d2, h, path, area), rel=1e-9)
    assert dict(entry.inductance_factors)[mu] == pytest.approx(factor * 1e-9)
    assert 26 not in dict(entry.inductance_factors)


@pytest.mark.parametrize("row", ref.RING_POWDER_C, ids=lambda row: row[0])  # iron-powder catalogue, recalled
def test_iron_powder_rings(row: tuple) -> None:
    name, d1, d2, h, path, area, _volume, mu, factor, _by_rule = row
    entry = RINGS[IRON[name]]
    assert millimetres(entry) == pytest.approx((d1, d2, h, path, area), rel=1e-9)
    assert dict(entry.inductance_factors)[mu] == pytest.approx(factor * 1e-9)


@pytest.mark.parametrize("row", ref.AL_IRON_POWDER, ids=lambda row: row[0])  # printed table, published
def test_inductance_factors_of_iron_powder_in_print(row: tuple) -> None:
    name, al_75, al_35 = row
    entry = RINGS[IRON[name]]
    ring = RingCore.from_entry(entry, 1, "mean")
    for mu, factor in ((75, al_75), (35, al_35)):
        assert ring_inductance(1, mu, ring.total_area, ring.path_length) == pytest.approx(factor * 1e-9, rel=0.13)


@pytest.mark.parametrize("entry", RINGS.values(), ids=RINGS)
def test_every_ring_keeps_to_its_own_convention(entry: object) -> None:
    """Printed path by the formula of the stated convention; area within the rounding of corners; AL within the part's
    tolerance of mu0 mu A/l. Holds recalled rows together: a digit off shows here."""
    rule, size = entry.path_rule, entry.size  # type: ignore[attr-defined]
    path, area = entry.path_length, entry.area  # type: ignore[attr-defined]
    plain = ring_constants(size).area if rule == "iec" else size.height * (size.outer_diameter - size.inner_diameter) / 2
    assert path == pytest.approx(ring_path_length(size, rule), rel=PATH_TOLERANCE[rule])
    assert area == pytest.approx(plain, rel=AREA_TOLERANCE[rule])
    for mu, factor in entry.inductance_factors:  # type: ignore[attr-defined]
        tolerance = entry.inductance_tolerance  # type: ignore[attr-defined]
        assert MU_0 * mu * area / path == pytest.approx(factor, rel=tolerance)
    assert entry.provenance == "memory" and entry.source  # type: ignore[attr-defined]


def test_printed_path_only_where_the_material_uses_that_convention() -> None:
    entry = RINGS["powder-39.9x24.1x14.5"]
    assert RingCore.from_entry(entry, 1, "logarithmic").path_length == entry.path_length
    assert RingCore.from_entry(entry, 1, "mean").path_length == pytest.approx(ring_path_length(entry.size, "mean"))


@pytest.mark.parametrize("stack", [1, 2, 3, 4])
def test_stack_multiplies_area_and_volume_and_nothing_else(stack: int) -> None:
    entry = RINGS["powder-26.9x14.7x11.2"]
    ring = RingCore.from_entry(entry, stack, "logarithmic")
    assert ring.total_area == pytest.approx(stack * 65.4e-6)
    assert ring.volume == pytest.approx(stack * 65.4e-6 * 63.5e-3)
    assert ring.path_length == 63.5e-3
    assert ring.whole == pytest.approx((27.52e-3, 14.13e-3, stack * 11.78e-3))


def test_stack_of_two_doubles_the_inductance_less_nothing_but_costs_a_longer_turn() -> None:
    """Common practice: two equal rings double AL; the turn grows by twice the height of a ring, not twofold."""
    entry, winding = RINGS["powder-26.9x14.7x11.2"], Winding(20, 1, 1e-3, 1.062e-3)
    one, two = (RingCore.from_entry(entry, stack, "logarithmic") for stack in (1, 2))
    factors = [ring_inductance(1, 60, ring.total_area, ring.path_length) for ring in (one, two)]
    assert factors[1] == pytest.approx(2 * factors[0])
    assert winding.mean_turn(two) - winding.mean_turn(one) == pytest.approx(2 * one.former.height)
    assert 1.3 < winding.resistance(two, 20.0) / winding.resistance(one, 20.0) < 1.7


def test_stacked_surface_grows_by_the_mantles_only() -> None:
    entry, winding = RINGS["powder-39.9x24.1x14.5"], Winding(20, 1, 1.6e-3, 1.706e-3)
    one, two = (RingCore.from_entry(entry, stack, "logarithmic") for stack in (1, 2))
    wound = winding.wound(one)
    grown = wound._replace(height=wound.height + one.former.height)
    assert winding.surface(two) == pytest.approx(ring_surface(grown))
    assert winding.surface(two) < 2 * winding.surface(one)


@pytest.mark.parametrize("stack", [0, 5])
def test_other_stacks_are_refused(stack: int) -> None:
    with pytest.raises(InputError, match="1 to 4 rings"):
        RingCore.from_size(RingSize(0.02, 0.01, 0.007), stack, "iec")
