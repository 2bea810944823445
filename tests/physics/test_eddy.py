# SPDX-License-Identifier: GPL-3.0-or-later
"""Eddy heating: computed values (tests/support/references_heating.py), limits, and a calculation with coupled
rings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics import eddy
from heatsim.physics.inductance import loop_mutual_inductance, solenoid_axis_field
from tests.support import references_heating as ref

RATIOS = st.floats(1e-3, 1e4)
COIL = (0.06, 0.06, 8.0)
RESISTIVITY = 1e-6


@pytest.mark.parametrize("ratio, f, p, q, rtol", ref.CYL_FPQ)  # Davies & Simpson 1979's functions
def test_cylinder_factors(ratio: float, f: float, p: float, q: float, rtol: float) -> None:
    assert eddy.cylinder_factors(ratio) == pytest.approx((f, p, q), rel=rtol)


def test_cylinder_limits_and_greatest_p() -> None:
    """F -> x^3/4 small and 1 - 1/(2x) large; greatest P 0.3774518 at x = 1.7783728 (both from the closed
    form)."""
    assert eddy.cylinder_factors(0.01).f == pytest.approx(0.01**3 / 4, rel=1e-6)
    assert eddy.cylinder_factors(1e3).f == pytest.approx(1 - 1 / 2e3, abs=1e-6)
    x = np.linspace(1.77, 1.79, 20_001)
    p = eddy.cylinder_factors(x).p
    assert np.max(p) == pytest.approx(0.3774518, abs=1e-7)
    assert x[np.argmax(p)] == pytest.approx(1.7783728, abs=2e-5)


def test_factors_do_not_jump_where_the_series_takes_over() -> None:
    factors = eddy.cylinder_factors(np.array([0.02 * (1 - 1e-9), 0.02 * (1 + 1e-9)]))
    for values in factors:
        assert values[1] == pytest.approx(values[0], rel=1e-8)


@given(RATIOS, st.floats(1.001, 5.0))
def test_surface_loss_rises_and_flux_falls(ratio: float, step: float) -> None:
    here, further = eddy.cylinder_factors(ratio), eddy.cylinder_factors(ratio * step)
    assert further.f > here.f * (1 - 1e-12) and 0.0 < here.f < 1.0
    assert further.q < here.q * (1 + 1e-12) and 0.0 < here.q <= 1.0


@pytest.mark.parametrize("radius, length, rho, mu_r, frequency, field, power, rtol", ref.CYL_POWER)
def test_cylinder_power(
    radius: float, length: float, rho: float, mu_r: float, frequency: float, field: float, power: float, rtol: float
) -> None:
    assert eddy.cylinder_power(radius, length, rho, mu_r, frequency, field) == pytest.approx(power, rel=rtol)


@given(st.floats(1e-3, 0.05), st.floats(1e-8, 1e-5), st.floats(1e3, 1e6), st.floats(1.0, 200.0))
def test_cylinder_power_by_its_other_form(radius: float, rho: float, frequency: float, mu_r: float) -> None:
    """Per length w mu pi a^2 Hrms^2 P, the same power seen as reactive flux; square in the field."""
    delta = np.sqrt(rho / (np.pi * frequency * MU_0 * mu_r))
    p = eddy.cylinder_factors(radius / delta).p
    power = eddy.cylinder_power(radius, 1.0, rho, mu_r, frequency, 1e4)
    assert power == pytest.approx(2 * np.pi * frequency * MU_0 * mu_r * np.pi * radius**2 * 1e8 * p)
    assert eddy.cylinder_power(radius, 2.0, rho, mu_r, frequency, 2e4) == pytest.approx(8 * power)


@pytest.mark.parametrize("outer, bore, delta, mu_r, f, screening, rtol", ref.TUBE_HEAT)
def test_tube(outer: float, bore: float, delta: float, mu_r: float, f: float, screening: float, rtol: float) -> None:
    assert eddy.tube_factor(outer, bore, delta, mu_r) == pytest.approx(f, rel=rtol)
    assert eddy.tube_screening(outer, bore, delta, mu_r) == pytest.approx(screening, rel=rtol)


@pytest.mark.parametrize("wall", [1e-3, 3e-3, 0.01])
def test_thin_tube(wall: float) -> None:
    """|Hi/H0| = 1/|1 + j w mu0 b t sigma/2| for a thin wall, w mu0 sigma = 2/delta^2."""
    bore, delta = 10.0, 1.0
    thin = 1 / abs(1 + 1j * bore * wall / delta**2)
    assert eddy.tube_screening(bore + wall, bore, delta) == pytest.approx(thin, rel=2 * wall)


@pytest.mark.parametrize("outer, bore", [(10.0, 0.01), (10.0, 1.0), (1000.0, 500.0)])
def test_thick_tube_is_a_bar(outer: float, bore: float) -> None:
    assert eddy.tube_factor(outer, bore, 1.0) == pytest.approx(eddy.cylinder_factors(outer).f, rel=1e-4)


def test_tube_power_is_its_factor_times_the_surface() -> None:
    delta = np.sqrt(2e-7 / (np.pi * 5e4 * MU_0))
    expected = 1e4**2 * 2e-7 / delta * eddy.tube_factor(0.01, 0.009, delta) * 2 * np.pi * 0.01 * 0.05
    assert eddy.tube_power((0.01, 0.009), 0.05, 2e-7, 1.0, 5e4, 1e4) == pytest.approx(expected)


def test_tube_power_is_what_flows_in_at_the_surface() -> None:
    """A tube of two skin depths' wall takes about a bar's power; a thin one by its induced voltage:
    E^2/rho."""
    radius, wall, rho, frequency, field = 0.02, 2e-5, 1e-6, 1e4, 5e3
    voltage = 2 * np.pi * frequency * MU_0 * field * radius / 2  # field strength round the wall
    shield = 1 / abs(1 + 1j * 2 * np.pi * frequency * MU_0 * radius * wall / rho / 2) ** 2
    thin = (voltage**2 / rho) * shield * 2 * np.pi * radius * wall * 0.1
    ours = eddy.tube_power((radius + wall, radius), 0.1, rho, 1.0, frequency, field)
    assert ours == pytest.approx(thin, rel=5e-3)


def test_demagnetising_factors() -> None:
    """Sphere 1/3; Osborn 1945, Table: m = 10 gives 0.0203 (memory); flat disc tends to 1; nowhere a jump."""
    assert eddy.demagnetising_factor(1.0) == pytest.approx(1 / 3)
    assert eddy.demagnetising_factor(10.0) == pytest.approx(0.0203, abs=5e-5)
    assert eddy.demagnetising_factor(1e-4) == pytest.approx(1 - np.pi / 2 * 1e-4, rel=1e-6)
    border = [eddy.demagnetising_factor(np.sqrt(1 + sign * 1e-3 * (1 + e))) for sign in (1, -1) for e in (-1e-6, 1e-6)]
    assert border[0] == pytest.approx(border[1], abs=1e-8) and border[2] == pytest.approx(border[3], abs=1e-8)


def test_coupled_field_of_a_thin_bar_is_the_axis_field() -> None:
    """A thin bar feels the Biot-Savart field on the axis."""
    place = np.linspace(-0.03, 0.03, 2001)
    axis = np.mean(np.square(solenoid_axis_field(*COIL, place)))
    assert eddy.coupled_field_square(COIL, (1e-4, 0.06)) == pytest.approx(axis, rel=1e-3)


def rings(piece: tuple[float, float], frequency: float, coil: tuple[float, float, float], offset: float) -> np.ndarray:
    """Resistance and inductance change by cutting a non-magnetic bar into 20 x 50 coupled rings."""
    (radius, length), (diameter, coil_length, turns) = piece, coil
    dr, dz = radius / 20, length / 50
    r = np.repeat((np.arange(20) + 0.5) * dr, 50)
    z = np.tile((np.arange(50) + 0.5) * dz - length / 2, 20) + offset
    self_term = np.eye(len(r)) * 0.2235 * (dr + dz)  # geometric mean distance of a rectangle from itself
    mutual = loop_mutual_inductance(r[:, None], r[None, :], np.abs(z[:, None] - z[None, :]) + self_term)
    sheet = ((np.arange(200) + 0.5) / 200 - 0.5) * coil_length
    to_coil = np.sum(loop_mutual_inductance(r[:, None], diameter / 2, z[:, None] - sheet), axis=1) * turns / 200
    w = 2 * np.pi * frequency
    current = np.linalg.solve(np.diag(2 * np.pi * r * RESISTIVITY / (dr * dz)) + 1j * w * mutual, -1j * w * to_coil)
    change = 1j * w * (to_coil @ current)
    return np.array([change.real, change.imag / w])


def frequency_for(radius: float, ratio: float) -> float:
    """Frequency at which the bar's radius is `ratio` skin depths."""
    return RESISTIVITY / (np.pi * MU_0 * (radius / ratio) ** 2)


