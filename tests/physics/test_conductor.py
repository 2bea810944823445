# SPDX-License-Identifier: GPL-3.0-or-later
"""Copper, wire and alternating-current resistance against published and computed values
(tests/support/references.py)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim import constants
from heatsim.errors import InputError
from heatsim.physics import conductor as c
from tests.support import references as ref
from tests.support.book import CLOSED, PUBLISHED, known, listed

RATIOS = st.floats(1e-4, 1e4)


@pytest.mark.parametrize("row", ref.COPPER_CONST)  # IEC 60028; density from memory
def test_copper_constants(row: tuple) -> None:
    ours = {
        "sigma20": 1.0 / constants.COPPER_RESISTIVITY_20C,
        "rho20": constants.COPPER_RESISTIVITY_20C,
        "alpha20": constants.COPPER_TEMPERATURE_COEFFICIENT,
        "density": constants.COPPER_DENSITY,
    }
    assert ours[row[0]] == listed("COPPER_CONST", "value", row)


@pytest.mark.parametrize("row", ref.COPPER_RHO_T)  # from IEC 60028's constants
def test_copper_resistivity(row: tuple) -> None:
    assert c.copper_resistivity(row[0]) == listed("COPPER_RHO_T", "rho", row)


@pytest.mark.parametrize("row", ref.AWG)  # ASTM B258, formula from memory
def test_awg(row: tuple) -> None:
    ours = c.awg_diameter(row[0])
    assert 1e3 * ours == listed("AWG", "d", row)
    assert 1e6 * c.wire_area(ours) == listed("AWG", "area", row)
    assert 1e3 * c.copper_resistivity(20.0) / c.wire_area(ours) == listed("AWG", "ohm", row)


@pytest.mark.parametrize("gauge, inch", [(10, 0.1019), (14, 0.0641), (18, 0.0403), (20, 0.0320)])
def test_awg_printed_table(gauge: int, inch: float) -> None:
    """Printed table https://wp.1728.org/?p=4314, allowed 2e-3 for its rounding."""
    assert c.awg_diameter(gauge) / 0.0254 == known(
        inch, f"diameter of AWG {gauge}, printed", "printed table, wp.1728.org/?p=4314", PUBLISHED, unit="in", rel=2e-3
    )


@pytest.mark.parametrize("row", ref.ENAMEL)  # IEC 60317-0-1 Table 1: memory, not verified
def test_enamelled_diameter(row: tuple) -> None:
    assert 1e3 * c.enamelled_diameter(row[0] * 1e-3, 1) == listed("ENAMEL", "grade1", row)
    assert 1e3 * c.enamelled_diameter(row[0] * 1e-3, 2) == listed("ENAMEL", "grade2", row)


@given(st.floats(0.1e-3, 5e-3))
def test_enamel_adds_and_more_in_grade_2(bare: float) -> None:
    assert bare < c.enamelled_diameter(bare, 1) < c.enamelled_diameter(bare, 2) < 1.3 * bare


@pytest.mark.parametrize("row", ref.SKIN_DEPTH)
def test_skin_depth(row: tuple) -> None:
    resistivity, mu_r, frequency, *_ = row
    assert c.skin_depth(resistivity, frequency, mu_r) == listed("SKIN_DEPTH", "delta", row)


def test_skin_depth_is_infinite_at_zero_frequency() -> None:
    assert c.skin_depth(1.7e-8, 0.0) == np.inf


@pytest.mark.parametrize("row", ref.SKIN_ROUND_X)  # Rosa & Grover 1912 / NBS C74 argument
def test_round_wire(row: tuple) -> None:
    radius = row[0] / np.sqrt(2.0)
    assert c.round_wire_resistance_ratio(radius, 1.0) == listed("SKIN_ROUND_X", "resistance", row)
    assert c.round_wire_internal_inductance_ratio(radius, 1.0) == listed("SKIN_ROUND_X", "inductance", row)


@pytest.mark.parametrize("row", ref.SKIN_ROUND_AD)
def test_round_wire_by_radius(row: tuple) -> None:
    assert c.round_wire_resistance_ratio(row[0] * 2e-4, 2e-4) == listed("SKIN_ROUND_AD", "resistance", row)


@pytest.mark.parametrize("row", ref.SKIN_MEASURED)  # impedance analyser, see its source
def test_round_wire_measured(row: tuple) -> None:
    delta = c.skin_depth(c.copper_resistivity(20.0), 100e3)
    ours = c.round_wire_resistance_ratio(c.awg_diameter(10) / 2.0, delta)
    assert ours == listed("SKIN_MEASURED", "theory", row)
    assert ours == listed("SKIN_MEASURED", "measured", row)


