# SPDX-License-Identifier: GPL-3.0-or-later
"""Core loss: catalogue fits and waveform laws against computed and recalled values (tests/support/references.py)."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.errors import InputError
from heatsim.physics import coreloss, stage
from tests.support import references as ref
from tests.support.book import listed

COEFFICIENTS = {row[0]: row[2:] for row in ref.LOSS_IRON_COEFF}
ALPHAS, BETAS = st.floats(1.05, 1.9), st.floats(1.9, 3.0)


def triangle(duty: float, swing: float, frequency: float) -> tuple[list[float], list[float]]:
    return [0.0, duty / frequency, 1 / frequency], [-swing / 2, swing / 2, -swing / 2]


@pytest.mark.parametrize("row", ref.LOSS_IRON)  # printed and coefficients: memory
def test_iron_powder_loss(row: tuple) -> None:
    mix, frequency, gauss, *_ = row
    ours = coreloss.powder_loss_b(gauss * 1e-4, frequency, COEFFICIENTS[mix])
    assert ours / 1e3 == listed("LOSS_IRON", "computed", row)
    assert ours / 1e3 == listed("LOSS_IRON", "printed", row)


@pytest.mark.parametrize("mix", sorted(COEFFICIENTS))  # coefficients: memory
def test_iron_powder_loss_is_the_printed_form(mix: str) -> None:
    """f/(a/B^3 + b/B^2.3 + c/B^1.65) + d f^2 B^2 as printed, in gauss and hertz."""
    a, b, c, d = COEFFICIENTS[mix]
    form = 2e4 / (a / 300**3 + b / 300**2.3 + c / 300**1.65) + d * 2e4**2 * 300**2
    assert coreloss.powder_loss_b(0.03, 2e4, (a, b, c, d)) == pytest.approx(form * 1e3)
    assert coreloss.powder_loss_b(0.0, 2e4, (a, b, c, d)) == 0.0


@pytest.mark.parametrize("row", ref.LOSS_FESIAL)  # coefficients: memory
def test_fe_si_al_loss(row: tuple) -> None:
    (a, b, c), tesla, kilohertz, *_ = row
    ours = coreloss.powder_loss_a(tesla, kilohertz * 1e3, a, b, c)
    assert ours / 1e3 == listed("LOSS_FESIAL", "loss", row)
    assert coreloss.steinmetz(tesla, kilohertz * 1e3, 1e3 * a * 1e3**-c, c, b) == pytest.approx(ours)


@pytest.mark.parametrize("row", ref.IGSE_KI)  # COMPEL 2002
def test_igse_ki(row: tuple) -> None:
    assert coreloss.igse_ki(1.0, row[0], row[1]) == listed("IGSE_KI", "ki", row)


@pytest.mark.parametrize("row", ref.IGSE_TRI)
def test_triangles(row: tuple) -> None:
    """Closed forms, and the integrals over the same triangle in three samples."""
    alpha, duty, *_ = row
    assert coreloss.igse_triangle_ratio(alpha, duty) == listed("IGSE_TRI", "igse", row)
    assert coreloss.mse_triangle_ratio(alpha, duty) == listed("IGSE_TRI", "mse", row)
    sine = coreloss.steinmetz(0.06, 8e4, 1.7, alpha, 2.4)
    wave = triangle(duty, 0.12, 8e4)
    assert coreloss.igse_loss(*wave, 1.7, alpha, 2.4) / sine == listed("IGSE_TRI", "igse", row)
    assert coreloss.mse_loss(*wave, 1.7, alpha, 2.4) / sine == listed("IGSE_TRI", "mse", row)


@pytest.mark.parametrize("row", ref.IGSE_CHOKE)
def test_choke_waveform(row: tuple[float, float, Literal["one", "two"], float, float]) -> None:
    """Flux of the ideal stage's choke against a sine of the same swing at the ripple frequency."""
    alpha, beta, topology, *_ = row
    frequency = 9e4
    ripple_frequency = frequency * (2 if topology == "one" else 1)
    time = np.linspace(0.0, 1 / ripple_frequency, 40_001)
    flux_density = stage.choke_flux_waveform(24.0, frequency, time, topology) / (30 * 1e-4)
    sine = coreloss.steinmetz(np.ptp(flux_density) / 2, ripple_frequency, 1.0, alpha, beta)
    ours = coreloss.igse_loss(time, flux_density, 1.0, alpha, beta)
    assert ours / sine == listed("IGSE_CHOKE", "ratio", row)


