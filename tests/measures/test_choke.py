# SPDX-License-Identifier: GPL-3.0-or-later
"""Least inductance from the trajectory against curves that are known, driven by the ideal stage's flux.

Flux waveform: closed form of section 8 of the reference file. Curves: powder form and gapped ferrite of the parts
room, and atan, whose slope is known by hand: flux = A s atan(i/s), L = A/(1+(i/s)^2).
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.measures import choke as ck
from heatsim.parts.curves import Curve, GappedCurve, soft_curve
from heatsim.physics.stage import choke_flux_swing, choke_flux_waveform
from heatsim.waves import Array
from tests.support.shapes import uneven_time

F, VDC = 90e3, 42.0

CURVES = {
    "soft": soft_curve(60e-6, 0.5e-6, 25.0, 1.6),
    "soft, worn out": soft_curve(14e-6, 0.5e-6, 20.0, 2.0),
    "gapped": GappedCurve(47e-6, 0.4e-6, 0.9e-3, 0.07e-3),
}


def excursion(curve: Curve, bias: float, periods: int = 10, points: int = 200, seed: int = 0) -> tuple[Array, Array]:
    """Current [A] and flux [Wb] of a choke whose flux swings about that of `bias` [A]."""
    flux = choke_flux_waveform(VDC, F, uneven_time(periods / F, periods * points, seed)) + curve.flux(bias)
    return curve.current(flux), flux


@pytest.mark.parametrize("bias", [4.0, 13.0, 22.0])
@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize("periods, points", [(10, 200), (20, 200), (1, 200), (10, 60)])
def test_least_inductance_of_known_curves(name: str, bias: float, periods: int, points: int) -> None:
    curve = CURVES[name]
    current, flux = excursion(curve, bias, periods, points)
    exact = ck.least_inductance(current, curve.inductance)
    found = ck.least_trajectory_inductance(current, flux)
    assert found == pytest.approx(exact, abs=0.01 * curve.inductance_zero)


def test_whole_slope_along_the_excursion() -> None:
    """Not the least alone: the atan curve's slope by hand at each current."""
    flux = choke_flux_waveform(VDC, F, uneven_time(10 / F, 2000)) + 0.5e-3
    current = 15.0 * np.tan(flux / (60e-6 * 15.0))
    at, slope = ck.trajectory_inductance(current, flux)
    assert slope == pytest.approx(60e-6 / (1 + (at / 15.0) ** 2), abs=0.01 * 60e-6)
    assert (at[0], at[-1]) == (pytest.approx(np.min(current), rel=0.02), pytest.approx(np.max(current), rel=0.02))


def test_constant_inductance() -> None:
    flux = choke_flux_waveform(VDC, F, uneven_time(5 / F, 1000))
    assert ck.least_trajectory_inductance(flux / 50e-6 + 12.0, flux) == pytest.approx(50e-6, rel=1e-6)


def test_loop_of_a_lossy_core_has_the_slope_of_its_middle() -> None:
    """A loss resistance across the choke adds v/R, here 2 % of the ripple, up on one way and down on the other."""
    time = uneven_time(10 / F, 2000)
    curve = CURVES["soft"]
    current, flux = excursion(curve, 13.0)
    loss = np.gradient(flux, time)
    current = current + loss / np.ptp(loss) * 0.02 * np.ptp(current)
    exact = ck.least_inductance(current, curve.inductance)
    assert ck.least_trajectory_inductance(current, flux) == pytest.approx(exact, abs=0.02 * 60e-6)


@pytest.mark.parametrize("seed", range(5))
def test_noise(seed: int) -> None:
    """0.2 % of the swing as noise on both signals, ten periods: 3 % of L0 below at worst, never far above."""
    curve, random = CURVES["soft"], np.random.default_rng(seed)
    current, flux = excursion(curve, 13.0, seed=seed)
    exact = ck.least_inductance(current, curve.inductance)
    current = current + 2e-3 * np.ptp(current) * random.normal(size=current.size)
    flux = flux + 2e-3 * np.ptp(flux) * random.normal(size=flux.size)
    found = ck.least_trajectory_inductance(current, flux)
    assert -0.03 * 60e-6 < found - exact < 0.01 * 60e-6


def test_model_is_asked_between_the_samples_too() -> None:
    """A dip of the model's inductance at 2 A, while the samples stand at 0, 1.9 and 3 A only."""
    found = ck.least_inductance(np.array([0.0, 1.9, 3.0]), lambda i: 1.0 - 0.5 * np.exp(-(((i - 2.0) / 0.02) ** 2)))
    assert found == pytest.approx(0.5, abs=0.02)


def test_current_that_hardly_moves_has_no_slope() -> None:
    flux = np.linspace(0.0, 1.0, 100)
    assert ck.trajectory_inductance(np.full(100, 3.0), flux) is None
    assert ck.trajectory_inductance(3.0 + 1e-3 * flux, flux) is None
    assert ck.trajectory_inductance(flux, np.zeros(100)) is None
    assert ck.least_trajectory_inductance(np.full(100, 3.0), flux) is None


def test_swing_of_the_fixture_is_the_published_one() -> None:
    """0.5511 Vdc/f (section 8): the fixture drives the choke as the ideal stage does."""
    _, flux = excursion(CURVES["soft"], 10.0, points=2000)
    assert np.ptp(flux) == pytest.approx(choke_flux_swing(VDC, F), rel=1e-5)


@given(amperes=st.floats(1e-2, 1e3), webers=st.floats(1e-3, 1e3), seed=st.integers(0, 1000), turn=st.integers(0, 1999))
def test_scale_order_and_sampling(amperes: float, webers: float, seed: int, turn: int) -> None:
    """L scales as flux over current, and does not ask which sample came first."""
    current, flux = excursion(CURVES["soft"], 13.0, seed=seed)
    found = ck.least_trajectory_inductance(np.roll(amperes * current, turn), np.roll(webers * flux, turn))
    wanted = webers / amperes * ck.least_inductance(current, CURVES["soft"].inductance)
    assert found == pytest.approx(wanted, rel=0.01)