@pytest.mark.parametrize("row", ref.TUBE_RAC)  # Dwight 1918's solution
def test_tube(row: tuple) -> None:
    assert c.tube_resistance_ratio(row[0], row[1], 1.0) == listed("TUBE_RAC", "ratio", row)


@pytest.mark.parametrize("thickness", [0.3, 1.0, 2.0, 4.0])
def test_large_tube_is_a_slab(thickness: float) -> None:
    """Flat-slab limit t (sinh 2t + sin 2t)/(cosh 2t - cos 2t), from both sides of the switch of method."""
    slab = thickness * (np.sinh(2 * thickness) + np.sin(2 * thickness))
    slab /= np.cosh(2 * thickness) - np.cos(2 * thickness)
    what = f"AC over DC resistance of a wide tube, wall {thickness} skin depths"
    assert c.slab_resistance_ratio(thickness) == pytest.approx(slab, rel=1e-12)
    assert c.tube_resistance_ratio(9.9e4, thickness, 1.0) == known(slab, what, "limit: flat slab", CLOSED, rel=3e-5)
    assert c.tube_resistance_ratio(1.1e5, thickness, 1.0) == pytest.approx(slab, rel=3e-5)


@pytest.mark.parametrize("ratio", [0.5, 2.0, 10.0, 400.0])
def test_tube_without_bore_is_a_wire(ratio: float) -> None:
    assert c.tube_resistance_ratio(ratio, ratio, 1.0) == pytest.approx(c.round_wire_resistance_ratio(ratio, 1.0))
    nearly = c.tube_resistance_ratio(ratio, ratio * 0.9999, 1.0)
    assert nearly == pytest.approx(c.round_wire_resistance_ratio(ratio, 1.0), rel=1e-5)


def test_tube_much_thicker_than_the_skin_depth_does_not_overflow() -> None:
    """All current in one skin depth of the outside: R/Rdc = (b^2 - a^2)/(2 b delta), less 1/(2b) order."""
    limit = (5000.0**2 - 2500.0**2) / 10000.0
    assert c.tube_resistance_ratio(5000.0, 2500.0, 1.0) == known(
        limit,
        "AC over DC resistance of a tube much thicker than the skin",
        "limit: all current in one skin depth",
        CLOSED,
        rel=2e-4,
    )


@pytest.mark.parametrize("row", ref.DOWELL)  # Dowell 1966
def test_dowell(row: tuple) -> None:
    assert c.dowell_factor(row[0], row[1]) == listed("DOWELL", "factor", row)


@pytest.mark.parametrize("row", ref.DOWELL_ROUND)
def test_dowell_round_wire(row: tuple) -> None:
    diameter, pitch, frequency, layers, temperature, *_ = row
    delta = c.skin_depth(c.copper_resistivity(temperature), frequency)
    ours = c.dowell_round_wire_xi(diameter, pitch, delta)
    assert ours == listed("DOWELL_ROUND", "xi", row)
    assert c.dowell_factor(ours, layers) == listed("DOWELL_ROUND", "factor", row)


@pytest.mark.parametrize("layers", [1, 2, 5])
def test_dowell_at_low_frequency(layers: int) -> None:
    """Taylor series of the closed form: 1 + (5 m^2 - 1)/45 xi^4."""
    excess = c.dowell_factor(np.array([0.05, 0.1]), layers) - 1.0
    assert excess == pytest.approx((5 * layers**2 - 1) / 45 * np.array([0.05, 0.1]) ** 4, rel=2e-3)
    many = np.array([0.9e-3, 1.1e-3])  # either side of the switch to the series, in a deep enough stack to show it
    assert c.dowell_factor(many, 1e4 * layers) - 1.0 == pytest.approx(1e8 * layers**2 / 9 * many**4, rel=1e-5)


@given(RATIOS, st.integers(1, 20))
def test_dowell_of_one_layer_is_the_slab_and_more_layers_lose_more(xi: float, layers: int) -> None:
    assert c.dowell_factor(xi, 1) == pytest.approx(c.slab_resistance_ratio(xi), rel=1e-12)
    assert c.dowell_factor(xi, layers + 1) >= c.dowell_factor(xi, layers) >= 1.0 - 1e-9


