# SPDX-License-Identifier: GPL-3.0-or-later
"""Eddy heating: computed values (tests/support/references_heating.py) and limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.constants import MU_0
from heatsim.errors import InputError
from heatsim.physics import eddy
from heatsim.physics.inductance import solenoid_axis_field
from tests.support import references_heating as ref
from tests.support.book import CLOSED, INDEPENDENT, known, listed
from tests.support.independent.filaments import loops

RATIOS = st.floats(1e-3, 1e4)


@pytest.mark.parametrize("row", ref.CYL_FPQ)  # Davies & Simpson 1979's functions
def test_cylinder_factors(row: tuple) -> None:
    for name, value in zip("fpq", eddy.cylinder_factors(row[0]), strict=True):
        assert value == listed("CYL_FPQ", name, row)


def test_cylinder_limits_and_greatest_p() -> None:
    """F -> x^3/4 small and 1 - 1/(2x) large; greatest P 0.3774518 at x = 1.7783728 (both from the closed
    form)."""
    thin, thick = "bar in an axial field, radius 0.01 skin depths: F", "bar in an axial field, radius 1000 skin depths: F"
    assert eddy.cylinder_factors(0.01).f == known(0.01**3 / 4, thin, "limit x^3/4", CLOSED, rel=1e-6)
    assert eddy.cylinder_factors(1e3).f == known(1 - 1 / 2e3, thick, "limit 1 - 1/(2x)", CLOSED, abs=1e-6)
    x = np.linspace(1.77, 1.79, 20_001)
    p = eddy.cylinder_factors(x).p
    assert np.max(p) == known(0.3774518, "bar in an axial field: greatest P", "Bessel functions", CLOSED, abs=1e-7)
    assert x[np.argmax(p)] == known(1.7783728, "bar in an axial field: where P is greatest", "Bessel functions", CLOSED, abs=2e-5)


def test_factors_do_not_jump_where_the_series_takes_over() -> None:
    factors = eddy.cylinder_factors(np.array([0.02 * (1 - 1e-9), 0.02 * (1 + 1e-9)]))
    for values in factors:
        assert values[1] == pytest.approx(values[0], rel=1e-8)


@given(RATIOS, st.floats(1.001, 5.0))
def test_surface_loss_rises_and_flux_falls(ratio: float, step: float) -> None:
    here, further = eddy.cylinder_factors(ratio), eddy.cylinder_factors(ratio * step)
    assert further.f > here.f * (1 - 1e-12) and 0.0 < here.f < 1.0
    assert further.q < here.q * (1 + 1e-12) and 0.0 < here.q <= 1.0


@pytest.mark.parametrize("row", ref.CYL_POWER)
def test_cylinder_power(row: tuple) -> None:
    assert eddy.cylinder_power(*row[:6]) == listed("CYL_POWER", "power", row)


@given(st.floats(1e-3, 0.05), st.floats(1e-8, 1e-5), st.floats(1e3, 1e6), st.floats(1.0, 200.0))
def test_cylinder_power_by_its_other_form(radius: float, rho: float, frequency: float, mu_r: float) -> None:
    """Per length w mu pi a^2 Hrms^2 P, the same power seen as reactive flux; square in the field."""
    delta = np.sqrt(rho / (np.pi * frequency * MU_0 * mu_r))
    p = eddy.cylinder_factors(radius / delta).p
    power = eddy.cylinder_power(radius, 1.0, rho, mu_r, frequency, 1e4)
    assert power == pytest.approx(2 * np.pi * frequency * MU_0 * mu_r * np.pi * radius**2 * 1e8 * p)
    assert eddy.cylinder_power(radius, 2.0, rho, mu_r, frequency, 2e4) == pytest.approx(8 * power)


@pytest.mark.parametrize("row", ref.TUBE_HEAT)
def test_tube(row: tuple) -> None:
    assert eddy.tube_factor(*row[:4]) == listed("TUBE_HEAT", "f", row)
    assert eddy.tube_screening(*row[:4]) == listed("TUBE_HEAT", "screening", row)


@pytest.mark.parametrize("wall", [1e-3, 3e-3, 0.01])
def test_thin_tube(wall: float) -> None:
    """|Hi/H0| = 1/|1 + j w mu0 b t sigma/2| for a thin wall, w mu0 sigma = 2/delta^2."""
    bore, delta = 10.0, 1.0
    thin = 1 / abs(1 + 1j * bore * wall / delta**2)
    assert eddy.tube_screening(bore + wall, bore, delta) == known(
        thin, f"tube of {wall} skin depths' wall: field inside over outside", "thin-wall law", CLOSED, rel=2 * wall
    )


@pytest.mark.parametrize("outer, bore", [(10.0, 0.01), (10.0, 1.0), (1000.0, 500.0)])
def test_thick_tube_is_a_bar(outer: float, bore: float) -> None:
    bar = eddy.cylinder_factors(outer).f
    assert eddy.tube_factor(outer, bore, 1.0) == known(bar, f"tube {outer} by {bore}: F", "limit: a bar", CLOSED, rel=1e-4)


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
    assert ours == known(thin, "power of a thin tube", "voltage round the wall, E^2/rho", CLOSED, unit="W", rel=5e-3)


@pytest.mark.parametrize("ratio", [0.3, 2.0, 20.0])
def test_mean_permeability_is_that_of_the_factors(ratio: float) -> None:
    """mu (Q - jP); next to no frequency leaves mu itself."""
    factors = eddy.cylinder_factors(ratio)
    frequency = 1e-6 / (np.pi * MU_0 * 30.0 * (0.01 / ratio) ** 2)
    assert eddy.mean_permeability(0.01, 1e-6, 30.0, frequency) == pytest.approx(30.0 * complex(factors.q, -factors.p), rel=1e-9)
    assert eddy.mean_permeability(0.01, 1e-6, 30.0, 1e-6) == 30.0


def test_flux_of_a_coil_through_rings() -> None:
    """Small rings: Biot-Savart's field on the axis times their area; any rings: a sum over 400 loops."""
    coil, place = (0.06, 0.08, 8.0), np.array([-0.07, -0.04, 0.0, 0.025])
    axis = MU_0 * np.asarray(solenoid_axis_field(*coil, place)) * np.pi * 1e-8
    on_axis = "flux of a coil through a small ring on the axis"
    assert eddy.sheet_flux(coil, 1e-4, place) == known(axis, on_axis, "Biot-Savart", CLOSED, unit="Wb", rel=1e-4)
    sheet = ((np.arange(400) + 0.5) / 400 - 0.5) * coil[1]
    summed = np.mean(loops(np.array(0.02), np.array(0.03), place[:, None] - sheet), axis=1) * coil[2]
    wide = "flux of a coil through a ring of 20 mm radius"
    assert eddy.sheet_flux(coil, 0.02, place) == known(summed, wide, "sum over 400 loops", INDEPENDENT, unit="Wb", rel=1e-4)


@pytest.mark.parametrize(
    "call",
    [
        lambda: eddy.cylinder_factors(0.0),
        lambda: eddy.tube_factor(1.0, 1.0, 0.1),
        lambda: eddy.mean_permeability(0.01, 0.0, 1.0, 1e5),
    ],
)
def test_impossible_input_is_named(call: object) -> None:
    with pytest.raises(InputError):
        call()  # type: ignore[operator]