@given(ALPHAS, BETAS, st.floats(1e-3, 0.3), st.floats(1e3, 5e5))
def test_a_sine_gives_back_steinmetz(alpha: float, beta: float, peak: float, frequency: float) -> None:
    """Both waveform laws are built to do so (COMPEL 2002; IEEE TIA 37)."""
    time = np.linspace(0.0, 1 / frequency, 2001)
    wave = peak * np.sin(2 * np.pi * frequency * time)
    sine = coreloss.steinmetz(peak, frequency, 3.0, alpha, beta)
    assert coreloss.igse_loss(time, wave, 3.0, alpha, beta) == pytest.approx(sine, rel=1e-5)
    assert coreloss.mse_loss(time, wave, 3.0, alpha, beta) == pytest.approx(sine, rel=1e-5)


@given(ALPHAS, BETAS, st.floats(0.05, 0.95), st.floats(-1.0, 1.0))
def test_bias_mirror_and_sampling_change_nothing(alpha: float, beta: float, duty: float, bias: float) -> None:
    """The law knows neither DC bias nor direction, and a straight line may be cut anywhere."""
    time, wave = triangle(duty, 0.1, 1e5)
    loss = coreloss.igse_loss(time, wave, 2.0, alpha, beta)
    finer = np.union1d(np.linspace(0.0, 1e-5, 57), time)
    resampled = np.interp(finer, time, wave)
    assert coreloss.igse_loss(time, np.array(wave) + bias, 2.0, alpha, beta) == pytest.approx(loss)
    assert coreloss.igse_loss(time, -np.array(wave), 2.0, alpha, beta) == pytest.approx(loss)
    assert coreloss.igse_loss(finer, resampled, 2.0, alpha, beta) == pytest.approx(loss, rel=1e-6)


@given(ALPHAS, BETAS, st.floats(1.0, 4.0), st.floats(1.0, 4.0))
def test_loss_scales_with_swing_and_frequency(alpha: float, beta: float, larger: float, faster: float) -> None:
    base = coreloss.igse_loss(*triangle(0.4, 0.1, 1e5), 2.0, alpha, beta)
    more = coreloss.igse_loss(*triangle(0.4, 0.1 * larger, 1e5 * faster), 2.0, alpha, beta)
    assert more == pytest.approx(base * larger**beta * faster**alpha)


@given(ALPHAS, st.floats(0.02, 0.49))
def test_lopsided_triangles_lose_more(alpha: float, duty: float) -> None:
    """Least at even slopes, the same rising as falling."""
    ours = coreloss.igse_triangle_ratio(alpha, duty)
    assert ours > coreloss.igse_triangle_ratio(alpha, 0.5)
    assert ours == pytest.approx(coreloss.igse_triangle_ratio(alpha, 1.0 - duty))


def test_constant_flux_loses_nothing() -> None:
    assert coreloss.igse_loss([0.0, 1.0, 2.0], [0.3, 0.3, 0.3], 1.0, 1.5, 2.5) == 0.0
    assert coreloss.mse_loss([0.0, 1.0, 2.0], [0.3, 0.3, 0.3], 1.0, 1.5, 2.5) == 0.0


@pytest.mark.parametrize(
    "time, wave",
    [
        ([0.0, 1.0], [0.0, 1.0]),
        ([0.0, 1.0, 0.5], [0.0, 1.0, 0.0]),
        ([0.0, 1.0, 2.0], [0.0, 1.0, 0.5]),
        ([0.0, 1.0, 2.0], [0.0, float("nan"), 0.0]),
        ([0.0, 1.0, 2.0], [0.0, 1.0]),
    ],
)
def test_what_is_not_a_period_is_refused(time: list[float], wave: list[float]) -> None:
    with pytest.raises(InputError):
        coreloss.igse_loss(time, wave, 1.0, 1.5, 2.5)