@pytest.mark.parametrize("row", ref.PROX_TRANSVERSE)  # Ferreira 1994
def test_transverse_field(row: tuple) -> None:
    ratio, coefficient, rtol = row
    assert c.transverse_field_coefficient(ratio) == listed("PROX_TRANSVERSE", "coefficient", row)
    loss = c.transverse_field_loss(ratio * 1e-4, 1e-4, 2e-8, 300.0)
    assert loss == pytest.approx(coefficient * 2e-8 * 300.0**2, rel=rtol)


def test_transverse_field_limits() -> None:
    what, limit = "loss of a round wire in a transverse field", "limit, Ferreira 1994"
    assert c.transverse_field_coefficient(0.01) == known(np.pi / 2 * 0.01**4, f"{what}, thin", limit, CLOSED, rel=1e-6)
    assert c.transverse_field_coefficient(1e4) == known(2 * np.pi * 1e4, f"{what}, thick", limit, CLOSED, rel=1e-3)


# Medhurst, Wireless Engineer 24, 1947: memory, not verified. The rows are the function's own table: this
# guards its orientation; the checks on its shape follow.
@pytest.mark.parametrize("row", ref.MEDHURST)
def test_medhurst(row: tuple) -> None:
    for tenths in range(1, 11):
        assert c.medhurst_factor(row[0], tenths / 10) == listed("MEDHURST", f"s{tenths}", row)


@given(st.floats(0.0, 50.0), st.floats(0.0, 0.99))
def test_medhurst_falls_with_spacing(length: float, spacing: float) -> None:
    assert c.medhurst_factor(length, spacing) < c.medhurst_factor(length, spacing + 0.01)
    assert c.medhurst_factor(length, 0.0) == pytest.approx(1.0)


@given(RATIOS, st.floats(1.001, 2.0))
def test_resistance_rises_with_frequency(ratio: float, step: float) -> None:
    rise = 1.0 - 1e-9
    assert c.round_wire_resistance_ratio(ratio * step, 1.0) >= rise * c.round_wire_resistance_ratio(ratio, 1.0)
    assert c.transverse_field_coefficient(ratio * step) > c.transverse_field_coefficient(ratio)


@given(st.floats(0.05, 50.0), st.floats(1e-6, 1e3))
def test_only_quotients_of_lengths_count(ratio: float, unit: float) -> None:
    assert c.round_wire_resistance_ratio(ratio * unit, unit) == pytest.approx(c.round_wire_resistance_ratio(ratio, 1.0))
    tube = c.tube_resistance_ratio(ratio * unit, ratio * unit / 5, unit)
    assert tube == pytest.approx(c.tube_resistance_ratio(ratio, ratio / 5, 1.0))


def test_wire_limits_of_thin_and_thick() -> None:
    """a/(2 delta) + 1/4 + 3 delta/(32 a) for thick wire (asymptotic Bessel series), 1 for thin; nothing
    overflows."""
    assert c.round_wire_resistance_ratio(1e4, 1.0) == known(
        5000.25, "AC over DC resistance of a very thick wire", "asymptotic Bessel series", CLOSED, rel=1e-8
    )
    assert c.round_wire_resistance_ratio(1e-9, 1.0) == pytest.approx(1.0)
    assert c.round_wire_internal_inductance_ratio(1e-9, 1.0) == pytest.approx(1.0, abs=1e-9)


def test_arrays_come_back_as_arrays() -> None:
    ratios = np.array([[0.5], [3.0]]) * np.ones(2)
    assert c.round_wire_resistance_ratio(ratios, 1.0).shape == (2, 2)
    assert isinstance(c.tube_resistance_ratio(5.0, 1.0, 1.0), float)


@pytest.mark.parametrize(
    "call",
    [
        lambda: c.copper_resistivity(-300.0),
        lambda: c.awg_diameter(70),
        lambda: c.enamelled_diameter(1e-3, 3),
        lambda: c.enamelled_diameter(20e-3),
        lambda: c.enamelled_diameter(float("nan")),
        lambda: c.skin_depth(-1.0, 50.0),
        lambda: c.skin_depth(1e-8, -50.0),
        lambda: c.tube_resistance_ratio(1.0, 2.0, 1.0),
        lambda: c.medhurst_factor(1.0, 1.5),
        lambda: c.dowell_factor(-1.0, 2),
        lambda: c.round_wire_resistance_ratio(0.0, 1.0),
    ],
)
def test_impossible_input_is_named(call: object) -> None:
    with pytest.raises(InputError):
        call()  # type: ignore[operator]