@pytest.mark.parametrize("ratio, tolerance", [(4.0, (0.11, 0.09)), (1.0, (0.07, 0.23))])
@pytest.mark.parametrize("coil", [COIL, (0.06, 0.12, 8.0), (0.06, 0.03, 5.0)])
@pytest.mark.parametrize("piece", [(0.015, 0.06), (0.01, 0.12), (0.024, 0.06), (0.02, 0.02)])
def test_reflection_against_coupled_rings(
    piece: tuple[float, float], coil: tuple[float, float, float], ratio: float, tolerance: tuple[float, float]
) -> None:
    """Independent calculation; the tolerances are the accuracy the docstring states for its estimate."""
    frequency = frequency_for(piece[0], ratio)
    ours = np.array(eddy.workpiece_reflection(coil, piece, RESISTIVITY, 1.0, frequency))
    assert np.all(np.abs(ours / rings(piece, frequency, coil, 0.0) - 1.0) < tolerance)


def test_reflection_off_centre() -> None:
    piece, frequency = (0.015, 0.03), frequency_for(0.015, 4.0)
    ours = eddy.workpiece_reflection(COIL, piece, RESISTIVITY, 1.0, frequency, offset=0.02)
    truth = rings(piece, frequency, COIL, 0.02)
    assert 0.79 < ours.resistance / truth[0] < 1.0
    assert ours.resistance < eddy.workpiece_reflection(COIL, piece, RESISTIVITY, 1.0, frequency).resistance


@pytest.mark.parametrize("mu_r", [1.0, 50.0])
def test_reflection_of_a_long_bar_is_exact(mu_r: float) -> None:
    """Long coil, longer bar: power I^2 R is the cylinder's in the field N I/l; ends fade as diameter over
    length."""
    coil, piece, frequency = (0.04, 8.0, 800.0), (0.01, 8.0), 5e4
    ours = eddy.workpiece_reflection(coil, piece, 2e-7, mu_r, frequency)
    power = eddy.cylinder_power(0.01, 8.0, 2e-7, mu_r, frequency, 100.0)
    assert ours.resistance == pytest.approx(power, rel=5e-3)
    flux = eddy.cylinder_factors(0.01 / np.sqrt(2e-7 / (np.pi * frequency * MU_0 * mu_r))).q
    assert ours.inductance_change == pytest.approx(MU_0 * (mu_r * flux - 1) * np.pi * 1e-4 * 8.0 * 1e4, rel=8e-3)


@given(st.floats(2e3, 2e5), st.floats(0.3, 3.0), st.integers(1, 4))
def test_reflection_scales(frequency: float, scale: float, turns: int) -> None:
    """All lengths times s, resistivity times s^2: the same skin ratio, inductance times s, resistance times
    s."""
    unit = eddy.workpiece_reflection(COIL, (0.015, 0.05), 5e-7, 1.0, frequency)
    coil = (COIL[0] * scale, COIL[1] * scale, COIL[2] * turns)
    ours = eddy.workpiece_reflection(coil, (0.015 * scale, 0.05 * scale), 5e-7 * scale**2, 1.0, frequency)
    assert ours.resistance == pytest.approx(unit.resistance * scale * turns**2)
    assert ours.inductance_change == pytest.approx(unit.inductance_change * scale * turns**2)
    assert unit.resistance > 0.0 > unit.inductance_change


def test_steel_below_its_curie_point_adds_inductance_at_low_frequency() -> None:
    """Permeability 100 at 50 Hz, thin bar: flux enters, inductance rises; at high frequency it is shut
    out."""
    low = eddy.workpiece_reflection(COIL, (0.005, 0.06), 2e-7, 100.0, 50.0)
    high = eddy.workpiece_reflection(COIL, (0.005, 0.06), 2e-7, 100.0, 1e9)
    assert low.inductance_change > 0.0 > high.inductance_change


@pytest.mark.parametrize(
    "call",
    [
        lambda: eddy.cylinder_factors(0.0),
        lambda: eddy.tube_factor(1.0, 1.0, 0.1),
        lambda: eddy.workpiece_reflection(COIL, (0.03, 0.06), 1e-6, 1.0, 1e5),
        lambda: eddy.workpiece_reflection(COIL, (0.01, 0.06), 1e-6, 1.0, 0.0),
        lambda: eddy.demagnetising_factor(0.0),
    ],
)
def test_impossible_input_is_named(call: object) -> None:
    with pytest.raises(InputError):
        call()  # type: ignore[operator]
